"""The worst-case sum: linear closed form, one-sided inputs, a minimum that jumps."""

import pytest

from geartrack.quantity import Origin, Quantity, give_or_take
from geartrack.spread import worst_case


def test_a_linear_result_sums_its_limits():
    """Closed form: y = 2a - 3b, |dy| = 2 da + 3 db."""
    inputs = {"a": give_or_take(1.0, 0.1, Origin.MEASURED), "b": give_or_take(2.0, 0.2, Origin.DEFAULT)}
    found = worst_case(lambda v: 2 * v.get("a", 1.0) - 3 * v.get("b", 2.0), inputs, -4.0)
    assert (found.low, found.high) == pytest.approx((-4.8, -3.2))
    assert [s.name for s in found.shares] == ["b", "a"]
    assert found.widest(Origin.MEASURED).name == "a"
    assert found.widest(Origin.PUBLISHED) is None


def test_a_one_sided_input_moves_one_end_only():
    found = worst_case(lambda v: v.get("a", 0.0), {"a": Quantity(0.0, 0.0, 1.5, Origin.DEFAULT)}, 0.0)
    assert (found.low, found.high) == (0.0, 1.5)


def test_both_ends_are_evaluated_where_the_nearest_point_jumps():
    """Closed form: min(1 + a, 1 - 2a) falls to both sides of a = 0, so neither end is an upper one."""
    found = worst_case(lambda v: min(1 + v.get("a", 0.0), 1 - 2 * v.get("a", 0.0)), {"a": give_or_take(0.0, 0.5)}, 1.0)
    assert (found.low, found.high) == (0.0, 1.0)


def test_inputs_that_free_the_result_only_together_are_moved_together():
    """Closed form: min(1 + a, 1 + b) with a and b each 0 to 1 stays at 1 for either alone, and is 2 for both."""
    inputs = {name: Quantity(0.0, 0.0, 1.0, Origin.DEFAULT) for name in "ab"}
    found = worst_case(lambda v: 1 + min(v.get("a", 0.0), v.get("b", 0.0)), inputs, 1.0)
    assert (found.low, found.high) == (1.0, 2.0)


def test_inputs_without_spread_have_no_share():
    assert worst_case(lambda v: 1.0, {"a": give_or_take(1.0, 0.0)}, 1.0).shares == ()
