"""Bar over bar: a bar in the saddles and one in the pilot bore, a caliper over both less half of each."""

from __future__ import annotations

from math import cos, radians, sqrt, tan

from matplotlib.axes import Axes
from shapely import Point, affinity, box, union_all
from shapely.geometry.base import BaseGeometry

from geartrack.draw import ink
from geartrack.draw.methods import pen, tools
from geartrack.draw.methods.bench import BENCH, SADDLES_MM, Bench, Method
from geartrack.draw.methods.saddle_depth import saddle_bore

_JAW, _WIDE, _LONG, _BEAM = 9.0, 13.0, 46.0, 13.0  # thickness, width, length of a jaw; height of the beam
_TILT = radians(18.0)


def draw(ax: Axes, bench: Bench = BENCH) -> Axes:
    """The method on given axes, to scale from the bench's sizes; the ring's centre line is at the origin."""
    _along(ax, bench)
    view = pen.panel(ax, (0.66, 0.45, 0.34, 0.5), (-62, -96, 100, 120), title="from above")
    _plan(view, bench, _over_bars_mm(bench), 0.0)
    pen.name(view, "saddle\nbar", (-40, 46), (-bench.saddle_bar_mm / 2 + 6, 36))
    pen.name(view, "pilot bar", (68, 52), (bench.offset_mm + 8, 11))
    pen.sums(ax, (0.02, 0.1), "offset E = c \u2212 s/2 \u2212 p/2")
    _turned(ax, bench)
    return ax


def _over_bars_mm(bench: Bench) -> float:
    """What the caliper reads when it is square over both bars."""
    return bench.offset_mm + bench.saddle_bar_mm / 2 + bench.bore_diameter_mm / 2


def _turned_over_bars_mm(bench: Bench) -> float:
    """What it reads turned: one face's corner on the saddle bar, the other face on the pilot bar (closed form)."""
    to_bar = (bench.offset_mm + bench.saddle_bar_mm / 2) / cos(_TILT)
    return bench.bore_diameter_mm / 2 + to_bar + _WIDE / 2 * tan(_TILT)


def _along(ax: Axes, bench: Bench) -> None:
    """Along the ring's centre line, the pinion-nut end below; the saddle stands behind the bars."""
    offset, saddle, pilot = bench.offset_mm, bench.saddle_bar_mm / 2, bench.bore_diameter_mm / 2
    reach, radius, end = bench.saddle_bore_mm / 2, bench.boss_diameter_mm / 2, bench.end_face_mm
    left, right = -reach - 20, offset + radius + 26
    window = (left, -end - 32, right, _LONG + 42)
    view = pen.panel(ax, (0.0, 0.13, 0.63, 0.82), window, title="along the ring's centre line")
    seat = box(left + 4, -end - 8, reach + 16, 0) - affinity.translate(saddle_bore(bench), 0, bench.centre_below_mm)
    seat = union_all([seat, *(box(x, -1, x + 16, bench.centre_below_mm) for x in (left + 4, reach))])
    ink.fill(view, seat, "saddle", **pen.BEHIND)
    ink.fill(view, Point(0, 0).buffer(reach, quad_segs=64), "collar", **pen.BEHIND)
    bore = box(offset - pilot, -end - 1, offset + pilot, 0)
    pen.solid(view, box(offset - radius, -end, offset + radius, -bench.near_end_mm) - bore, "boss")
    ink.fill(view, box(offset - pilot, -end + 4, offset + pilot, 26), "pilot bar", **pen.BAR)
    ink.fill(view, Point(0, 0).buffer(saddle, quad_segs=64), "saddle bar", **pen.BAR)
    faces = (-saddle, -6.0), (offset + pilot, -6.0)
    caliper = tools.jaws(*faces, jaw_mm=(_JAW, _LONG + 6.0), beam_mm=_BEAM, over_mm=8)
    ink.fill(view, caliper, "caliper", zorder=3, **pen.TOOL)
    pen.touch(view, (-saddle, 0.0), (offset + pilot, 0.0))
    for across in (0.0, offset):
        pen.centre(view, (across, -end - 24), (across, 34), "centre line")
    pen.reading(view, (-saddle, _LONG + _BEAM), (offset + pilot, _LONG + _BEAM), "c", off=(0, 14))
    rise = saddle / sqrt(2.0)
    pen.reading(view, (-rise, rise), (rise, -rise), "s", beside=(9, 9))
    pen.reading(view, (offset - pilot, 10), (offset + pilot, 10), "p", beside=(0, 10))
    pen.reading(view, (0, -end - 8), (offset, -end - 8), "E", off=(0, -12))
    pen.name(view, "boss", (offset + radius + 14, -end + 6), (offset + radius - 3, -end + 12))
    pen.name(view, "pilot bar", (offset + pilot + 22, -18), (offset + pilot - 4, -14))
    pen.name(view, "saddle bar", (-36, -22), (-9, -8))
    pen.name(view, "saddle,\nbehind", (left + 20, -end + 4))


def _plan(view: Axes, bench: Bench, reading_mm: float, tilt: float) -> None:
    """From above: the ring's centre line runs up the page, the pinion's comes out of it, the caliper lies across."""
    reach, saddle = bench.saddle_bore_mm / 2, bench.saddle_bar_mm / 2
    collars = [box(-reach, start, reach, end) for start, end in SADDLES_MM]
    for start, end in SADDLES_MM:
        pen.solid(view, box(-reach - 18, start + 2, reach + 18, end - 2), "saddle")
    bar = box(-saddle, SADDLES_MM[0][0] - 4, saddle, SADDLES_MM[1][1] + 4)
    ink.fill(view, union_all([bar, *collars]), "saddle bar", **pen.BAR)
    for gid, size, style in (
        ("boss", bench.boss_diameter_mm, pen.PART),
        ("pilot bar", bench.bore_diameter_mm, pen.BAR),
    ):
        ink.fill(view, Point(bench.offset_mm, 0).buffer(size / 2, quad_segs=64), gid, **style)
    for gid, shape in _caliper_plan(bench, reading_mm, tilt).items():
        ink.fill(view, shape, gid, zorder=3, **(pen.TOOL if gid == "jaws" else pen.GHOST))


def _caliper_plan(bench: Bench, reading_mm: float, tilt: float) -> dict[str, BaseGeometry]:
    """The caliper from above: its jaws, and its beam higher up, turned [rad] about the pilot bar's middle."""
    last = bench.offset_mm + bench.bore_diameter_mm / 2
    first, half = last - reading_mm, _WIDE / 2
    jaws = union_all([box(first - _JAW, -half, first, half), box(last, -half, last + _JAW, half)])
    beam = box(first - _JAW, -half, last + _JAW, half)
    return {
        gid: affinity.rotate(shape, tilt, origin=(bench.offset_mm, 0), use_radians=True)
        for gid, shape in (("jaws", jaws), ("beam", beam))
    }


def _turned(ax: Axes, bench: Bench) -> None:
    view = pen.wrong(ax, pen.LOWER_RIGHT, (-66, -46, 106, 46), "caliper not square to the bars: c too long")
    _plan(view, bench, _turned_over_bars_mm(bench), _TILT)


CARD = Method(
    name="bar-over-bar",
    title="Hypoid offset, bar over bar",
    tool="Bar turned to fit both saddles, bar turned to fit the pilot bore, caliper over both.",
    touches="Saddle bar in both saddles, pilot bar home in the bore, no shake in either. Caliper square over the"
    " outer sides of the bars where they cross.",
    reading="c: over both bars. s: saddle bar. p: pilot bar; both measured where the caliper touches them. E: the"
    " hypoid offset, E = c - s/2 - p/2.",
    mistake="Caliper turned on the bars: c comes out too long. Rock it and keep the least. Or whole bars taken off.",
    accuracy="give or take 0.002 in by caliper (published, web), and the shake of the bars on top",
    draw=draw,
)
