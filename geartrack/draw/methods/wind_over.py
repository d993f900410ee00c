"""Wind-over: pinion out, the carrier wound sideways until the ring just touches the boss, its travel read."""

from __future__ import annotations

from math import cos, pi, sin

from matplotlib.axes import Axes
from shapely import LineString, Point, affinity, box, union_all
from shapely.geometry.base import BaseGeometry
from shapely.ops import nearest_points

from geartrack.draw import ink
from geartrack.draw.methods import pen, tools
from geartrack.draw.methods.bench import BENCH, SADDLES_MM, Bench, Method, back_face_at, boss_near, ring_at

_BELOW, _ABOVE = [0, 1, -1, 0, 0, 0], [0, 1, 1, 0, 0, 0]  # (r, z) to the page: z to the right
_FLANGE, _NECK, _BODY, _ADJUSTER = 106.0, 24.0, 70.0, 14.0
_NOTCHES, _COUNTED = 20, 4


def draw(ax: Axes, bench: Bench = BENCH) -> Axes:
    """The method on given axes, to scale from the bench's sizes."""
    half = bench.ring_diameter_mm / 2
    window = (SADDLES_MM[0][0] - 12, -half - 22, SADDLES_MM[1][1] + 12, half + 30)
    view = pen.panel(ax, (0.0, 0.0, 0.61, 1.0), window)
    _case(view, bench)
    _turning(view, bench)
    _words(view, bench)
    _notches(ax)
    pen.sums(ax, (0.65, 0.535), "by count: t = n \u00d7 p / N", "p: pitch of the thread")
    _travel_as_gap(ax, bench)
    return ax


def _on_page(shape: BaseGeometry, matrix: list[int]) -> BaseGeometry:
    return affinity.affine_transform(shape, matrix)


def _case(view: Axes, bench: Bench) -> None:
    """Boss, saddles with their caps, bearings and adjusters, in the side view through the tightest place."""
    boss = _on_page(boss_near(bench), _BELOW)
    low = boss.bounds[1]
    web = box(SADDLES_MM[0][1] - 4, low + 8, 0, low + 24) - boss.convex_hull
    pen.solid(view, union_all([boss, web]), "boss")
    reach = bench.saddle_bore_mm / 2
    for (left, right), outward in zip(SADDLES_MM, (-1, 1), strict=True):
        for bottom, top in ((-reach - 24, -reach), (reach, reach + 16)):
            pen.solid(view, box(left, bottom, right, top), "saddle and cap")
        edge = left if outward < 0 else right
        adjuster = sorted((edge + 4 * outward, edge - _ADJUSTER * outward))
        ink.fill(view, box(adjuster[0], -reach, adjuster[1], reach), "adjuster", **pen.TOOL)
        inner = sorted((edge - _ADJUSTER * outward, edge - 28 * outward))
        for bottom, top in ((-reach, -_NECK), (_NECK, reach)):
            ink.fill(view, box(inner[0], bottom, inner[1], top), "bearing", zorder=1.5, **pen.PART)
            for ends in ((bottom, top), (top, bottom)):
                view.plot(inner, ends, color=ink.INK, linewidth=0.7, zorder=2)


def _turning(view: Axes, bench: Bench) -> None:
    """Carrier and ring where they touch, dashed where the ring was; the dial on its back face."""
    touching, half = back_face_at(bench, 0.0), bench.ring_diameter_mm / 2
    start = touching + bench.travel_mm
    ink.fill(view, _carrier(touching), "carrier", **pen.PART)
    for matrix in (_BELOW, _ABOVE):
        pen.ring(view, *(_on_page(shape, matrix) for shape in ring_at(bench, touching)))
        ink.fill(view, _on_page(ring_at(bench, start)[0], matrix), "ring before", **pen.GHOST)
    pen.centre(view, (SADDLES_MM[0][0] - 10, 0), (SADDLES_MM[1][1] + 10, 0), "ring centre line")
    tip = (touching, -(_FLANGE + half) / 2 + 1)
    middle = tools.dial(view, tip, radius_mm=16, stem_mm=22)
    arm = LineString([middle, (SADDLES_MM[1][1] - 8, tip[1]), (SADDLES_MM[1][1] - 8, -bench.saddle_bore_mm / 2 - 24)])
    ink.fill(view, arm.buffer(2.0, cap_style="flat"), "dial base", zorder=2.5, **pen.TOOL)
    near = nearest_points(_on_page(boss_near(bench), _BELOW), _on_page(ring_at(bench, touching)[0], _BELOW))[0]
    pen.touch(view, tip, (near.x, near.y))
    back = -half + 3
    pen.reading(view, (touching, back), (start, back), "t", off=(0, -12), tail_mm=12, beside=(-29, 1))


def _carrier(back: float) -> BaseGeometry:
    left, right = SADDLES_MM[0][0] + _ADJUSTER, SADDLES_MM[1][1] - _ADJUSTER
    flange, body = box(back, -_FLANGE, back + 10, _FLANGE), box(back - 16, -_BODY, back + 22, _BODY)
    return union_all([box(left, -_NECK, right, _NECK), flange, body])


def _words(view: Axes, bench: Bench) -> None:
    touching, half, reach = back_face_at(bench, 0.0), bench.ring_diameter_mm / 2, bench.saddle_bore_mm / 2
    arrow = {"arrowstyle": "-|>", "color": ink.INK, "linewidth": 2.2}
    view.annotate("", xy=(-30, half + 10), xytext=(30, half + 10), arrowprops=arrow)
    pen.name(view, "wind toward the boss", (0, half + 21))
    before = (touching + bench.travel_mm, half - 12)
    pen.name(view, "dashed: ring in\nits final place", (before[0] + 13, before[1] + 4), before, ha="left")
    pen.name(view, "pinion out", (-62, half - 6))
    pen.name(view, "1  back off", (-66, 84), (SADDLES_MM[0][0] + 2, reach - 8))
    pen.name(view, "2  screw in", (SADDLES_MM[1][1] - 10, 84), (SADDLES_MM[1][1] - 2, reach - 8))
    pen.name(view, "carrier", (touching + 4, 36))
    pen.name(view, "boss", (-54, -100), (-22, -76))


def _notches(ax: Axes) -> None:
    view = pen.panel(ax, (0.64, 0.57, 0.36, 0.38), (-60, -42, 60, 58), title="notches of the adjuster")
    cuts = [affinity.rotate(box(-2.5, 34, 2.5, 45), -360 * i / _NOTCHES, origin=(0, 0)) for i in range(_NOTCHES)]
    rim = Point(0, 0).buffer(40, quad_segs=64) - Point(0, 0).buffer(22)
    ink.fill(view, rim - union_all(cuts), "adjuster", **pen.TOOL)
    turn = 2 * pi * _COUNTED / _NOTCHES
    bend = {"arrowstyle": "-|>", "connectionstyle": f"arc3,rad={-turn / 4:.3f}", "shrinkA": 0, "shrinkB": 0}
    arrow = {"color": ink.INK, "linewidth": 1.4} | bend
    view.annotate("", xy=(46 * sin(turn), 46 * cos(turn)), xytext=(0, 46), arrowprops=arrow, gid="n")
    spot = (54 * sin(turn / 2), 54 * cos(turn / 2))
    pen.name(view, "n", spot, fontsize=pen.LETTER, fontweight="bold")
    pen.name(view, "N in a\nfull turn", (0, 0))


def _travel_as_gap(ax: Axes, bench: Bench) -> None:
    """Before winding: the travel to come, and the shorter way straight across."""
    place = back_face_at(bench, 0.0)
    boss = _on_page(boss_near(bench), _BELOW)
    ring, touching = (_on_page(ring_at(bench, place + moved)[0], _BELOW) for moved in (bench.travel_mm, 0.0))
    edge = nearest_points(boss, touching)[0]
    scale = bench.travel_mm
    window = (edge.x - 0.8 * scale, edge.y - 0.75 * scale, edge.x + 1.5 * scale, edge.y + 0.55 * scale)
    view = pen.wrong(ax, pen.LOWER_RIGHT, window, "sideways travel t written down as the gap g")
    pen.solid(view, boss, "boss")
    ink.fill(view, ring, "ring", **pen.PART)
    pen.reading(view, (edge.x, edge.y), (edge.x + bench.travel_mm, edge.y), "t", beside=(0, 10))
    pen.name(view, "boss", (edge.x - 0.45 * scale, edge.y + 0.18 * scale))
    pen.name(view, "ring", (edge.x + 1.15 * scale, edge.y - 0.3 * scale))
    near, far = nearest_points(boss, ring)
    tail = 0.25 * scale
    beyond = 1 + 1.6 * tail / near.distance(far)
    spot = (near.x + beyond * (far.x - near.x), near.y + beyond * (far.y - near.y))
    pen.reading(view, (near.x, near.y), (far.x, far.y), "g", tail_mm=tail, at=spot)


CARD = Method(
    name="wind-over",
    title="Winding the ring over to the boss",
    tool="The side adjusters; a dial indicator on a base, or the adjuster's notches.",
    touches="Pinion out, bearing caps just snug. From the ring's final place back off the adjuster on the tooth"
    " side, screw in the other, until the ring just touches the boss. Dial square on the ring's back face.",
    reading="t: travel from the final place to the touch, by dial, or by count: t = n x p / N. n: notches"
    " counted. N: notches in a full turn. p: pitch of the thread.",
    mistake="Writing t down as the gap. It is travel sideways; the gap g, straight across, is less and is worked out.",
    accuracy="give or take 0.001 in by dial, and the set-up on top (common practice, no source); by count, half a"
    " notch (from memory)",
    draw=draw,
)
