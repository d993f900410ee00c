"""The `if found` lines as options: what each adds, its chance, and the customer's answer, asked for before teardown."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

from geartrack.quote.given import Need, Rates
from geartrack.quote.model import Line, Option, Sums
from geartrack.quote.sums import Counting
from geartrack.quote.terms import chance_words

GRIND = "If the teeth come nearer to the boss than wanted: grind it, with all that belongs to it."
LATE = "Comes on top if the check before assembly is left out and the teeth are found too near afterwards."
LATE_AGAIN = "If the gap still reads short when the axle is built up; the fits between passes are there to prevent it."


def options(
    lines: Sequence[Line], both: tuple[Sums, Sums | None], need: Need, rates: Rates, count: Counting
) -> Iterator[Option]:
    """Grinding where it may not be needed, and what finding it after assembly adds; sums of both ways of the job."""
    for option in _bare(lines, both, need, count):
        chance = option.chance
        expected = None if chance is None else (chance * option.total.likely).quantize(count.unit)
        answer = rates.if_found.get(option.key)
        yield replace(option, chance_words=chance_words(chance), expected=expected, answer=answer)


def _bare(lines: Sequence[Line], both: tuple[Sums, Sums | None], need: Need, count: Counting) -> Iterator[Option]:
    checks, grinding = both
    planned = need.stands == "planned"
    if grinding and not planned:
        counted = any(line.counted for line in lines if line.group == "grinding")
        adds, hours = grinding.total - checks.total, grinding.hours - checks.hours
        yield Option("grind", "If found before assembly: grind the boss", GRIND, hours, adds, counted, need.chance)
    for line in lines:
        if line.group == "option" and line.hours is not None:
            tax, rounding = count.taxed(line.money)
            total, says = line.money + tax + rounding, LATE_AGAIN if planned else LATE
            yield Option(line.key, line.name, says, line.hours, total, False, None if planned else need.chance)
