"""Gaps along the height of the toe tips, draw by draw, worked at rungs as they are asked for and straight between."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from geartrack.frame import Array

Index = NDArray[np.intp]
RUNG_MM = 0.5  # a slope that changes by 0.1 where the nearest place jumps is 0.012 mm off between rungs


class Ladder:
    """Gaps (n,) [mm] of n draws at heights (n,) [mm]; each draw's gap at each rung is worked once.

    A fit comes back to nearly the same heights again and again, where a rung is known already.
    """

    def __init__(self, gaps: Callable[[Array, Index, Index], Array]) -> None:
        """gaps: of heights (k, n) [mm], which of the k (p,) and which draws (p,) [-] are wanted; gives (p,) [mm]."""
        self._gaps = gaps
        self._known: dict[int, Array] = {}

    def __call__(self, heights: Array) -> Array:
        """Gaps (n,) [mm] at heights (n,) [mm]."""
        under = np.floor(heights / RUNG_MM).astype(int)
        both = np.stack([under, under + 1])
        gaps = self._looked_up(both)
        rung, row = np.nonzero(np.isnan(gaps))
        if len(row):
            gaps[rung, row] = self._gaps(both * RUNG_MM, rung, row)
            for each in np.unique(both[rung, row]):
                new = both[rung, row] == each
                self._known[int(each)][row[new]] = gaps[rung[new], row[new]]
        share = heights / RUNG_MM - under
        found: Array = (1 - share) * gaps[0] + share * gaps[1]
        return found

    def _looked_up(self, rungs: Index) -> Array:
        """Gaps known (2, n) [mm] at rungs (2, n) [-], NaN where not worked yet."""
        gaps = np.full(rungs.shape, np.nan)
        for each in np.unique(rungs):
            known = self._known.setdefault(int(each), np.full(rungs.shape[1], np.nan))
            at = rungs == each
            gaps[at] = np.broadcast_to(known, rungs.shape)[at]
        return gaps
