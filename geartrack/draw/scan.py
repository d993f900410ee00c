"""A scan as it was understood: its points and datums from the side and from the pinion-nut end, and what it lacks."""

from __future__ import annotations

from collections.abc import Iterator
from textwrap import fill
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Circle
from matplotlib.ticker import FuncFormatter, MultipleLocator

from geartrack import scan_words as words
from geartrack.boss.scan.shown import Shown, shown
from geartrack.draw import ink
from geartrack.job import Job
from geartrack.study.scan import ScanSheet, outside_seen
from geartrack.units import Units, show_both

_SIZE = (8.5, 11.0)  # inches: a letter sheet upright
_CLOUD: ink.Style = {"color": "#b4bac0", "marker": ".", "markersize": 1.1, "linestyle": "none", "rasterized": True}
_LOOKS = {
    "bore": ("#00589c", "pilot bore"),
    "end face": ("#b3560f", "end face"),
    "ring axis": ("#2f6f3e", "side-bearing bores"),
    "support face": ("#7a2a6d", "pinion support's face"),
}
_UNSEEN: ink.Style = {"facecolor": "#e7d3c2", "hatch": "xxx", "edgecolor": "#5a2500", "linewidth": 0.0}
_ROOM, _HOURS, _TICKS = 0.07, 1.75, (1.5, 1.58)
_NOT_FRAMED = "not in the axle's frame yet:\nturned any way about the bore"


def scan_figure(sheet: ScanSheet, units: Units, job: Job | None = None) -> Figure:
    """A scan's sheet as a figure: side view, end view, the boss's outside unrolled, what was found, what is missing."""
    title = "What the scan shows" if not sheet.missing else "What the scan shows, and lacks"
    sentence = _sentence(sheet)
    figure = Figure(figsize=_SIZE, facecolor="white", label=describe(sheet, units))
    figure.text(0.03, 0.982, words.of_the_file(sheet), va="top", fontsize=ink.TEXT, color=ink.SOFT)
    figure.suptitle(title, x=0.03, y=0.962, ha="left", va="top", fontsize=18, fontweight="bold", color=ink.INK)
    wrapped = fill(sentence, 108)
    figure.text(0.03, 0.922, wrapped, va="top", fontsize=ink.TEXT, color=ink.INK, linespacing=1.35)
    top = 0.885 - 0.0175 * wrapped.count("\n")
    drawn = shown(sheet.found, sheet.scan.vertices)
    side_view(figure.add_axes((0.085, top - 0.335, 0.44, 0.315)), sheet, drawn, units)
    end_view(figure.add_axes((0.555, top - 0.335, 0.42, 0.315)), sheet, drawn, units)
    unrolled_view(figure.add_axes((0.085, top - 0.55, 0.89, 0.12)), sheet, units, job)
    _numbers(figure, sheet, units, top - 0.625)
    return figure


def describe(sheet: ScanSheet, units: Units) -> str:
    """What the figure shows, in words, for those who cannot see it."""
    found = "; ".join(f"{each.name}, points scatter by {show_both(each.rms_mm, units)}" for each in sheet.datums)
    lines = [_sentence(sheet), f"Found: {found}.", *(f"{line}." for line in words.of_the_datums(sheet, units))]
    clock = ", 12 o'clock straight at the ring gear" if sheet.found.pose is not None else ""
    views = (
        "The side view shows the scanned points along the pilot bore, the pinion-nut end to the right; the end view"
        f" shows them from the pinion-nut end{clock}."
    )
    return " ".join([words.of_the_file(sheet) + ".", *lines, views])


def _sentence(sheet: ScanSheet) -> str:
    names = ", ".join(
        _LOOKS[each][1] for each in ("bore", "end face", "ring axis", "support face") if _has(sheet, each)
    )
    said = [f"Found: {names}.", f"Hand: {words.of_the_hand(sheet)}."]
    return " ".join(said + _lacks(sheet))


def _lacks(sheet: ScanSheet) -> list[str]:
    """What does not agree and what is missing, a sentence each."""
    lines = [f"Does not agree: {line}" for line in sheet.differs] + [f"Missing: {line}" for line in sheet.missing]
    return [line if line.endswith("?") else f"{line}." for line in lines]


def _has(sheet: ScanSheet, name: str) -> bool:
    found = sheet.found
    there = {"end face": found.end, "ring axis": found.datums.ring, "support face": found.support}
    return name == "bore" or there[name] is not None


def side_view(ax: Axes, sheet: ScanSheet, drawn: Shown, units: Units) -> Axes:
    """The points from the side: along the bore, the pinion-nut end to the right, the ring gear's side up."""
    _cloud(ax, drawn, 0, 2, title="Side view")
    bore, depth = sheet.bore_diameter_mm / 2, sheet.bore_depth_mm
    ax.axhline(0.0, **ink.CENTRE)
    ink.say(ax, 0.985 * ax.get_xlim()[1], 0.0, "pinion's centre line", ha="right", color=ink.SOFT)
    _ring_line(ax, drawn, 0)
    ax.plot([0, -depth, -depth, 0], [bore, bore, -bore, -bore], color=_LOOKS["bore"][0], linewidth=1.6, gid="bore")
    _name(ax, "bore", (-depth / 2, -0.5 * bore))
    for name, at, half in _faces(sheet, bore):
        ax.plot([at, at], [-half, half], color=_LOOKS[name][0], linewidth=2.0, gid=name)
        if name == "support face":
            _name(ax, name, (at - 0.1 * bore, 1.4 * bore), lines="pinion\nsupport's\nface", ha="right")
        else:
            _name(ax, name, (at, half + 0.25 * bore))
    if "ring axis" in drawn.on and drawn.ring is not None:
        heights = drawn.points[drawn.on["ring axis"]][:, 2]
        _name(ax, "ring axis", (drawn.ring[0], float(heights[heights > np.median(heights) - 1.0].mean())), ha="left")
    along = "from the end face toward the pinion nut" if sheet.found.end is not None else "along the bore"
    ink.ruled(ax, units, along, "toward the ring gear" if drawn.framed else "across it")
    if not drawn.framed:
        ink.say(ax, 0.985, 0.985, _NOT_FRAMED, ha="right", va="top", transform=ax.transAxes, color=ink.SOFT)
    return ax


def _faces(sheet: ScanSheet, bore: float) -> Iterator[tuple[str, float, float]]:
    """The faces found across the bore: name, where along it, half of what is drawn of them [mm]."""
    if sheet.found.end is not None:
        yield "end face", 0.0, 1.6 * bore
    if sheet.found.support is not None:
        yield "support face", sheet.found.support.beyond_mm[0], 2.9 * bore


def end_view(ax: Axes, sheet: ScanSheet, drawn: Shown, units: Units) -> Axes:
    """The points from the pinion-nut end, 12 o'clock straight at the ring gear, in the real axle's hand."""
    _cloud(ax, drawn, 1, 2, title="End view, from the pinion-nut end" if drawn.framed else "End view")
    ax.set_xticks([])
    ax.set_yticks([])
    bore = sheet.bore_diameter_mm / 2
    ax.add_patch(Circle((0, 0), bore, fill=False, edgecolor=_LOOKS["bore"][0], linewidth=1.6, gid="bore"))
    ax.plot([0], [0], marker="+", markersize=9, color=ink.SOFT)
    _ring_line(ax, drawn, 1)
    _name(ax, "bore", (0.0, -0.45 * bore))
    if "end face" in drawn.on:
        y, z = drawn.points[drawn.on["end face"]][:, 1:].T
        spot = int((y - z).argmax())
        ink.point_out(ax, "end face", (float(y[spot]), float(z[spot])), (0.985, 0.13), color=_LOOKS["end face"][0])
    if "support face" in drawn.on:
        out = np.linalg.norm(drawn.points[drawn.on["support face"]][:, 1:], axis=1)
        _name(ax, "support face", (0.0, float(np.quantile(out, 0.9))))
    if drawn.framed:
        for hour in (12, 3, 6, 9):
            way = np.array([np.sin(np.radians(30 * hour)), np.cos(np.radians(30 * hour))])
            ax.plot(*np.outer(way, np.array(_TICKS) * bore), color=ink.INK, linewidth=1.2)
            x, y = way * _HOURS * bore
            ink.say(ax, x, y, str(hour), fontweight="bold" if hour == 12 else "normal")
        ink.say(ax, 0.985, 0.985, "12: straight at\nthe ring gear", ha="right", va="top", transform=ax.transAxes)
    ink.scale_bar(ax, units, (0.97, 0.035))
    return ax


def _ring_line(ax: Axes, drawn: Shown, across: int) -> None:
    """The ring's centre line, where the scan has it."""
    if drawn.ring is not None:
        at = float(drawn.ring[across])
        ax.axvline(at, gid="ring axis", **ink.CENTRE)
        ink.say(ax, at, 0.0, "ring's centre line", rotation=90, color=ink.SOFT)


def _name(ax: Axes, datum: str, at: tuple[float, float], *, lines: str = "", **style: Any) -> None:
    tone, said = _LOOKS[datum]
    ink.say(ax, *at, lines or said, **({"color": tone, "fontweight": "bold"} | style))


def unrolled_view(ax: Axes, sheet: ScanSheet, units: Units, job: Job | None) -> Axes:
    """Which of the boss's outside the scan shows, unrolled: clock angle across, how far in down."""
    seen = outside_seen(sheet, job)
    title = "The boss's outside, unrolled"
    ax.set_title(title, loc="left", fontsize=ink.TITLE, fontweight="bold", color=ink.INK)
    ink.plain(ax)
    if seen is None:
        ax.set_xticks([])
        ax.set_yticks([])
        why = "drawn once nothing is missing above" if sheet.missing else "the scan shows nothing of it"
        ink.say(ax, 0.5, 0.5, why, transform=ax.transAxes, color=ink.SOFT)
        return ax
    degrees = np.degrees(np.remainder(seen.clock + np.pi, 2 * np.pi) - np.pi)
    order = np.argsort(degrees)
    hidden = (~seen.seen[:, order]).astype(float)
    ax.set_facecolor(ink.BOSS["facecolor"])
    ax.contourf(degrees[order], seen.station_mm, hidden, [0.5, 1.5], colors=[_UNSEEN["facecolor"]], hatches=["xxx"])
    ax.contour(degrees[order], seen.station_mm, hidden, [0.5], colors=ink.INK, linewidths=0.9)
    ax.set_xlim(-180, 180)
    ax.set_ylim(seen.station_mm[-1], 0)
    ax.xaxis.set_major_locator(MultipleLocator(30))
    ax.xaxis.set_major_formatter(FuncFormatter(lambda turn, _: str(round(turn / 30) % 12 or 12)))
    ax.set_xlabel("o'clock, from the pinion-nut end; 12 straight at the ring gear", fontsize=ink.SMALL, color=ink.INK)
    ink.ruled_axis(ax.yaxis, ax.get_ylim(), units, "in")
    share = 100 * float(hidden.mean())
    note = f"hatched: {share:.0f} % is not in the scan" if share >= 0.5 else "all of it is in the scan"
    ax.set_title(note, loc="right", fontsize=ink.SMALL, color=ink.INK)
    return ax


def _cloud(ax: Axes, drawn: Shown, across: int, up: int, *, title: str) -> None:
    """The points, those on a datum over the others in its tone, the nearest last."""
    flat = drawn.points[:, [across, up]]
    low, high = (np.quantile(flat, q, axis=0) for q in (0.001, 0.999))
    half = (0.5 + _ROOM) * float((high - low).max())
    middle = (low + high) / 2
    ink.frame(ax, (middle[0] - half, middle[1] - half, middle[0] + half, middle[1] + half), title=title)
    ax.plot(*flat.T, gid="points", **_CLOUD)
    for name, mask in drawn.on.items():
        ax.plot(*flat[mask].T, gid=f"points on {name}", **(_CLOUD | {"color": _LOOKS[name][0], "markersize": 1.6}))


def _numbers(figure: Figure, sheet: ScanSheet, units: Units, top: float) -> None:
    """What was found, how well, and the lengths between, at the foot of the sheet."""
    heads = ("Found", "points scatter by", "moves the gap by at most")
    rows = [(each.name, show_both(each.rms_mm, units), _up(each.give_mm, units)) for each in sheet.datums]
    for n, row in enumerate([heads, *rows]):
        for x, text, across in zip((0.03, 0.68, 0.97), row, ("left", "right", "right"), strict=True):
            weight = "bold" if n == 0 else "normal"
            y = top - 0.0195 * n
            figure.text(x, y, text, fontsize=ink.TEXT, color=ink.INK, ha=across, va="center", fontweight=weight)
    below = top - 0.0195 * (len(rows) + 1) - 0.012
    for n, line in enumerate(words.of_the_datums(sheet, units)):
        figure.text(0.03, below - 0.0195 * n, line, fontsize=ink.TEXT, color=ink.INK, va="center")


def _up(mm: float | None, units: Units) -> str:
    return "-" if mm is None else show_both(mm, units, rounding="up")
