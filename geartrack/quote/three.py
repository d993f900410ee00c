"""Low, likely and high, in Decimal: what every line of a quote is made of."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import ROUND_CEILING, ROUND_HALF_UP, Decimal


@dataclass(frozen=True)
class Three:
    """A low, a likely and a high value: hours, or money in the quote's currency."""

    low: Decimal
    likely: Decimal
    high: Decimal

    def __add__(self, other: Three) -> Three:
        return Three(self.low + other.low, self.likely + other.likely, self.high + other.high)

    def __sub__(self, other: Three) -> Three:
        return Three(self.low - other.low, self.likely - other.likely, self.high - other.high)

    def times(self, other: Three) -> Three:
        """Each by each: hours by rate, say."""
        return Three(self.low * other.low, self.likely * other.likely, self.high * other.high)

    def at_least(self, floor: Decimal) -> Three:
        """Each no less than the floor."""
        return Three(max(self.low, floor), max(self.likely, floor), max(self.high, floor))

    def rounded(self, step: Decimal) -> Three:
        """Each to the nearest multiple of the step, halves up."""
        return Three(*(to_step(value, step) for value in self.values))

    def rounded_up(self, step: Decimal) -> Three:
        """Each to the next multiple of the step."""
        return Three(*(up_to_step(value, step) for value in self.values))

    @property
    def values(self) -> tuple[Decimal, Decimal, Decimal]:
        """Low, likely, high in that order."""
        return self.low, self.likely, self.high

    @property
    def rises(self) -> bool:
        """Whether low is no more than likely, and likely no more than high."""
        return self.low <= self.likely <= self.high


def shown(value: Three, unit: Decimal) -> Three:
    """The same values, with the decimals of a unit where they are whole multiples of it: 68.0 as 68.00."""
    return Three(*(each.quantize(unit) if not each % unit else each for each in value.values))


NOTHING = Three(Decimal(0), Decimal(0), Decimal(0))


def three(low: str | int | float, likely: str | int | float, high: str | int | float) -> Three:
    """Three values as Decimal, floats to four places; low, likely, high in the caller's own unit [any].

    >>> three(0, "0.5", 1).likely
    Decimal('0.5')
    """
    return Three(*(Decimal(str(round(v, 4) if isinstance(v, float) else v)) for v in (low, likely, high)))


def fixed(value: Decimal) -> Three:
    """One value for all three."""
    return Three(value, value, value)


def total_of(values: Iterable[Three]) -> Three:
    """Low to lows, likely to likelies, high to highs."""
    return sum(values, start=NOTHING)


def to_step(value: Decimal, step: Decimal) -> Decimal:
    """The nearest multiple of a step, halves up, with the step's decimals.

    >>> to_step(Decimal("1.005"), Decimal("0.01")), to_step(Decimal("12.4"), Decimal("5"))
    (Decimal('1.01'), Decimal('10'))
    """
    return ((value / step).quantize(Decimal(1), ROUND_HALF_UP) * step).quantize(step)


def up_to_step(value: Decimal, step: Decimal) -> Decimal:
    """The next multiple of a step, with the step's decimals.

    >>> up_to_step(Decimal("12.01"), Decimal("5")), up_to_step(Decimal("10.00"), Decimal("5"))
    (Decimal('15'), Decimal('10'))
    """
    return ((value / step).quantize(Decimal(1), ROUND_CEILING) * step).quantize(step)
