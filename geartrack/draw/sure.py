"""How sure an answer is: what makes its low to high, and what each reading still to take would leave of it."""

from __future__ import annotations

from textwrap import fill

from matplotlib.axes import Axes

from geartrack import words
from geartrack.draw import ink
from geartrack.study.answer import Answer
from geartrack.units import Units, show_length

_INPUTS, _READINGS = 7, 7
_NAME = 44
_MEASURED: ink.Style = {"facecolor": "#c3cfd9", "edgecolor": ink.INK, "linewidth": 1.0}
_OTHER: ink.Style = {"facecolor": "#f6f1e7", "edgecolor": ink.INK, "linewidth": 1.0, "hatch": "///"}
_NOW: ink.Style = {"facecolor": "white", "edgecolor": ink.SOFT, "linewidth": 1.0}


def budget_view(ax: Axes, answer: Answer) -> Axes:
    """Each input's share of what makes low to high, the largest on top; hatched where it is no reading."""
    parts = [part for part in answer.band.budget if abs(part.share) >= 0.005][:_INPUTS]
    names = [fill(words.input_name(part.name), _NAME) for part in parts]
    for row, part in enumerate(parts):
        origin = answer.inputs[part.name].origin if part.name in answer.inputs else None
        look = _MEASURED if origin == "measured" else _OTHER
        ax.barh(row, 100 * part.share, height=0.62, gid=part.name, **look)
        beyond = max(100 * part.share, 0.0)
        ink.beside(ax, beyond, row, f"{round(100 * part.share)} %", (5, 0), ha="left", va="center")
    _rows(ax, names, "share of low to high, percent (hatched: not measured)")
    ax.set_xlim(min(0.0, *(100 * part.share for part in parts)), 1.18 * max(100 * part.share for part in parts))
    ax.axvline(0.0, color=ink.INK, linewidth=1.0)
    return ax


def readings_view(ax: Axes, answer: Answer, units: Units) -> Axes:
    """For each reading still to take, the give or take of the gap now and what would be left of it."""
    ranked = answer.next_readings[:_READINGS]
    names = [fill(f"{each.name} ({each.minutes:g} min)", _NAME) for each in ranked]
    for row, each in enumerate(ranked):
        now, after = each.worth.half_now, each.worth.half_after
        ax.barh(row, now, height=0.62, **_NOW)
        ax.barh(row, after, height=0.62, gid=each.name, **_MEASURED)
        left = show_length(after, units)
        said = left if answer.verdict.settled else f"{left}; settles it: {words.settles(answer, each)}"
        ink.beside(ax, now, row, said, (5, 0), ha="left", va="center")
    ax.set_xlim(0.0, 1.75 * max(each.worth.half_now for each in ranked))
    _rows(ax, names, "")
    ink.ruled_axis(ax.xaxis, ax.get_xlim(), units, "give or take of the gap: outline now, filled after the reading")
    return ax


def _rows(ax: Axes, names: list[str], across: str) -> None:
    ax.set_yticks(range(len(names)), names)
    ax.set_ylim(len(names) - 0.4, -0.6)
    ax.set_xlabel(across, fontsize=ink.SMALL, color=ink.INK)
    ink.plain(ax)
    for side in ("top", "right"):
        ax.spines[side].set_visible(False)
