"""Sums of uncertain lines: PERT moments, a floor, and the percentiles of two ways a job may go.

A line's mean is (low + 4 likely + high)/6 and its variance ((high - low)/6)^2; lines add up to a normal sum (the usual
three-point estimate of project planning, see tests/validation/test_pert.py for its source).
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from itertools import groupby
from statistics import NormalDist

from geartrack.quote.three import Three, total_of

STANDARD = NormalDist()
_HALVINGS = 60


@dataclass(frozen=True)
class Moments:
    """Mean and variance of an uncertain sum."""

    mean: Decimal
    variance: Decimal

    def __add__(self, other: Moments) -> Moments:
        """Of the sum of two that do not depend on each other."""
        return Moments(self.mean + other.mean, self.variance + other.variance)

    def times(self, other: Moments) -> Moments:
        """Of the product of two that do not depend on each other."""
        both = self.variance * other.variance
        return Moments(self.mean * other.mean, self.mean**2 * other.variance + other.mean**2 * self.variance + both)

    def scaled(self, by: Decimal) -> Moments:
        """Of so many times it."""
        return Moments(self.mean * by, self.variance * by**2)

    def at_least(self, floor: Decimal) -> Moments:
        """Of a normal one that never falls under a floor (Clark 1961, one of the two exact; from memory)."""
        if self.variance == 0:
            return Moments(max(self.mean, floor), self.variance)
        sigma = self.variance.sqrt()
        a = float((floor - self.mean) / sigma)
        under, above, density = (_decimal(v) for v in (STANDARD.cdf(a), STANDARD.cdf(-a), STANDARD.pdf(a)))
        mean = floor * under + self.mean * above + sigma * density
        square = floor**2 * under + (self.mean**2 + self.variance) * above + (self.mean + floor) * sigma * density
        return Moments(mean, max(Decimal(0), square - mean**2))


NONE = Moments(Decimal(0), Decimal(0))


def moments(of: Three) -> Moments:
    """PERT mean and variance of one line.

    >>> moments(Three(Decimal(4), Decimal(5), Decimal(12)))
    Moments(mean=Decimal('6'), variance=Decimal('1.777777777777777777777777778'))
    """
    mean = (of.low + 4 * of.likely + of.high) / 6
    return Moments(mean, (of.high - of.low) ** 2 / 36)


def summed(parts: Iterable[tuple[str, Three]]) -> Moments:
    """Of a sum of named parts; parts of one name (other than "") rise and fall together, so their ends add up."""
    ordered = sorted(parts, key=lambda part: part[0])
    total = NONE
    for name, group in groupby(ordered, key=lambda part: part[0]):
        values = [value for _, value in group]
        total = sum((moments(value) for value in ([total_of(values)] if name else values)), start=total)
    return total


@dataclass(frozen=True)
class Way:
    """One way the job may go: its chance, its sum as a normal one that stays within low and high."""

    chance: Decimal
    sum: Moments
    low: Decimal
    high: Decimal

    def within(self, money: Decimal) -> float:
        """The chance [-] that the sum is no more than this."""
        if money < self.low or money >= self.high:
            return float(money >= self.high)
        if self.sum.variance == 0:
            return float(money >= self.sum.mean)
        return STANDARD.cdf(float((money - self.sum.mean) / self.sum.variance.sqrt()))


def percentile(ways: Sequence[Way], level: float) -> Decimal:
    """The sum that a share `level` [-] of such jobs stays within, over the ways and their chances."""
    likely = [way for way in ways if way.chance > 0]
    low, high = min(way.low for way in likely), max(way.high for way in likely)
    if _within(likely, low) >= level:
        return low
    for _ in range(_HALVINGS):
        middle = (low + high) / 2
        low, high = (low, middle) if _within(likely, middle) >= level else (middle, high)
    return high


def _within(ways: Sequence[Way], money: Decimal) -> float:
    return sum(float(way.chance) * way.within(money) for way in ways)


def _decimal(value: float) -> Decimal:
    return Decimal(repr(value))
