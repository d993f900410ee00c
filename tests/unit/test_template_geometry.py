"""The developed figure: paper against closed forms of cylinder, cone and flat; the cut against the swept ring."""

import numpy as np
import pytest
from drawn_jobs import answer
from paper_jobs import cone_answer
from shapely import Polygon

from geartrack.boss.mesh import Bore
from geartrack.boss.parts import boss_from_parts
from geartrack.boss.shapes import Cone, Cut, Cylinder, Rib
from geartrack.errors import InputError
from geartrack.export.figure import Layer
from geartrack.export.template import template
from geartrack.export.template import unroll as unrolling
from geartrack.export.template.unroll import PAPER_MM, unroll
from geartrack.frame import from_polar, meridian
from geartrack.relief.crossings import radii
from geartrack.study import check
from geartrack.sweep import signed_distance

BORE = Bore(38.0, 20.0, 1.5, 18.0)
DEG = np.pi / 180
FACET_MM = 0.0005  # how far a facet strays from its circle (geartrack.tolerances)


def flat_of(*parts, low=25.0, high=45.0, deep=6.0, wide=14.0):
    return unroll(boss_from_parts(parts, BORE), clocks=(low * DEG, high * DEG), deep_mm=deep, width_mm=wide)


def test_a_cylinder_unrolls_to_arc_lengths():
    """Closed form: across = R t, up = s; the strip of a bare cylinder goes all the way round."""
    flat = flat_of(Cylinder(54.4, 0.0, 22.0))
    assert flat.whole
    assert flat.slope == 0.0
    assert np.ptp(flat.clocks) == pytest.approx(2 * np.pi)
    s, t = np.meshgrid([0.0, 3.0, 12.0], np.radians([-60.0, 0.0, 30.0, 90.0, 170.0]))
    # Chords of 720 rays fall short of the arc by a part in 3e5.
    assert flat.on_paper(s, t) == pytest.approx(np.stack([27.2 * t, s], axis=-1), abs=0.002)
    # Half the paper's thickness takes t/2 of it, at 45 degrees from where the strip is laid by; and the facets.
    assert flat.worst_mm == pytest.approx(PAPER_MM / 2 * 45 * DEG, abs=0.003)


def test_a_patch_across_6_oclock_is_laid_by_the_12_behind_it():
    flat = flat_of(Cylinder(54.4, 0.0, 22.0), low=165.0, high=205.0)
    assert flat.anchor == pytest.approx(2 * np.pi)
    assert flat.on_paper(2.0, 190 * DEG) == pytest.approx([27.2 * (190 - 360) * DEG, 2.0], abs=0.003)


def test_a_cone_unrolls_without_stretch():
    """A cone is developable: any short path is as long on paper as on the cone (closed form, no facets)."""
    flat = flat_of(Cone(54.4, 60.4, 0.0, 22.0))
    slope = 3.0 / 22.0
    assert flat.slope == pytest.approx(slope, abs=1e-4)
    rng = np.random.default_rng(7)
    s, t = rng.uniform(0.0, 12.0, 200), rng.uniform(-1.0, 1.5, 200)
    step = 1e-4 * rng.normal(size=(2, 200))
    there = [from_polar(a, 27.2 + slope * a, b) for a, b in ((s, t), (s + step[0] * 20, t + step[1]))]
    on_cone = np.linalg.norm(there[1] - there[0], axis=1)
    paper = [flat.on_paper(a, b) for a, b in ((s, t), (s + step[0] * 20, t + step[1]))]
    on_paper = np.linalg.norm(paper[1] - paper[0], axis=1)
    # Between two of 720 rays the paper's angle is read off a straight line.
    assert on_paper == pytest.approx(on_cone, rel=2e-3)


def test_a_cone_s_strip_is_no_straight_one_and_says_its_error():
    cone, round_ = flat_of(Cone(54.4, 60.4, 0.0, 22.0)), flat_of(Cylinder(54.4, 0.0, 22.0))
    bottom = cone.on_paper(0.0, np.radians([-60.0, 0.0, 60.0]))[:, 1]
    # Sagitta of the end face's arc: its radius on paper is q/sin(a), tan(a) = 3/22; the angle there is t sin(a).
    sine = np.sin(np.arctan(3.0 / 22.0))
    assert bottom[0] - bottom[1] == pytest.approx(-27.2 / sine * (1 - np.cos(np.pi / 3 * sine)), abs=0.01)
    # A straight strip at the radius half way along the patch would be out by (q - R) t, about 0.3 mm at 45 degrees.
    assert cone.worst_mm < round_.worst_mm + 0.02
    straight = abs(3.0 / 22.0) * 3.0 * 45 * DEG
    assert straight > 5 * cone.worst_mm


def test_paper_bridges_a_flat_and_counts_its_chord():
    """Closed form: past a flat at distance d of a circle of radius R, the paper has gone d tan(half), not R half."""
    half = np.arccos(25.0 / 27.2)
    flat = flat_of(Cylinder(54.4, 0.0, 22.0), Cut(35 * DEG, 25.0, 0.0, 22.0))
    start = flat.on_paper(0.0, 35 * DEG - half)[0]
    assert start == pytest.approx(27.2 * (35 * DEG - half), abs=0.03)  # to a ray of half a degree
    assert flat.on_paper(0.0, 35 * DEG)[0] - start == pytest.approx(25.0 * np.tan(half), abs=0.01)


def test_a_rib_ends_the_strip_and_does_not_stretch_it():
    flat = flat_of(Cylinder(54.4, 0.0, 22.0), Rib(150 * DEG, 9.0, 40.0, 6.0, 22.0))
    assert not flat.whole
    # The rib's near side stands at 150 deg less asin(4.5/27.2), 140.5 deg; 3 deg to spare.
    assert np.degrees(flat.clocks[-1]) == pytest.approx(150.0 - np.degrees(np.arcsin(4.5 / 27.2)) - 3.0, abs=1.0)
    assert flat.on_paper(0.0, 30 * DEG)[0] == pytest.approx(27.2 * 30 * DEG, abs=0.002)


@pytest.mark.parametrize("either", [70.0, 71.5, 80.0, 83.0])
def test_a_strip_of_less_than_half_a_turn_unrolls_to_arc_lengths_too(either):
    """Closed form: across = R t. The last rays of such a strip run along the edge of its outline."""
    ribs = (Rib(clock * DEG, 9.0, 40.0, 0.0, 22.0) for clock in (35.0 - either, 35.0 + either))
    flat = flat_of(Cylinder(54.4, 0.0, 22.0), *ribs)
    assert np.ptp(flat.clocks) < 150 * DEG
    t = np.linspace(flat.clocks[0], flat.clocks[-1], 40)
    assert flat.on_paper(0.0, t)[:, 0] == pytest.approx(27.2 * t, abs=0.003)
    assert flat.worst_mm == pytest.approx(PAPER_MM / 2 * 45 * DEG, abs=0.003)


def test_a_hollow_beside_the_patch_is_bridged_and_a_step_outward_is_not():
    """Radii along 21 rays, the patch in the middle: a spot 0.9 mm deep, as a scan has them, or a land 0.9 mm high."""
    round_ = np.full((2, 21), 27.2)
    hollow, land = round_.copy(), round_.copy()
    hollow[0, 14:16] -= 0.9
    land[1, 15:] += 0.9
    at_patch = np.full(2, 27.2)
    assert unrolling._clear(hollow, at_patch).all()
    assert unrolling._clear(hollow[:, ::-1], at_patch).all()
    assert np.flatnonzero(~unrolling._clear(land, at_patch)).tolist() == [15]
    assert np.flatnonzero(~unrolling._clear(land[:, ::-1], at_patch)).tolist() == [5]


@pytest.mark.parametrize("name", ["grind", "hits", "grind-by-readings"])
@pytest.mark.parametrize("hand", ["below", "above"])
def test_every_contour_stands_where_the_cut_is_that_deep(name, hand):
    """Taken back from the paper to the boss and down by its depth, a contour lies at the wanted distance from the ring.

    The distance is that of a point to the swept section (its own tests vouch for it); grid spacing makes the rest.
    """
    now = answer(name, hand)
    made = template(now)
    for index, curve in made.patch.depths:
        station, clock = off_paper(made, curve.points[::4])
        cast = outside(now, station, clock)
        at = from_polar(station, cast - index * made.steps.step_mm, clock)
        assert apart(now, at) == pytest.approx(made.cut.clearance_mm, abs=0.02)
    for curve in made.patch.outlines:
        station, clock = off_paper(made, curve.points[::4])
        inward = (station > 0.02) & (station < made.cut.stations_mm[-1] - 0.02)  # the rest is the end's edge
        at = from_polar(station, outside(now, station, clock), clock)[inward]
        assert apart(now, at) == pytest.approx(made.cut.clearance_mm, abs=0.02)
        assert inward.sum() > 5


def off_paper(made, points):
    flat = made.patch.flat
    assert flat.slope == 0.0
    return points[:, 1], np.interp(points[:, 0], flat.radius_mm * flat.turned, flat.clocks)


def outside(now, station, clock):
    """Radius as cast, read for each place alone."""
    pairs = zip(np.maximum(station, 0.0), clock, strict=True)
    return np.array([radii(now.boss.mesh, np.array([s]), np.array([t]))[1][0, 0] for s, t in pairs])


def apart(now, at):
    return signed_distance(now.section, meridian(now.boss.seat.to_axle(at)))


@pytest.mark.parametrize("hand", ["below", "above"])
def test_the_end_face_s_contours_too(hand):
    now = answer("hits", hand)
    made = template(now)
    steps = {curve.layer for curve in made.end.curves} & {Layer.DEPTH, Layer.DEPTH_MAJOR}
    assert steps == {Layer.DEPTH, Layer.DEPTH_MAJOR}
    checked = 0
    for curve in made.end.curves:
        radius, clock = np.hypot(*curve.points.T), np.arctan2(*curve.points.T)
        inner = radius < 27.1
        if curve.layer is Layer.PATCH and inner.any():
            found = apart(now, from_polar(np.zeros(1), radius, clock))[inner]
            assert found == pytest.approx(made.cut.clearance_mm, abs=0.01)
            checked += 1
        if curve.layer is Layer.STOP:
            found = apart(now, from_polar(np.zeros(1), radius, clock))[inner]
            assert found == pytest.approx(made.stop.clearance_mm, abs=0.01)
    assert checked == 1


@pytest.mark.parametrize("hand", ["below", "above"])
def test_printed_side_outward_edge_to_the_pinion_clock_rising_to_the_right(hand):
    """What is seen of the wrapped strip is its print: across x up must be the outward normal of the real boss."""
    made = template(answer("grind", hand))
    flat, here = made.patch.flat, (1.0, made.patch.middle)
    moves = np.array([flat.on_paper(here[0], here[1] + 1e-3), flat.on_paper(here[0] + 1e-3, here[1])])
    across, up = moves - flat.on_paper(*here)
    assert across[0] > 0 == round(float(across[1]), 9)
    assert up[1] > 0 == round(float(up[0]), 9)
    place = from_polar(*np.broadcast_arrays(here[0], 27.2, here[1]))
    round_it = from_polar(here[0], 27.2, here[1] + 1e-3) - place
    inward = from_polar(here[0] + 1e-3, 27.2, here[1]) - place
    outward = np.cross(round_it, inward)
    assert outward @ np.array([0.0, np.sin(here[1]), np.cos(here[1])]) > 0
    # Away from the ring's centre line is 3 o'clock for a pinion below it, seen from the pinion-nut end (DESIGN 1).
    assert np.sign(made.patch.deepest[0]) == (1.0 if hand == "below" else -1.0)
    sides = {label.text: label.across for label in made.end.labels if "toward" in label.text or "away" in label.text}
    right = "away from >" if hand == "below" else "toward >"
    assert sides[right] == "right"


def test_both_hands_are_mirror_images():
    """The boss of `hits` is the same in its mirror where it is ground, so the two patches are each other's."""
    below, above = (template(answer("hits", hand)) for hand in ("below", "above"))
    one, other = (Polygon(made.patch.outlines[0].points) for made in (below, above))
    mirrored = Polygon(np.array(other.exterior.coords) * (-1.0, 1.0))
    assert one.symmetric_difference(mirrored).area < 0.01 * one.area


def test_stop_holds_the_cut_and_the_strip_holds_stop():
    for now in (answer("grind"), answer("hits"), cone_answer()):
        made = template(now)
        stop, cut = (Polygon(curves[0].points).buffer(0) for curves in (made.patch.stops, made.patch.outlines))
        assert stop.buffer(0.02).contains(cut)
        (edge,) = (Polygon(curve.points) for curve in made.strip.curves if curve.layer is Layer.CUT_LINE)
        assert edge.buffer(0.02).contains(stop)


def test_nothing_outside_its_box_and_no_word_on_the_patch():
    for now in (answer("grind"), answer("hits", "above"), cone_answer()):
        made = template(now)
        taken = Polygon(np.concatenate([c.points for c in made.patch.stops])).buffer(0)
        left, bottom, right, top = made.strip.box
        for label in made.strip.labels:
            wide = 0.52 * label.size_mm * len(label.text) * {"left": 1, "right": -1, "middle": 0}[label.across]
            (x, y), high = label.at, label.size_mm
            words = Polygon([(x, y), (x + wide, y), (x + wide, y + high), (x, y + high)]).buffer(0)
            assert left <= x <= right
            assert bottom <= y <= top
            assert words.intersection(taken).area == 0, label.text


@pytest.mark.parametrize(
    ("name", "says"),
    [
        ("aluminium", "DON'T GRIND THIS CASE: aluminium"),
        ("clears", "CLEARS THE BOSS"),
        ("measure", "MEASURE FIRST: .*next reading"),
        ("dont-grind", "DON'T GRIND THIS CASE"),
        ("dont-use", "DON'T USE THIS CASE"),
    ],
)
def test_where_no_depth_may_be_given_there_is_no_template(name, says):
    with pytest.raises(InputError, match=says) as caught:
        template(answer(name))
    assert len(str(caught.value).splitlines()) == 1


def test_without_the_hand_there_is_no_template():
    job = answer("hits").job
    now = check(job.model_copy(update={"axle": job.axle.model_copy(update={"hand": None})}))
    assert now.verdict.grinds
    with pytest.raises(InputError, match=r"axle\.hand: hand is not given, so the patch may lie on either side"):
        template(now)
