"""The frame of DESIGN 1: worked directions, both hands, round trips."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from geartrack.frame import Hand, Seat, from_polar, meridian, polar

LENGTH = st.floats(-200, 200, allow_nan=False)


@pytest.mark.parametrize(
    ("clock_deg", "expected"),
    [(0, (-2, 0, 25)), (90, (-2, 25, 0)), (180, (-2, 0, -25)), (-90, (-2, -25, 0))],
)
def test_worked_directions_of_the_clock(clock_deg, expected):
    """12 o'clock is straight at the ring (+Z), 3 o'clock is +Y, seen from the pinion-nut end (looking toward -X)."""
    assert from_polar(2.0, 25.0, np.deg2rad(clock_deg)) == pytest.approx(np.array(expected), abs=1e-12)


def test_three_oclock_is_away_from_the_ring_axis_for_a_pinion_below():
    """Derived: the pinion axis is y = +E, so +Y from it is further from the ring axis (y = 0)."""
    seat = Seat(54.0, 50.0, Hand.BELOW)
    three, nine = seat.to_axle(from_polar([2.0, 2.0], 25.0, np.deg2rad([90.0, -90.0])))
    assert meridian(three)[0] > meridian(nine)[0]
    assert three == pytest.approx([48.0, 79.0, 0.0])


def test_a_pinion_above_swaps_three_and_nine_oclock_and_nothing_else():
    below, above = Seat(54.0, 50.0, Hand.BELOW), Seat(54.0, 50.0, Hand.ABOVE)
    assert above.to_axle(from_polar(2.0, 25.0, -1.1)) == pytest.approx(below.to_axle(from_polar(2.0, 25.0, 1.1)))
    twelve = from_polar(2.0, 25.0, 0.0)
    assert above.to_axle(twelve) == pytest.approx(below.to_axle(twelve))


def test_the_bore_offset_is_in_the_real_parts_frame():
    """+1 mm toward the real 3 o'clock is away from the ring axis below, toward it above."""
    at_axis = np.zeros(3)
    assert Seat(54.0, 50.0, Hand.BELOW, y_mm=1.0).to_axle(at_axis)[1] == pytest.approx(55.0)
    assert Seat(54.0, 50.0, Hand.ABOVE, y_mm=1.0).to_axle(at_axis)[1] == pytest.approx(53.0)


@given(st.sampled_from(Hand), LENGTH, LENGTH, LENGTH, st.floats(0, 80), LENGTH)
def test_in_and_out_is_the_identity(hand, x, y, z, offset, face):
    seat = Seat(offset, face, hand, y_mm=0.3, z_mm=-0.2)
    point = np.array([[x, y, z]])
    assert seat.to_boss(seat.to_axle(point)) == pytest.approx(point, abs=1e-9)


@given(st.floats(0, 100), st.floats(0.01, 100), st.floats(-3.14, 3.14))
def test_polar_round_trip(s, q, t):
    station, radius, clock = polar(from_polar(s, q, t))
    assert (station, radius, clock) == pytest.approx((s, q, t), abs=1e-9)
