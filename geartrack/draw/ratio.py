"""The gap against the ratio: one line a pinion tooth count, so that the steps between them show."""

from __future__ import annotations

from typing import Any

from matplotlib.axes import Axes

from geartrack.draw import ink
from geartrack.study.answer import RatioRow, RatioTable
from geartrack.units import Units, show_both

_TONES = ("#00589c", "#a34700", "#00704a", "#7a3d74", "#3d3d3d")
_LINES: tuple[Any, ...] = ("-", (0, (5, 1.5)), (0, (1, 1.2)), (0, (7, 2, 1.5, 2)), (0, (3, 1, 1, 1, 1, 1)))
_MARKERS = ("o", "s", "D", "^", "v", "P", "X", "*")
_LYING = 14  # more pairs than that are named upright
_LOST: ink.Style = {"facecolor": "#e3edf5", "edgecolor": "#7ba3c4", "hatch": "\\\\"}
_TOUCH: ink.Style = {"facecolor": "#f7e4d6", "edgecolor": "#c98d5a", "hatch": "//"}


def ratio_view(ax: Axes, table: RatioTable, units: Units) -> Axes:
    """Every row of the table as a point with its low to high, against the wanted gap and touching."""
    _window(ax, table)
    left = ax.get_xlim()[0]
    bands = []
    for name, interval, look in (
        ("wanted gap is lost here", table.target_interval, _LOST),
        ("touching begins here", table.contact_interval, _TOUCH),
    ):
        if interval:
            bands.append(ax.axvspan(*interval, linewidth=0, zorder=0, gid=name, label=name, **look))
            ax.vlines(interval, *ax.get_ylim(), color=look["edgecolor"], linewidth=1.0, zorder=0)
    if bands:
        ax.legend(handles=bands, loc="upper right", frameon=False, fontsize=ink.SMALL, labelcolor=ink.INK)
    ax.axhline(table.target_mm, color=ink.WANTED["edgecolor"], linewidth=1.6, linestyle=(0, (6, 2)), gid="wanted gap")
    ax.axhline(0.0, color=ink.INK, linewidth=1.4, gid="touching")
    wanted = f"wanted {show_both(table.target_mm, units)}"
    ink.beside(ax, left, table.target_mm, wanted, (5, 4), ha="left", va="bottom", color=ink.WANTED["edgecolor"])
    ink.beside(ax, left, 0.0, "touching", (5, -4), ha="left", va="top")
    _name_pairs(ax, table)
    for line, pinion in enumerate(sorted({row.pair.pinion for row in table.rows}, reverse=True)):
        _series(ax, [row for row in table.rows if row.pair.pinion == pinion], line)
    ink.ruled_axis(ax.yaxis, ax.get_ylim(), units, "gap, low to high")
    ax.set_xlabel("ratio (ring teeth / pinion teeth)", fontsize=ink.SMALL, color=ink.INK)
    ink.plain(ax)
    return ax


def _window(ax: Axes, table: RatioTable) -> None:
    ratios = [row.pair.ratio for row in table.rows]
    lows = [0.0, *(row.band_low_mm for row in table.rows)]
    highs = [table.target_mm, *(row.band_high_mm for row in table.rows)]
    across = max(ratios) - min(ratios) or 1.0
    up = max(highs) - min(lows)
    ax.set_xlim(min(ratios) - 0.06 * across, max(ratios) + 0.06 * across)
    ax.set_ylim(min(lows) - 0.13 * up, max(highs) + (0.2 if len(table.rows) > _LYING else 0.12) * up)


def _series(ax: Axes, rows: list[RatioRow], line: int) -> None:
    rows = sorted(rows, key=lambda row: row.pair.ratio)
    tone, style, marker = (looks[line % len(looks)] for looks in (_TONES, _LINES, _MARKERS))
    ratios, gaps = [row.pair.ratio for row in rows], [row.gap.lower_mm for row in rows]
    down = [gap - row.band_low_mm for gap, row in zip(gaps, rows, strict=True)]
    up = [row.band_high_mm - gap for gap, row in zip(gaps, rows, strict=True)]
    ax.errorbar(ratios, gaps, yerr=[down, up], fmt="none", ecolor=tone, elinewidth=1.1, capsize=3, zorder=2)
    name = f"{rows[0].pair.pinion}-tooth pinion"
    ax.plot(ratios, gaps, color=tone, linestyle=style, linewidth=1.6, marker=marker, markersize=6, zorder=3, gid=name)
    if len(rows) > 1:
        ink.beside(
            ax, ratios[-1], rows[-1].band_low_mm, name, (0, -5 - 13 * (line % 2)), ha="center", va="top", color=tone
        )


def _name_pairs(ax: Axes, table: RatioTable) -> None:
    """Each tooth pair above its bar; pairs of nearly one ratio share a label, and many labels stand upright."""
    left, right = ax.get_xlim()
    upright = {"rotation": 90} if len(table.rows) > _LYING else {}
    together = (0.015 if upright else 0.035) * (right - left)
    groups: list[list[RatioRow]] = []
    for row in sorted(table.rows, key=lambda row: row.pair.ratio):
        if groups and row.pair.ratio - groups[-1][0].pair.ratio < together:
            groups[-1].append(row)
        else:
            groups.append([row])
    for group in groups:
        middle = sum(row.pair.ratio for row in group) / len(group)
        top = max(row.band_high_mm for row in group)
        ink.beside(
            ax, middle, top, ", ".join(str(row.pair) for row in group), (0, 4), ha="center", va="bottom", **upright
        )
