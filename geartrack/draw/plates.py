"""Figures to go on a printed page at their own size: no titles of their own, the words stand on the page."""

from __future__ import annotations

from matplotlib.figure import Figure

from geartrack.draw.end import end_view
from geartrack.draw.ratio import ratio_view
from geartrack.draw.sheet import describe
from geartrack.draw.side import near_view, side_view
from geartrack.study.answer import Answer, RatioTable
from geartrack.units import Units


def bench_plate(answer: Answer, units: Units) -> Figure:
    """The nearest place in section, enlarged, and the boss from the pinion-nut end."""
    figure = Figure(figsize=(7.5, 2.65), facecolor="white", label=describe(answer))
    near_view(figure.add_axes((0.075, 0.15, 0.36, 0.765)), answer, units)
    end_view(figure.add_axes((0.45, 0.02, 0.545, 0.9)), answer, units)
    return figure


def section_plate(answer: Answer, units: Units, description: str) -> Figure:
    """Ring gear and boss in section, to scale, and the nearest place enlarged; no depth stands on it."""
    figure = Figure(figsize=(7.5, 3.9), facecolor="white", label=description)
    side_view(figure.add_axes((0.075, 0.115, 0.5, 0.82)), answer, units)
    near_view(figure.add_axes((0.66, 0.115, 0.335, 0.82)), answer, units)
    return figure


def ratio_plate(table: RatioTable, units: Units, description: str) -> Figure:
    """The gap against the ratio, a line a pinion tooth count."""
    figure = Figure(figsize=(7.5, 4.7), facecolor="white", label=description)
    ax = ratio_view(figure.add_axes((0.085, 0.1, 0.905, 0.88)), table, units)
    low, high = ax.get_ylim()
    ax.set_ylim(low, high + 0.07 * (high - low))  # room for names that stand upright
    return figure
