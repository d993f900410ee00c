"""Heights of the toe tips given readings: the linear case in closed form, a bent one against a reference sampler."""

import numpy as np
import pytest
from scipy.special import ndtr

from geartrack.spread.band import effective, quantiles
from geartrack.spread.heights import Seen, Told, draw_heights, normalised
from geartrack.spread.worth import worth

N = 8192


def scores(columns: int, seed: int = 3) -> np.ndarray:
    return np.random.default_rng(seed).normal(size=(N, columns))


def test_a_linear_case_is_the_closed_form():
    """Height h about a drawn mean, gap h - 20 - b with b unknown, a height told and a gap read: joint normal."""
    b, mean = 0.4 * scores(1, 1)[:, 0], 20 + 0.3 * scores(1, 2)[:, 0]
    told, seen = [Told("plate", (1.0,), 20.2, 0.3)], [Seen("gap", 0, 0.3, 0.05, 0.1, 0.02)]
    heights, log_weight = draw_heights(
        mean[:, None], np.array([0.5]), scores(1), told=told, seen=seen, gaps=[lambda h: h - 20 - b]
    )
    weight = normalised(log_weight)
    prior = np.array([[0.34, 0.0], [0.0, 0.16]])  # of (h, b)
    reads = np.array([[1.0, 0.0], [1.0, -1.0]])
    values, noise = np.array([20.2, 20.2]), np.diag([0.09, 0.05**2 + 0.02**2])
    gain = prior @ reads.T @ np.linalg.inv(reads @ prior @ reads.T + noise)
    expected = np.array([20.0, 0.0]) + gain @ (values - reads @ [20.0, 0.0])
    covariance = prior - gain @ reads @ prior
    drawn = np.stack([heights[:, 0], b])
    assert np.average(drawn, axis=1, weights=weight) == pytest.approx(expected, abs=0.02)
    assert np.cov(drawn, aweights=weight) == pytest.approx(covariance, abs=0.006)
    assert effective(weight) > N / 4


def test_an_old_set_is_tied_to_the_new_one_by_what_was_told():
    """Closed form: new = old + 1.5 +- 0.1 told, and the old gap read to 0.05: the new height follows the old one's."""
    sd, told = np.array([0.5, 0.5]), [Told("heights", (1.0, -1.0), -1.5, 0.1)]
    seen = [Seen("old gap", 1, 2.0, 0.05, 0.0, 0.0)]
    heights, log_weight = draw_heights(
        np.full((N, 2), [23.0, 25.0]), sd, scores(2), told=told, seen=seen, gaps=[lambda h: h, lambda h: h - 22.8]
    )
    weight = normalised(log_weight)
    precision = np.linalg.inv(np.diag(sd**2)) + np.outer([1, -1], [1, -1]) / 0.01 + np.diag([0, 1 / 0.0025])
    expected = np.linalg.solve(
        precision, np.array([23 * 4, 25 * 4.0]) + np.array([1, -1]) * -1.5 / 0.01 + [0, 24.8 / 0.0025]
    )
    assert np.average(heights, axis=0, weights=weight) == pytest.approx(expected, abs=0.01)
    assert np.cov(heights.T, aweights=weight) == pytest.approx(np.linalg.inv(precision), abs=0.001)


def test_nothing_read_changes_nothing():
    heights, log_weight = draw_heights(np.full((N, 1), 20.0), np.array([0.5]), scores(1), told=[], seen=[], gaps=[])
    assert np.ptp(log_weight) == 0
    assert heights[:, 0] == pytest.approx(20 + 0.5 * scores(1)[:, 0])


def bent(height, b):
    """A gap that bends where the nearest place jumps."""
    return np.minimum(height - 20 - b, 0.4 * (height - 19.5) + 0.2 * b)


def test_a_bent_case_agrees_with_a_reference_sampler():
    """emcee, an affine-invariant ensemble sampler, on the same posterior of (height, b)."""
    import emcee

    b, mean = 0.4 * scores(1, 1)[:, 0], np.full(N, 20.5)
    heights, log_weight = draw_heights(
        mean[:, None], np.array([0.6]), scores(1), told=[], seen=[Seen("gap", 0, 0.35, 0.06, 0.0, 0.0)],
        gaps=[lambda h: bent(h, b)],
    )  # fmt: skip
    weight = normalised(log_weight)

    def log_posterior(x):
        return -0.5 * ((x[0] - 20.5) / 0.6) ** 2 - 0.5 * (x[1] / 0.4) ** 2 - 0.5 * ((0.35 - bent(*x)) / 0.06) ** 2

    start = np.random.default_rng(5).normal([20.5, 0.0], 0.1, size=(32, 2))
    sampler = emcee.EnsembleSampler(32, 2, log_posterior)
    sampler.random_state = np.random.RandomState(7).get_state()
    sampler.run_mcmc(start, 3000)
    chain = sampler.get_chain(discard=500, flat=True)
    levels = np.array([0.025, 0.5, 0.975])
    for ours, theirs in ((heights[:, 0], chain[:, 0]), (b, chain[:, 1]), (bent(heights[:, 0], b), bent(*chain.T))):
        # Both are samples: some 5,000 effective draws leave about 0.02 at an end.
        assert quantiles(ours, weight, levels) == pytest.approx(np.quantile(theirs, levels), abs=0.04)


@pytest.mark.parametrize("noise", [0.04, 0.3, 5.0])
def test_the_worth_of_a_reading_of_a_normal_result(noise):
    """Closed form: after reading y = g + noise, var(g) = 1/(1/0.25 + 1/noise^2); wrong words by quadrature."""
    result = 0.2 + 0.5 * scores(1, 1)[:, 0]
    found = worth(result, result + noise * scores(1, 2)[:, 0], np.ones(N), 0.5)
    after = 1.96 / np.sqrt(4 + 1 / noise**2)
    assert found.half_now == pytest.approx(0.98, rel=0.03)
    assert found.half_after == pytest.approx(after, rel=0.04)
    assert found.wrong_now == pytest.approx(0.2743, abs=0.01)
    assert found.wrong_after <= found.wrong_now
    spread_after = after / 1.96
    middle = np.linspace(-3, 3, 20001) * 2
    moves = np.sqrt(0.25 - spread_after**2)
    density = np.exp(-0.5 * ((middle - 0.2) / moves) ** 2)
    likelier_wrong = ndtr(-np.abs(middle - 0.5) / spread_after)
    assert found.wrong_after == pytest.approx(np.average(likelier_wrong, weights=density), abs=0.006)


def test_a_reading_of_something_else_is_worth_nothing():
    found = worth(scores(1, 1)[:, 0], scores(1, 2)[:, 0], np.ones(N), 0.5)
    assert found.half_after == pytest.approx(found.half_now, rel=0.03)
    assert found.settles == 0
