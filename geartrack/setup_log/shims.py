"""Shims on hand put together to a thickness, by trying every choice of them."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from geartrack.errors import refuse
from geartrack.job.setup import MOST_SHIMS
from geartrack.quantity import Quantity
from geartrack.tolerances import TOLERANCES

_KEPT = 256  # nearest choices that are looked at for the fewest shims


@dataclass(frozen=True)
class Combination:
    """Shims, thickest first, each [mm]; total_mm, give or take spread_mm; off_mm: thicker than wanted by so much."""

    shims_mm: tuple[float, ...]
    total_mm: float
    spread_mm: float
    off_mm: float


def combine(shims: Sequence[Quantity], wanted_mm: float, most: int = 3) -> tuple[Combination, ...]:
    """The choices of shims that come nearest to a thickness [mm], nearest first, then fewest, then thickest.

    Every choice is tried; equal shims count as one kind. At most twenty shims. Raises InputError for more.
    """
    if len(shims) > MOST_SHIMS:
        raise refuse("setup.shims", f"{len(shims)} shims", f"the {MOST_SHIMS} nearest in size at most")
    kinds = Counter((shim.value, shim.spread) for shim in shims)
    sums = np.zeros(1)
    for (value, _), count in kinds.items():
        sums = (np.arange(count + 1)[:, None] * value + sums).ravel()  # the first kind turns over fastest
    nearest = np.argsort(np.abs(sums - wanted_mm), kind="stable")[:_KEPT]
    found = [_made(int(place), kinds, wanted_mm) for place in nearest if place]
    return tuple(sorted(found, key=_order)[:most])


def _order(made: Combination) -> tuple[float, int, float]:
    steps = round(abs(made.off_mm) / TOLERANCES.mesh_mm) if TOLERANCES.mesh_mm else abs(made.off_mm)
    return steps, len(made.shims_mm), -made.total_mm


def _made(place: int, kinds: Counter[tuple[float, float]], wanted_mm: float) -> Combination:
    """The choice at a place among all sums: how many of each kind, the first kind turning over fastest."""
    chosen: list[tuple[float, float]] = []
    for kind, count in kinds.items():
        place, taken = divmod(place, count + 1)
        chosen += [kind] * taken
    shims = sorted((value for value, _ in chosen), reverse=True)
    total = sum(shims)
    return Combination(tuple(shims), total, sum(spread for _, spread in chosen), total - wanted_mm)
