"""What lines come to: the minimum charge, tax, rounding, and what 10, 50 and 90 of 100 such jobs stay within."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from geartrack.currencies import smallest
from geartrack.quote.given import Rates
from geartrack.quote.hours import minimum, rate_of, up_to_minimum
from geartrack.quote.model import Chances, Line, Sums
from geartrack.quote.pert import Moments, Way, moments, percentile, summed
from geartrack.quote.three import NOTHING, Three, fixed, total_of, up_to_step

LEVELS = (0.10, 0.50, 0.90)
WHOLE = Decimal(1)


@dataclass(frozen=True)
class Counting:
    """How a shop counts: rate, least hours, tax as a share, smallest sum of the currency, step that totals go up to."""

    rate: Three
    least_hours: Decimal
    tax: Decimal
    unit: Decimal
    step: Decimal

    @classmethod
    def of(cls, rates: Rates) -> Counting:
        """How the shop of these rates counts."""
        unit = smallest(rates.currency)
        tax = (rates.tax_percent or Decimal(0)) / 100
        return cls(rate_of(rates)[0], minimum(rates)[0], tax, unit, max(rates.round_to or unit, unit))

    def up(self, value: Decimal, least_step: Decimal = Decimal(0)) -> Decimal:
        """A sum as it is charged: up to the next step, with the currency's decimals."""
        return up_to_step(value, max(self.step, least_step)).quantize(self.unit)

    def taxed(self, net: Three) -> tuple[Three, Three]:
        """The tax on a sum, and what rounding up adds to both together."""
        tax = net.times(fixed(self.tax)).rounded(self.unit)
        return tax, (net + tax).rounded_up(self.step) - net - tax


def sums(name: str, lines: Sequence[Line], count: Counting) -> Sums:
    """What these lines come to, and what 90 of 100 such jobs stay within as the most that is charged."""
    labour = [line for line in lines if line.hours is not None]
    hours = total_of(line.hours for line in labour if line.hours)
    least = fixed(count.least_hours).times(count.rate).rounded(count.unit)
    missing = least - total_of(line.money for line in labour)
    top_up = missing.at_least(Decimal(0).quantize(count.unit)) if labour else NOTHING
    money = total_of(line.money for line in lines)
    net = money + top_up
    tax, rounding = count.taxed(net)
    charged = hours + up_to_minimum(hours, count.least_hours) if labour else hours
    total = net + tax + rounding
    chances = chances_of([Way(Decimal(1), sum_of(lines, count), total.low, total.high)], count)
    ceiling = count.up(chances.p90, WHOLE)
    return Sums(name, charged, money, top_up, net, tax, rounding, total, chances, ceiling)


def sum_of(lines: Sequence[Line], count: Counting) -> Moments:
    """Mean and variance of what the lines come to, minimum charge and tax included; rate and hours both uncertain."""
    labour = summed((line.together, line.hours) for line in lines if line.hours is not None)
    fees = summed((line.together, line.money) for line in lines if line.hours is None)
    if any(line.hours is not None for line in lines):
        labour = labour.at_least(count.least_hours).times(moments(count.rate))
    return (labour + fees).scaled(1 + count.tax)


def chances_of(ways: Sequence[Way], count: Counting) -> Chances:
    """Over the ways a job may go, by their chances; each counted up as a total is."""
    low, high = min(way.low for way in ways), max(way.high for way in ways)
    ends = [min(max(count.up(percentile(ways, level)), low), high) for level in LEVELS]
    mean = sum((way.chance * min(max(way.sum.mean, way.low), way.high) for way in ways), start=Decimal(0))
    return Chances(ends[0], ends[1], ends[2], mean.quantize(count.unit))
