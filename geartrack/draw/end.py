"""The end view: the boss from the pinion-nut end, 12 o'clock straight at the ring gear, in the real axle's hand."""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes
from matplotlib.patches import Wedge
from shapely import Point, affinity, box
from shapely.geometry.base import BaseGeometry

from geartrack.draw import ink, outline
from geartrack.draw.depths import TONES, levels, shown
from geartrack.study.answer import Answer
from geartrack.sweep import grown
from geartrack.tolerances import TOLERANCES
from geartrack.units import Units, show_length

_INNER, _OUTER, _TICKS, _HOURS = 1.03, 1.11, (1.15, 1.19), 1.29  # in radii of the boss
_WIDE, _HIGH, _CLEAR = 2.5, 1.52, 1.4
_TWELVE = "12: straight at\nthe ring gear"


def end_view(ax: Axes, answer: Answer, units: Units) -> Axes:
    """Boss, bore, clock, ring gear and the metal to remove, cut square to the bore at the nearest place."""
    station = answer.place.station_mm
    boss = outline.across_bore(answer.boss.mesh, station)
    radius = float(np.sqrt(outline.outer(boss).area / np.pi))  # the clock goes round what is nearly round
    left, bottom, right, top = (side * 1.06 for side in boss.bounds)
    wide, high = _WIDE * radius, _HIGH * radius
    view = box(min(left, -wide), min(bottom, -high), max(right, wide), max(top, high))
    ink.frame(ax, view.bounds, title="End view, from the pinion-nut end")
    ax.set_xticks([])
    ax.set_yticks([])
    ring = outline.swept_across_bore(answer.section, answer.boss, station).intersection(view)
    wanted = grown(answer.section, answer.target_mm, arc_segments=TOLERANCES.arc_segments)
    cut = outline.swept_across_bore(wanted, answer.boss, station).intersection(boss)
    ink.metal(ax, boss, "boss")
    _both_sides(ax, answer, ring, cut)
    _name_ring(ax, answer, ring.difference(Point(0.0, 0.0).buffer(_CLEAR * radius)))
    _clock(ax, radius)
    ax.plot([0], [0], marker="+", markersize=12, color=ink.SOFT)
    ink.say(ax, 0.0, -0.3 * radius, f"pilot bore\n{show_length(answer.boss.mesh.bore.diameter_mm, units)}")
    _sides(ax, answer)
    _depth_round(ax, answer, units)
    ink.scale_bar(ax, units, (0.97, 0.035))
    return ax


def _both_sides(ax: Axes, answer: Answer, ring: BaseGeometry, cut: BaseGeometry) -> None:
    """Ring gear and cut; where the hand is not known, on either side and dashed."""
    if answer.hand:
        ink.fill(ax, cut, "metal to remove", **ink.CUT)
        ink.fill(ax, ring, "ring gear", **ink.RING)
    else:
        for shape, gid in ((ring, "ring gear, either side"), (cut, "metal to remove, either side")):
            for side in (shape, affinity.scale(shape, -1.0, 1.0, origin=(0.0, 0.0))):
                ink.fill(ax, side, gid, facecolor="none", edgecolor=ink.INK, linewidth=1.1, linestyle=(0, (4, 2)))


def _name_ring(ax: Axes, answer: Answer, ring: BaseGeometry) -> None:
    """The ring gear's name where it lies clear of the clock."""
    if not ring.is_empty:
        spot = max(getattr(ring, "geoms", (ring,)), key=lambda piece: piece.area).representative_point()
        on = ink.RING["facecolor"] if answer.hand else "white"
        ink.say(ax, spot.x, spot.y, "ring gear" if answer.hand else "ring gear,\neither side", on=on)


def _clock(ax: Axes, radius: float) -> None:
    for hour in range(1, 13):
        turn = np.radians(30.0 * hour)
        out = np.array([np.sin(turn), np.cos(turn)])
        ax.plot(*np.outer(out, np.array(_TICKS) * radius), color=ink.SOFT, linewidth=1.6 if hour % 3 == 0 else 0.9)
        x, y = out * _HOURS * radius
        ink.say(ax, x, y, str(hour), fontweight="bold" if hour == 12 else "normal")
    ink.say(ax, 0.015, 0.025, _TWELVE, ha="left", va="bottom", color=ink.SOFT, transform=ax.transAxes)


def _sides(ax: Axes, answer: Answer) -> None:
    """Which way the ring's centre line lies; it cannot be said without the hand, or where there is no offset."""
    if answer.hand is None or answer.boss.seat.offset_mm == 0:
        why = "no offset:\nneither side" if answer.hand else "hand not given:\neither side"
        ink.say(ax, 0.015, 0.4, why, ha="left", va="top", color=ink.SOFT, transform=ax.transAxes)
        return
    for sign, text in ((answer.hand.sign, "away from"), (-answer.hand.sign, "toward")):
        edge, across = (0.985, "right") if sign > 0 else (0.015, "left")
        words = f"{text}\nthe ring's\ncentre line"
        ink.say(ax, edge, 0.43, words, ha=across, va="top", color=ink.SOFT, transform=ax.transAxes, gid=text)
        arrow = {"arrowstyle": "-|>", "color": ink.SOFT, "linewidth": 1.0}
        ends: ink.Style = {"xy": (edge, 0.46), "xytext": (edge - 0.08 * sign, 0.46), "xycoords": "axes fraction"}
        ax.annotate("", **ends, arrowprops=arrow)


def _depth_round(ax: Axes, answer: Answer, units: Units) -> None:
    """The deepest cut at each clock angle as tones just outside the boss, and its numbers in a corner."""
    relief = shown(answer)
    if relief is None or not relief.outline:
        return
    steps, deepest = levels(relief.depth_radial_mm, units), relief.depth_radial_mm.max(axis=0)
    radius = float(relief.cast_radius_mm.max())
    halves = np.append(np.diff(relief.clocks) / 2, 0.0)
    level = np.searchsorted(steps, deepest, side="left")  # 0: not cut; n: between the levels n - 1 and n
    starts = np.flatnonzero(np.diff(level, prepend=-1))
    for start, end in zip(starts, [*(starts[1:] - 1), len(level) - 1], strict=True):
        if level[start]:
            low, high = np.degrees([relief.clocks[start] - halves[start - 1], relief.clocks[end] + halves[end]])
            ends = [(90 - high, 90 - low)] if answer.hand else [(90 - high, 90 - low), (90 + low, 90 + high)]
            for pair in ends:
                shape = Wedge((0, 0), _OUTER * radius, *pair, width=(_OUTER - _INNER) * radius)
                shape.set(facecolor=TONES[level[start] - 1], edgecolor=ink.INK, linewidth=0.5, gid="depth")
                ax.add_patch(shape)
    _thinnest_wall(ax, answer)
    turn = relief.depth_radial_clock
    spot = (float(np.sin(turn)) * radius, float(np.cos(turn)) * radius)
    corner = (0.015, 0.98) if spot[0] >= 0 else (0.985, 0.98)
    ink.point_out(ax, _depth_words(answer, units), spot, corner, fontsize=ink.SMALL)


def _thinnest_wall(ax: Axes, answer: Answer) -> None:
    """The wall left at its thinnest, from the bore out."""
    cuts = answer.cuts
    assert cuts is not None
    bore = answer.boss.mesh.bore.diameter_mm / 2
    for sign in (1.0,) if answer.hand else (1.0, -1.0):
        x, y = sign * float(np.sin(cuts.wall.clock)), float(np.cos(cuts.wall.clock))
        arrow = {"arrowstyle": "<->", "color": ink.INK, "linewidth": 1.1, "shrinkA": 0, "shrinkB": 0}
        outer = bore + cuts.wall.left_mm
        ax.annotate("", (outer * x, outer * y), (bore * x, bore * y), arrowprops=arrow)


def _depth_words(answer: Answer, units: Units) -> str:
    cuts = answer.cuts
    assert cuts is not None
    assert cuts.at_stop is not None
    deepest = show_length(cuts.nominal.depth_radial_max_mm, units, rounding="up")
    stop = show_length(cuts.at_stop.depth_radial_max_mm, units, rounding="down")
    wall = show_length(cuts.wall.left_mm, units, rounding="down")
    if not answer.verdict.grinds:
        return f"a cut of {deepest}\nwall left {wall}"
    return f"take off {deepest}\nSTOP at {stop}\nwall left {wall}"
