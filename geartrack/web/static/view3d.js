// Solids to turn about: drawn only once they are seen, again only when something changes. Where the browser cannot draw
// them the flat pictures stay. Nothing moves by itself.
const LIBRARY = "./vendor/three/";
const TURN = Math.PI / 18, NEARER = 0.87;

let three;

function library() {
  three ??= Promise.all(["three.module.js", "OrbitControls.js", "GLTFLoader.js"].map((name) => import(LIBRARY + name)))
    .then(([core, orbit, loader]) => ({ ...core, ...orbit, ...loader }));
  return three;
}

function made(tag, words = "", attributes = {}) {
  const element = document.createElement(tag);
  element.textContent = words;
  for (const [name, value] of Object.entries(attributes)) element.setAttribute(name, value);
  return element;
}

const nameOf = (mesh) => (mesh.userData.name ?? mesh.name).replaceAll("_", " ");
const isRing = (mesh) => nameOf(mesh).startsWith("ring");
const isPatch = (mesh) => nameOf(mesh).startsWith("metal to remove");

/** One stage with its solids; `show` puts other solids on it and leaves the eye where it was. */
export class Stage {
  constructor(T, figure) {
    this.T = T;
    this.scene = new T.Scene();
    this.camera = new T.PerspectiveCamera(28, 1, 0.001, 10);
    this.renderer = new T.WebGLRenderer({ antialias: true, alpha: true });
    this.renderer.setPixelRatio(Math.min(devicePixelRatio, 2));
    const key = new T.DirectionalLight(0xffffff, 1.9);
    key.position.set(-0.5, 0.9, 1);
    this.camera.add(key);
    this.scene.add(this.camera, new T.HemisphereLight(0xffffff, 0x8c8c8c, 1.5));
    this.ways = [["12: to the ring gear", "up"], ["to the pinion", "out"]].map(([words, way]) => [made("span", words, { class: "way", "aria-hidden": "true" }), way]);
    this.bodies = [];
    this.marks = new T.Group();
    this.scene.add(this.marks);
    this.stand(figure);
    this.controls = new T.OrbitControls(this.camera, this.renderer.domElement);
    this.controls.addEventListener("change", () => this.draw());
    matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => this.colourEdges());
  }

  /** Stand in a figure: the stage takes the place of its flat pictures, which print still shows. */
  stand(figure) {
    this.figure = figure;
    this.stage = figure.querySelector(".stage");
    const said = "In three dimensions. Arrow keys turn it, plus and minus zoom, Home sets it back.";
    for (const [name, value] of Object.entries({ tabindex: "0", role: "application", "aria-label": said })) this.stage.setAttribute(name, value);
    const placed = "picks" in figure.dataset ? [] : this.ways; // a scan lies as it lies
    this.stage.append(this.renderer.domElement, ...placed.map(([label]) => label));
    this.stage.classList.add("turning");
    this.stage.addEventListener("keydown", (event) => this.key(event));
    this.holds = made("div", "", { class: "holds" });
    const acts = [["Turn left", () => this.turn(-TURN, 0)], ["Turn right", () => this.turn(TURN, 0)], ["Up", () => this.turn(0, -TURN)], ["Down", () => this.turn(0, TURN)], ["Nearer", () => this.zoom(NEARER)], ["Further", () => this.zoom(1 / NEARER)], ["Set back", () => this.reset()], ["To the patch", () => this.near()]];
    for (const [words, act] of acts) {
      const button = made("button", words, { type: "button", class: "quiet" });
      button.addEventListener("click", act);
      this.holds.append(button);
      if (words === "To the patch") this.toPatch = button;
    }
    this.stage.after(this.holds);
    this.sized?.disconnect();
    this.sized = new ResizeObserver(() => this.resize());
    this.sized.observe(this.stage);
  }

  show(file) {
    const first = !this.bodies.length;
    for (const old of this.bodies) old.removeFromParent();
    file.scene.updateMatrixWorld(true);
    this.bodies = [];
    file.scene.traverse((mesh) => mesh.isMesh && this.bodies.push(mesh));
    for (const mesh of this.bodies) this.dress(mesh);
    this.scene.add(file.scene);
    this.edges = [];
    for (const mesh of this.bodies) if (!isRing(mesh)) this.outline(mesh);
    this.colourEdges();
    this.choices();
    if (first) this.reset();
    this.draw();
    this.stage.dataset.shown = this.bodies.map(nameOf).join("; ");
  }

  /** Colours of a file stand as they look, and are light by their square; a ring is seen through. */
  dress(mesh) {
    const { T } = this, colours = mesh.geometry.getAttribute("color");
    if (colours) {
      const light = new Float32Array(3 * colours.count), one = new T.Color();
      for (let i = 0; i < colours.count; i++) one.setRGB(colours.getX(i), colours.getY(i), colours.getZ(i), T.SRGBColorSpace).toArray(light, 3 * i);
      mesh.geometry.setAttribute("color", new T.BufferAttribute(light, 3));
    }
    const ghost = isRing(mesh) ? { transparent: true, opacity: 0.22, depthWrite: false } : {};
    mesh.material = new T.MeshLambertMaterial({ vertexColors: Boolean(colours), color: colours ? 0xffffff : 0x9ea2a8, flatShading: true, side: T.DoubleSide, ...ghost });
    if (!mesh.material.transparent) Object.assign(mesh.material, { polygonOffset: true, polygonOffsetFactor: 1, polygonOffsetUnits: 1 });
  }

  outline(mesh) {
    const { T } = this;
    if (isPatch(mesh) || mesh.geometry.index?.count > 400000) return;
    const lines = new T.LineSegments(new T.EdgesGeometry(mesh.geometry, 32), new T.LineBasicMaterial());
    mesh.add(lines);
    this.edges.push(lines);
  }

  colourEdges() {
    const ink = getComputedStyle(this.stage).color;
    for (const lines of this.edges ?? []) lines.material.color.set(ink);
    this.draw();
  }

  /** The eye close to the metal to remove. */
  near() {
    const { T } = this, ball = new T.Box3().setFromObject(this.bodies.find(isPatch)).getBoundingSphere(new T.Sphere());
    this.reset();
    const way = this.camera.position.clone().sub(this.controls.target).normalize();
    this.controls.target.copy(ball.center);
    this.camera.position.copy(ball.center).addScaledVector(way, 7 * ball.radius);
    this.controls.update();
    this.draw();
  }

  /** A tick box for each body that can be taken out of sight. */
  choices() {
    this.toPatch.hidden = !this.bodies.some(isPatch);
    for (const old of this.holds.querySelectorAll("label")) old.remove();
    for (const [test, words] of [[isRing, "ring gear"], [isPatch, "metal to remove"]]) {
      const mesh = this.bodies.find(test);
      if (!mesh) continue;
      const label = made("label", ` ${words}`), box = made("input", "", { type: "checkbox" });
      box.checked = true;
      box.addEventListener("change", () => { mesh.visible = box.checked; this.draw(); });
      label.prepend(box);
      this.holds.append(label);
    }
  }

  /** The eye out from the pinion-nut end, over the patch where there is one. */
  reset() {
    const { T } = this, box = new T.Box3(), whole = this.bodies.filter((mesh) => !isRing(mesh));
    for (const mesh of whole) box.expandByObject(mesh);
    const ball = box.getBoundingSphere(new T.Sphere()), patch = this.bodies.find(isPatch), way = new T.Vector3(0, 0.75, 0.6);
    if (patch) {
      way.copy(new T.Box3().setFromObject(patch).getCenter(new T.Vector3()));
      way.x = 0;
      way.normalize();
    }
    way.x = 1.15;
    way.y = Math.max(way.y, 0.25);
    this.middle = ball.center;
    this.size = ball.radius;
    const far = 1.02 * ball.radius / Math.sin(T.MathUtils.degToRad(this.camera.fov / 2)) / Math.min(1, this.camera.aspect);
    this.camera.near = far / 50;
    this.camera.far = far * 10;
    this.camera.updateProjectionMatrix();
    this.controls.target.copy(ball.center);
    this.camera.position.copy(ball.center).addScaledVector(way.normalize(), far);
    this.controls.update();
    this.draw();
  }

  turn(left, down) {
    const { T } = this, away = this.camera.position.clone().sub(this.controls.target), ball = new T.Spherical().setFromVector3(away);
    ball.theta += left;
    ball.phi = Math.min(Math.max(ball.phi + down, 0.02), Math.PI - 0.02);
    this.camera.position.copy(this.controls.target).add(away.setFromSpherical(ball));
    this.controls.update();
    this.draw();
  }

  zoom(by) {
    this.camera.position.sub(this.controls.target).multiplyScalar(by).add(this.controls.target);
    this.controls.update();
    this.draw();
  }

  key(event) {
    const acts = { ArrowLeft: () => this.turn(-TURN, 0), ArrowRight: () => this.turn(TURN, 0), ArrowUp: () => this.turn(0, -TURN), ArrowDown: () => this.turn(0, TURN), "+": () => this.zoom(NEARER), "=": () => this.zoom(NEARER), "-": () => this.zoom(1 / NEARER), Home: () => this.reset() };
    if (event.ctrlKey || event.metaKey || event.altKey || !acts[event.key]) return;
    event.preventDefault();
    acts[event.key]();
  }

  resize() {
    const { clientWidth: wide, clientHeight: high } = this.stage;
    if (!wide || !high) return;
    this.camera.aspect = wide / high;
    this.camera.updateProjectionMatrix();
    this.renderer.setSize(wide, high, false);
    this.draw();
  }

  draw() {
    this.renderer.render(this.scene, this.camera);
    if (this.middle) for (const [label, way] of this.ways) this.place(label, way);
  }

  place(label, way) {
    const { T } = this, at = this.middle.clone(), { clientWidth: wide, clientHeight: high } = this.stage;
    at[way === "up" ? "y" : "x"] += 1.15 * this.size;
    at.project(this.camera);
    const x = Math.min(Math.max((0.5 + at.x / 2) * wide, 0), wide - label.offsetWidth), y = Math.min(Math.max((0.5 - at.y / 2) * high, 0), high - label.offsetHeight);
    label.style.transform = `translate(${x.toFixed(1)}px, ${y.toFixed(1)}px)`;
  }
}

let kept;

/** Open a figure; a stage that was open elsewhere moves here. Where it fails, the flat pictures stay. */
export async function open(figure) {
  const says = figure.querySelector("[data-says]");
  try {
    if (!document.createElement("canvas").getContext("webgl2")) throw new Error("no WebGL");
    const T = await library(), file = await new T.GLTFLoader().loadAsync(figure.dataset.glb);
    if (kept && !kept.stage.isConnected) kept.stand(figure);
    else kept = new Stage(T, figure);
    kept.show(file);
    if (says) {
      says.textContent = file.asset.extras?.about ?? "";
      says.classList.toggle("cut", kept.bodies.some(isPatch));
    }
    figure.dispatchEvent(new CustomEvent("opened", { detail: kept, bubbles: true }));
  } catch {
    flat(figure);
    if (says) says.textContent = "It cannot be turned about here; what is flat or written stands for it.";
  }
}

function flat(figure) {
  const stage = figure.querySelector(".stage");
  stage.classList.remove("turning");
  for (const name of ["tabindex", "role", "aria-label"]) stage.removeAttribute(name);
  for (const extra of figure.querySelectorAll("canvas, .way, .holds")) extra.remove();
}

const seen = new IntersectionObserver((entries) => {
  for (const { isIntersecting, target } of entries) {
    if (!isIntersecting) continue;
    seen.unobserve(target);
    open(target);
  }
}, { rootMargin: "100px" });

function watch() {
  for (const figure of document.querySelectorAll(".solid[data-glb]:not([data-watched])")) {
    figure.dataset.watched = "";
    seen.observe(figure);
  }
}

watch();
document.addEventListener("htmx:load", watch);
