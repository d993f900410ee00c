"""Sums of uncertain lines against published three-point estimates and against a statistics library.

Sources, read on the stored pages:
- [A] An Introduction to Management Science, Cengage 2014, p. 384, Table 9.4 and equations (9.4) and (9.5):
  digilib.universitaspertamina.ac.id/ebook/An%20Introduction%20to%20Management%20Science/files/basic-html/page404.html
- [B] a management science textbook's example problem on project completion (title not on the page):
  flylib.com/books/en/3.287.1.117/1
- [C] an exercise with its answers, studylib.net/doc/26340988/pert-and-cpm
"""

from decimal import Decimal
from itertools import product

import numpy as np
import pytest
from scipy import integrate, optimize, stats

from geartrack.quote.pert import Moments, Way, moments, percentile, summed
from geartrack.quote.three import three

HUNDREDTH = Decimal("0.01")


def hundredth(value):
    return value.quantize(HUNDREDTH)


def test_a_textbooks_activity():
    """[A]: activity A of 4, 5, 12 weeks has an expected time of 6 weeks and a variance of 1.78."""
    found = moments(three(4, 5, 12))
    assert (found.mean, hundredth(found.variance)) == (6, Decimal("1.78"))


def test_a_textbooks_critical_path_and_the_chance_to_be_done_in_time():
    """[B]: activities 1, 3, 5 and 7 follow each other; 24 weeks expected; done within 28 with a chance of 0.9633.

    The chance was looked up for z = 1.79 to two decimals, worth 0.0005 here.
    """
    path = {1: three(5, 8, 17), 3: three(3, 5, 7), 5: three(4, 6, 8), 7: three(3, 4, 5)}
    found = summed(("", each) for each in path.values())
    assert found.mean == 24
    whole = Way(Decimal(1), found, Decimal(15), Decimal(37))
    assert whole.within(Decimal(28)) == pytest.approx(0.9633, abs=0.0005)
    assert float(percentile([whole], 0.9633)) == pytest.approx(28, abs=0.02)


def test_an_exercises_variances():
    """[C]: by activity, and 23.58 as their sum along the path (the page's own list of it, C and all)."""
    ends = {"A": (4, 10), "B": (2, 24), "C": (8, 16), "E": (1, 3), "F": (6, 20), "H": (2, 2), "J": (4, 12), "K": (2, 3)}
    printed = {"A": "1.00", "B": "13.44", "C": "1.78", "E": "0.11", "F": "5.44", "H": "0.00", "J": "1.78", "K": "0.03"}
    lines = {name: three(low, (low + high) / 2, high) for name, (low, high) in ends.items()}
    assert {name: str(hundredth(moments(line).variance)) for name, line in lines.items()} == printed
    assert hundredth(summed(("", line) for line in lines.values()).variance) == Decimal("23.58")


def test_lines_of_one_name_rise_and_fall_together():
    """Closed form: fully dependent lines add their standard deviations, others their variances."""
    line = three(1, 4, 7)
    apart, together = (summed([(name, line), (name, line)]) for name in ("", "cut"))
    assert apart.mean == together.mean
    assert float(apart.variance) == pytest.approx(2 * 1.0)
    assert float(together.variance) == pytest.approx(4 * 1.0)


def test_a_product_of_two_that_do_not_depend_on_each_other():
    """By enumeration of two pairs of equally likely values."""
    first, second = (Decimal(2), Decimal(5)), (Decimal(100), Decimal(180))

    def of(values):
        values = list(values)
        mean = sum(values) / len(values)
        return Moments(mean, sum((value - mean) ** 2 for value in values) / len(values))

    assert of(first).times(of(second)) == of(a * b for a, b in product(first, second))


@pytest.mark.parametrize("floor", ["0.2", "1.0", "1.9", "4"])
def test_a_floor_under_a_normal_sum(floor):
    """Against numerical integration of max(x, floor) over scipy's normal density."""
    normal, least = stats.norm(1.2, 0.5), float(floor)

    def moment(power):
        def at(x):
            return max(x, least) ** power * normal.pdf(x)

        return integrate.quad(at, -4, 7, points=[least], limit=200)[0]

    found = Moments(Decimal("1.2"), Decimal("0.25")).at_least(Decimal(floor))
    assert float(found.mean) == pytest.approx(moment(1), abs=1e-7)
    assert float(found.variance) == pytest.approx(moment(2) - moment(1) ** 2, abs=1e-7)


@pytest.mark.parametrize("chance", ["0.03", "0.3", "0.5", "0.92"])
@pytest.mark.parametrize("level", [0.1, 0.5, 0.9])
def test_percentiles_of_two_ways_the_job_may_go(chance, level):
    """Against the root of scipy's mixture of two normals, whose limits are too far off to matter."""
    share = float(chance)
    ways = [
        Way(1 - Decimal(chance), Moments(Decimal(90), Decimal(25)), Decimal(0), Decimal(1000)),
        Way(Decimal(chance), Moments(Decimal(240), Decimal(400)), Decimal(0), Decimal(1000)),
    ]

    def over(money):
        return (1 - share) * stats.norm.cdf(money, 90, 5) + share * stats.norm.cdf(money, 240, 20) - level

    assert float(percentile(ways, level)) == pytest.approx(optimize.brentq(over, 0, 1000), abs=1e-6)


def test_a_way_stays_within_its_low_and_high():
    """Closed form: mean 10, sd 5, kept to 8 to 12: 34 of 100 lie at 8 and as many at 12, between them the normal."""
    way = Way(Decimal(1), Moments(Decimal(10), Decimal(25)), Decimal(8), Decimal(12))
    assert [way.within(Decimal(money)) for money in ("7.99", "12", "13")] == [0, 1, 1]
    assert way.within(Decimal(8)) == pytest.approx(stats.norm.cdf(-0.4))
    found = [float(percentile([way], level)) for level in (0.1, 0.3, 0.5, 0.6, 0.9)]
    assert found == pytest.approx([8, 8, 10, 10 + 5 * stats.norm.ppf(0.6), 12])


def test_a_normal_sum_stands_in_well_for_lines_that_are_drawn():
    """Lines drawn as PERT's beta (alpha = 1 + 4 (m - a)/(b - a)), 200,000 times: percentiles within 1 % of the sum.

    The beta's variance is not exactly ((b - a)/6)^2, hence the tolerance.
    """
    lines = [three(2, 3, 5), three(1, 2, 4), three(3, 4, 9), three(2, 2.5, 4), three(1, 3, 4), three(2, 4, 5)]
    rng = np.random.default_rng(6)
    drawn = np.zeros(200_000)
    for line in lines:
        low, likely, high = (float(value) for value in line.values)
        alpha = 1 + 4 * (likely - low) / (high - low)
        drawn += low + (high - low) * rng.beta(alpha, 6 - alpha, len(drawn))
    way = Way(Decimal(1), summed(("", line) for line in lines), Decimal(11), Decimal(31))
    for level in (0.1, 0.5, 0.9):
        assert float(percentile([way], level)) == pytest.approx(np.quantile(drawn, level), rel=0.01)
