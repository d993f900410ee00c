"""Saddle depth: a straightedge on a bare case's parting faces, to the saddle's bottom and the boss's near end."""

from __future__ import annotations

from matplotlib.axes import Axes
from shapely import Point, Polygon, box, union_all
from shapely.geometry.base import BaseGeometry

from geartrack.draw import ink
from geartrack.draw.methods import pen, tools
from geartrack.draw.methods.bench import BENCH, SADDLES_MM, Bench, Method

_CASE, _BESIDE, _STAND, _MARGIN = 18.0, 18.0, 34.0, 42.0


def draw(ax: Axes, bench: Bench = BENCH) -> Axes:
    """The method on given axes, to scale from the bench's sizes; heights are from the caps' parting face."""
    half, left, right = bench.saddle_bore_mm / 2 + _BESIDE, SADDLES_MM[0][0], SADDLES_MM[1][1]
    low, high = -bench.saddle_depth_mm - _CASE - 2, bench.straightedge_mm + _STAND + 3
    one, over = (-half - 6, low, half + 6, high), (left - 5, low, right + _MARGIN, high)
    share = (one[2] - one[0]) / (one[2] - one[0] + over[2] - over[0] + 4)
    _across_one(pen.panel(ax, (0.0, 0.4, share, 0.54), one, title="1  across one saddle"), bench)
    _over_the_boss(pen.panel(ax, (share + 0.01, 0.4, 0.99 - share, 0.54), over, title="2  over the boss"), bench)
    _caps_on(ax, bench)
    pen.sums(
        ax,
        (0.275, 0.345),
        "ring's centre line:",
        "h \u2212 D/2 below the face",
        "near end of the boss:",
        "k \u2212 (h \u2212 D/2) below that",
    )
    _centre_taken_at_the_face(ax, bench)
    return ax


def saddle_bore(bench: Bench) -> BaseGeometry:
    """The open saddle along the ring's centre line: half the bore and straight sides up to the parting face [mm]."""
    low, reach = -bench.centre_below_mm, bench.saddle_bore_mm / 2
    sides = box(-reach, min(low, 0.0), reach, max(low, 0.0))
    return union_all([Point(0.0, low).buffer(reach, quad_segs=64), sides])


def _across_one(view: Axes, bench: Bench) -> None:
    half, h, edge = bench.saddle_bore_mm / 2 + _BESIDE, bench.saddle_depth_mm, bench.straightedge_mm
    pen.solid(view, box(-half, -h - _CASE, half, 0.0) - saddle_bore(bench), "saddle")
    tools.straightedge(view, (-half + 3, 0.0), 2 * half - 6, edge)
    tools.depth_rod(view, (0.0, edge), (0.0, -h), tall_mm=_STAND)
    low = -bench.centre_below_mm
    pen.centre(view, (-half - 6, low), (half + 6, low), "ring centre line")
    pen.touch(view, (-half + 10, 0.0), (half - 10, 0.0), (0.0, -h))
    pen.reading(view, (0.0, 0.0), (0.0, -h), "h", off=(-18, 0))
    pen.reading(view, (-half + 10, 0.0), (-half + 10, edge), "w", beside=(11, 0))


def _over_the_boss(view: Axes, bench: Bench) -> None:
    h, edge, low = bench.saddle_depth_mm, bench.straightedge_mm, -bench.centre_below_mm
    left, right = SADDLES_MM[0][0], SADDLES_MM[1][1]
    for start, end in SADDLES_MM:
        pen.solid(view, box(start, -h - _CASE, end, 0.0), "saddle")
    near, far, radius = low - bench.near_end_mm, low - bench.end_face_mm, bench.boss_diameter_mm / 2
    web = box(SADDLES_MM[0][1], far, -radius, far + 12)
    bore = box(-bench.bore_diameter_mm / 2, far - 1, bench.bore_diameter_mm / 2, near + 1)
    pen.solid(view, union_all([box(-radius, far, radius, near), web]) - bore, "boss")
    tools.straightedge(view, (left + 4, 0.0), right - left - 8, edge)
    wall = -(radius + bench.bore_diameter_mm / 2) / 2
    tools.depth_rod(view, (wall, edge), (wall, near), tall_mm=_STAND)
    pen.centre(view, (left - 5, low), (right + 9, low), "ring centre line")
    pen.touch(view, (left + 14, 0.0), (right - 14, 0.0), (wall, near))
    pen.reading(view, (wall, 0.0), (wall, near), "k", off=(-15, 0), beside=(-9, -4))
    pen.reading(view, (radius, near), (radius, far), "L", off=(12, 0), beside=(10, 0))
    pen.reading(view, (right, 0.0), (right, low), "h \u2212 D/2", off=(6, 0), tail_mm=9, at=(right + 26, low / 2))
    pen.name(view, "ring's\ncentre\nline", (right + 11, low - 26), (right + 2, low), ha="left")
    pen.name(view, "boss", (0.0, (near + far) / 2))
    pen.name(view, "near end", (46, near + 11), (radius - 4, near))


def _caps_on(ax: Axes, bench: Bench) -> None:
    h, low, reach = bench.saddle_depth_mm, -bench.centre_below_mm, bench.saddle_bore_mm / 2
    half = reach + _BESIDE
    window = (-half - 3, -h - 15, half + 3, low + reach + 13)
    view = pen.panel(ax, (0.0, 0.0, 0.235, 0.345), window, title="3  caps on, torqued")
    bore = Point(0.0, low).buffer(reach, quad_segs=64)
    pen.solid(view, box(-half, -h - 14, half, 0.0) - bore, "saddle")
    pen.solid(view, box(-half, 0.0, half, low + reach + 12) - bore, "cap")
    pen.centre(view, (-half - 3, low), (half + 3, low), "ring centre line")
    pen.reading(view, (0.0, low - reach), (0.0, low + reach), "D")


def _centre_taken_at_the_face(ax: Axes, bench: Bench) -> None:
    half, h, reach = bench.saddle_bore_mm / 2 + _BESIDE, bench.saddle_depth_mm, bench.saddle_bore_mm / 2
    window = (-half - 4, -h - 9, half + 4, 18)
    view = pen.wrong(ax, pen.LOWER_RIGHT, window, "the ring's centre line taken at the parting face")
    ground = Polygon([(-2 * half, 0), (2 * half, 0), (2 * half, -2 * h), (-2 * half, -2 * h)])
    pen.solid(view, ground - saddle_bore(bench), "saddle")
    ink.fill(view, Point(0.0, 0.0).buffer(reach, quad_segs=64), "supposed bore", **pen.GHOST)
    pen.centre(view, (-half - 4, 0.0), (half + 4, 0.0), "supposed centre line")


CARD = Method(
    name="saddle-depth",
    title="Where the ring's centre line lies in a bare case",
    tool="Straightedge, caliper with depth rod or depth micrometer, bore gauge.",
    touches="Bare case, caps off, parting faces clean. Straightedge on both parting faces of one saddle, rod to"
    " the lowest place of the saddle; then from saddle to saddle over the boss, rod to the near end of the"
    " boss.",
    reading="h: parting face to the saddle's bottom. k: parting face to the near end of the boss. L: boss length."
    " w: the straightedge's own height; a depth read from its top has w too much. D: saddle bore, caps on"
    " and torqued. The ring's centre line lies h - D/2 below the parting face, the near end of the boss k"
    " - (h - D/2) below that. All this holds only where the parting faces are square to the pinion.",
    mistake="Taking the parting face for the ring's centre line, as if h were D/2. Or D with the caps loose.",
    accuracy="each depth give or take 0.002 in (from memory)",
    draw=draw,
)
