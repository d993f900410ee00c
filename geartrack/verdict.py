"""The decision, from results only, in the order of DESIGN 6; it never says that a case is sound."""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import StrEnum


class Code(StrEnum):
    """A verdict as JSON has it."""

    CLEARS = "clears"
    NOT_EXPECTED = "not_expected"
    GRIND = "grind"
    HITS = "hits"
    MEASURE = "measure"
    DONT_GRIND = "dont_grind"
    DONT_USE = "dont_use"
    LIKELY = "likely"
    CANT_SAY = "cant_say"


WORDS = {
    Code.CLEARS: "CLEARS THE BOSS",
    Code.NOT_EXPECTED: "NOT EXPECTED",
    Code.GRIND: "GRIND",
    Code.HITS: "HITS - GRIND",
    Code.MEASURE: "MEASURE FIRST",
    Code.DONT_GRIND: "DON'T GRIND THIS CASE",
    Code.DONT_USE: "DON'T USE THIS CASE",
    Code.LIKELY: "LIKELY",
    Code.CANT_SAY: "CAN'T SAY",
}
BY_CHOICE_WORDS = "GRIND BY CHOICE"
WALL_SHORT_WORDS = "WALL SHORT"


@dataclass(frozen=True)
class Facts:
    """What the verdict rests on.

    gap_low_mm, gap_high_mm: ends of the set-up gap, certified bounds included [mm]. target_mm: wanted set-up gap [mm].
    running_low_mm: low end of the running gap [mm]; it is compared with zero, never with the target.
    wall_low_mm: low end of the wall left by the cut that holds the target at the gap's low end [mm].
    wall_high_mm: high end of the wall left by the least cut, at the gap's high end [mm].
    wall_before_mm: thinnest wall now, its low end [mm].
    minimum_wall_mm: the least wall wanted, None where not known [mm].
    ring_placed: the ring was measured, or its place was. this_case: the boss was measured on this very case.
    next_reading: the reading that would settle it, None where no reading would.
    gap_reading_needed: why the readings of the boss are too far apart to decide, or None.
    wall_reading_needed: why the wall cannot be known before it is read, or None.
    cracked_or_welded, bore_fault, aluminium_unsettled: what the case's condition and metal forbid, "" or the reason.
    """

    gap_low_mm: float
    gap_high_mm: float
    target_mm: float
    running_low_mm: float
    wall_low_mm: float
    wall_high_mm: float
    wall_before_mm: float
    minimum_wall_mm: float | None
    ring_placed: bool
    this_case: bool
    next_reading: str | None
    gap_reading_needed: str | None = None
    wall_reading_needed: str | None = None
    cracked_or_welded: str = ""
    bore_fault: str = ""
    aluminium_unsettled: str = ""


@dataclass(frozen=True)
class Verdict:
    """A code, its words, whether the wall is already short, why, and the reading to take next (None: none needed)."""

    code: Code
    reason: str
    next_reading: str | None = None
    by_choice: bool = False
    wall_short: bool = False

    @property
    def words(self) -> str:
        """The verdict as a screen or sheet says it."""
        first = BY_CHOICE_WORDS if self.by_choice else WORDS[self.code]
        return f"{first} · {WALL_SHORT_WORDS}" if self.wall_short else first

    @property
    def settled(self) -> bool:
        """Whether it stands without another reading."""
        return self.code not in (Code.MEASURE, Code.NOT_EXPECTED, Code.LIKELY, Code.CANT_SAY) and not self.by_choice

    @property
    def forbids(self) -> bool:
        """Whether it is about the case, so that no reading would change it."""
        return self.code in (Code.DONT_GRIND, Code.DONT_USE)

    @property
    def grinds(self) -> bool:
        """Whether metal is to go."""
        return self.code in (Code.GRIND, Code.HITS)


def decide(facts: Facts) -> Verdict:
    """The verdict for these facts, in the order of DESIGN 6."""
    minimum = facts.minimum_wall_mm
    return replace(_decide(facts), wall_short=minimum is not None and facts.wall_before_mm < minimum)


def _decide(facts: Facts) -> Verdict:
    if facts.cracked_or_welded:
        return Verdict(Code.DONT_USE, facts.cracked_or_welded)
    if facts.bore_fault:
        return Verdict(Code.DONT_GRIND, facts.bore_fault)
    if facts.gap_reading_needed:
        return _measure(facts, facts.gap_reading_needed)
    if facts.gap_low_mm >= facts.target_mm:
        return _clear(facts)
    too_close = facts.gap_high_mm < facts.target_mm
    if too_close and facts.aluminium_unsettled:
        return Verdict(Code.DONT_GRIND, facts.aluminium_unsettled)
    if not facts.this_case:
        return _measure(
            facts, 'the boss was not measured on this case (measured = "this case" under [case]), and castings differ'
        )
    if facts.wall_reading_needed:
        return _measure(facts, facts.wall_reading_needed)
    minimum = facts.minimum_wall_mm
    if minimum is None:
        return _measure(facts, "no minimum wall is known")
    if too_close and facts.wall_high_mm < minimum:
        return Verdict(Code.DONT_GRIND, "even the least cut leaves less wall than the minimum")
    wall_holds = facts.wall_low_mm >= minimum
    if too_close and wall_holds:
        return Verdict(
            Code.HITS if facts.gap_high_mm < 0 else Code.GRIND,
            "the teeth run into the boss" if facts.gap_high_mm < 0 else "the gap is under the gap wanted",
        )
    if facts.next_reading:
        what = "the minimum wall" if too_close else "the gap wanted"
        return _measure(facts, f"{what} lies between low and high")
    if facts.aluminium_unsettled:
        return Verdict(Code.DONT_GRIND, facts.aluminium_unsettled)
    if wall_holds:
        return Verdict(Code.GRIND, "no reading left would settle it, and the wall holds either way", by_choice=True)
    return Verdict(Code.DONT_GRIND, "no reading left would settle it, and the wall may not hold")


def _measure(facts: Facts, reason: str) -> Verdict:
    return Verdict(Code.MEASURE, reason, facts.next_reading or "the gap itself, by feeler or solder")


def _clear(facts: Facts) -> Verdict:
    if facts.running_low_mm < 0:
        return _measure(facts, "it clears when set up, but may touch when running")
    if not facts.this_case:
        return _measure(
            facts, 'it would clear, but the boss was not measured on this case (measured = "this case" under [case])'
        )
    if not facts.ring_placed:
        return Verdict(Code.NOT_EXPECTED, "by the gear model alone; read the ring to be sure", facts.next_reading)
    return Verdict(Code.CLEARS, "even the low end of the gap is no less than the gap wanted")
