"""Low to high against invented axles whose true gap is known: neither too narrow nor too wide.

Closed form: where draws and truth come from the same spreads, the share of the draws under the truth is evenly spread
from 0 to 1 (probability integral transform; Cook, Gelman and Rubin, J. Comput. Graph. Stat. 15 (2006) 675, from
memory). As normal scores, 24 of them have a sum of squares that is chi-square; bounds at 1 in 10,000 to either side.
The full run, 1,000 axles, is `python tests/bench/coverage.py`.
"""

import numpy as np
import pytest
from invented_shops import SHOPS
from scipy.stats import binom, chi2, norm
from shops_judged import judged

DRAWS, EACH, ONE_IN = 256, 6, 1e-4
KINDS = [
    number
    for number, shop in enumerate(SHOPS)
    if shop.name
    in ("boss read, tooth counts", "ring heights and back face", "gap by feeler", "old gears' gap and two heights")
]


@pytest.fixture(scope="module")
def rows():
    return [judged(kind, 1000 + number, DRAWS) for kind in KINDS for number in range(EACH)]


def scores(rows):
    """Normal scores of the share of the draws under each truth, none nearer to 0 or 1 than half a draw."""
    return norm.ppf(np.clip([row.under for row in rows], 0.5 / DRAWS, 1 - 0.5 / DRAWS))


def test_the_truth_lies_among_the_draws_as_one_of_them(rows):
    low, high = chi2.ppf([ONE_IN, 1 - ONE_IN], len(rows))
    assert low < (scores(rows) ** 2).sum() < high
    assert abs(scores(rows).sum()) < norm.isf(ONE_IN / 2) * len(rows) ** 0.5


def test_draws_half_or_three_times_as_wide_would_be_found_out(rows):
    low, high = chi2.ppf([ONE_IN, 1 - ONE_IN], len(rows))
    assert ((scores(rows) / 0.5) ** 2).sum() > high
    assert ((scores(rows) / 3.0) ** 2).sum() < low


def test_low_to_high_holds_the_truth_and_no_clears_is_wrong_beyond_chance(rows):
    """At 95 % held and 2.5 % wrong, counts beyond these come up once in 10,000 runs."""
    assert sum(row.held for row in rows) >= binom.ppf(ONE_IN, len(rows), 0.95)
    clears = sum(row.clears for row in rows)
    assert clears > 0
    assert sum(row.wrong for row in rows) <= binom.isf(ONE_IN, clears, 0.025)
