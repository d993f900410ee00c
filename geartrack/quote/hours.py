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
from geartrack.quote.three import NOTHING, Three, fixed, shown, three, to_step
from geartrack.units import MM_PER_IN

PASS_MM = 0.010 * MM_PER_IN  # deepest pass before the gears are fitted again: common practice, no source
HUNDREDTH = Decimal("0.01")
DEFAULT, MEMORY = "default", "from memory"
RATE_ORIGIN = "default, published web figures"
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
    value, origin = (rates.rate.value, rates.rate.origin) if rates.rate else (RATE, RATE_ORIGIN)
    return shown(value, smallest(rates.currency)), origin


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
        labour.append(_labour(key, _hours(key, work, rates), rate))
    yield from labour
    yield from _fees(grinds, rates, labour)
    if grinds:
        yield _labour("late", _given("late", rates), rate)


def likely_mass(work: Work) -> tuple[float, float, float]:
    """Low, likely and high mass [g] if the boss is ground at all: half of the most where none was likely."""
    low, likely, high = work.mass_g
    return low, likely if likely > 0 else high / 2, high


def _wanted(rates: Rates) -> set[str]:
    leave_out = {"strip"} if rates.arrives == "bare case" else {"bare"}
    return set(TASKS) - leave_out - ({"crack_before", "crack_after"} if rates.crack_check_fee else set())


def _hours(key: str, work: Work, rates: Rates) -> tuple[Three, str, str]:
    """A line's hours, their origin and what they rest on."""
    if key == "cut":
        return _cutting(work, rates)
    hours, origin, basis = _given(key, rates)
    if key != "fit_cycle":
        return hours, origin, basis
    (low, likely, high), how = passes(work)
    fits = f"{low} to {high} fits" if low != high else f"{low} fits"
    return hours.times(three(low, likely, high)), f"result, {origin}", f"{fits} {how}"


def passes(work: Work) -> tuple[tuple[int, int, int], str]:
    """Low, likely and high number of passes, each with a fit, and where the number comes from."""
    if work.passes:
        return work.passes, "by the plan of passes"
    depths = (work.depth_mm[0], work.depth_mm[1] or work.depth_mm[2] / 2, work.depth_mm[2])
    low, likely, high = (max(least, ceil(deep / PASS_MM)) for deep, least in zip(depths, FEWEST_FITS, strict=True))
    return (low, likely, high), "by the depth of the cut"


def _cutting(work: Work, rates: Rates) -> tuple[Three, str, str]:
    """Mass over what is taken off by hand in a minute; the least mass at the quickest, the most at the slowest."""
    facts, own = FACTS[work.material], rates.removal_g_min
    slow, likely, quick = own.value.values if own else three(*facts.removal_g_min).values
    masses = three(*likely_mass(work))
    minutes = Three(masses.low / quick, masses.likely / likely, masses.high / slow)
    hours = Three(*(to_step(each / 60, HUNDREDTH) or (HUNDREDTH if each else each) for each in minutes.values))
    said = "" if own else f", {facts.removal_source}"
    origin = f"result, {own.origin if own else DEFAULT}"
    return hours, origin, f"mass over {slow:f} to {quick:f} g a minute{said}"


def _given(key: str, rates: Rates) -> tuple[Three, str, str]:
    own = rates.hours.get(key)
    return (own.value, own.origin, "") if own else (TASKS[key].hours, DEFAULT, MEMORY)


def _labour(key: str, figures: tuple[Three, str, str], rate: Three) -> Line:
    task, (hours, origin, basis) = TASKS[key], figures
    hours = hours.rounded(HUNDREDTH)
    return Line(task.name, hours, hours.times(rate), origin, basis, True, key, task.group, task.owed, task.together)


def _fees(grinds: bool, rates: Rates, labour: list[Line]) -> Iterator[Line]:
    for each in rates.sublets:
        if each.when == "always":
            yield _fee(each.name, Own(each.fee, each.origin), "sublet", "checks", owed=True)
    if not grinds:
        return
    if rates.crack_check_fee:
        yield _fee("Crack check before, sent out", rates.crack_check_fee, "crack_before", "grinding", owed=True)
        yield _fee("Crack check after, sent out", rates.crack_check_fee, "crack_after", "grinding")
    own, basis = _usual(rates, labour)
    yield _fee("Burr, blueing, solvent", own, "consumables", "grinding", basis=basis)
    for each in rates.sublets:
        if each.when == "if ground":
            yield _fee(each.name, Own(each.fee, each.origin), "sublet", "grinding")


def _usual(rates: Rates, labour: list[Line]) -> tuple[Own, str]:
    if rates.consumables:
        return rates.consumables, ""
    if rates.currency == DOLLARS:
        return Own(CONSUMABLES, DEFAULT), MEMORY
    ground = sum((line.money for line in labour if line.group == "grinding"), start=NOTHING)
    return Own(ground.times(CONSUMABLES_SHARE), DEFAULT), "5 to 10 % of the grinding's labour"


def _fee(name: str, own: Own, key: str, group: Group, *, owed: bool = False, basis: str = "") -> Line:
    return Line(name, None, own.value, own.origin, basis, True, key, group, owed)


def minimum(rates: Rates) -> tuple[Decimal, str]:
    """The least hours charged and where they come from."""
    own = rates.minimum_hours
    return (own.value.likely, own.origin) if own else (MINIMUM_HOURS, "default, common practice, no source")


def up_to_minimum(hours: Three, least: Decimal) -> Three:
    """What is missing to the least hours charged; worked on rounded hours, so that these never fall under it."""
    return Three(*(max(Decimal(0), each) for each in (fixed(least) - hours).values))
