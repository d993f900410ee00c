"""The side view: ring gear and boss in the half-plane through the ring's centre line, to scale, and enlarged."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from matplotlib.axes import Axes
from matplotlib.patches import Rectangle
from shapely import LineString, Point, box
from shapely.geometry.base import BaseGeometry
from shapely.ops import nearest_points

from geartrack.draw import ink, outline
from geartrack.draw.depths import TOO_CLOSE, cut_words, shown
from geartrack.frame import Array, meridian
from geartrack.study.answer import Answer
from geartrack.study.glance import Glance
from geartrack.sweep import grown
from geartrack.tolerances import TOLERANCES
from geartrack.units import Units, show_both

ACROSS, UPWARD = "from the ring's centre line", "above the pinion's centre line"
_CAPTION = "boss cut at\nthe nearest place\n(dashed: all of it)"
_NAMED = ("tooth tips", "heel", "back face")  # the toe lies too close to the boss to be named at this scale
_NAMED_NEAR = ("tooth tips", "toe", "heel")
Spot = tuple[float, float]

TITLE = "Side view, all turned into one plane"


@dataclass(frozen=True)
class _Shapes:
    """What both side views show, in (r, z) [mm]."""

    ring: BaseGeometry
    others: tuple[tuple[str, BaseGeometry], ...]
    boss: BaseGeometry
    wanted: BaseGeometry
    cut: BaseGeometry
    on_boss: Spot
    on_ring: Spot


def _shapes(answer: Answer | Glance) -> _Shapes:
    x, y, _ = answer.gap.point
    section = outline.across_ring_axis(answer.boss, float(np.arctan2(y, x)))
    wanted = outline.polygon(grown(answer.section, answer.target_mm, arc_segments=TOLERANCES.arc_segments))
    r, z = meridian(answer.gap.point)
    ring_r, ring_z = answer.gap.section_point
    return _Shapes(
        ring=outline.polygon(answer.section),
        others=tuple((s.name, outline.polygon(s)) for s in answer.bodies if s.name != answer.section.name),
        boss=section,
        wanted=wanted,
        cut=section.intersection(wanted),
        on_boss=(float(r), float(z)),
        on_ring=(float(ring_r), float(ring_z)),
    )


def side_view(ax: Axes, answer: Answer, units: Units) -> Axes:
    """The whole side view on `ax`: ring gear, boss, bore, centre lines, the nearest place and the wanted gap."""
    shapes, shadow = _shapes(answer), outline.silhouette(answer.boss)
    bodies = [shapes.ring, *(s for _, s in shapes.others), shadow]
    right, bottom, top = (f(b.bounds[i] for b in bodies) for f, i in ((max, 2), (min, 1), (max, 3)))
    room = 0.06 * max(right, top - bottom)
    ink.frame(
        ax,
        (-1.5 * room, bottom - 2.8 * room, right + 2.3 * room, top + 1.4 * room),
        title="Side view, all turned into one plane",
    )
    _centre_lines(ax, 0.8 * room, 0.45 * bottom)
    ink.fill(ax, shadow, "boss outline", **ink.SHADOW)
    _metal(ax, shapes, thin=True)
    _name_edges(ax, answer, 0.35 * room)
    for name, shape in (("ring gear", shapes.ring), *shapes.others):
        tone = ink.RING if name == "ring gear" else ink.OTHER
        ink.say(ax, *_inside(shape), name, on=tone["facecolor"])
    left_r, _, right_r, _ = shapes.boss.bounds
    ink.say(ax, 0.4 * left_r + 0.6 * right_r, 0.45 * room, "pilot bore", va="bottom", on=ink.SHADOW["facecolor"])
    ink.say(ax, 0.97, 0.03, _CAPTION, ha="right", va="bottom", transform=ax.transAxes)
    (r, z), half = shapes.on_boss, _reach(answer)
    ax.add_patch(Rectangle((r - half, z - half), 2 * half, 2 * half, fill=False, edgecolor=ink.INK, linewidth=1.1))
    ink.point_out(ax, _gap_words(answer, units), (r + half, z - half), (0.97, 0.24))
    ink.ruled(ax, units, ACROSS, UPWARD)
    ink.scale_bar(ax, units, (0.1, 0.04))
    return ax


def near_view(ax: Axes, answer: Answer | Glance, units: Units) -> Axes:
    """The nearest place enlarged: the gap with its size, the line the wanted gap asks for, the metal to remove.

    Of a glance, for which nothing is decided, what is closer than wanted is shown and no more.
    """
    shapes, half = _shapes(answer), _reach(answer)
    (r, z), (ring_r, ring_z) = shapes.on_boss, shapes.on_ring
    middle_r, middle_z = (r + ring_r) / 2, (z + ring_z) / 2
    view = box(middle_r - half, middle_z - half, middle_r + half, middle_z + half)
    ink.frame(ax, view.bounds, title="Nearest place, enlarged")
    _metal(ax, shapes)
    for words, shape in (("ring gear", shapes.ring), ("boss", shapes.boss), *shapes.others):
        seen = view.intersection(shape)
        if seen.area > 0.03 * view.area:
            on = {"ring gear": ink.RING, "boss": ink.BOSS}.get(words, ink.OTHER)["facecolor"]
            ink.say(ax, *_inside(seen), words, fontsize=ink.TEXT, on=on)
    _name_seen_edges(ax, answer, view, half)
    if np.hypot(ring_r - r, ring_z - z) > 0.12 * half:
        arrow = {"arrowstyle": "<->", "color": ink.INK, "linewidth": 1.4, "shrinkA": 0, "shrinkB": 0}
        ax.annotate("", xy=(ring_r, ring_z), xytext=(r, z), arrowprops=arrow)
    else:  # no room for two arrow heads
        ax.plot([r, ring_r], [z, ring_z], color=ink.INK, marker="o", markersize=4, markerfacecolor="white")
    first, second, *covered = ink.corners_by_room(ax, (shapes.ring, shapes.boss))
    ink.point_out(ax, _gap_words(answer, units), (middle_r, middle_z), first, gid="gap")
    line = shapes.wanted.exterior.intersection(view)
    if not line.is_empty:
        words = _two_lines(f"wanted\n{show_both(answer.target_mm, units)}")
        inward = (0.5 + 0.3 * (second[0] - 0.5), 0.5 + 0.3 * (second[1] - 0.5))
        ink.point_out(ax, words, _nearest_to(line, ax, inward), second, color=ink.WANTED["edgecolor"])
    by_boss = sorted(covered, key=lambda corner: shapes.boss.distance(_spot(ax, corner)))
    seen = view.intersection(shapes.cut).difference(shapes.ring)
    if not seen.is_empty:
        words = cut_words(answer) if isinstance(answer, Answer) else TOO_CLOSE
        ink.point_out(ax, words, _inside(seen), by_boss[0], on=ink.BOSS["facecolor"])
    ink.ruled(ax, units, ACROSS, UPWARD)
    ink.scale_bar(ax, units, (by_boss[-1][0], 0.92 if by_boss[-1][1] > 0.5 else 0.04))
    return ax


def _metal(ax: Axes, shapes: _Shapes, *, thin: bool = False) -> None:
    for name, shape in shapes.others:
        ink.fill(ax, shape, name, **ink.OTHER)
    ink.metal(ax, shapes.boss, "boss")
    ink.fill(ax, shapes.cut, "metal to remove", **ink.CUT)
    ink.fill(ax, shapes.ring, "ring gear", **ink.RING)
    ink.fill(ax, shapes.wanted, "wanted gap", **ink.WANTED, linewidth=0.8 if thin else 1.8)


def _centre_lines(ax: Axes, along: float, up: float) -> None:
    ax.axvline(0.0, **ink.CENTRE)
    ax.axhline(0.0, **ink.CENTRE)
    ink.say(ax, 0.0, up, "ring's centre line", rotation=90, color=ink.SOFT)
    ink.say(ax, along, 0.0, "pinion's\ncentre line", ha="left", color=ink.SOFT)


def _name_edges(ax: Axes, answer: Answer, off_mm: float) -> None:
    """Zones of the ring's outline by name, outside their longest edges."""
    for name, start, end, out in _edges(answer, _NAMED):
        x, y = (start + end) / 2 + out * off_mm
        across = "left" if out[0] > 0.5 else "right" if out[0] < -0.5 else "center"
        up = "bottom" if out[1] > 0.5 else "top" if out[1] < -0.5 else "center"
        ink.say(ax, x, y, name, ha=across, va=up, on="none", color=ink.SOFT)


def _name_seen_edges(ax: Axes, answer: Answer | Glance, view: BaseGeometry, half: float) -> None:
    """Zones of the ring's outline by name along what is seen of them, inside the ring."""
    for name, start, end, out in _edges(answer, _NAMED_NEAR):
        seen = view.intersection(LineString([start, end]))
        if seen.length > 0.7 * half:
            middle = seen.interpolate(0.5, normalized=True)
            x, y = np.array([middle.x, middle.y]) - 0.1 * half * out
            turn = (np.degrees(np.arctan2(*(end - start)[::-1])) + 90) % 180 - 90
            ink.say(ax, x, y, name, rotation=turn, rotation_mode="anchor", on="none")


def _edges(answer: Answer | Glance, names: tuple[str, ...]) -> Iterator[tuple[str, Array, Array, Array]]:
    """The longest edge of each named zone of the ring: name, start, end, outward normal."""
    starts, ends = answer.section.points, np.roll(answer.section.points, -1, axis=0)
    lengths = np.hypot(*(ends - starts).T)
    for name in names:
        own = [i for i, edge in enumerate(answer.section.edges) if edge == name]
        if own:
            i = max(own, key=lambda i: lengths[i])
            along = (ends[i] - starts[i]) / lengths[i]
            yield name, starts[i], ends[i], np.array([along[1], -along[0]])


def _reach(answer: Answer | Glance) -> float:
    """Half the width of the enlarged view [mm]."""
    relief = shown(answer) if isinstance(answer, Answer) else None
    largest = max(abs(answer.gap.lower_mm), answer.target_mm, relief.depth_max_mm if relief else 0.0)
    return float(np.clip(4.0 * largest, 1.5, 12.0))


def _gap_words(answer: Answer | Glance, units: Units) -> str:
    words = _two_lines(f"gap\n{show_both(answer.gap.lower_mm, units, rounding='down')}")
    return f"{words}\ntouches" if answer.gap.lower_mm < 0 else words


def _two_lines(both: str) -> str:
    return both.replace(" (", "\n(")


def _inside(shape: BaseGeometry) -> Spot:
    middle = shape.centroid
    point = middle if shape.contains(middle) else shape.representative_point()
    return point.x, point.y


def _nearest_to(shape: BaseGeometry, ax: Axes, corner: Spot) -> Spot:
    """The point of a shape nearest to a corner of the view (axes fractions)."""
    near = nearest_points(shape, _spot(ax, corner))[0]
    return near.x, near.y


def _spot(ax: Axes, corner: Spot) -> Point:
    (left, right), (bottom, top) = ax.get_xlim(), ax.get_ylim()
    return Point(left + corner[0] * (right - left), bottom + corner[1] * (top - bottom))
