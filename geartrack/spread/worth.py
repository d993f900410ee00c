"""What a reading not yet taken is worth: how far it would shrink a result's range, and the chance of a wrong verdict.

Worked from draws already made: each draw says what the reading would be and what the result is. The result is fitted on
the reading (straight pieces between its quantiles); what the fit leaves, in parts of equal weight along the reading, is
the range that would remain. Nothing is assumed about shape; preposterior analysis as in Raiffa and Schlaifer (1961),
from memory.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from geartrack.frame import Array
from geartrack.spread.band import HIGH, LOW, chance, quantiles, slopes_of

_PIECES, _PARTS = 12, 16


@dataclass(frozen=True)
class Worth:
    """Of a reading for a result held against a level.

    half_now, half_after: half of low to high, now and expected after the reading [any].
    wrong_now, wrong_after: chance that the likelier word is the wrong one, now and expected after [-].
    settles: chance that the reading brings low to high wholly to one side of the level [-].
    """

    half_now: float
    half_after: float
    wrong_now: float
    wrong_after: float
    settles: float


def worth(result: Array, reading: Array, weights: Array, level: float) -> Worth:
    """What a reading (n,) [any], its own give or take drawn in, is worth for a result (n,) [any] against a level [any].

    weights: (n,) of the draws [-].
    """
    ends = np.array([LOW, HIGH])
    low, high = quantiles(result, weights, ends)
    above = chance(result >= level, weights)
    fit = _fitted(reading, result, weights)
    left = result - fit
    part = _parts(reading, weights)
    half, given = 0.0, np.zeros(len(result))
    for i in range(_PARTS):
        here = part == i
        if not here.any():
            continue
        off, weight = left[here], weights[here]
        first, last = quantiles(off, weight, ends)
        half += weight.sum() / weights.sum() * (last - first) / 2
        order = np.argsort(off)
        over = 1.0 - np.append(0.0, np.cumsum(weight[order])) / weight.sum()
        given[here] = over[np.searchsorted(off[order], level - fit[here])]
    given = np.clip(given, 0.0, 1.0)
    wrong = float(weights @ np.minimum(given, 1 - given) / weights.sum())
    settled = chance((given <= LOW) | (given >= HIGH), weights)
    return Worth((high - low) / 2, min(half, (high - low) / 2), min(above, 1 - above), wrong, settled)


def _fitted(reading: Array, result: Array, weights: Array) -> Array:
    """The result's mean along the reading: weighted least squares of straight pieces between quantiles."""
    knots = np.unique(quantiles(reading, weights, np.linspace(0.005, 0.995, _PIECES)))
    if len(knots) < 2:
        return np.full(len(result), float(weights @ result / weights.sum()))
    place = np.clip(np.searchsorted(knots, reading) - 1, 0, len(knots) - 2)
    along = (reading - knots[place]) / np.diff(knots)[place]
    columns = np.zeros((len(reading), len(knots)))
    row = np.arange(len(reading))
    columns[row, place], columns[row, place + 1] = 1 - along, along
    fitted: Array = columns @ slopes_of(columns, result, weights)
    return fitted


def _parts(reading: Array, weights: Array) -> Array:
    """Which of _PARTS parts of equal weight along the reading each draw lies in, (n,) int."""
    order = np.argsort(reading)
    weight = weights[order]
    part = np.empty(len(reading), int)
    part[order] = np.minimum((np.cumsum(weight) - weight / 2) / weight.sum() * _PARTS, _PARTS - 1).astype(int)
    return part
