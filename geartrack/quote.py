"""The first quote: hours and money as low, likely and high, from results only, in Decimal, defaults labelled."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal
from math import ceil

from geartrack.materials import FACTS, Material
from geartrack.units import MM_PER_IN

CENT = Decimal("0.01")
PASS_MM = 0.010 * MM_PER_IN  # deepest pass before the gears are fitted again: common practice, no source


@dataclass(frozen=True)
class Three:
    """A low, a likely and a high value."""

    low: Decimal
    likely: Decimal
    high: Decimal

    def __add__(self, other: Three) -> Three:
        return Three(self.low + other.low, self.likely + other.likely, self.high + other.high)

    def times(self, other: Three) -> Three:
        """Each by each: hours by rate, say."""
        return Three(self.low * other.low, self.likely * other.likely, self.high * other.high)

    def at_least(self, floor: Decimal) -> Three:
        """Each no less than the floor."""
        return Three(max(self.low, floor), max(self.likely, floor), max(self.high, floor))

    def rounded(self) -> Three:
        """To the cent, halves up."""
        return Three(*(v.quantize(CENT, ROUND_HALF_UP) for v in (self.low, self.likely, self.high)))


def three(low: str | int | float, likely: str | int | float, high: str | int | float) -> Three:
    """Three values as Decimal, floats to four places; low, likely, high in the caller's own unit [any].

    >>> three(0, "0.5", 1).likely
    Decimal('0.5')
    """
    return Three(*(Decimal(str(round(v, 4) if isinstance(v, float) else v)) for v in (low, likely, high)))


@dataclass(frozen=True)
class Line:
    """One line of the quote: hours or money, where the figures come from, and whether the total holds it."""

    name: str
    hours: Three | None
    money: Three
    origin: str
    counted: bool = True


@dataclass(frozen=True)
class Rates:
    """A shop's own figures; None means the labelled default is used. Money in `currency`."""

    currency: str = "USD"
    rate: Decimal | None = None
    consumables: Decimal | None = None
    crack_check_fee: Decimal | None = None
    minimum_hours: Decimal | None = None
    tax_percent: Decimal | None = None


@dataclass(frozen=True)
class Work:
    """What the result says there is to do: low, likely and high mass [g] and depth [mm] of the cut, and the metal.

    A low end of zero says that the gap may already hold the target.
    """

    mass_g: tuple[float, float, float]
    depth_mm: tuple[float, float, float]
    material: Material


@dataclass(frozen=True)
class Quote:
    """Lines and totals; `late` is what finding it after assembly adds, outside the total."""

    currency: str
    rate: Three
    rate_origin: str
    lines: tuple[Line, ...]
    hours: Three
    net: Three
    tax: Three
    total: Three
    notes: tuple[str, ...]


NONE = three(0, 0, 0)
# Hours: no labour guide lists the boss relief; all from memory, each line a default.
BARE = three("0.2", "0.3", "0.5")
TEMPLATE = three("0.2", "0.3", "0.4")
FIT_CYCLE = three("0.10", "0.15", "0.25")
BLEND = three("0.1", "0.2", "0.3")
CRACK = three("0.3", "0.4", "0.5")
WASH = three("0.2", "0.3", "0.4")
GAP_CHECK = three("0.2", "0.3", "0.5")
LATE = three("1.5", "2.2", "3.0")
RATE = three(110, 140, 170)
CONSUMABLES = three(15, 25, 40)
MINIMUM_HOURS = Decimal("1.0")
DEFAULT_ORIGIN = "default, from memory"


def quote(work: Work, rates: Rates) -> Quote:
    """Price the relief that a result calls for; see Work and Rates for the units."""
    rate = _fixed(rates.rate) or RATE
    labour = [
        _labour(name, hours, origin, rate) for name, hours, origin in _hours(work, rates.crack_check_fee is not None)
    ]
    cuts = work.mass_g[2] > 0
    minimum = MINIMUM_HOURS if rates.minimum_hours is None else rates.minimum_hours
    counted = _sum(line.hours for line in labour if line.hours)
    short = _difference(counted.at_least(minimum), counted)
    if short.high > 0 or short.likely > 0 or short.low > 0:
        origin = DEFAULT_ORIGIN if rates.minimum_hours is None else "typed"
        labour.append(_labour("Up to the minimum charge", short, f"minimum {minimum} h, {origin}", rate))
    extras = []
    if cuts:
        consumables = _fixed(rates.consumables)
        extras.append(
            Line(
                "Burr, blueing, solvent",
                None,
                (consumables or CONSUMABLES).rounded(),
                "typed" if consumables else DEFAULT_ORIGIN,
            )
        )
    if cuts and rates.crack_check_fee:
        extras.append(Line("Crack check, sent out", None, (_fixed(rates.crack_check_fee) or NONE).rounded(), "typed"))
    late = _labour(
        "If found after assembly: strip, wash, backlash and pattern again", LATE, DEFAULT_ORIGIN, rate, False
    )
    net = _sum(line.money for line in (*labour, *extras))
    tax = net.times(_fixed((rates.tax_percent or Decimal(0)) / 100) or NONE)
    notes = ["Figures marked default are not this shop's: put the shop's own into [shop]."]
    if rates.tax_percent is None:
        notes.append("Before tax: no tax rate was given.")
    return Quote(
        rates.currency,
        rate,
        "typed" if rates.rate is not None else "default, published web figures (110 to 170 an hour)",
        (*labour, *extras, *([late] if cuts else [])),
        _sum(line.hours for line in labour if line.hours),
        net.rounded(),
        tax.rounded(),
        (net + tax).rounded(),
        tuple(notes),
    )


def _hours(work: Work, crack_check_out: bool) -> list[tuple[str, Three, str]]:
    """The labour lines as (name, hours, origin); a low end without cutting costs a gap check only."""
    check = ("Fit the gears and read the gap", GAP_CHECK, DEFAULT_ORIGIN)
    if work.mass_g[2] <= 0:
        return [check]
    slow, likely, fast = FACTS[work.material].removal_g_min
    minutes = (work.mass_g[0] / fast, work.mass_g[1] / likely, work.mass_g[2] / slow)
    cycles = [0 if d <= 0 else max(least, ceil(d / PASS_MM)) for d, least in zip(work.depth_mm, (2, 2, 3), strict=True)]
    touched = three(*(1 if c else 0 for c in cycles))
    removal = f"mass over {slow:g} to {fast:g} g a minute, {FACTS[work.material].removal_source}"
    lines = [
        check,
        ("Bare case: bearings, cups, pilot and seal out or bagged", BARE.times(touched), DEFAULT_ORIGIN),
        ("Dye, template and marking out", TEMPLATE.times(touched), DEFAULT_ORIGIN),
        ("Cutting", three(*(m / 60 for m in minutes)), removal),
        (
            "Fit and check between passes",
            FIT_CYCLE.times(three(*cycles)),
            f"{cycles[0]} to {cycles[2]} fits, from memory",
        ),
        ("Blend and finish", BLEND.times(touched), DEFAULT_ORIGIN),
        ("Wash, and wash again", WASH.times(touched), DEFAULT_ORIGIN),
    ]
    return (
        lines if crack_check_out else [*lines, ("Crack check before and after", CRACK.times(touched), DEFAULT_ORIGIN)]
    )


def _labour(name: str, hours: Three, origin: str, rate: Three, counted: bool = True) -> Line:
    return Line(name, hours, hours.times(rate).rounded(), origin, counted)


def _fixed(value: Decimal | None) -> Three | None:
    return None if value is None else Three(value, value, value)


def _sum(values: Iterable[Three]) -> Three:
    return sum(values, start=NONE)


def _difference(a: Three, b: Three) -> Three:
    return Three(a.low - b.low, a.likely - b.likely, a.high - b.high)
