"""The patch to grind, unrolled: clock angle across, how far in from the pinion-side end down, depth as tones."""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes
from matplotlib.patches import Polygon, Rectangle
from matplotlib.ticker import FuncFormatter, MultipleLocator

from geartrack.draw import ink
from geartrack.draw.depths import HATCHES, TONES, levels, shown
from geartrack.frame import Array
from geartrack.study.answer import Answer
from geartrack.units import Units, show_length

_TURNS = (1.0, 2.5, 5.0, 7.5, 15.0, 30.0)  # degrees; half a degree is a minute of the clock


def patch_view(ax: Axes, answer: Answer, units: Units) -> Axes:
    """The radial depth of the cut over the boss, unrolled; darker and denser is deeper. Empty where there is no cut."""
    words = "Metal to remove" if answer.verdict.grinds else "Closer than wanted"
    ax.set_title(f"{words}, unrolled", loc="left", fontsize=ink.TITLE, fontweight="bold", color=ink.INK)
    ink.plain(ax)
    relief = shown(answer)
    if relief is None or not relief.outline:
        return ax
    steps = levels(relief.depth_radial_mm, units)
    degrees, count = np.degrees(relief.clocks), len(steps) - 1
    for curve in relief.outline:
        inside: ink.Style = {"facecolor": TONES[0], "edgecolor": ink.INK, "linewidth": 0.9, "gid": "outline"}
        ax.add_patch(Polygon(np.stack([np.degrees(curve[:, 1]), curve[:, 0]], axis=1), **inside))
    where = (degrees, relief.stations_mm, relief.depth_radial_mm, steps[1:])
    ax.set_facecolor(ink.BOSS["facecolor"])
    if count > 1:
        ax.contourf(*where, colors=TONES[1:count], hatches=HATCHES[1:count])
        ax.contour(*where, colors=ink.INK, linewidths=0.8)
    ax.set_xlim(degrees[0], degrees[-1])
    ax.set_ylim(relief.stations_mm[-1], relief.stations_mm[0])
    ax.xaxis.set_major_locator(MultipleLocator(next((s for s in _TURNS if np.ptp(degrees) <= 4 * s), 60.0)))
    ax.xaxis.set_major_formatter(FuncFormatter(lambda turn, _: _time(turn)))
    turned = "from the pinion-nut end" if answer.hand else "or mirrored: either side"
    ax.set_xlabel(f"o'clock, {turned}", fontsize=ink.SMALL, color=ink.INK)
    ink.ruled_axis(ax.yaxis, ax.get_ylim(), units, "in from the pinion-side end")
    _key(ax, steps, units)
    return ax


def _key(ax: Axes, steps: Array, units: Units) -> None:
    """The tones beside the map, each between the depths that bound it."""
    key = ax.inset_axes((1.05, 0.1, 0.07, 0.75))
    key.set_axis_off()
    key.set_xlim(0, 1)
    key.set_ylim(len(steps) - 1, 0)
    for index in range(len(steps) - 1):
        style: ink.Style = {"facecolor": TONES[index], "hatch": HATCHES[index], "edgecolor": ink.INK, "linewidth": 0.8}
        key.add_patch(Rectangle((0, index), 1, 1, clip_on=False, **style))
    for index, depth in enumerate(steps):
        label = show_length(depth, units) if index else "depth 0"
        key.text(1.3, index, label, fontsize=ink.SMALL, color=ink.INK, va="center")


def _time(degrees: float) -> str:
    """A clock angle as the time a small hand shows there, to a minute.

    >>> _time(37.5), _time(-30.0), _time(0.0)
    ('1:15', '11:00', '12:00')
    """
    minutes = round(degrees * 2) % 720
    return f"{minutes // 60 or 12}:{minutes % 60:02d}"
