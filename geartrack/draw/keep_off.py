"""Where no burr may go: the boss cut along its bore, boss and saddles from the pinion-nut end; a sketch, not to scale.

It is made from the invented sizes that the drawings of the readings are made from (geartrack.draw.methods.bench).
"""

from __future__ import annotations

from matplotlib.axes import Axes
from matplotlib.figure import Figure
from shapely import Point, Polygon, box, union_all
from shapely.geometry.base import BaseGeometry

from geartrack.draw import ink
from geartrack.draw.methods.bench import BENCH, SADDLES_MM, Bench

AREAS = (
    "pilot bore and its lead-in",
    "retainer seat or stake",
    "web between boss and case",
    "cap registers",
    "bolt bosses",
    "gear teeth",
)
"""What stands on the drawing, number by number; nothing of it is ever ground."""

SAYS = (
    "Two sketches of a case, not to scale. Left, the boss cut along its bore; right, boss and saddles from the"
    " pinion-nut end. Hatched and numbered is where no burr may go: "
    + ", ".join(f"{number} {area}" for number, area in enumerate(AREAS, 1))
    + ". Only the marked patch at the edge toward the ring gear may be ground."
)

_KEEP: ink.Style = {"facecolor": "#c9c9c9", "edgecolor": ink.INK, "linewidth": 0.9, "hatch": "xxxx"}
_METAL: ink.Style = {"facecolor": "white", "edgecolor": ink.INK, "linewidth": 1.3}
_PATCH: ink.Style = {"facecolor": ink.INK, "edgecolor": ink.INK, "linewidth": 0.8}
_LEAD_MM, _SKIN_MM, _PATCH_MM = 2.5, 2.2, 2.2
Spot = tuple[float, float]


def keep_off_plate(bench: Bench = BENCH) -> Figure:
    """The two sketches side by side."""
    figure = Figure(figsize=(7.5, 2.1), facecolor="white", label=SAYS)
    _along(figure.add_axes((0.0, 0.0, 0.36, 0.9)), bench)
    _from_the_nut(figure.add_axes((0.355, 0.0, 0.34, 0.9)), bench)
    for number, area in enumerate(AREAS):
        figure.text(0.7, 0.84 - 0.15 * number, f"{number + 1}  {area}", va="center", fontsize=ink.SMALL, color=ink.INK)
    return figure


def _view(ax: Axes, window: tuple[float, float, float, float], title: str) -> None:
    left, bottom, right, top = window
    ax.set_aspect("equal", adjustable="box")
    ax.set_xlim(left, right)
    ax.set_ylim(bottom, top)
    ax.set_axis_off()
    ax.set_title(title, loc="left", pad=3, fontsize=ink.SMALL, fontweight="bold", color=ink.INK)


def _mark(ax: Axes, number: int, at: Spot, to: Spot) -> None:
    """A number in a ring, with a line to the place that it names."""
    ax.annotate(
        str(number),
        xy=to,
        xytext=at,
        ha="center",
        va="center",
        fontsize=ink.SMALL,
        fontweight="bold",
        bbox={"boxstyle": "circle,pad=0.2", "facecolor": "white", "edgecolor": ink.INK, "linewidth": 1.0},
        arrowprops={"arrowstyle": "-", "color": ink.INK, "linewidth": 0.9, "shrinkA": 0, "shrinkB": 0},
    )


def _along(ax: Axes, bench: Bench) -> None:
    """The boss cut along its bore, pinion-side end to the left, ring gear above."""
    radius, bore, long = bench.boss_diameter_mm / 2, bench.bore_diameter_mm / 2, bench.boss_length_mm
    _view(ax, (-50.0, -44.0, 72.0, 50.0), "Boss, cut along the bore")
    boss = box(0.0, -radius, long, radius)
    web = box(long - 9.0, -radius - 14.0, long, -radius)
    back = box(long, -radius - 14.0, long + 9.0, radius + 6.0)
    hole = union_all([box(0.0, -bore, long + 9.0, bore), _lead_in(bore)])
    metal = union_all([boss, web, back]) - hole
    ink.fill(ax, metal, "case", **_METAL)
    skin = hole.buffer(_SKIN_MM) & metal
    ink.fill(ax, skin, AREAS[0], **_KEEP)
    ink.fill(ax, union_all([web, back & box(long, -radius - 14.0, long + 9.0, -bore)]) - skin, AREAS[2], **_KEEP)
    seat = union_all([box(long - 5.0, side * bore - 2.6, long - 1.5, side * bore + 2.6) for side in (1, -1)])
    ink.fill(ax, seat, AREAS[1], **_KEEP)
    ring = Polygon([(-40.0, 48.0), (-16.0, 29.5), (4.0, 30.5), (10.0, 48.0)])
    ink.fill(ax, ring, AREAS[5], **_KEEP)
    patch = Polygon([(0.0, radius), (9.0, radius), (0.0, radius - _PATCH_MM)])
    ink.fill(ax, patch, "patch", **_PATCH)
    ax.plot((-16.0, long + 16.0), (0.0, 0.0), **ink.CENTRE)
    ink.say(ax, -45.0, -2.5, "to the pinion", ha="left", va="top", on="none")
    ax.annotate("", (-48.0, 0.0), (-18.0, 0.0), arrowprops={"arrowstyle": "-|>", "color": ink.INK})
    ink.say(ax, -12.0, 41.0, "ring gear")
    _point(ax, "grind here only,\ninside the outline", (72.0, 49.0), (6.0, radius - 0.5))
    _mark(ax, 1, (-14.0, -13.0), (0.5, -bore - 1.5))
    _mark(ax, 2, (50.0, 9.0), (long - 3.0, bore - 1.5))
    _mark(ax, 3, (8.0, -38.0), (long - 5.0, -36.0))
    _mark(ax, 6, (-34.0, 24.0), (-16.0, 31.5))


def _lead_in(bore: float) -> BaseGeometry:
    more = bore + _LEAD_MM
    return Polygon([(0.0, -more), (_LEAD_MM, -bore), (_LEAD_MM, bore), (0.0, more)])


def _from_the_nut(ax: Axes, bench: Bench) -> None:
    """Boss and saddles from the pinion-nut end; the caps are off, the ring's centre line runs up the page."""
    radius, bore = bench.boss_diameter_mm / 2, bench.bore_diameter_mm / 2
    axis, saddle = -bench.offset_mm, bench.saddle_bore_mm / 2
    _view(ax, (-152.0, -99.0, 98.0, 124.0), "From the pinion-nut end, caps off")
    web = box(axis - 24.0, -11.0, radius + 38.0, 11.0)
    boss, hole = Point(0.0, 0.0).buffer(radius, quad_segs=64), Point(0.0, 0.0).buffer(bore, quad_segs=64)
    ink.fill(ax, web - boss, AREAS[2], **_KEEP)
    ink.fill(ax, boss - hole, "boss", **_METAL)
    ink.fill(ax, hole.buffer(_SKIN_MM + 1.0) - hole, AREAS[0], **_KEEP)
    for low, high in SADDLES_MM:
        for side in (-1.0, 1.0):
            near, far = sorted((axis + side * saddle, axis + side * (saddle + 30.0)))
            ink.fill(ax, box(near, low, far, high), AREAS[3], **_KEEP)
            bolt = Point(axis + side * (saddle + 15.0), (low + high) / 2).buffer(8.0)
            ink.fill(ax, bolt, AREAS[4], **_METAL)
    ax.plot((axis, axis), (-95.0, 112.0), **ink.CENTRE)
    ink.say(ax, axis - 2.0, 52.0, "ring's\ncentre line", ha="right")
    turn = Polygon([(10.0, 22.0), (19.0, 15.0), (24.0, 21.0), (13.0, 30.0)]) & boss
    ink.fill(ax, turn, "patch", **_PATCH)
    ink.say(ax, 0.0, 0.0, "bore", fontsize=ink.SMALL - 1)
    _mark(ax, 1, (46.0, -44.0), (13.0, -17.0))
    _mark(ax, 3, (84.0, 30.0), (52.0, 5.0))
    _mark(ax, 4, (66.0, 100.0), (axis + saddle + 26.0, 100.0))
    _mark(ax, 5, (66.0, -76.0), (axis + saddle + 21.0, -76.0))


def _point(ax: Axes, text: str, at: Spot, to: Spot) -> None:
    ax.annotate(
        text,
        xy=to,
        xytext=at,
        ha="right",
        va="top",
        fontsize=ink.SMALL,
        color=ink.INK,
        arrowprops={"arrowstyle": "-|>", "color": ink.INK, "linewidth": 1.0, "shrinkA": 0, "shrinkB": 0},
    )
