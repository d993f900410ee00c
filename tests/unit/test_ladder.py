"""Gaps along the height of the toe tips: straight between rungs, each worked once."""

import numpy as np
import pytest

from geartrack.assembly.ladder import RUNG_MM, Ladder


def test_between_rungs_it_is_straight_and_no_rung_is_worked_twice():
    """Closed form: a gap of h squared misses the straight line by (RUNG / 2) squared at the most, half way."""
    worked = []

    def gaps(heights, rungs, rows):
        worked.extend(zip(heights[rungs, rows].tolist(), rows.tolist(), strict=True))
        return heights[rungs, rows] ** 2

    ladder = Ladder(gaps)
    for heights in (np.array([0.1, 20.0, -3.3]), np.array([0.2, 20.1, 5.0]), np.array([0.1, 19.9, -3.2])):
        off = ladder(heights) - heights**2
        assert (off >= -1e-12).all()
        assert (off <= (RUNG_MM / 2) ** 2 + 1e-12).all()
    assert len(worked) == len(set(worked))
    assert ladder(np.array([0.0, 20.0, 5.0])) == pytest.approx([0.0, 400.0, 25.0])
