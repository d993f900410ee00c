"""The sweep gauge against outside kernels: fcl for room and way in, trimesh and shapely for what it touches."""

from __future__ import annotations

import io
from functools import cache
from itertools import pairwise

import fcl
import lib3mf
import meshio
import numpy as np
import pytest
import screen_words
import shapely
import trimesh
from click.testing import CliRunner
from drawn_jobs import answer

from geartrack.cli import main
from geartrack.datafiles import data_path
from geartrack.errors import InputError
from geartrack.export.gauge import FIT_MM, gauge_files, gauges, typed_fit
from geartrack.frame import from_polar, meridian
from geartrack.relief.solid import as_solid, of_triangles, sweep_over, triangles_of
from geartrack.units import parse_length

KINDS = [("grind", "below"), ("hits", "above")]
BOTH = [(*kind, which) for kind in KINDS for which in (0, 1)]
FACETS_MM = 0.003  # of boss, sweep and growth together


@cache
def made(name: str, hand: str):
    return gauges(answer(name, hand))


@cache
def parts(name: str, hand: str, which: int):
    """A gauge, the boss as cast and relieved by its own clearance, and the gauge past the end face, as solids."""
    known, gauge = answer(name, hand), made(name, hand)[which]
    boss = as_solid(known.boss.mesh, name)
    relieved = boss - sweep_over(known.boss, known.section, gauge.clearance_mm)[0]
    whole = of_triangles(gauge.body.vertices, gauge.body.triangles)
    past = whole.trim_by_plane((-1.0, 0.0, 0.0), 0.02)  # the head lies on the end face: a touch that is meant
    return gauge, boss, relieved, past


def face_only(solid, gauge):
    """What carries the ring: further from the bore than the spigot reaches."""
    from manifold3d import Manifold

    window = gauge.shape.window
    core = Manifold.cylinder(80.0, window.inner_mm + 0.5, window.inner_mm + 0.5, 200).rotate((0, 90, 0))
    return solid - core.translate((-40.0, 0.0, 0.0))


def bvh(solid):
    vertices, triangles = triangles_of(solid)
    model = fcl.BVHModel()
    model.beginModel(len(vertices), len(triangles))
    model.addSubModel(vertices, triangles)
    model.endModel()
    return model


def collide(moving, at, turn, still):
    found = fcl.collide(
        fcl.CollisionObject(moving, fcl.Transform(turn, at)),
        fcl.CollisionObject(still, fcl.Transform()),
        fcl.CollisionRequest(),
        fcl.CollisionResult(),
    )
    return found > 0


def inside(gauge, points):
    """Which points lie in the gauge: the solid angle under which all its triangles are seen from there is 4 pi, and 0
    from outside. Of one triangle (a, b, c): tan(angle / 2) = a.(b x c) / (abc + (a.b)c + (b.c)a + (c.a)b), in any
    textbook of vector geometry (from memory)."""
    corners, seen = gauge.body.vertices[gauge.body.triangles], []
    for point in points:
        a, b, c = np.moveaxis(corners - point, 1, 0)
        la, lb, lc = (np.linalg.norm(side, axis=1) for side in (a, b, c))
        top = np.einsum("ij,ij->i", a, np.cross(b, c))
        ab, bc, ca = (np.einsum("ij,ij->i", one, other) for one, other in ((a, b), (b, c), (c, a)))
        seen.append(2 * np.arctan2(top, la * lb * lc + ab * lc + bc * la + ca * lb).sum())
    turns = np.array(seen) / (4 * np.pi)
    assert np.abs(turns - turns.round()).max() < 1e-6
    return turns.round() == 1


def apart(one, other):
    return fcl.distance(fcl.CollisionObject(one), fcl.CollisionObject(other), fcl.DistanceRequest(), None)


def about_bore(clockwise):
    """A turn about +X; clockwise from the pinion-nut end carries 12 o'clock (+Z) toward 3 o'clock (+Y)."""
    c, s = np.cos(clockwise), np.sin(clockwise)
    return np.array([[1, 0, 0], [0, c, s], [0, -s, c]])


STILL = np.eye(3)


@pytest.mark.parametrize(("name", "hand", "which"), BOTH)
def test_it_is_one_closed_solid_as_it_is_printed(name, hand, which):
    gauge = made(name, hand)[which]
    bed = gauge.for_print
    mesh = trimesh.Trimesh(bed.vertices.astype(np.float32), bed.triangles)
    assert mesh.is_watertight
    assert mesh.is_winding_consistent
    assert mesh.body_count == 1
    assert mesh.volume == pytest.approx(trimesh.Trimesh(gauge.body.vertices, gauge.body.triangles).volume, rel=1e-5)
    assert mesh.bounds[0, 2] == pytest.approx(0, abs=1e-4)  # on the bed
    assert mesh.bounds[1, 2] == pytest.approx(gauge.shape.head_mm + gauge.shape.length_mm, abs=1e-4)


@pytest.mark.parametrize(("name", "hand", "which"), BOTH)
def test_a_boss_as_relieved_clears_it_by_the_fit(name, hand, which):
    """By fcl. The face comes as near as the fit somewhere and nowhere nearer; so does the spigot to the bore."""
    gauge, _, relieved, past = parts(name, hand, which)
    still = bvh(relieved)
    assert apart(bvh(face_only(past, gauge)), still) == pytest.approx(gauge.fit_mm, abs=FACETS_MM)
    assert apart(bvh(past), still) == pytest.approx(gauge.fit_mm, abs=FACETS_MM)


@pytest.mark.parametrize(("name", "hand", "which"), BOTH)
def test_a_boss_as_cast_meets_it_exactly_where_the_patch_is(name, hand, which):
    """Places just under the boss's skin: those inside the gauge (by solid angle) are those nearer to the section than
    clearance less fit (by shapely), but for places within the facets of that. Outside the patch, none."""
    known, (gauge, _, _, _) = answer(name, hand), parts(name, hand, which)
    draws = np.random.default_rng(11)
    window, cut = gauge.shape.window, known.cuts.nominal if which == 0 else known.cuts.at_stop
    outside, bore = float(cut.cast_radius_mm[0].max()), window.inner_mm
    count, deep = 300, 0.01
    clock = draws.uniform(window.clock_from - 0.02, window.clock_to + 0.02, 2 * count)
    skin = np.concatenate(
        [
            from_polar(draws.uniform(deep, window.end_mm + 0.5, count), outside - deep, clock[:count]),
            from_polar(deep, draws.uniform(bore + 0.5, outside - deep, count), clock[count:]),
        ]
    )
    reach = shapely.distance(
        shapely.Polygon(known.section.points), shapely.points(meridian(known.boss.seat.to_axle(skin)))
    ) - (gauge.clearance_mm - gauge.fit_mm)
    held = inside(gauge, skin)
    clearly = np.abs(reach) > FACETS_MM
    assert (held == (reach < 0))[clearly].all()
    assert (held & clearly).sum() >= 12
    assert (~held & clearly).sum() > 50
    all_round = window.clock + np.linspace(1, 5, 16)
    elsewhere = from_polar(deep, np.linspace(bore + 0.5, outside - deep, 12)[:, None], all_round).reshape(-1, 3)
    assert not inside(gauge, elsewhere).any()


@pytest.mark.parametrize(("name", "hand", "which"), BOTH)
def test_nothing_but_the_metal_to_remove_stands_in_its_way(name, hand, which):
    """By manifold3d: what gauge and boss as cast share lies in the cut; of the rest of the boss it shares nothing."""
    _, boss, relieved, past = parts(name, hand, which)
    assert (past ^ boss).volume() > 0.02
    assert (past ^ relieved).volume() == pytest.approx(0, abs=1e-9)


@pytest.mark.parametrize(("name", "hand", "which"), BOTH)
def test_it_goes_in_lifted_then_down_and_not_without_the_lift(name, hand, which):
    """By fcl, in a boss relieved by its clearance: along the bore, held off the patch, from well outside; then down.
    With no lift the tooth tips' side of the cut is in its way; in a boss as cast it does not go home at all."""
    gauge, boss, relieved, past = parts(name, hand, which)
    moving, still = bvh(past), bvh(relieved)
    y, z = gauge.shape.window.middle
    off = np.array([0.0, y, z])
    ways = np.concatenate([np.linspace(30, 8, 8), np.linspace(7.8, 0, 40)])
    lifted = gauge.shape.lift_mm * off
    assert not any(collide(moving, lifted + np.array([way, 0.0, 0.0]), STILL, still) for way in ways)
    assert not any(collide(moving, share * lifted, STILL, still) for share in np.linspace(1, 0, 12))
    straight = [collide(moving, np.array([way, 0.0, 0.0]), STILL, still) for way in ways[8:]]
    assert any(straight)
    assert not straight[-1]
    assert collide(moving, np.zeros(3), STILL, bvh(boss))


@pytest.mark.parametrize(("name", "hand", "which"), BOTH)
def test_it_turns_by_its_play_and_no_further(name, hand, which):
    """Turned about the bore it leaves what the ring sweeps: so it is no gauge to turn round in the bore."""
    gauge, _, relieved, past = parts(name, hand, which)
    moving, still = bvh(face_only(past, gauge)), bvh(relieved)
    for way, room in zip((-1, 1), gauge.turns, strict=True):
        assert not collide(moving, np.zeros(3), about_bore(way * (room - 0.0005)), still)
        assert collide(moving, np.zeros(3), about_bore(way * (room + 0.001)), still)
    assert max(gauge.turns) < np.radians(1)


@pytest.mark.parametrize(("name", "hand", "which"), BOTH)
def test_it_moves_freely_within_its_play(name, hand, which):
    gauge, _, relieved, past = parts(name, hand, which)
    moving, still = bvh(past), bvh(relieved)
    for turn in np.arange(12) * np.pi / 6:
        push = (gauge.fit_mm - FACETS_MM) * np.array([0.0, np.sin(turn), np.cos(turn)])
        assert not collide(moving, push, STILL, still)


@pytest.mark.parametrize(("name", "hand", "which"), BOTH)
def test_the_pin_goes_in_when_it_is_down_and_not_when_it_rides_high(name, hand, which):
    """A level section half-way up the spigot, by trimesh and shapely, in the bore's circle."""
    gauge = made(name, hand)[which]
    shape, bore = gauge.shape, answer(name, hand).boss.mesh.bore.diameter_mm / 2
    mesh = trimesh.Trimesh(gauge.body.vertices, gauge.body.triangles)
    cut = mesh.section(plane_origin=[-shape.length_mm / 2, 0, 0], plane_normal=[1, 0, 0]).discrete
    rings = [shapely.Polygon(np.asarray(loop)[:, 1:]) for loop in cut]
    spigot = max(rings, key=lambda ring: ring.area)
    y, z = shape.window.middle
    turned = shapely.affinity.affine_transform(spigot, [z, -y, y, z, 0, 0])  # the patch's clock angle up

    def pin(play):
        return shapely.Point(0, bore - shape.pin_mm / 2).buffer(shape.pin_mm / 2 - play, quad_segs=64)

    assert not turned.intersects(pin(0.002))
    assert shapely.affinity.translate(turned, 0, 0.02).intersects(pin(0.002))
    far = np.abs(np.asarray(turned.exterior.coords)).max(axis=0)[1]
    assert far == pytest.approx(shape.spigot_mm / 2, abs=0.002)
    assert far + turned.intersection(shapely.LineString([(0, 5), (0, 40)])).bounds[3] + shape.pin_mm == pytest.approx(
        shape.over_pin_mm, abs=0.003
    )
    held = shapely.Point(0, 0).buffer(bore, quad_segs=256)
    assert held.contains(shapely.affinity.translate(turned, 0, shape.lift_mm))  # it goes into the bore lifted
    assert not held.contains(shapely.affinity.translate(turned, 0, shape.lift_mm + 2 * gauge.fit_mm + 0.02))
    assert 2 * (bore - far) == pytest.approx(2 * gauge.fit_mm, abs=0.004)


def test_both_hands_are_mirrors():
    below, above = (made_gauge[0] for made_gauge in (gauges(answer("hits", "below")), made("hits", "above")))
    one, other = (trimesh.Trimesh(gauge.body.vertices, gauge.body.triangles) for gauge in (below, above))
    assert below.shape.window.clock > 0 > above.shape.window.clock
    assert one.volume == pytest.approx(other.volume, rel=1e-4)
    assert np.sort(one.bounds * [1, -1, 1], axis=0) == pytest.approx(other.bounds, abs=0.01)
    assert one.center_mass * [1, -1, 1] == pytest.approx(other.center_mass, abs=0.005)
    assert below.turns == pytest.approx(above.turns[::-1], abs=np.radians(0.021))


@pytest.mark.parametrize(("name", "hand"), KINDS)
def test_its_marks_tell_go_from_stop_and_12_o_clock(name, hand):
    """The outline of the head at half its height, as printed: y is 12 o'clock; cuts in its edge at 12 and at 6."""
    for gauge, notches in zip(made(name, hand), (1, 2), strict=True):
        bed, shape = gauge.for_print, gauge.shape
        mesh = trimesh.Trimesh(bed.vertices, bed.triangles)
        loops = mesh.section(plane_origin=[0, 0, shape.head_mm / 2], plane_normal=[0, 0, 1]).discrete
        head = max((shapely.Polygon(np.asarray(loop)[:, :2]) for loop in loops), key=lambda ring: ring.area)
        radius = shape.head_radius_mm
        scan = [head.contains(shapely.Point(x, -(radius - 0.7))) for x in np.linspace(-5, 5, 321)]
        assert sum(a and not b for a, b in pairwise(scan)) == notches
        assert not head.contains(shapely.Point(0, shape.top_mm - 2.5))
        assert head.contains(shapely.Point(0, shape.top_mm - 3.5))
        over = head.intersection(shapely.LineString([(-99, -20), (99, -20)]))
        assert over.length == pytest.approx(shape.across_mm)
        assert shape.across_mm == round(shape.across_mm)
        z, x = shape.window.middle[1], -shape.window.middle[0]
        out = gauge.shape.window.outer_mm - 0.1
        assert head.contains(shapely.Point(out * x, out * z))  # the patch's side, clockwise seen from below the bed


@pytest.fixture(scope="module")
def files():
    return gauge_files(answer("grind", "below"), made("grind", "below"))


def test_files_read_back_by_second_libraries(files, tmp_path):
    go, stop = (gauge.for_print for gauge in made("grind", "below"))
    (tmp_path / "go.stl").write_bytes(files["sweep-gauge-go.stl"])
    read = meshio.read(tmp_path / "go.stl")
    assert read.points.max(axis=0) == pytest.approx(go.vertices.max(axis=0), abs=1e-4)
    model = lib3mf.get_wrapper().CreateModel()
    model.QueryReader("3mf").ReadFromBuffer(files["sweep-gauges.3mf"])
    assert model.GetUnit() == lib3mf.ModelUnit.MilliMeter
    items, names, boxes = model.GetBuildItems(), [], []
    while items.MoveNext():
        item = items.GetCurrent()
        each = item.GetObjectResource()
        names.append(each.GetName())
        corners = np.array([[*v.Coordinates] for v in model.GetMeshObjectByID(each.GetResourceID()).GetVertices()])
        shift = np.array([item.GetObjectTransform().Fields[3][i] for i in range(3)])
        boxes.append((corners + shift)[:, 0])
    assert names == [go.name, stop.name]
    assert boxes[0].max() + 5 < boxes[1].min()  # side by side on the bed, apart
    shown = trimesh.load(io.BytesIO(files["in-place.glb"]), file_type="glb")
    assert set(shown.geometry) == {"boss as relieved", "sweep gauge GO"}


@pytest.mark.parametrize(("name", "hand"), KINDS)
def test_the_notes_say_the_sizes_in_the_trade_s_words(name, hand):
    go, stop = made(name, hand)
    notes = gauge_files(answer(name, hand), (go, stop))["print-notes.txt"].decode()
    assert screen_words.forbidden(notes, metals=screen_words.METALS) == []
    said = " ".join(notes.split())
    for mm in (go.shape.spigot_mm, go.shape.across_mm, go.shape.over_pin_mm, go.clearance_mm):
        assert f"({mm:.2f} mm)" in said
    assert "at half past 1" not in said or hand == "below"
    assert answer(name, hand).job.case.mark in said


def test_fit_and_spigot_are_two_ways_to_say_one_thing():
    job = answer("grind").job
    assert typed_fit(job, None, None) == FIT_MM
    assert typed_fit(job, "0.1 mm", None) == pytest.approx(0.1)
    assert typed_fit(job, None, "37.8 mm") == pytest.approx(0.1)
    for typed in (("0.1 mm", "37.8 mm"), (None, "38 mm"), ("much", None)):
        with pytest.raises(InputError, match=r"--fit|--spigot"):
            typed_fit(job, *typed)


@pytest.mark.parametrize(("fit", "said"), [(0.0, "more than nothing"), (0.4, "at most"), (0.3, "over half of the gap")])
def test_a_fit_that_makes_no_gauge_is_refused(fit, said):
    with pytest.raises(InputError, match=said) as refusal:
        gauges(answer("grind"), fit)
    assert str(refusal.value).count("\n") == 0


def test_a_looser_fit_stands_further_off():
    loose = gauges(answer("grind", "below"), 0.15)[0]
    tight = made("grind", "below")[0]
    assert loose.shape.spigot_mm == pytest.approx(tight.shape.spigot_mm - 0.2)
    assert loose.felt < tight.felt < 1
    assert max(loose.turns) > max(tight.turns)


def test_the_command_writes_every_file(tmp_path):
    typed = ["gauge", str(data_path("jobs/grind.toml")), str(tmp_path / "out"), "--spigot", "1.492 in"]
    ran = CliRunner().invoke(main, typed)
    assert ran.exit_code == 0, ran.output
    names = {path.name for path in (tmp_path / "out").iterdir()}
    stls = {"sweep-gauge-go.stl", "sweep-gauge-stop.stl"}
    assert names == {*stls, "sweep-gauges.3mf", "in-place.glb", "print-notes.txt"}
    notes = (tmp_path / "out" / "print-notes.txt").read_text(encoding="utf-8")
    assert f"1.492 in ({parse_length('1.492 in'):.2f} mm)" in notes
