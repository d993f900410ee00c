"""What the shop's own jobs say of its figures: hours taken against hours quoted, gaps read against gaps said.

Proposals only: nothing here changes a default.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import exp, log, sqrt
from statistics import fmean, stdev

from geartrack.shopbook.summary import GapPair, Summary

LEAST = 3
"""Fewer jobs than that propose nothing."""
_TAIL = 0.025


@dataclass(frozen=True)
class Mean:
    """A mean with its 95 % interval by Student's t; low, high: None where one value stands alone.

    mean, low, high: in the unit of what was averaged [any].
    """

    n: int
    mean: float
    low: float | None
    high: float | None

    def leaves_out(self, value: float) -> bool:
        """Whether the value [any] lies outside the interval, so that the mean says something of it."""
        return self.low is not None and self.high is not None and not self.low <= value <= self.high


@dataclass(frozen=True)
class LineHours:
    """A line's hours over the jobs that have both: means of likely quoted and of taken [h].

    factor: taken over quoted, as a mean of the logarithms [-], where neither was zero.
    """

    line: str
    n: int
    quoted_hours: float
    taken_hours: float
    factor: Mean | None

    @property
    def proposes(self) -> bool:
        """Whether there are enough jobs and they agree that the quoted hours are off."""
        return self.factor is not None and self.factor.n >= LEAST and self.factor.leaves_out(1.0)


@dataclass(frozen=True)
class GapBias:
    """Gaps read less gaps said [mm], and in how many jobs the reading lay within low to high."""

    error: Mean
    inside: int

    @property
    def proposes(self) -> bool:
        """Whether there are enough jobs and they agree that the gaps said are off."""
        return self.error.n >= LEAST and self.error.leaves_out(0.0)


@dataclass(frozen=True)
class Learned:
    """All that the book can say of the shop's figures."""

    lines: tuple[LineHours, ...]
    gap: GapBias | None


def learn(jobs: Iterable[Summary]) -> Learned:
    """Hours by line, the line that took most first, and the bias of the gap."""
    jobs = list(jobs)
    return Learned(line_hours(jobs), gap_bias([job.gap for job in jobs if job.gap]))


def line_hours(jobs: Iterable[Summary]) -> tuple[LineHours, ...]:
    """Hours taken against hours quoted, by line, over jobs that have both."""
    pairs: dict[str, list[tuple[float, float]]] = defaultdict(list)
    for job in jobs:
        for line, taken in job.taken.items():
            if line in job.quoted:
                pairs[line].append((job.quoted[line][1], taken))
    found = (_line(line, each) for line, each in pairs.items())
    return tuple(sorted(found, key=lambda each: (-each.n * each.taken_hours, each.line)))


def _line(line: str, pairs: Sequence[tuple[float, float]]) -> LineHours:
    ratios = [log(taken / quoted) for quoted, taken in pairs if quoted > 0 and taken > 0]
    factor = None
    if ratios:
        logs = mean_of(ratios)
        low, high = (None if end is None else exp(end) for end in (logs.low, logs.high))
        factor = Mean(logs.n, exp(logs.mean), low, high)
    return LineHours(line, len(pairs), fmean(q for q, _ in pairs), fmean(t for _, t in pairs), factor)


def gap_bias(pairs: Sequence[GapPair]) -> GapBias | None:
    """The mean of read less said; None where no gap was both said and read."""
    if not pairs:
        return None
    return GapBias(mean_of([pair.error_mm for pair in pairs]), sum(pair.inside for pair in pairs))


def mean_of(values: Sequence[float]) -> Mean:
    """The mean and its 95 % interval, mean +- t s / sqrt(n) (Student 1908; NIST e-Handbook 1.3.5.2); values [any].

    >>> found = mean_of([1.2, 2.4, 1.3, 1.3, 0.0, 1.0, 1.8, 0.8, 4.6, 1.4])
    >>> round(found.mean, 2), round(found.low, 2), round(found.high, 2)
    (1.58, 0.7, 2.46)
    """
    mean, n = fmean(values), len(values)
    if n < 2:
        return Mean(n, mean, None, None)
    from scipy.special import stdtrit

    half = float(stdtrit(n - 1, 1 - _TAIL)) * stdev(values) / sqrt(n)
    return Mean(n, mean, mean - half, mean + half)
