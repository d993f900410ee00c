// Points picked on a scan: a click on it fills the next row of the table, which may as well be typed; a row is emptied
// by its own button, and every full row is marked on the scan.
import "./view3d.js";

const AXES = ["x", "y", "z"], THOUSANDTH = 1000, STILL_PX = 6;

function rowsOf(table) {
  return [...table.tBodies[0].rows].map((row) => ({ row, what: row.querySelector("select"), at: [...row.querySelectorAll("input")] }));
}

const filled = ({ what, at }) => what.value && at.every((input) => input.value.trim());

class Picking {
  constructor(stage, table) {
    this.shown = stage;
    this.table = table;
    this.kind = table.querySelector("select").cloneNode(true);
    for (const name of ["name", "aria-label"]) this.kind.removeAttribute(name);
    this.kind.options[0].remove();
    this.kind.value = this.kind.options[0].value;
    const label = document.createElement("label");
    label.append("The next point is on ", this.kind);
    stage.holds.prepend(label);
    stage.stage.classList.add("picks");
    for (const [n, row] of rowsOf(table).entries()) this.mayEmpty(row, n + 1);
    table.addEventListener("input", () => this.mark());
    const canvas = stage.renderer.domElement;
    canvas.addEventListener("pointerdown", (event) => { this.down = event; });
    canvas.addEventListener("pointerup", (event) => this.up(event));
    this.mark();
  }

  mayEmpty({ row, what, at }, number) {
    const button = document.createElement("button");
    Object.assign(button, { type: "button", className: "quiet", textContent: "Empty", ariaLabel: `Empty row ${number}` });
    button.addEventListener("click", () => {
      for (const input of [what, ...at]) input.value = "";
      this.mark();
      what.focus();
    });
    row.insertCell().append(button);
  }

  up(event) {
    const moved = this.down && Math.hypot(event.clientX - this.down.clientX, event.clientY - this.down.clientY);
    if (moved === undefined || moved > STILL_PX || event.button) return; // it was turned, not picked
    const { T, camera, bodies, stage } = this.shown, box = stage.getBoundingClientRect(), ray = new T.Raycaster();
    ray.setFromCamera(new T.Vector2(2 * (event.clientX - box.left) / box.width - 1, 1 - 2 * (event.clientY - box.top) / box.height), camera);
    const [hit] = ray.intersectObjects(bodies, false);
    if (!hit) return;
    this.fill(this.corner(hit));
  }

  /** A corner of the scan near the place hit, else the place itself; in the scan's own numbers. */
  corner({ object, point, face }) {
    const { T, size } = this.shown, corners = object.geometry.getAttribute("position"), at = object.worldToLocal(point.clone());
    const near = [face.a, face.b, face.c].map((n) => new T.Vector3().fromBufferAttribute(corners, n)).sort((a, b) => a.distanceTo(at) - b.distanceTo(at))[0];
    return (near.distanceTo(at) < 0.02 * size ? near : at).multiplyScalar(THOUSANDTH);
  }

  fill(point) {
    const next = rowsOf(this.table).find(({ at }) => at.every((input) => !input.value.trim()));
    if (!next) return;
    next.what.value = this.kind.value;
    next.at.forEach((input, n) => { input.value = String(Number(point[AXES[n]].toPrecision(7))); });
    this.mark();
    const full = rowsOf(this.table).filter((row) => row.what.value === this.kind.value && filled(row)).length;
    const says = this.shown.figure.querySelector("[data-says]");
    says.setAttribute("role", "status");
    says.textContent = `${full} on the ${this.kind.value}: ${next.at.map((input) => input.value).join(", ")}.`;
  }

  mark() {
    const { T, marks, bodies, size } = this.shown, [body] = bodies;
    marks.clear();
    const ball = new T.SphereGeometry(0.014 * size, 16, 12), paint = new T.MeshBasicMaterial({ color: 0xd6542c, depthTest: false });
    for (const row of rowsOf(this.table)) {
      const point = new T.Vector3(...row.at.map((input) => Number(input.value) / THOUSANDTH));
      if (!filled(row) || !Number.isFinite(point.length())) continue;
      const mark = new T.Mesh(ball, paint);
      mark.position.copy(body.localToWorld(point));
      marks.add(mark);
    }
    this.shown.draw();
  }
}

document.addEventListener("opened", ({ target, detail }) => {
  const table = target.closest("form")?.querySelector("table.picks");
  if (table && "picks" in target.dataset) new Picking(detail, table);
});
