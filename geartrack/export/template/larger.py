"""The patch drawn larger, to read the depths from; never to be laid on the boss."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np

from geartrack.export.figure import Curve, Figure, Label, Layer, circle, line
from geartrack.export.template.developed import Developed
from geartrack.export.template.levels import Steps
from geartrack.frame import Array
from geartrack.units import UNIT_WORDS, Units, in_units, parse_length

_TIMES, _ROOM_MM = (25, 20, 16, 12, 10, 8, 6, 5, 4, 3, 2), (58.0, 50.0)
_TYPE_MM, _FEW = 2.3, 8
_RULER: dict[Units, tuple[str, ...]] = {
    "in": ("0.01 in", "0.02 in", "0.05 in", "0.1 in", "0.2 in", "0.5 in"),
    "mm": ("0.2 mm", "0.5 mm", "1 mm", "2 mm", "5 mm", "10 mm"),
}
_TURNS = (0.5, 1.0, 2.5, 5.0, 7.5, 15.0)  # degrees; half a degree is a minute of the clock


def larger(patch: Developed, steps: Steps) -> tuple[Figure, int]:
    """The patch with the depth at its contours, and how many times larger it is drawn."""
    points = np.concatenate([_upright(patch, curve.points) for curve in patch.curves])
    low, high = np.minimum(points.min(axis=0), (np.inf, 0.0)), points.max(axis=0)
    times = next((each for each in _TIMES if (each * (high - low) <= _ROOM_MM).all()), 1)
    wide, tall = (times * (high - low)).tolist()

    def grown(places: Array) -> Array:
        larger_ones: Array = times * (_upright(patch, places) - low)
        return larger_ones

    curves = [Curve(curve.layer, grown(curve.points), curve.closed) for curve in patch.curves]
    deepest = grown(np.array(patch.deepest))
    curves.append(circle(Layer.MARKS, 0.7, (float(deepest[0]), float(deepest[1])), 36))
    curves.append(line(Layer.BOSS, (-2.0, 0.0), (wide + 2.0, 0.0)))
    name = f"The patch {times} times larger: to read from, not to lay on"
    figure = Figure(name, (-14.0, -8.5, wide + 8.0, tall + 3.5), tuple(curves))
    slant = patch.flat.slant
    figure = figure.with_(*_inward(steps, times * slant, float(low[1]) / slant, tall)).with_(*_round(patch, grown))
    return figure.with_(labels=_depths(patch, steps, grown)), times


def _inward(steps: Steps, times: float, low: float, tall: float) -> tuple[list[Curve], list[Label]]:
    """The ruler in from the pinion-side end."""
    lengths = [parse_length(text) for text in _RULER[steps.units]]
    step = next((each for each in lengths if tall <= 8 * times * each), lengths[-1])
    curves = [line(Layer.MARKS, (-3.0, 0.0), (-3.0, tall))]
    labels = [Label(f"in from the end, {UNIT_WORDS[steps.units]}", (-14.0, tall + 1.6), _TYPE_MM)]
    for index in range(int((low + tall / times + 1e-9) / step) + 1):
        y = times * (index * step - low)
        if y >= -1e-9:
            curves.append(line(Layer.MARKS, (-4.5, y), (-3.0, y)))
            name = f"{in_units(index * step, steps.units):.{2 if steps.units == 'in' else 1}f}"
            labels.append(Label(name, (-5.0, y - 0.8), _TYPE_MM, "right"))
    return curves, labels


def _upright(patch: Developed, points: Array) -> Array:
    """Places on the paper (..., 2), turned so that in from the end is straight up at the patch, and 0 at the end."""
    foot, top = patch.flat.on_paper(np.array([0.0, patch.width_mm]), patch.middle)
    up = (top - foot) / np.linalg.norm(top - foot)
    turned: Array = (points - foot) @ np.array([[up[1], up[0]], [-up[0], up[1]]])
    return turned


def _round(patch: Developed, grown: Callable[[Array], Array]) -> tuple[list[Curve], list[Label]]:
    """O'clock along the pinion-side end."""
    degrees = np.degrees([patch.low, patch.high])
    turn = next((each for each in _TURNS if np.ptp(degrees) <= 5 * each), 30.0)
    curves, labels = [], []
    for angle in turn * np.arange(np.ceil(degrees[0] / turn), np.floor(degrees[1] / turn) + 1):
        x = float(grown(patch.flat.on_paper(0.0, np.radians(angle)))[0])
        curves.append(line(Layer.MARKS, (x, 0.0), (x, -1.5)))
        labels.append(Label(_time(float(angle)), (x, -4.0), _TYPE_MM, "middle"))
    words = "pinion-side end; o'clock from the pinion-nut end"
    return curves, [*labels, Label(words, (-3.0, -7.6), _TYPE_MM)]


def _depths(patch: Developed, steps: Steps, grown: Callable[[Array], Array]) -> list[Label]:
    """The depth at the top of each contour, or of each heavier one where there are many."""
    tops: dict[int, Any] = {}
    for index, curve in patch.depths:
        top = curve.points[curve.points[:, 1].argmax()]
        if index not in tops or top[1] > tops[index][1]:
            tops[index] = top
    chosen = {i: grown(top) for i, top in tops.items() if len(tops) <= _FEW or i % steps.major == 0}
    return [
        Label(steps.name(i), (float(x), float(y) - 0.75), _TYPE_MM - 0.2, "middle", ground=True)
        for i, (x, y) in chosen.items()
    ]


def _time(degrees: float) -> str:
    """A clock angle as the time a small hand shows there, to a minute.

    >>> _time(37.5), _time(-30.0), _time(0.0)
    ('1:15', '11:00', '12:00')
    """
    minutes = round(degrees * 2) % 720
    return f"{minutes // 60 or 12}:{minutes % 60:02d}"
