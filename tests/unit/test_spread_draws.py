"""Draws of inputs, their ends and budget: closed forms, and what must be refused."""

import numpy as np
import pytest

from geartrack.errors import InputError
from geartrack.quantity import Origin, Quantity, Shape, give_or_take
from geartrack.spread.band import chance, effective, percentiles, quantiles
from geartrack.spread.budget import TOGETHER, budget
from geartrack.spread.draws import SETS, Correlation, draw

ONES = np.ones(8192)


def test_limits_hold_what_they_say():
    """Closed forms: a normal's limits hold 95.45 %, a one-sided one's limit 95.45 %, a uniform's all."""
    inputs = {
        "normal": give_or_take(5.0, 1.0),
        "one-sided": Quantity(0.0, 0.0, 1.5),
        "other side": Quantity(0.0, -1.5, 0.0),
        "uniform": Quantity(2.0, 1.0, 3.0, Origin.TYPED, "", Shape.UNIFORM),
        "uneven": Quantity(0.0, -1.0, 3.0),
        "exact": give_or_take(7.0, 0.0),
    }
    values = draw(inputs)
    assert "exact" not in values
    assert chance(np.abs(values["normal"] - 5) < 1, ONES) == pytest.approx(0.9545, abs=2e-3)
    assert chance(values["one-sided"] < 1.5, ONES) == pytest.approx(0.9545, abs=2e-3)
    assert values["one-sided"].min() >= 0
    assert values["other side"].max() <= 0
    assert 1.0 <= values["uniform"].min() < 1.01
    assert values["uniform"].mean() == pytest.approx(2.0, abs=1e-3)
    # Two half normals, each as likely as it is wide: a quarter below the value.
    assert chance(values["uneven"] < 0, ONES) == pytest.approx(0.25, abs=2e-3)


def test_the_same_seed_draws_the_same_and_another_does_not():
    inputs = {"a": give_or_take(0.0, 1.0)}
    same, again, other = (draw(inputs, seed=seed)["a"] for seed in (1, 1, 2))
    assert np.array_equal(same, again)
    assert not np.array_equal(same, other)


def test_sets_are_independent_so_that_their_scatter_is_the_error():
    """Between seeds, ends scatter by about what one run says of itself."""
    inputs = {"a": give_or_take(0.0, 1.0), "b": give_or_take(0.0, 1.0)}
    runs = [percentiles(v["a"] * v["b"], ONES) for v in (draw(inputs, seed=s) for s in range(24))]
    scatter, said = np.std([r.low for r in runs]), np.mean([r.low_error for r in runs])
    assert 0.5 < scatter / said < 2.0
    first = draw(inputs)["a"].reshape(SETS, -1)
    assert not np.allclose(np.sort(first[0]), np.sort(first[1]))


@pytest.mark.parametrize(
    ("count", "seed", "said"),
    [(1000, 1, "power of two"), (128, 1, "power of two"), (2**21, 1, "power"), (512, -1, "seed")],
)
def test_counts_and_seeds_out_of_range_are_refused(count, seed, said):
    with pytest.raises(InputError, match=said):
        draw({"a": give_or_take(0.0, 1.0)}, count=count, seed=seed)


def test_impossible_correlations_are_refused():
    inputs = {name: give_or_take(0.0, 1.0) for name in "abc"}
    with pytest.raises(InputError, match="-1 to 1"):
        draw(inputs, correlations=(Correlation("a", "b", 1.5),))
    three = (Correlation("a", "b", 0.9), Correlation("b", "c", 0.9), Correlation("a", "c", -0.9))
    with pytest.raises(InputError, match="cannot all hold"):
        draw(inputs, correlations=three)


def test_full_correlation_makes_two_inputs_one():
    values = draw({name: give_or_take(0.0, 1.0) for name in "ab"}, correlations=(Correlation("a", "b", 1.0),))
    assert values["a"] == pytest.approx(values["b"], abs=1e-6)


def test_weighted_quantiles_match_repeated_values():
    """Closed form: a weight of three is the value three times."""
    values, weights = np.array([1.0, 2.0, 3.0, 4.0]), np.array([1.0, 3.0, 3.0, 1.0])
    middle = quantiles(values, weights, np.array([0.5]))[0]
    assert middle == pytest.approx(2.5)
    assert effective(weights) == pytest.approx(64 / 20)


def test_the_budget_of_a_sum_is_its_squares():
    """Closed form: var(2a + b) = 4 + 1; independent inputs, no joint effect."""
    values = draw({"a": give_or_take(0.0, 2.0), "b": give_or_take(0.0, 2.0)})
    parts = {p.name: p.share for p in budget(values, 2 * values["a"] + values["b"], ONES)}
    assert parts["a"] == pytest.approx(0.8, abs=0.002)
    assert parts["b"] == pytest.approx(0.2, abs=0.002)
    assert parts[TOGETHER] == pytest.approx(0.0, abs=1e-6)


def test_the_budget_of_correlated_inputs_shares_what_they_share():
    """Closed form: var(a + b) = 2 + 2 r, of which each input's covariance with the sum is 1 + r."""
    values = draw(
        {"a": give_or_take(0.0, 2.0), "b": give_or_take(0.0, 2.0)}, correlations=(Correlation("a", "b", -0.6),)
    )
    parts = {p.name: p.share for p in budget(values, values["a"] + 2 * values["b"], ONES)}
    variance = 1 + 4 - 2 * 2 * 0.6
    assert parts["a"] == pytest.approx((1 - 1.2) / variance, abs=0.01)
    assert parts["b"] == pytest.approx((4 - 1.2) / variance, abs=0.01)


def test_a_product_is_made_together():
    """Closed form: a product of two centred inputs has no first-order part."""
    values = draw({"a": give_or_take(0.0, 2.0), "b": give_or_take(0.0, 2.0)})
    parts = {p.name: p.share for p in budget(values, values["a"] * values["b"], ONES)}
    assert parts[TOGETHER] == pytest.approx(1.0, abs=0.02)
    assert budget(values, np.full(8192, 3.0), ONES) == ()
