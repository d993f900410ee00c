"""Solder: a soft wire on the boss's tightest place, rolled over by the ring's toe, its thinnest place measured."""

from __future__ import annotations

from math import cos, pi, radians, sin

from matplotlib.axes import Axes
from shapely import LineString, Point, Polygon, affinity, box
from shapely.geometry.base import BaseGeometry
from shapely.ops import nearest_points

from geartrack.draw import ink
from geartrack.draw.methods import pen
from geartrack.draw.methods.bench import BENCH, Bench, Method, back_face_at, boss_near, ring_at

_TEETH, _LAG = 36, radians(16)
_ANVIL = 3.25  # half of a usual micrometer's anvil


def draw(ax: Axes, bench: Bench = BENCH) -> Axes:
    """The method on given axes, to scale from the bench's sizes."""
    _stick(ax, bench)
    _crushed(ax, bench)
    view = pen.panel(ax, (0.7, 0.4, 0.3, 0.54), (-6.5, -7.5, 6.5, 7.5), title="3  measure", framed=True)
    half = bench.gap_mm / 2
    point = Polygon([(half, 0.35), (half + 5, 2.2), (half + 9, 2.2), (half + 9, -2.2), (half + 5, -2.2), (half, -0.35)])
    _between(view, bench, point)
    pen.touch(view, (-half, 0), (half, 0), size=4.5)
    pen.reading(view, (-half, 0), (half, 0), "g", off=(0, -6.1), tail_mm=1.6, beside=(24, 1))
    pen.name(view, "narrow tips", (2.6, 6.5), (4.2, 1.9))
    pen.sums(ax, (0.02, 0.31), "gap = g, the thinnest place", "of the thinnest of three wires")
    view = pen.wrong(ax, pen.LOWER_RIGHT, (-11, -5.5, 11, 5.5), "wide anvils ride on the round: g too thick")
    _between(view, bench, box(bench.wire_mm / 2, -_ANVIL, 14, _ANVIL))
    pen.touch(view, *((sign * bench.wire_mm / 2, up) for sign in (1, -1) for up in (2.6, -2.6)))
    return ax


def _stick(ax: Axes, bench: Bench) -> None:
    """From the tooth side, the pinion to the right: where the wire sits and how the ring turns."""
    toe, heel = bench.toe_inside_diameter_mm / 2, bench.ring_diameter_mm / 2
    window = (-heel - 4, -heel - 4, heel + 4, heel + 4)
    view = pen.panel(ax, (0.0, 0.4, 0.36, 0.54), window, title="1  stick the wire on")
    ink.fill(view, Point(0, 0).buffer(heel, quad_segs=64) - Point(0, 0).buffer(toe, quad_segs=64), "ring", **pen.PART)
    for index in range(_TEETH):
        turn = 2 * pi * index / _TEETH
        ends = (toe * cos(turn), toe * sin(turn)), (heel * cos(turn + _LAG), heel * sin(turn + _LAG))
        pen.line(view, *ends, "tooth", linewidth=0.6, color=ink.SOFT, zorder=1.5)
    radius, offset, near, end = bench.boss_diameter_mm / 2, bench.offset_mm, bench.near_end_mm, bench.end_face_mm
    ink.fill(view, box(near, -offset - radius, end, -offset + radius), "boss", zorder=2, **pen.PART)
    pen.centre(view, (near - 20, -offset), (heel, -offset), "pinion's centre line")
    spot = (end, -offset - radius / 2)
    wire = LineString([(spot[0] - 3.5, spot[1]), (spot[0] + 6.5, spot[1])]).buffer(bench.wire_mm)
    ink.fill(view, wire, "wire", facecolor=ink.INK, edgecolor="white", linewidth=0.8, zorder=5)
    pen.name(view, "boss", (-14, -offset - 14), (near, -offset - 8))
    pen.name(view, "wire", (2, -14), spot)
    pen.name(view, "ring", (0.0, (toe + heel) / 2))
    arrow = {"arrowstyle": "-|>", "color": ink.INK, "linewidth": 2.0, "connectionstyle": "arc3,rad=0.3"}
    view.annotate("", xy=(-64, -16), xytext=(-16, 63), arrowprops=arrow)
    pen.name(view, "turn", (-24, 24))


def _crushed(ax: Axes, bench: Bench) -> None:
    """The tightest place cut open and enlarged: ring toe, boss edge, the wire between them."""
    boss, (ring, _) = boss_near(bench), ring_at(bench, back_face_at(bench, bench.gap_mm))
    near, far = nearest_points(boss, ring)
    x, y = (near.x + far.x) / 2, (near.y + far.y) / 2
    window = (x - 6.5, y - 7.5, x + 6.5, y + 7.5)
    view = pen.panel(ax, (0.38, 0.4, 0.3, 0.54), window, title="2  roll the ring past", framed=True)
    pen.solid(view, boss, "boss")
    ink.fill(view, ring, "ring", **pen.PART)
    scale = 5.0 / near.distance(far)
    run = LineString([(x - s * scale * (far.y - near.y), y + s * scale * (far.x - near.x)) for s in (-1, 1)])
    ink.fill(view, run.buffer(bench.wire_mm / 2) - ring - boss, "wire", zorder=2, **pen.WIRE)
    pen.touch(view, (near.x, near.y), (far.x, far.y), size=4.5)
    pen.name(view, "ring toe", (x + 3.6, y + 5.0))
    pen.name(view, "boss", (x - 4.0, y - 5.0))
    pen.name(view, "wire", (x + 4.6, y - 6.2), (x + 2.2, y - 4.2))
    ax.text(0.53, 0.432, "cut open, enlarged", ha="center", va="top", fontsize=pen.WORDS, color=ink.INK)


def _between(view: Axes, bench: Bench, tip: BaseGeometry) -> None:
    """The wire with its thin place, and a tip on either side of it."""
    thick, thin = bench.wire_mm / 2, bench.gap_mm / 2
    side = [(thick, -5), (thick, -1.8), (thin, -0.5), (thin, 0.5), (thick, 1.8), (thick, 5)]
    ink.fill(view, Polygon([*side, *((-x, y) for x, y in reversed(side))]), "wire", zorder=2, **pen.WIRE)
    for sign in (1, -1):
        ink.fill(view, affinity.scale(tip, sign, 1, origin=(0, 0)), "tip", zorder=3, **pen.TOOL)


CARD = Method(
    name="solder",
    title="Solder wire rolled through the gap",
    tool="Soft solid solder wire, about 1/16 in (1.6 mm) by 0.4 in (10 mm); grease; micrometer or caliper with"
    " narrow tips.",
    touches="Backlash final, caps torqued. Wire stuck with grease over the edge of the boss at its tightest"
    " place; turn the ring by hand until the toes of a few teeth have rolled past.",
    reading="g: the wire's thickness at its thinnest place. Three wires; the least g is the gap. A feeler strip"
    " reads the same gap direct; clay too, but less closely.",
    mistake="Wide anvils on the round beside the thin place: g comes out too thick. No mark on the wire: the gap"
    " is wider than the wire, take a thicker one.",
    accuracy="give or take 0.0015 in (from memory); clay 0.005 in (from memory)",
    draw=draw,
)
