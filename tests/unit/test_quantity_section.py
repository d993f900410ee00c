"""Quantities and sections refuse what would let NaN or a wrong turn decide later."""

import numpy as np
import pytest

from geartrack.errors import InputError
from geartrack.quantity import Quantity, give_or_take
from geartrack.section import Section

SQUARE = np.array([[1.0, 0.0], [2.0, 0.0], [2.0, 1.0], [1.0, 1.0]])
EDGES = ("a", "b", "c", "d")


@pytest.mark.parametrize(
    "limits", [(1.0, 1.1, 2.0), (1.0, 0.0, 0.9), (float("nan"), 0.0, 1.0), (1.0, float("nan"), 2.0)]
)
def test_a_value_outside_its_limits_is_refused(limits):
    with pytest.raises(InputError, match="limits"):
        Quantity(*limits)


def test_at_keeps_the_spread_to_each_side():
    moved = Quantity(0.0, -0.1, 1.5).at(2.0)
    assert (moved.low, moved.value, moved.high) == pytest.approx((1.9, 2.0, 3.5))
    assert give_or_take(1.0, 0.2).spread == pytest.approx(0.2)


@pytest.mark.parametrize(
    ("points", "edges", "words"),
    [
        (SQUARE[::-1], EDGES, "counter-clockwise"),
        (SQUARE[:2], EDGES[:2], "three points"),
        (SQUARE, EDGES[:3], "edge names"),
        (SQUARE - [1.5, 0.0], EDGES, "not negative"),
        (SQUARE * np.nan, EDGES, "finite"),
    ],
)
def test_a_bad_section_is_refused(points, edges, words):
    with pytest.raises(InputError, match=words):
        Section(points, edges)


def test_moving_a_section_away_from_the_pinion_raises_it():
    assert Section(SQUARE, EDGES).moved(dz_mm=2.0).points[:, 1].min() == 2.0
