"""The look shared by all figures: tones and hatches that stay apart in grey, words on the drawing, round scales."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.axis import Axis
from matplotlib.patches import PathPatch, Rectangle
from matplotlib.path import Path
from matplotlib.ticker import FuncFormatter, MultipleLocator
from shapely import box
from shapely.geometry.base import BaseGeometry

from geartrack.tolerances import TOLERANCES
from geartrack.units import UNIT_WORDS, Units, in_units

INK = "#1c1c1c"
SOFT = "#6b6b6b"
Style = dict[str, Any]
RING: Style = {"facecolor": "#c3cfd9", "edgecolor": INK, "linewidth": 1.3}
OTHER: Style = {"facecolor": "#e3e8ec", "edgecolor": SOFT, "linewidth": 1.0}
BOSS: Style = {"facecolor": "#f6f1e7", "edgecolor": "#cfc3ad", "linewidth": 0.0, "hatch": "///"}
SHADOW: Style = {"facecolor": "#faf7f1", "edgecolor": SOFT, "linewidth": 1.0, "linestyle": (0, (4, 2))}
CUT: Style = {"facecolor": "#e0925a", "edgecolor": "#5a2500", "linewidth": 0.8, "hatch": "xxxxx"}
WANTED: Style = {"facecolor": "none", "edgecolor": "#00589c", "linestyle": (0, (6, 2))}
CENTRE: Style = {"color": SOFT, "linewidth": 0.8, "linestyle": (0, (12, 3, 2, 3))}
SMALL, TEXT, TITLE = 9.0, 10.0, 11.5
_FINEST = 4000  # of a view's width: closer points than that are one on paper


def fill(ax: Axes, shape: BaseGeometry, gid: str, **style: Any) -> None:
    """A shape with its holes as one patch, without points too close to see; nothing for an empty one."""
    left, right = ax.get_xlim()
    shape = shape.simplify(abs(right - left) / _FINEST)
    rings = [
        np.asarray(ring.coords)
        for piece in getattr(shape, "geoms", (shape,))
        if piece.geom_type == "Polygon" and not piece.is_empty
        for ring in (piece.normalize().exterior, *piece.normalize().interiors)
    ]
    if rings:
        path = Path.make_compound_path(*(Path(ring, closed=True) for ring in rings))
        ax.add_patch(PathPatch(path, gid=gid, **style))


def metal(ax: Axes, shape: BaseGeometry, gid: str) -> None:
    """Cut metal: toned, hatched like a drawing's section, then outlined."""
    fill(ax, shape, f"{gid} tone", **BOSS)
    fill(ax, shape, gid, facecolor="none", edgecolor=INK, linewidth=1.3)


def _ground(tone: str) -> Style:
    return {"boxstyle": "square,pad=0.12", "facecolor": tone, "edgecolor": "none", "alpha": 0.8}


def say(ax: Axes, x: float, y: float, text: str, *, on: str = "white", **style: Any) -> None:
    """Words on the drawing at x, y [any], on a ground of the tone they lie on so that lines behind do not hurt."""
    given: Style = {"ha": "center", "va": "center", "fontsize": SMALL, "color": INK, "bbox": _ground(on)} | style
    ax.text(x, y, text, **given)


def beside(ax: Axes, x: float, y: float, text: str, off: tuple[float, float], **style: Any) -> None:
    """Words beside a spot x, y [any], set off by so much across and up: off [pt]."""
    given: Style = {"fontsize": SMALL, "color": INK, "bbox": _ground("white")} | style
    ax.annotate(text, xy=(x, y), xytext=off, textcoords="offset points", **given)


def point_out(
    ax: Axes, text: str, at: tuple[float, float], corner: tuple[float, float], *, on: str = "white", **style: Any
) -> None:
    """Words in a corner (axes fractions, [-]) with a thin line to the spot they speak of: at [any]."""
    given: Style = {"fontsize": TEXT, "color": INK, "bbox": _ground(on)} | style
    left, low = corner[0] < 0.5, corner[1] < 0.5
    ax.annotate(
        text,
        xy=at,
        xytext=corner,
        textcoords="axes fraction",
        ha="left" if left else "right",
        va="bottom" if low else "top",
        arrowprops={
            "arrowstyle": "-",
            "color": INK,
            "linewidth": 0.9,
            "shrinkA": 0,
            "shrinkB": 1,
            "relpos": (float(left), float(low)),
        },
        **given,
    )


def frame(ax: Axes, window: tuple[float, float, float, float], *, title: str) -> None:
    """A view to scale with its name and no more lines than it needs; window: left, bottom, right, top [mm]."""
    left, bottom, right, top = window
    ax.set_aspect("equal", adjustable="box")
    ax.set_xlim(left, right)
    ax.set_ylim(bottom, top)
    ax.set_title(title, loc="left", fontsize=TITLE, fontweight="bold", color=INK)
    plain(ax)


def plain(ax: Axes) -> None:
    """Ticks and edges quiet, so that what is drawn speaks."""
    ax.tick_params(labelsize=SMALL, color=SOFT, labelcolor=INK)
    for spine in ax.spines.values():
        spine.set_color(SOFT)


def ruled(ax: Axes, units: Units, across: str, upward: str) -> None:
    """Axis words and ticks at round numbers of the units asked for; the data stay in millimetres."""
    ruled_axis(ax.xaxis, ax.get_xlim(), units, across)
    ruled_axis(ax.yaxis, ax.get_ylim(), units, upward)


def ruled_axis(axis: Axis, limits: tuple[float, float], units: Units, words: str) -> None:
    """One axis of `ruled`, between limits [mm]."""
    step = round_step(abs(limits[1] - limits[0]), units, parts=7)
    digits = max(0, int(np.ceil(np.round(-np.log10(in_units(step, units)), 6))))
    axis.set_major_locator(MultipleLocator(step))
    axis.set_major_formatter(FuncFormatter(lambda mm, _: f"{in_units(mm, units) + 0.0:.{digits}f}"))
    axis.set_label_text(f"{words}, {UNIT_WORDS[units]}", fontsize=SMALL, color=INK)


def round_step(length_mm: float, units: Units, *, parts: int) -> float:
    """The least step [mm] that is 1, 2 or 5 times a power of ten in the given units and needs at most so many parts."""
    least = in_units(length_mm, units) / parts
    power = 10.0 ** np.floor(np.log10(least))
    return float(
        min(s for s in (1, 2, 5, 10) if s * power >= least * (1 - TOLERANCES.root_relative))
        * power
        / in_units(1.0, units)
    )


def scale_bar(ax: Axes, units: Units, corner: tuple[float, float]) -> None:
    """A bar of round length in a corner (axes fractions, [-]), named in both units."""
    left, right = ax.get_xlim()
    bottom, top = ax.get_ylim()
    length = round_step(abs(right - left), units, parts=6)
    x, y = left + corner[0] * (right - left), bottom + corner[1] * (top - bottom)
    x, thick = x - (length if corner[0] > 0.5 else 0.0), 0.012 * (top - bottom)
    for start, tone in ((x, INK), (x + length / 2, "white")):
        ax.add_patch(Rectangle((start, y), length / 2, thick, facecolor=tone, edgecolor=INK, linewidth=0.8))
    other: Units = "mm" if units == "in" else "in"
    words = f"{_short(length, units)} ({_short(length, other)})"
    end, across = (x + length, "right") if corner[0] > 0.5 else (x, "left")
    say(ax, end, y + 1.8 * thick, words, on="none", ha=across, va="bottom")


def _short(length_mm: float, units: Units) -> str:
    digits = f"{in_units(length_mm, units):.{3 if units == 'in' else 2}f}"
    return f"{digits.rstrip('0').rstrip('.')} {units}"


def corners_by_room(ax: Axes, shapes: Iterable[BaseGeometry]) -> list[tuple[float, float]]:
    """The four corners of a view (axes fractions), the emptiest first, so that words cover as little as they can."""
    left, right = sorted(ax.get_xlim())
    bottom, top = sorted(ax.get_ylim())
    middle_x, middle_y, taken = (left + right) / 2, (bottom + top) / 2, list(shapes)

    def covered(corner: tuple[float, float]) -> float:
        x, y = left + corner[0] * (right - left), bottom + corner[1] * (top - bottom)
        quarter = box(min(x, middle_x), min(y, middle_y), max(x, middle_x), max(y, middle_y))
        return float(sum(quarter.intersection(shape).area for shape in taken))

    return sorted(((0.03, 0.97), (0.97, 0.97), (0.97, 0.03), (0.03, 0.03)), key=covered)
