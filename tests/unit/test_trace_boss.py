"""The boss from its views: volumes in closed form, the same boss by parts, where it lies, and what is refused."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
from boss_truth import euler, is_closed, volume
from demo import demo_job
from screen_words import forbidden
from shapely import Polygon, unary_union
from trace_drawings import (
    BORE,
    block,
    circle,
    dxf,
    end_trace,
    file,
    insert,
    line,
    polyline,
    rib_outline,
    saved,
    side_trace,
    svg,
)

from geartrack.assembly import assemble, closer_by, plan
from geartrack.boss.from_job import boss_mesh
from geartrack.boss.parts import Cone, Cylinder, Rib, boss_from_parts
from geartrack.boss.trace.solid import boss_from_trace
from geartrack.clearance import boss_gap
from geartrack.errors import InputError
from geartrack.frame import Hand, polar
from geartrack.gearset.teeth import one_pair
from geartrack.job import Known
from geartrack.study import check
from geartrack.tolerances import TOLERANCES
from geartrack.verdict import Code

FLAT = TOLERANCES.facet_mm
LENGTH = 22.0
BORE_MM3 = math.pi * 19**2 * 20
AXIS = '<g id="AXIS"><line x1="0" y1="60" x2="99" y2="60"/></g>'
PROFILE = '<path d="M 40 60 V 32.8 H 58 L 62 29 H 67 V 60"/>'  # the demo's: 27.2 to station 18, 31 from 22 to 27
DISC = dxf(circle(27.2), circle(19))
RIB = dxf(polyline(rib_outline(31, 150, 9, 40), "BOSS"), circle(19, layer="BORE"))


def end(folder, text=DISC, **keys):
    """The boss by an end view alone."""
    return boss_from_trace(end_trace(saved(folder, "end.dxf", text), **keys), BORE, length_mm=LENGTH)


def side(folder, *elements, name="side.svg", **keys):
    """The boss by a profile alone."""
    return boss_from_trace(side_trace(saved(folder, name, svg(AXIS, *elements)), **keys), BORE, length_mm=LENGTH)


def both(folder, end_text, side_text, **keys):
    """The boss by both views."""
    given = dict(side_trace(saved(folder, "side.svg", side_text))) | keys
    given = {key: value for key, value in given.items() if value is not None}
    return boss_from_trace(end_trace(saved(folder, "end.dxf", end_text), **given), BORE, length_mm=LENGTH)


def refused(make):
    """The one line that a boss is refused with."""
    with pytest.raises(InputError) as caught:
        make()
    message = str(caught.value)
    assert "\n" not in message
    assert forbidden(message) == []
    return message


def shadow(boss, first, second):
    """What is seen of a boss across two directions: the union of its triangles, as a polygon."""
    flat = np.stack([boss.vertices @ first, boss.vertices @ second], axis=1)[boss.triangles]
    areas = [Polygon(corners) for corners in flat]
    return unary_union([area for area in areas if area.area > 1e-9]).buffer(1e-6)


# --- volumes, by closed forms ----------------------------------------------------------------------------------------


def test_a_disc_drawn_along_the_bore(tmp_path):
    boss = end(tmp_path)
    truth = math.pi * 27.2**2 * LENGTH - BORE_MM3
    assert is_closed(boss)
    assert euler(boss) == 2  # a bore that does not go through is a dent
    assert volume(boss) == pytest.approx(truth, abs=2 * FLAT * 2 * math.pi * 46.2 * LENGTH)
    assert volume(boss) < truth  # chords on the outside, and facets outside the bore's circle


def test_a_profile_turned_about_the_bore(tmp_path):
    """Cylinder, cone frustum, cylinder: pi r^2 h, and pi h (r1^2 + r1 r2 + r2^2)/3."""
    boss = side(tmp_path, PROFILE)
    cone = math.pi * 4 * (27.2**2 + 27.2 * 31 + 31**2) / 3
    truth = math.pi * (27.2**2 * 18 + 31**2 * 5) + cone - BORE_MM3
    assert is_closed(boss)
    assert volume(boss) == pytest.approx(truth, rel=3e-4)
    assert boss.vertices[:, 0].min() == pytest.approx(-27.0)


def test_two_outlines_leave_what_both_hold(tmp_path):
    """A disc of 27.2 and a strip of 23 to either side: per millimetre a circle less two segments."""
    strip = svg(AXIS, '<rect x="40" y="37" width="22" height="46"/>')
    boss = both(tmp_path, dxf(polyline(_cut_disc(27.2, 23)), circle(19)), strip, side_shows="outline", side_up=0.0)
    lean = math.acos(23 / 27.2)
    section = math.pi * 27.2**2 - 2 * 27.2**2 * (lean - math.sin(lean) * math.cos(lean))
    assert volume(boss) == pytest.approx(section * 22 - BORE_MM3, rel=2e-4)


def _cut_disc(radius, half):
    """Corners and bulges of a disc cut flat above and below at this distance from its centre."""
    across = math.sqrt(radius**2 - half**2)
    bulge = math.tan(math.asin(half / radius) / 2)
    return [(across, -half, bulge), (across, half), (-across, half, bulge), (-across, -half)]


def test_the_solid_shows_the_views_it_was_made_from(tmp_path):
    """Silhouettes of the solid against the outlines: an L-shaped side view, an end view with a rib."""
    text = svg(AXIS, '<path d="M 40 37 H 52 V 29 H 67 V 91 H 40 Z"/>')
    outline = [(23, -31), (23, 31), (-31, 31), (-31, -31)]
    boss = both(tmp_path, dxf(polyline(outline), circle(19)), text, side_shows="outline", side_up=0.0)
    seen = shadow(boss, np.array([0.0, 1, 0]), np.array([0.0, 0, 1]))
    assert seen.symmetric_difference(Polygon(outline)).area < 0.01
    across = shadow(boss, np.array([-1.0, 0, 0]), np.array([0.0, 0, 1]))
    drawn = Polygon([(0, 23), (12, 23), (12, 31), (27, 31), (27, -31), (0, -31)])
    assert across.symmetric_difference(drawn).area < 0.01


def test_no_profile_with_the_same_shadow_holds_more(tmp_path):
    """Of a boss with a step on one side, two outlines make no less than the boss itself."""
    text = svg(AXIS, '<path d="M 40 37 H 52 V 29 H 67 V 91 H 40 Z"/>')
    outline = dxf(circle(31), circle(19))
    boss = both(tmp_path, outline, text, side_shows="outline", side_up=0.0)
    turned = boss_from_parts([Cylinder(46.0, 0.0, 27.0), Cylinder(62.0, 12.0, 27.0)], BORE)
    assert volume(boss) > volume(turned)


def test_the_larger_side_of_a_profile_counts(tmp_path):
    """A closed side view of a boss, 24 above its axis and 27 below, and a groove above only: 27 all along."""
    text = '<path d="M 40 36 H 50 V 40 H 55 V 36 H 62 V 87 H 40 Z"/>'
    boss = side(tmp_path, text)
    assert volume(boss) == pytest.approx(math.pi * 27**2 * 22 - BORE_MM3, rel=3e-4)  # facets: 0.002 of 19 and of 27


def test_an_overhang_is_filled(tmp_path):
    """A profile that doubles back on itself: the largest radius at each station."""
    boss = side(tmp_path, '<path d="M 40 35 L 56 30 L 50 33 L 62 33"/>')
    frustum = math.pi * 16 * (25**2 + 25 * 30 + 30**2) / 3
    assert volume(boss) == pytest.approx(frustum + math.pi * 27**2 * 6 - BORE_MM3, rel=3e-4)


# --- the same boss by parts ------------------------------------------------------------------------------------------


def test_the_demo_boss_by_trace_has_the_gap_it_has_by_parts():
    """The pad that no view shows lies away from the ring; the range is wider by the tracing, both ways."""
    traced, made = demo_job("grind-by-trace"), demo_job("grind")
    gaps = []
    for job in (traced, made):
        chosen = plan(job, one_pair(job.gears.teeth), Hand.BELOW)
        now = assemble(chosen)
        gaps.append(boss_gap(now.boss, now.section).nominal_mm - closer_by(chosen))
    assert gaps[0] == pytest.approx(gaps[1], abs=2 * FLAT + TOLERANCES.facet_mm + TOLERANCES.gap_mm)
    by_trace, by_parts = check(traced), check(made)
    assert by_trace.verdict.code == by_parts.verdict.code == Code.GRIND
    assert by_trace.place.clock == pytest.approx(by_parts.place.clock, abs=math.radians(1))
    give = traced.boss.trace.give_mm
    assert by_trace.band.low == pytest.approx(by_parts.band.low - give, abs=0.02)
    assert by_trace.inputs["boss.readings"].reach == give
    assert by_trace.wall_before.before_mm == pytest.approx(by_parts.wall_before.before_mm, abs=2 * FLAT)


@pytest.mark.parametrize("clock", [40, 150, -75])
def test_a_boss_with_a_rib_is_the_one_by_parts(tmp_path, clock):
    """Where the rib runs the whole length nothing is added: volume and place of every corner agree."""
    text = dxf(polyline(rib_outline(27, clock, 9, 40)), circle(19))
    rib = Rib(math.radians(clock), 9.0, 40.0, 0.0, LENGTH)
    by_parts = boss_from_parts([Cylinder(54.0, 0.0, LENGTH), rib], BORE)
    by_trace = end(tmp_path, text)
    assert volume(by_trace) == pytest.approx(volume(by_parts), rel=3e-4)
    far = [polar(boss.vertices)[2][np.hypot(*boss.vertices[:, 1:].T) > 39.9] for boss in (by_parts, by_trace)]
    assert np.unique(far[0].round(6)) == pytest.approx(np.unique(far[1].round(6)))


def test_what_stands_out_of_the_profile_is_kept(tmp_path):
    """The demo's rib reaches 40, its profile 31: the rib runs the whole length, the rest is the turned profile."""
    boss = both(tmp_path, RIB, svg(AXIS, PROFILE))
    rib = Rib(math.radians(150), 9.0, 40.0, 0.0, 27.0)
    parts = [Cylinder(54.4, 0.0, 22.0), Cone(54.4, 62.0, 18.0, 22.0), Cylinder(62.0, 22.0, 27.0), rib]
    assert volume(boss) == pytest.approx(volume(boss_from_parts(parts, BORE)), rel=3e-4)
    assert any("stands out at about 150 deg" in note for note in boss.notes)


# --- where it lies ---------------------------------------------------------------------------------------------------


def ribs_at(boss):
    """Clock angle of the rib, in degrees."""
    _, radius, clock = polar(boss.vertices)
    far = clock[radius > 38]
    return math.degrees(math.atan2(np.sin(far).mean(), np.cos(far).mean()))


@pytest.mark.parametrize("clock", [40.0, 150.0, -75.0])
def test_seen_from_the_other_end_a_drawing_is_mirrored(tmp_path, clock):
    """A drawing from the other end shows 3 o'clock to the left: the same drawing, read so, has its rib at -clock."""
    text = dxf(polyline(rib_outline(31, clock, 9, 40)), circle(19))
    assert ribs_at(end(tmp_path, text)) == pytest.approx(clock, abs=1e-6)
    assert ribs_at(end(tmp_path, text, seen_from="other end")) == pytest.approx(-clock, abs=1e-6)
    mirrored = dxf(insert("A", scale=(-1, 1)), blocks=block("A", polyline(rib_outline(31, clock, 9, 40)), circle(19)))
    boss = end(tmp_path, mirrored, seen_from="other end")
    assert ribs_at(boss) == pytest.approx(clock, abs=1e-6)
    assert is_closed(boss)
    assert volume(boss) == pytest.approx(volume(end(tmp_path, text)), rel=1e-9)


@pytest.mark.parametrize(("toward", "clock"), [("up", 40.0), ("right", -50.0), ("left", 130.0), ("down", -140.0)])
def test_twelve_oclock_on_the_drawing(tmp_path, toward, clock):
    """A rib drawn 40 deg clockwise from up, where 12 o'clock lies elsewhere on the drawing."""
    text = dxf(polyline(rib_outline(31, 40, 9, 40)), circle(19))
    assert ribs_at(end(tmp_path, text, twelve_oclock=toward)) == pytest.approx(clock, abs=1e-6)


def test_twelve_oclock_as_an_angle(tmp_path):
    text = dxf(polyline(rib_outline(31, 40, 9, 40)), circle(19))
    boss = end(tmp_path, text, twelve_oclock="-30 deg")
    assert ribs_at(boss) == pytest.approx(70.0, abs=1e-6)
    assert "12 o'clock at -30 deg clockwise from up" in boss.notes[0]


@pytest.mark.parametrize(
    ("axis", "path", "pinion_side"),
    [
        ("0 60 H 99", "M 40 60 V 36 H 50 V 30 H 62 V 60", "left"),
        ("0 60 H 99", "M 62 60 V 36 H 52 V 30 H 40 V 60", "right"),
        ("60 0 V 99", "M 60 40 H 36 V 50 H 30 V 62 H 60", "up"),
        ("60 99 V 0", "M 60 62 H 36 V 52 H 30 V 40 H 60", "down"),
    ],
)
def test_the_pinion_side_end_of_a_side_view(tmp_path, axis, path, pinion_side):
    """Radius 24 for 10 mm in from the pinion-side end, then 30: whichever way the drawing lies."""
    text = svg(f'<g id="AXIS"><path d="M {axis}"/></g>', f'<path d="{path}"/>')
    boss = boss_from_trace(side_trace(saved(tmp_path, "a.svg", text), pinion_side=pinion_side), BORE, length_mm=LENGTH)
    station, radius, _ = polar(boss.vertices)
    assert radius[station < 9.9].max() == pytest.approx(24, abs=1e-6)
    assert radius[station > 10.1].max() == pytest.approx(30, abs=1e-6)
    assert station.max() == pytest.approx(22)


@pytest.mark.parametrize(("clock", "seen"), [("0 deg", 0), ("90 deg", 90), ("-90 deg", -90), ("180 deg", 180)])
def test_which_side_of_an_outline_lies_up(tmp_path, clock, seen):
    """A pad to 31 on one side of a boss of 27, shown above the centre line of the side view."""
    t = math.radians(seen)
    turn = np.array([[math.cos(t), math.sin(t)], [-math.sin(t), math.cos(t)]])
    corners = np.array([(-27, -27), (27, -27), (27, 31), (-27, 31)]) @ turn.T
    text = svg(AXIS, '<path d="M 40 33 H 50 V 29 H 62 V 87 H 40 Z"/>')
    outline = dxf(polyline(corners.tolist()), circle(19))
    boss = both(tmp_path, outline, text, side_shows="outline", side_up=clock)
    up = np.array([0.0, math.sin(t), math.cos(t)])
    high = boss.vertices @ up
    assert high.max() == pytest.approx(31)
    assert -boss.vertices[high > 30, 0].max() == pytest.approx(10)  # it starts at station 10
    other = {"0 deg": "180 deg", "180 deg": "0 deg", "90 deg": "-90 deg", "-90 deg": "90 deg"}[clock]
    says = refused(lambda: both(tmp_path, outline, text, side_shows="outline", side_up=other))
    assert "is side_up right?" in says


# --- scale -----------------------------------------------------------------------------------------------------------


def test_the_scale_is_taken_from_what_is_known(tmp_path):
    """One drawing in the unit 0.37 mm: by the bore, by a line, by a circle; each says so."""
    unit = 0.37
    text = dxf(
        circle(27.2 / unit, layer="BOSS"),
        circle(19 / unit, layer="BORE"),
        line(0, 90, 50 / unit, 90, layer="SCALE"),
        circle(30 / unit, x=300, layer="RING"),
        unit=None,
    )
    keys = {"end_layer": "BOSS", "end_bore": "BORE"}
    truth = volume(end(tmp_path))
    for scale in ("bore", "SCALE = 50 mm", "ring = 60 mm"):
        boss = end(tmp_path, text, end_scale=scale, **keys)
        assert volume(boss) == pytest.approx(truth, rel=1e-4)
        assert "end.dxf: one unit is 0.37 mm, by " in boss.notes[0]
    assert "says no unit of length" in refused(lambda: end(tmp_path, text, **keys))


def test_a_drawing_in_inches(tmp_path):
    boss = end(tmp_path, dxf(circle(27.2 / 25.4), circle(19 / 25.4), unit=1))
    assert volume(boss) == pytest.approx(volume(end(tmp_path)), rel=1e-4)
    assert boss.notes[0].startswith("end.dxf: one unit is 25.4 mm, by its own unit (in); seen from the pinion-nut end")


def test_a_unit_that_does_not_agree_with_what_was_stated_is_flagged(tmp_path):
    """A print that came out 1.5 % small, its unit still mm."""
    text = dxf(circle(27.2 * 0.985), circle(19 * 0.985))
    boss = end(tmp_path, text, end_scale="bore")
    assert any("its own unit (mm) says 1 mm, which does not agree" in note for note in boss.notes)
    assert not [note for note in end(tmp_path, end_scale="bore").notes if "agree" in note]
    drawn = end(tmp_path, text)
    assert any("bore's circle is drawn 1.474 in (37.43 mm) across" in note for note in drawn.notes)


def test_a_drawing_in_the_wrong_unit_is_refused(tmp_path):
    inches = dxf(circle(27.2), circle(19), unit=1)
    says = refused(lambda: end(tmp_path, inches))
    assert says.startswith(
        "end.dxf: the bore's circle is drawn 38.000 in (965.20 mm) across, the job's bore is 1.496 in"
    )
    says = refused(lambda: side(tmp_path, PROFILE, side_scale="AXIS = 500 mm"))
    assert "at most" in says or "long at this scale" in says


# --- which line is the boss ------------------------------------------------------------------------------------------


def test_joined_from_pieces_in_any_order(tmp_path):
    """A rounded square of lines and arcs, drawn in no order and either way round, one of them twice."""
    corners = [(27, -20), (27, 20), (20, 27), (-20, 27), (-27, 20), (-27, -20), (-20, -27), (20, -27)]
    sides = [line(*a, *b) for a, b in pairwise([*corners, corners[0]])]
    sides[3] = line(-27, 20, -20, 27)
    shuffled = [sides[n] for n in (4, 0, 7, 2, 5, 3, 6, 1, 0)]
    boss = end(tmp_path, dxf(*shuffled, circle(19)))
    assert volume(boss) == pytest.approx((54**2 - 2 * 7**2) * LENGTH - BORE_MM3, rel=2e-4)


MANY = dxf(circle(27.2, layer="BOSS"), circle(31, layer="WEB"), circle(19, layer="BORE"), circle(14, layer="STUB"))
REFUSED = {
    "which circle": (
        MANY,
        {"end_scale": "bore"},
        "3 circles that may be the pilot bore, on the layers BOSS, BORE, STUB",
    ),
    "which outline": (MANY, {"end_bore": "BORE"}, "2 closed outlines round the bore, on the layers BOSS, WEB: which"),
    "no such layer": (MANY, {"end_layer": "RIM"}, "named 'RIM'; one of: BOSS, WEB, BORE, STUB"),
    "no bore": (dxf(circle(27)), {}, "no circle for the pilot bore within an outline"),
    "bore no circle": (
        dxf(circle(27, layer="A"), polyline([(-9, -9), (9, -9), (0, 9)], "B")),
        {"end_bore": "B"},
        "what is drawn on layer B is no circle",
    ),
    "open": (
        dxf(polyline([(27, 0), (0, 27), (-27, 0), (0, -27), (26, -1)], closed=False), circle(19, layer="BORE")),
        {"end_bore": "BORE"},
        "the outline is open: its ends lie 1.414 apart, at (27, 0) and (26, -1)",
    ),
    "crosses itself": (
        dxf(polyline([(-30, -30), (30, -30), (30, 10), (25, 5), (40, 5), (40, 30), (-30, 30)]), circle(19)),
        {},
        "the outline crosses itself at (30, 5)",
    ),
    "branches": (
        dxf(polyline([(0, 27), (0, 0), (27, 0)], closed=False), line(27, 0, 40, 0), line(27, 0, 40, 9), circle(5)),
        {},
        "meet at (27, 0)",
    ),
    "off centre": (dxf(circle(27), circle(19, x=9)), {}, "no wall round the pilot bore"),
    "no scale line": (dxf(circle(27.2), circle(19)), {"end_scale": "SCALE = 50 mm"}, "named 'SCALE'"),
    "scale of a curve": (
        dxf(circle(27.2), circle(19), polyline([(0, 90), (9, 95), (30, 90)], "S", closed=False)),
        {"end_scale": "S = 30 mm"},
        "neither a straight line nor a circle",
    ),
    "wrong bore": (dxf(circle(27.2), circle(17)), {}, "the bore's circle is drawn 1.339 in (34.00 mm) across"),
}


@pytest.mark.parametrize("name", REFUSED)
def test_an_end_view_that_is_not_clear_is_refused(tmp_path, name):
    text, keys, says = REFUSED[name]
    assert says in refused(lambda: end(tmp_path, text, **keys))


def test_a_bore_of_the_right_size_is_found_among_others(tmp_path):
    """Two circles within the outline, one of the job's size by the drawing's unit; open lines beside are named."""
    boss = end(tmp_path, dxf(circle(27.2), circle(19), circle(14), line(0, 40, 0, 60)))
    assert volume(boss) == pytest.approx(volume(end(tmp_path)), rel=1e-6)
    assert "end.dxf: 1 lines that enclose nothing are not read" in boss.notes


SIDE_REFUSED = {
    "no axis": ((PROFILE,), {"side_axis": "MID"}, "named 'MID'; one of: AXIS"),
    "two lines": ((PROFILE, '<path d="M 40 20 H 60"/>'), {}, "2 separate lines"),
    "upright": (
        (PROFILE,),
        {"pinion_side": "up"},
        "but the bore's centre line lies level; left or right",
    ),
    "curved axis": ((PROFILE, '<circle id="C" r="3"/>'), {"side_axis": "C"}, "layer C holds no straight line"),
    "too short": (('<path d="M 40 60 V 32 H 50"/>',), {}, "the bearing seat ends at"),
    "under the bore": (('<path d="M 40 60 V 45 H 62"/>',), {}, "not smaller than the boss"),
    "too far out": (('<path d="M 40 60 V 1 H 62"/>',), {}, "at most 2.020 in (51.30 mm) for this bore"),
    "thin": (('<path d="M 40 60 V 32 H 50 V 42 H 62"/>',), {}, "no wall round the pilot bore"),
}


@pytest.mark.parametrize("name", SIDE_REFUSED)
def test_a_side_view_that_is_not_clear_is_refused(tmp_path, name):
    elements, keys, says = SIDE_REFUSED[name]
    assert says in refused(lambda: side(tmp_path, *elements, **keys))


def test_views_that_are_not_of_one_boss_are_refused(tmp_path):
    large = dxf(circle(36), circle(19))
    says = refused(lambda: both(tmp_path, large, svg(AXIS, PROFILE)))
    assert "lies 1.417 in (36.00 mm) or more from the bore axis all round" in says
    strip = svg(AXIS, '<rect x="40" y="36" width="22" height="48"/>')
    says = refused(lambda: both(tmp_path, DISC, strip, side_shows="outline", side_up=0.0))
    assert "reaches 1.071 in (27.20 mm)" in says
    open_one = svg(AXIS, PROFILE)
    says = refused(lambda: both(tmp_path, DISC, open_one, side_shows="outline", side_up=0.0))
    assert "side.svg: the outline is open" in says


def test_views_that_differ_a_little_are_flagged(tmp_path):
    boss = both(tmp_path, dxf(circle(30.3), circle(19)), svg(AXIS, PROFILE))
    assert any("the end view comes within 1.193 in (30.30 mm)" in note for note in boss.notes)
    assert np.hypot(*boss.vertices[:, 1:].T).max() == pytest.approx(30.3, abs=1e-6)


# --- in a job --------------------------------------------------------------------------------------------------------


def test_outlines_alone_never_say_grind():
    """The demo's end view without its profile: the most metal there can be, so neither gap nor wall is settled."""
    job = demo_job("grind-by-trace")
    keys = ("side_view", "side_layer", "side_axis", "side_scale", "pinion_side", "side_shows")
    outline = job.boss.trace.model_copy(update=dict.fromkeys(keys))
    alone = job.model_copy(update={"boss": job.boss.model_copy(update={"trace": outline})})
    answer = check(alone)
    assert answer.verdict.code == Code.MEASURE
    assert "most metal" in answer.verdict.reason
    assert "profile along the bore" in answer.verdict.next_reading
    clears = check(job.model_copy(update={"boss": alone.boss, "gears": demo_job("clears").gears}))
    assert clears.gap.lower_mm <= check(job.model_copy(update={"gears": demo_job("clears").gears})).gap.upper_mm


def test_a_trace_gives_or_takes_what_its_tool_does():
    """15 thou where nothing is said (the tool's own figure), what is typed where it is."""
    job = demo_job("grind-by-trace", boss__trace__give_or_take="0.4 mm")
    assert check(job).inputs["boss.readings"].reach == pytest.approx(0.4)
    plain = job.boss.trace.model_copy(update={"give_or_take": None})
    assert plain.give_mm == pytest.approx(0.381)


def test_a_drawing_that_was_changed_is_read_anew(tmp_path):
    path = saved(tmp_path, "end.dxf", DISC)
    job = demo_job("grind-by-trace")
    volumes = []
    for radius in (27.2, 28.0):
        saved(tmp_path, "end.dxf", dxf(circle(radius), circle(19)))
        state = path.stat()
        stamp = (state.st_mtime_ns + int(radius), state.st_size)
        seen = file(path).__class__(path, "end.dxf", stamp)
        trace = end_trace(path).model_copy(update={"end_view": seen})
        volumes.append(volume(boss_mesh(job.boss.model_copy(update={"trace": trace}), None, 0.0)))
    assert volumes[1] > volumes[0]


def test_known_lengths_as_they_are_typed(tmp_path):
    assert end_trace(tmp_path, end_scale="my = layer = 2 in").end_scale == Known("my = layer", 50.8)
    assert end_trace(tmp_path, end_scale="bore").end_scale == Known()
