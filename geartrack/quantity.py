"""A number with its spread and where it came from; inputs and results carry these, formulas take plain floats."""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import StrEnum

from geartrack.errors import refuse


class Origin(StrEnum):
    """Where a value came from."""

    MEASURED = "measured"
    PUBLISHED = "published"
    TYPED = "typed"
    DEFAULT = "default"


class Shape(StrEnum):
    """How a value spreads between its limits; a normal one's limits are its 95 % points (2-sigma)."""

    NORMAL = "normal"
    UNIFORM = "uniform"


@dataclass(frozen=True)
class Quantity:
    """A value between two limits, in millimetres, radians or plain numbers.

    value, low, high: the value and its 95 % limits (for UNIFORM: its hard limits), low <= value <= high [any];
        a one-sided input has low == value or high == value.
    origin: measured, published, typed or default.
    source: the tool, the publication, 'common practice, no source' or 'from memory'.
    """

    value: float
    low: float
    high: float
    origin: Origin = Origin.TYPED
    source: str = ""
    shape: Shape = Shape.NORMAL

    def __post_init__(self) -> None:
        if not self.low <= self.value <= self.high:  # also false for NaN
            raise refuse("", f"{self.value} does not lie between its limits {self.low} and {self.high}")

    @property
    def spread(self) -> float:
        """Half the distance between the limits."""
        return (self.high - self.low) / 2

    @property
    def reach(self) -> float:
        """The further limit's distance from the value: what a one-sided input counts as where both sides matter."""
        return max(self.high - self.value, self.value - self.low)

    def at(self, value: float) -> Quantity:
        """The same origin and spread about another value [any]."""
        return replace(self, value=value, low=value - (self.value - self.low), high=value + (self.high - self.value))


def give_or_take(value: float, spread: float, origin: Origin = Origin.TYPED, source: str = "") -> Quantity:
    """A value [any] with a spread [any] to both sides (2-sigma).

    >>> give_or_take(5.0, 0.5).high
    5.5
    """
    return Quantity(value, value - spread, value + spread, origin, source)
