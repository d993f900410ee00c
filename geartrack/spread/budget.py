"""Which input makes how much of a result's variance, from the draws already made, their correlations included.

Each input's own effect is fitted as a straight line and a curve; its share is the covariance of that effect with the
result over the result's variance (the covariance decomposition of an additive model: Li, Rabitz et al., J. Phys. Chem.
A 114 (2010) 6022). Shares add up to what the effects explain; the rest is inputs acting together. For independent
inputs a share is the first-order Sobol index; for correlated ones it may be negative, which is the truth about it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from geartrack.frame import Array
from geartrack.spread.band import slopes_of

TOGETHER = "together"


@dataclass(frozen=True)
class Part:
    """share: of the result's variance [-], due to one input by name, or to inputs acting together."""

    name: str
    share: float


def budget(values: Mapping[str, Array], result: Array, weights: Array) -> tuple[Part, ...]:
    """Shares of variance by input, largest first, the last one for inputs acting together.

    values: draws (n,) of each input [any]; result: (n,) [any]; weights: (n,) [-]. Empty where nothing moves the result.
    """
    weight = weights / weights.sum()
    centred = result - weight @ result
    variance = float(weight @ centred**2)
    if variance <= np.finfo(float).eps * max(1.0, float(np.abs(result).max())) ** 2:
        return ()
    names = list(values)
    columns = np.concatenate([_effects(values[name], weight) for name in names], axis=1)
    effects = (columns * slopes_of(columns, centred, weight)).reshape(len(centred), len(names), -1).sum(axis=2)
    shares = weight * centred @ effects / variance
    parts = sorted(
        (Part(name, float(share)) for name, share in zip(names, shares, strict=True)), key=lambda p: -p.share
    )
    return (*parts, Part(TOGETHER, 1.0 - float(shares.sum())))


def _effects(values: Array, weight: Array) -> Array:
    """A line and a curve through an input's draws, (n, 2), each of weighted mean zero [-]."""
    line = values - weight @ values
    line = line / (np.sqrt(weight @ line**2) or 1.0)
    curve = line**2
    return np.stack([line, curve - weight @ curve], axis=1)
