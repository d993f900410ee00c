"""The look of the method drawings: cut metal hatched, tools grey, a dot where a tool touches, lettered readings."""

from __future__ import annotations

from math import hypot
from textwrap import fill
from typing import Any

from matplotlib.axes import Axes
from shapely.geometry.base import BaseGeometry

from geartrack.draw import ink

Spot = tuple[float, float]
Box = tuple[float, float, float, float]

PART: ink.Style = {"facecolor": "white", "edgecolor": ink.INK, "linewidth": 1.2}
BEHIND: ink.Style = {"facecolor": "white", "edgecolor": ink.SOFT, "linewidth": 0.8}
TOOL: ink.Style = {"facecolor": "#cfcfcf", "edgecolor": ink.INK, "linewidth": 1.0}
BAR: ink.Style = {"facecolor": "#ececec", "edgecolor": ink.INK, "linewidth": 1.0}
GHOST: ink.Style = {"facecolor": "none", "edgecolor": ink.INK, "linewidth": 0.9, "linestyle": (0, (4, 2.5))}
_HATCH: ink.Style = {"facecolor": "white", "edgecolor": "#9a9a9a", "linewidth": 0.0, "hatch": "////"}
WIRE: ink.Style = {"facecolor": "#9c9c9c", "edgecolor": ink.INK, "linewidth": 1.0}
LOWER_RIGHT: Box = (0.64, 0.09, 0.36, 0.27)
WORDS, LETTER = 9.5, 12.5
_MISTAKE, _CAPTION = "mistake", 31  # letters a line


def panel(ax: Axes, place: Box, window: Box, *, title: str = "", framed: bool = False) -> Axes:
    """A view to scale, at the top of its place (left, bottom, width, height; of the drawing being 1); window in mm."""
    left, bottom, right, top = window
    view = ax.inset_axes(place)
    view.set_aspect("equal", adjustable="box")
    view.set_xlim(left, right)
    view.set_ylim(bottom, top)
    view.set_anchor("N")
    view.set(xticks=[], yticks=[], facecolor="none")
    for spine in view.spines.values():
        spine.set(visible=framed, color=ink.SOFT, linewidth=0.8)
    if title:
        view.set_title(title, fontsize=WORDS, fontweight="bold", color=ink.INK, pad=3)
    return view


def wrong(ax: Axes, place: Box, window: Box, caption: str) -> Axes:
    """The usual mistake: a framed view, crossed out, with a caption under it."""
    view = panel(ax, place, window, framed=True)
    view.set_gid(_MISTAKE)
    for spine in view.spines.values():
        spine.set(color=ink.INK, linewidth=1.6)
    for ends in ((0, 1), (1, 0)):
        view.plot((0, 1), ends, transform=view.transAxes, color=ink.INK, linewidth=1.6, alpha=0.4, zorder=4)
    view.annotate(
        fill(caption, _CAPTION),
        xy=(0.5, 0.0),
        xycoords="axes fraction",
        xytext=(0, -4),
        textcoords="offset points",
        ha="center",
        va="top",
        fontsize=WORDS,
        color=ink.INK,
    )
    tag = {"boxstyle": "square,pad=0.25", "facecolor": ink.INK, "edgecolor": ink.INK}
    view.text(0.0, 1.0, "NOT SO", transform=view.transAxes, va="center", color="white", fontsize=8, bbox=tag, zorder=8)
    return view


def solid(ax: Axes, shape: BaseGeometry, gid: str) -> None:
    """Cut metal: hatched, then outlined."""
    ink.fill(ax, shape, f"{gid} hatch", **_HATCH)
    ink.fill(ax, shape, gid, **(PART | {"facecolor": "none"}))


def ring(ax: Axes, whole: BaseGeometry, teeth: BaseGeometry, gid: str = "ring") -> None:
    """A ring gear's section: the body hatched, the teeth left white as on any gear drawing."""
    solid(ax, whole - teeth, f"{gid} body")
    ink.fill(ax, teeth, f"{gid} teeth", **PART)


def touch(ax: Axes, *spots: Spot, size: float = 6.0) -> None:
    """Dots where a tool touches; size [pt]."""
    x, y = zip(*spots, strict=True)
    ax.plot(
        x, y, "o", color=ink.INK, markersize=size, markeredgecolor="white", markeredgewidth=1.0, zorder=6, gid="touch"
    )


def centre(ax: Axes, start: Spot, end: Spot, gid: str) -> None:
    """A centre line."""
    ax.plot(*zip(start, end, strict=True), gid=gid, zorder=3, **ink.CENTRE)


def line(ax: Axes, start: Spot, end: Spot, gid: str = "line", **style: Any) -> None:
    """A plain edge or a level."""
    given: ink.Style = {"color": ink.INK, "linewidth": 1.0, "zorder": 2} | style
    ax.plot(*zip(start, end, strict=True), gid=gid, **given)


def reading(
    ax: Axes,
    start: Spot,
    end: Spot,
    letter: str,
    *,
    off: Spot = (0.0, 0.0),
    beside: Spot = (0.0, 0.0),
    at: Spot | None = None,
    tail_mm: float = 0.0,
) -> None:
    """A lettered dimension between two spots, its arrow moved off them by `off` [mm].

    The letter stands in the middle, moved by `beside` [points], or `at` a spot. With tail_mm the two heads come from
    outside, for a length too short to hold them.
    """
    (x0, y0), (x1, y1) = first, last = [(x + off[0], y + off[1]) for x, y in (start, end)]
    if any(off):
        for feature, arrow_end in ((start, first), (end, last)):
            line(ax, feature, arrow_end, "extension", linewidth=0.7, color=ink.SOFT)
    arrow = {"color": ink.INK, "linewidth": 1.2, "shrinkA": 0, "shrinkB": 0, "mutation_scale": 10}
    style = "-" if tail_mm else "<|-|>"
    ax.annotate("", xy=last, xytext=first, arrowprops=arrow | {"arrowstyle": style}, zorder=5, gid=letter)
    if tail_mm:
        scale = tail_mm / hypot(x1 - x0, y1 - y0)
        for (x, y), sign in ((first, -scale), (last, scale)):
            tail = (x + sign * (x1 - x0), y + sign * (y1 - y0))
            ax.annotate("", xy=(x, y), xytext=tail, arrowprops=arrow | {"arrowstyle": "-|>"}, zorder=5)
    spot = at or ((x0 + x1) / 2, (y0 + y1) / 2)
    size = LETTER if len(letter) == 1 else WORDS
    ink.beside(ax, *spot, letter, beside, ha="center", va="center", fontsize=size, fontweight="bold", zorder=7)


def name(ax: Axes, text: str, at: Spot, spot: Spot | None = None, **style: Any) -> None:
    """Words at a place [mm], with a thin line to the spot they name."""
    given: ink.Style = {"ha": "center", "va": "center", "fontsize": WORDS, "zorder": 7} | style
    if spot is None:
        ink.say(ax, *at, text, **given)
        return
    arrow = {"arrowstyle": "-", "color": ink.INK, "linewidth": 0.8, "shrinkA": 0, "shrinkB": 0}
    box_style = {"boxstyle": "square,pad=0.12", "facecolor": "white", "edgecolor": "none", "alpha": 0.85}
    ax.annotate(text, xy=spot, xytext=at, arrowprops=arrow, color=ink.INK, bbox=box_style, **given)


def sums(ax: Axes, place: Spot, *lines: str) -> None:
    """What to do with the readings, in a ruled box with its upper left corner at `place` (fractions of the drawing)."""
    ax.text(
        *place,
        "\n".join(lines),
        transform=ax.transAxes,
        ha="left",
        va="top",
        fontsize=WORDS + 0.5,
        linespacing=1.5,
        color=ink.INK,
        bbox={"boxstyle": "square,pad=0.5", "facecolor": "white", "edgecolor": ink.INK, "linewidth": 1.0},
    )
