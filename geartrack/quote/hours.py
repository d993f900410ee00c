"""The lines of a quote, from the work that a result found: hours and fees, low, likely and high, with their origin."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from decimal import Decimal
from math import ceil
from types import MappingProxyType

from geartrack.currencies import smallest
from geartrack.materials import FACTS
from geartrack.quote.given import Own, Rates, Work
from geartrack.quote.model import Group, Line
from geartrack.quote.three import NOTHING, Three, fixed, three
from geartrack.units import MM_PER_IN

PASS_MM = 0.010 * MM_PER_IN  # deepest pass before the gears are fitted again: common practice, no source
HUNDREDTH = Decimal("0.01")
DEFAULT = "default, from memory"
RATE_ORIGIN = "default, published web figures (110 to 170 an hour, US dollars)"
DOLLARS = "USD"
RATE, CONSUMABLES = three(110, 140, 170), three(15, 25, 40)  # US dollars; published web figures, and from memory
CONSUMABLES_SHARE = three("0.05", "0.075", "0.10")  # of the grinding's labour: published web figure
MINIMUM_HOURS = Decimal("1.0")  # common practice, no source
FEWEST_FITS = (2, 2, 3)  # 2 to 4 fits for a relief, from memory


@dataclass(frozen=True)
class Task:
    """A line of labour: its name, its default hours, when it is done; `owed` although the case fails its checks."""

    name: str
    hours: Three
    group: Group
    owed: bool = False
    together: str = ""


TASKS: Mapping[str, Task] = MappingProxyType(
    {
        # No labour guide lists the boss relief; all hours from memory.
        "fit": Task("Fit the gears and read the gap", three("0.2", "0.3", "0.5"), "checks", owed=True),
        "strip": Task("Strip to the bare case", three("0.5", "0.8", "1.2"), "checks", owed=True),
        "bare": Task(
            "Bare case: bearings, cups, pilot and seal out or bagged", three("0.2", "0.3", "0.5"), "grinding", owed=True
        ),
        "crack_before": Task("Crack check before", three("0.15", "0.20", "0.25"), "grinding", owed=True),
        "template": Task("Dye, template and marking out", three("0.2", "0.3", "0.4"), "grinding"),
        "cut": Task("Cutting", NOTHING, "grinding", together="cut"),
        "fit_cycle": Task("Fit and check between passes", three("0.10", "0.15", "0.25"), "grinding", together="cut"),
        "blend": Task("Blend and finish", three("0.1", "0.2", "0.3"), "grinding"),
        "crack_after": Task("Crack check after", three("0.15", "0.20", "0.25"), "grinding"),
        "wash": Task("Wash, and wash again", three("0.2", "0.3", "0.4"), "grinding"),
        "late": Task(
            "If found after assembly: strip, wash, backlash and pattern again", three("1.5", "2.2", "3.0"), "option"
        ),
    }
)
HOURS_KEYS = tuple(key for key in TASKS if key != "cut")
"""Lines whose hours a shop may give; those of `fit_cycle` are of one fit. The cut's follow from `removal_g_min`."""


def rate_of(rates: Rates) -> tuple[Three, str]:
    """An hour's labour and its origin."""
    return (rates.rate.value, rates.rate.origin) if rates.rate else (RATE, RATE_ORIGIN)


def lines(work: Work, rates: Rates) -> tuple[Line, ...]:
    """Every line in the order of the work, the grinding as if it were done; nothing to grind leaves the checks."""
    unit = smallest(rates.currency)
    return tuple(replace(line, money=line.money.rounded(unit)) for line in _lines(work, rates))


def _lines(work: Work, rates: Rates) -> Iterator[Line]:
    rate, _ = rate_of(rates)
    grinds = work.mass_g[2] > 0
    labour = []
    for key, task in TASKS.items():
        if (task.group == "grinding" and not grinds) or key not in _wanted(rates) or task.group == "option":
            continue
        hours, origin = _hours(key, work, rates)
        labour.append(_labour(key, hours, origin, rate))
    yield from labour
    yield from _fees(grinds, rates, labour)
    if grinds:
        yield _labour("late", *_given("late", rates), rate)


def likely_mass(work: Work) -> tuple[float, float, float]:
    """Low, likely and high mass [g] if the boss is ground at all: half of the most where none was likely."""
    low, likely, high = work.mass_g
    return low, likely if likely > 0 else high / 2, high


def _wanted(rates: Rates) -> set[str]:
    leave_out = {"strip"} if rates.arrives == "bare case" else {"bare"}
    return set(TASKS) - leave_out - ({"crack_before", "crack_after"} if rates.crack_check_fee else set())


def _hours(key: str, work: Work, rates: Rates) -> tuple[Three, str]:
    if key == "cut":
        return _cutting(work, rates)
    hours, origin = _given(key, rates)
    if key != "fit_cycle":
        return hours, origin
    count, from_where = passes(work)
    return hours.times(three(*count)), f"{_counted(count)} {from_where}, each {origin}"


def _counted(count: tuple[int, int, int]) -> str:
    return f"{count[0]} to {count[2]} fits" if count[0] != count[2] else f"{count[0]} fits"


def passes(work: Work) -> tuple[tuple[int, int, int], str]:
    """Low, likely and high number of passes, each with a fit, and where the number comes from."""
    if work.passes:
        return work.passes, "by the plan of passes"
    depths = (work.depth_mm[0], work.depth_mm[1] or work.depth_mm[2] / 2, work.depth_mm[2])
    low, likely, high = (max(least, ceil(deep / PASS_MM)) for deep, least in zip(depths, FEWEST_FITS, strict=True))
    return (low, likely, high), "by the depth of the cut"


def _cutting(work: Work, rates: Rates) -> tuple[Three, str]:
    """Mass over what is taken off by hand in a minute; the least mass at the quickest, the most at the slowest."""
    facts = FACTS[work.material]
    own = rates.removal_g_min
    slow, likely, quick = own.value.values if own else three(*facts.removal_g_min).values
    masses = three(*likely_mass(work))
    minutes = Three(masses.low / quick, masses.likely / likely, masses.high / slow)
    origin = own.origin if own else f"default, {facts.removal_source}"
    hours = Three(minutes.low / 60, minutes.likely / 60, minutes.high / 60)
    return hours, f"result: mass over {slow:f} to {quick:f} g a minute ({origin})"


def _given(key: str, rates: Rates) -> tuple[Three, str]:
    own = rates.hours.get(key)
    return (own.value, own.origin) if own else (TASKS[key].hours, DEFAULT)


def _labour(key: str, hours: Three, origin: str, rate: Three) -> Line:
    task, rounded = TASKS[key], hours.rounded(HUNDREDTH)
    return Line(task.name, rounded, rounded.times(rate), origin, True, key, task.group, task.owed, task.together)


def _fees(grinds: bool, rates: Rates, labour: list[Line]) -> Iterator[Line]:
    for each in rates.sublets:
        if each.when == "always":
            yield _fee(each.name, Own(each.fee, each.origin), "sublet", "checks", owed=True)
    if not grinds:
        return
    if rates.crack_check_fee:
        yield _fee("Crack check before, sent out", rates.crack_check_fee, "crack_before", "grinding", owed=True)
        yield _fee("Crack check after, sent out", rates.crack_check_fee, "crack_after", "grinding")
    yield _fee("Burr, blueing, solvent", rates.consumables or _usual(rates, labour), "consumables", "grinding")
    for each in rates.sublets:
        if each.when == "if ground":
            yield _fee(each.name, Own(each.fee, each.origin), "sublet", "grinding")


def _usual(rates: Rates, labour: list[Line]) -> Own:
    if rates.currency == DOLLARS:
        return Own(CONSUMABLES, DEFAULT)
    ground = sum((line.money for line in labour if line.group == "grinding"), start=NOTHING)
    return Own(ground.times(CONSUMABLES_SHARE), "default, 5 to 10 % of the grinding's labour")


def _fee(name: str, own: Own, key: str, group: Group, *, owed: bool = False) -> Line:
    return Line(name, None, own.value, own.origin, True, key, group, owed)


def minimum(rates: Rates) -> tuple[Decimal, str]:
    """The least hours charged and where they come from."""
    own = rates.minimum_hours
    return (own.value.likely, own.origin) if own else (MINIMUM_HOURS, "default, common practice")


def up_to_minimum(hours: Three, least: Decimal) -> Three:
    """What is missing to the least hours charged; worked on rounded hours, so that these never fall under it."""
    return Three(*(max(Decimal(0), each) for each in (fixed(least) - hours).values))
