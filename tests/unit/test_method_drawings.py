"""The method drawings: geometry read back from what is drawn, words and letters that agree, black and white, tidy.

Expected lengths are the bench's sizes or closed forms derived here; accuracies are the trade table's, with its marks
(shop knowledge, sections 5 and 8).
"""

from __future__ import annotations

import re
from dataclasses import replace
from functools import cache
from math import cos, hypot, pi, radians, sqrt

import numpy as np
import pytest
import screen_words
from figures_read import corners, cut_off, patches_named, run_together, words_on
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.text import Annotation
from shapely import LineString, Point, Polygon, union_all
from shapely.ops import nearest_points

from geartrack.draw import save
from geartrack.draw.methods import (
    METHODS,
    Bench,
    bar_over_bar,
    clock,
    describe_method,
    method_figure,
    ring_height,
    saddle_depth,
    solder,
    wall,
    wind_over,
)
from geartrack.errors import InputError
from geartrack.frame import Hand, Seat, from_polar, meridian

EXAMPLE = Bench()
OTHER = replace(
    EXAMPLE,
    ring_diameter_mm=226.0,
    toe_inside_diameter_mm=160.0,
    toe_height_mm=44.0,
    heel_height_mm=33.0,
    ring_bore_diameter_mm=140.0,
    offset_mm=48.0,
    boss_diameter_mm=58.0,
    boss_length_mm=30.0,
    bore_diameter_mm=42.0,
    saddle_bore_mm=80.0,
    saddle_depth_mm=45.0,
    saddle_bar_mm=26.0,
    straightedge_mm=30.0,
    wire_mm=2.0,
    gap_mm=0.5,
    travel_mm=3.0,
)
BOTH = pytest.mark.parametrize("bench", [EXAMPLE, OTHER], ids=["example", "other sizes"])
EVERY = pytest.mark.parametrize("name", METHODS)
DRAWN = 0.12  # mm: outlines leave out points closer than a printed dot, 1/4000 of the widest view here, on either side


@cache
def figure_of(name: str) -> Figure:
    return method_figure(name)


def views(method, bench: Bench) -> list[Axes]:
    ax = Figure(figsize=(6.4, 4.5)).add_axes((0, 0, 1, 1))
    assert method.draw(ax, bench) is ax
    return list(ax.child_axes)


def readings(view: Axes) -> dict[str, LineString]:
    """The lettered arrows of a view, each from end to end [mm]."""
    arrows = [text for text in view.texts if isinstance(text, Annotation) and text.get_gid()]
    return {arrow.get_gid(): LineString([arrow.xyann, arrow.xy]) for arrow in arrows}


def shape(view: Axes, name: str):
    """What is drawn under a name, as one shape."""
    found = patches_named(view, name)
    assert found, f"no {name}"
    return union_all([Polygon(points) for patch in found for points in _outlines(patch)])


def _outlines(patch):
    return [points for points in patch.get_path().to_polygons(closed_only=False) if len(points) > 3]


def dots(view: Axes) -> list[tuple[float, float]]:
    return [spot for line in view.lines if line.get_gid() == "touch" for spot in zip(*line.get_data(), strict=True)]


def level(view: Axes, name: str) -> float:
    """The height of a level line."""
    (line,) = [line for line in view.lines if line.get_gid() == name]
    low, high = line.get_ydata()
    assert low == high
    return float(low)


# --- the seven cards ---------------------------------------------------------------------------------------------


def test_the_seven_methods():
    assert list(METHODS) == ["ring-height", "solder", "wind-over", "saddle-depth", "bar-over-bar", "wall", "clock"]
    assert all(name == method.name for name, method in METHODS.items())


@EVERY
def test_the_text_equivalent_says_all_that_the_card_says_and_is_the_figures_label(name):
    method, told = METHODS[name], describe_method(name)
    figure = figure_of(name)
    assert figure.get_label() == told
    assert figure.get_suptitle() == method.title
    for words in (method.title, method.tool, method.touches, method.reading, method.mistake, method.accuracy[1:]):
        assert len(words) > 10
        assert words in told
    shown = " ".join(words_on(figure)).replace("\u2212", "-").replace("\u00d7", "x")
    for line in told.splitlines()[1:]:
        assert " ".join(line.partition(": ")[2].split()) in shown


@EVERY
def test_every_letter_on_the_drawing_is_explained_in_the_text(name):
    """As "a: this" or "a and b: these"; letters on the picture of the mistake at least occur in its words."""
    method = METHODS[name]
    seen = views(method, EXAMPLE)
    words = [text for view in seen if view.get_gid() != "mistake" for text in words_on(view)]
    letters = {text for text in words if len(text) == 1 and text.isalpha()}
    assert letters
    assert [letter for letter in letters if not re.search(rf"\b{letter}( and \w)?:", method.reading)] == []
    wrong = {text for text in words_on(seen[-1]) if len(text) == 1 and text.isalpha()}
    assert [letter for letter in wrong if not re.search(rf"\b{letter}\b", method.reading + method.mistake)] == []


@EVERY
def test_words_of_the_trade(name):
    said = [describe_method(name), *words_on(figure_of(name))]
    assert [bad for text in said for bad in screen_words.forbidden(text)] == []
    assert screen_words.promises(describe_method(name)) == []


@EVERY
def test_the_usual_mistake_is_framed_and_crossed_out_once(name):
    (wrong,) = [view for view in views(METHODS[name], EXAMPLE) if view.get_gid() == "mistake"]
    assert all(spine.get_visible() for spine in wrong.spines.values())
    strokes = [line for line in wrong.lines if line.get_transform() == wrong.transAxes]
    ends = sorted(tuple(zip(*line.get_data(), strict=True)) for line in strokes)
    assert ends == [((0, 0), (1, 1)), ((0, 1), (1, 0))]
    assert "NOT SO" in words_on(wrong)


@EVERY
def test_black_and_white(name):
    canvas = FigureCanvasAgg(figure_of(name))
    canvas.draw()
    pixels = np.asarray(canvas.buffer_rgba())[..., :3].astype(int)
    assert np.ptp(pixels, axis=-1).max() == 0
    assert pixels.min() < 64
    assert pixels.max() == 255


@EVERY
def test_no_words_lie_on_others_or_off_the_sheet(name):
    figure = figure_of(name)
    assert cut_off(figure) == []
    assert run_together(figure) == []


@EVERY
def test_drawn_to_scale(name):
    for view in views(METHODS[name], EXAMPLE):
        assert view.get_aspect() == 1.0


@pytest.mark.parametrize(
    ("name", "accuracy"),
    [
        ("ring-height", {"0.002 in (published, web)"}),  # caliper: not to be trusted closer
        ("solder", {"0.0015 in (from memory)", "0.005 in (from memory)"}),  # solder; clay
        ("wind-over", {"0.001 in by dial", "(common practice, no source)"}),
        ("saddle-depth", {"0.002 in (from memory)"}),  # depth micrometer or bridge in an awkward case
        ("bar-over-bar", {"0.002 in by caliper (published, web)"}),
        ("wall", {"0.004 in by hand (published, web"}),  # through a plate by hand, five tries: two sigma
        ("clock", {"15 degrees (common practice, no source)"}),
    ],
)
def test_accuracy_and_its_mark_are_the_trade_tables(name, accuracy):
    assert [words for words in accuracy if words not in METHODS[name].accuracy] == []


def test_a_height_from_two_readings_is_less_certain_than_either():
    """Two readings of 0.002 in each, root of the sum of squares (closed form), to the thousandth."""
    assert f"a height give or take {sqrt(2) * 0.002:.3f} in" in METHODS["ring-height"].accuracy


def test_another_name_is_refused_with_those_there_are():
    for ask in (method_figure, describe_method):
        with pytest.raises(InputError, match=r"'ringheight'.*ring-height, solder"):
            ask("ringheight")


@pytest.mark.parametrize(
    ("size", "value"),
    [("bore_diameter_mm", 60.0), ("gap_mm", 0.0), ("wire_mm", 0.4), ("travel_mm", float("nan")), ("offset_mm", -1.0)],
)
def test_sizes_that_make_no_axle_are_refused(size, value):
    with pytest.raises(InputError, match="_mm"):
        replace(EXAMPLE, **{size: value})


def test_a_ring_that_passes_the_boss_is_refused_rather_than_drawn():
    wide = replace(EXAMPLE, toe_inside_diameter_mm=230.0, ring_bore_diameter_mm=220.0)
    for method in (solder, wind_over):
        with pytest.raises(InputError, match="past the boss"):
            views(method, wide)


@pytest.mark.parametrize("kind", ["svg", "png", "pdf"])
def test_saved_whole_with_its_text_equivalent(tmp_path, kind):
    path = tmp_path / f"wall.{kind}"
    save(figure_of("wall"), path)
    assert [file.name for file in tmp_path.iterdir()] == [path.name]
    assert path.stat().st_size > 5000
    if kind == "svg":
        assert METHODS["wall"].mistake in path.read_text(encoding="utf-8")


# --- ring height -------------------------------------------------------------------------------------------------


@BOTH
def test_straightedge_lies_on_the_highest_teeth_of_both_sides(bench):
    view, _ = views(ring_height, bench)
    ring, edge = union_all([shape(view, "ring teeth"), shape(view, "ring body")]), shape(view, "straightedge")
    assert edge.bounds[1] == pytest.approx(ring.bounds[3], abs=DRAWN)
    assert edge.intersection(ring).area < 0.1
    highest = [
        x for patch in patches_named(view, "ring teeth") for x, y in corners(patch) if y > ring.bounds[3] - DRAWN
    ]
    assert sorted({round(x, 1) for x in highest}) == pytest.approx(
        [-bench.toe_inside_diameter_mm / 2, bench.toe_inside_diameter_mm / 2], abs=DRAWN
    )
    assert ring.bounds[1] == pytest.approx(0.0, abs=DRAWN)  # back face on the plate
    assert shape(view, "plate").bounds[3] == pytest.approx(0.0, abs=DRAWN)


@BOTH
def test_the_sums_of_the_readings_are_the_two_heights(bench):
    a, b, w = (readings(views(ring_height, bench)[0])[letter].length for letter in "abw")
    assert a - w == pytest.approx(bench.toe_height_mm, abs=1e-9)
    assert a - b == pytest.approx(bench.heel_height_mm, abs=1e-9)
    assert w == pytest.approx(bench.straightedge_mm, abs=1e-9)


@BOTH
def test_rods_touch_plate_and_heel_tip(bench):
    view, wrong = views(ring_height, bench)
    rods = shape(view, "depth rod")
    for spot in (patches_named(view, "depth rod")[0], patches_named(view, "depth rod")[1]):
        tip = min(corners(spot)[:, 1])
        assert any(abs(y - tip) < DRAWN for _, y in dots(view))
    teeth = shape(view, "ring teeth")
    tips = [Point(spot) for spot in dots(view) if spot[1] < bench.toe_height_mm - 1]
    assert len(tips) == 2
    assert all(rods.distance(tip) < DRAWN for tip in tips)
    assert sum(teeth.distance(tip) < 0.5 for tip in tips) == 1  # the rod's middle is half its width in from the tip
    (gap,) = dots(wrong)
    assert gap[1] == pytest.approx(bench.heel_height_mm - bench.tooth_depth_mm, abs=DRAWN)


# --- solder and wind-over ----------------------------------------------------------------------------------------


@BOTH
def test_boss_in_the_side_view_is_the_cylinder_cut_through_its_nearest_edge(bench):
    """Every corner of the drawn section, put back in space, lies on the cylinder, its bore or an end (closed form)."""
    boss = patches_named(views(solder, bench)[1], "boss")[0]
    across, end = bench.offset_mm + bench.boss_diameter_mm / 2 * 0.5, bench.near_end_mm + bench.boss_length_mm
    for r, z in corners(boss):
        x, y = r * end / hypot(end, across), r * across / hypot(end, across)
        q = hypot(y - bench.offset_mm, z)
        off = [q - bench.boss_diameter_mm / 2, q - bench.bore_diameter_mm / 2, x - bench.near_end_mm, x - end]
        assert min(map(abs, off)) < 0.02
        assert bench.near_end_mm - 0.02 < x < end + 0.02


@BOTH
def test_solder_is_crushed_to_the_gap_between_ring_and_boss(bench):
    _, section, measured, wrong = views(solder, bench)
    ring, boss, wire = (shape(section, gid) for gid in ("ring", "boss", "wire"))
    assert ring.distance(boss) == pytest.approx(bench.gap_mm, abs=0.02)
    assert wire.intersection(ring).area + wire.intersection(boss).area < 0.01
    assert wire.distance(ring) + wire.distance(boss) < 0.02
    near, far = nearest_points(ring, boss)
    for spot, expected in zip(sorted(dots(section)), sorted([(near.x, near.y), (far.x, far.y)]), strict=True):
        assert spot == pytest.approx(expected, abs=0.05)
    assert readings(measured)["g"].length == pytest.approx(bench.gap_mm, abs=1e-9)
    left, right = (Polygon(corners(tip)) for tip in patches_named(measured, "tip"))
    assert left.distance(right) == pytest.approx(bench.gap_mm, abs=0.02)
    left, right = (Polygon(corners(tip)) for tip in patches_named(wrong, "tip"))
    assert left.distance(right) == pytest.approx(bench.wire_mm, abs=0.02)


@BOTH
def test_ring_wound_over_touches_and_its_start_is_the_travel_away(bench):
    view, *_ = views(wind_over, bench)
    boss = shape(view, "boss")
    ring = union_all([shape(view, "ring body"), shape(view, "ring teeth")])
    assert ring.distance(boss) < DRAWN
    assert ring.intersection(boss).area < 0.05
    before = shape(view, "ring before")
    assert np.subtract(before.bounds, ring.bounds) == pytest.approx([bench.travel_mm, 0, bench.travel_mm, 0], abs=DRAWN)
    assert readings(view)["t"].length == pytest.approx(bench.travel_mm, abs=1e-9)
    assert any(ring.distance(Point(spot)) < DRAWN and boss.distance(Point(spot)) < DRAWN for spot in dots(view))
    back = [Point(spot) for spot in dots(view) if abs(spot[0] - ring.bounds[2]) < DRAWN]
    assert len(back) == 1  # the dial, on the back face
    assert shape(view, "dial stem").distance(back[0]) < DRAWN


@BOTH
def test_sideways_travel_is_more_than_the_gap(bench):
    wrong = views(wind_over, bench)[-1]
    t, g = (readings(wrong)[letter] for letter in "tg")
    assert t.length == pytest.approx(bench.travel_mm, abs=1e-9)
    assert t.coords[0][1] == t.coords[1][1]
    assert g.length == pytest.approx(shape(wrong, "ring").distance(shape(wrong, "boss")), abs=0.02)
    assert Point(t.coords[0]).distance(shape(wrong, "boss")) < 0.02
    assert Point(t.coords[1]).distance(shape(wrong, "ring")) < 0.02
    assert g.length < t.length - 0.1


# --- saddle depth, bar over bar ----------------------------------------------------------------------------------


@BOTH
def test_the_rings_centre_line_lies_where_depth_less_half_the_bore_says(bench):
    one, over, caps, wrong = views(saddle_depth, bench)
    h, big_d = readings(one)["h"].length, readings(caps)["D"].length
    assert (h, big_d) == pytest.approx((bench.saddle_depth_mm, bench.saddle_bore_mm), abs=1e-9)
    for view in (one, over, caps):
        assert level(view, "ring centre line") == pytest.approx(-(h - big_d / 2), abs=1e-9)
    lowest = Polygon(corners(patches_named(one, "saddle")[0])).intersection(LineString([(0, 9), (0, -h - 9)]))
    assert lowest.bounds[3] == pytest.approx(-h, abs=DRAWN)
    assert readings(caps)["D"].centroid.y == pytest.approx(level(caps, "ring centre line"), abs=1e-9)
    (words,) = [letter for letter in readings(over) if "D/2" in letter]
    assert readings(over)[words].bounds[1::2] == pytest.approx((level(over, "ring centre line"), 0.0), abs=1e-9)
    assert level(wrong, "supposed centre line") == 0.0


@BOTH
def test_the_rod_over_the_boss_reads_its_near_end(bench):
    _, over, *_ = views(saddle_depth, bench)
    k, length = readings(over)["k"].length, readings(over)["L"].length
    below = k - (bench.saddle_depth_mm - bench.saddle_bore_mm / 2)
    assert (below, length) == pytest.approx((bench.near_end_mm, bench.boss_length_mm), abs=1e-9)
    boss, rod = shape(over, "boss"), shape(over, "depth rod")
    assert boss.bounds[3] == pytest.approx(-k, abs=DRAWN)
    assert rod.bounds[1] == pytest.approx(-k, abs=DRAWN)
    assert rod.distance(boss) < DRAWN
    assert shape(over, "straightedge").bounds[1] == pytest.approx(0.0, abs=DRAWN)


@BOTH
def test_over_both_bars_is_the_offset_and_half_of_each(bench):
    along, *_ = views(bar_over_bar, bench)
    c, s, p, offset = (readings(along)[letter].length for letter in "cspE")
    assert c - s / 2 - p / 2 == pytest.approx(bench.offset_mm, abs=1e-9)
    assert (s, p, offset) == pytest.approx((bench.saddle_bar_mm, bench.bore_diameter_mm, bench.offset_mm), abs=1e-9)
    caliper, bars = shape(along, "caliper"), [shape(along, bar) for bar in ("saddle bar", "pilot bar")]
    assert all(caliper.distance(bar) < DRAWN for bar in bars)
    assert sum(caliper.intersection(bar).area for bar in bars) < 1.0
    assert bars[1].centroid.x - bars[0].centroid.x == pytest.approx(bench.offset_mm, abs=DRAWN)
    inside = LineString([(-200, 0), (200, 0)]) - caliper
    assert min(piece.length for piece in inside.geoms) == pytest.approx(c, abs=2 * DRAWN)


@BOTH
def test_a_turned_caliper_touches_both_bars_and_reads_long(bench):
    _, square, wrong = views(bar_over_bar, bench)
    reads = []
    for view in (square, wrong):
        jaws = patches_named(view, "jaws")[0]
        left, right = (Polygon(points) for points in _outlines(jaws))
        for jaw, bar in ((left, "saddle bar"), (right, "pilot bar")):
            assert jaw.distance(shape(view, bar)) < DRAWN
            assert jaw.intersection(shape(view, bar)).area < 0.5
        reads.append(left.distance(right))
    assert reads[0] == pytest.approx(bench.offset_mm + bench.saddle_bar_mm / 2 + bench.bore_diameter_mm / 2, abs=DRAWN)
    assert reads[1] > reads[0] + 1.0


# --- wall and clock ----------------------------------------------------------------------------------------------


@BOTH
def test_five_walls_straight_and_to_either_side(bench):
    end_on, cut, _ = views(wall, bench)
    thick = (bench.boss_diameter_mm - bench.bore_diameter_mm) / 2
    arrows = readings(end_on)
    assert sorted(arrows) == list("abcde")
    for letter, clock_deg in zip("abcde", (-60, -30, 0, 30, 60), strict=True):
        (x0, y0), (x1, y1) = arrows[letter].coords
        assert arrows[letter].length == pytest.approx(thick, abs=1e-9)
        for x, y in ((x0, y0), (x1, y1)):
            assert np.degrees(np.arctan2(x, y)) == pytest.approx(clock_deg, abs=1e-9)
    frame, screw = shape(cut, "frame"), shape(cut, "screw")
    at = dots(cut)[0][0]
    upright = LineString([(at, -100), (at, 100)])
    ball = [
        piece for piece in getattr(frame & upright, "geoms", [frame & upright]) if piece.bounds[3] < dots(cut)[1][1]
    ]
    assert max(piece.bounds[3] for piece in ball) == pytest.approx(bench.bore_diameter_mm / 2, abs=DRAWN)
    assert (screw & upright).bounds[1] == pytest.approx(bench.boss_diameter_mm / 2, abs=DRAWN)
    assert readings(cut)["c"].length == pytest.approx(thick, abs=1e-9)


@BOTH
def test_a_flat_jaw_reads_the_wall_thicker_by_the_height_of_the_arc(bench):
    """Half the jaw a, bore radius R: too thick by R - sqrt(R^2 - a^2) (closed form)."""
    wrong = views(wall, bench)[-1]
    inner, outer = shape(wrong, "inner jaw"), shape(wrong, "outer jaw")
    half, radius = (inner.bounds[2] - inner.bounds[0]) / 2, bench.bore_diameter_mm / 2
    thick = (bench.boss_diameter_mm - bench.bore_diameter_mm) / 2
    too_much = outer.distance(inner) - thick
    assert too_much == pytest.approx(radius - sqrt(radius**2 - half**2), abs=DRAWN)
    assert too_much > 0.5


def clock_spots(view: Axes) -> tuple[Point, float, dict[str, Point], list[Point]]:
    """Middle of the boss, the ring's centre line, the hours and the marks of a view."""
    (line,) = [line for line in view.lines if line.get_gid() == "ring centre line"]
    hours = {text.get_text(): Point(text.get_position()) for text in view.texts if text.get_text().isdigit()}
    marks = [Point(spot.get_xydata()[0]) for spot in view.lines if spot.get_gid() == "mark"]
    return shape(view, "bore").centroid, float(np.mean(line.get_xdata())), hours, marks


@BOTH
@pytest.mark.parametrize(("index", "hand"), [(0, Hand.BELOW), (2, Hand.ABOVE)])
def test_the_clock_is_that_of_the_axles_frame(bench, index, hand):
    """Where 3 o'clock looks away from the ring's centre line in space, it does so on the drawing, and as far."""
    view = views(clock, bench)[index]
    middle, line, hours, marks = clock_spots(view)
    seat = Seat(bench.offset_mm, bench.end_face_mm, hand)
    for hour, turn in (("12", 0.0), ("3", pi / 2), ("6", pi), ("9", -pi / 2)):
        seen = np.subtract(hours[hour].coords[0], middle.coords[0])
        there = seat.to_axle(from_polar(0.0, hypot(*seen), turn))
        assert abs(hours[hour].x - line) == pytest.approx(abs(there[1]), abs=DRAWN)
        assert hours[hour].y == pytest.approx(there[2], abs=DRAWN)
    assert hours["3"].x > middle.x > hours["9"].x  # seen from the pinion-nut end, clockwise
    (mark,) = marks
    assert np.degrees(np.arctan2(mark.x - middle.x, mark.y - middle.y)) == pytest.approx(30.0, abs=0.5)
    ring = shape(view, "ring")
    assert ring.bounds[1] == pytest.approx(bench.back_face_mm - bench.toe_height_mm, abs=DRAWN)
    nearest = meridian(seat.to_axle(from_polar(0.0, bench.boss_diameter_mm / 2, 0.0)))
    assert middle.y + bench.boss_diameter_mm / 2 == pytest.approx(nearest[1], abs=DRAWN)


def test_the_two_hands_are_mirror_images_and_the_words_say_which_way_three_looks():
    below, _, above, *_ = views(clock, EXAMPLE)
    (a, line_a, *_), (b, line_b, *_) = clock_spots(below), clock_spots(above)
    assert a.x - line_a == pytest.approx(line_b - b.x, abs=DRAWN)
    assert a.x > line_a
    told = describe_method("clock")
    assert "In A, 3 o'clock looks away from the ring's centre line; in B, toward it" in told
    assert {"3 o'clock: away from the ring's centre line", "3 o'clock: toward the ring's centre line"} <= set(
        words_on(figure_of("clock"))
    )


@pytest.mark.parametrize(("index", "low"), [(1, True), (3, False)])
def test_with_the_ring_to_the_right_the_pinion_is_low_or_high_as_its_name_says(index, low):
    view = views(clock, EXAMPLE)[index]
    assert shape(view, "ring").centroid.x > shape(view, "boss").centroid.x
    assert (shape(view, "boss").centroid.y < level(view, "ring centre line")) is low
    assert ("low" if low else "high") in view.get_title()


def test_seen_from_the_caps_the_mark_is_on_the_other_side_of_twelve():
    wrong = views(clock, EXAMPLE)[-1]
    (mark,) = [line for line in wrong.lines if line.get_gid() == "mark"]
    x, y = mark.get_xydata()[0]
    assert np.degrees(np.arctan2(x, y)) == pytest.approx(-30.0, abs=0.5)
    assert y == pytest.approx(hypot(x, y) * cos(radians(30)), abs=0.05)
