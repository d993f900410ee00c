"""What a short card asks: entries with their ranges and likely slips, read all at once, one line to a fault."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from difflib import get_close_matches
from pathlib import Path
from typing import TYPE_CHECKING, Any

from geartrack.errors import Finding, InputError, refuse
from geartrack.gearset.teeth import parse_teeth
from geartrack.units import Units, other_units, parse_length, show_both

if TYPE_CHECKING:
    from geartrack.cards.answer import CardResult

NO_CHANGE_MM = 0.005  # the last digit shown
Reader = Callable[[str, str, Units | None], Any]
"""A typed text, where it was typed, the unit of bare numbers (None refuses them) -> its value; raises InputError."""
Check = Callable[[Mapping[str, Any]], Iterator[Finding]]
"""What no single entry shows: the values read -> the faults between them."""


@dataclass(frozen=True)
class Slip:
    """A likely mistake that shows by its size: a value from low_mm to high_mm is probably this."""

    low_mm: float
    high_mm: float
    words: str


@dataclass(frozen=True)
class Entry:
    """One thing a card asks for.

    key: its name, as a flag with dashes. question: as asked. how: how it is read, in a line; method: the drawing of
    geartrack.draw.methods that shows it, if any. blank: what a blank means. read: how its text is read; a length must
    lie between low_mm and high_mm, and a slip is named where its size fits one.
    """

    key: str
    question: str
    how: str
    blank: str
    read: Reader
    low_mm: float | None = None
    high_mm: float | None = None
    slips: tuple[Slip, ...] = ()
    method: str = ""

    @property
    def name(self) -> str:
        """The entry's name in words."""
        return self.key.replace("_", " ")

    def value(self, text: str, units: Units | None = None) -> Any:
        """The value typed, in millimetres where it is a length; raises InputError with a line to each fault."""
        value = self.read(text, self.name, units)
        lengths = value if isinstance(value, tuple) else (value,)
        findings = [f for mm in lengths if isinstance(mm, float) for f in self._out_of_range(mm, text, units)]
        if findings:
            raise InputError(*findings)
        return value

    def _out_of_range(self, mm: float, text: str, units: Units | None) -> Iterator[Finding]:
        if self.low_mm is None or self.high_mm is None or self.low_mm <= mm <= self.high_mm:
            return
        shown = units or "in"
        right = f"between {show_both(self.low_mm, shown)} and {show_both(self.high_mm, shown)}"
        meant = [slip.words for slip in self.slips if slip.low_mm <= mm <= slip.high_mm]
        meant += [f"was {typed} meant?" for typed, other in other_units(text) if self.low_mm <= other <= self.high_mm]
        yield Finding(self.name, f"{show_both(mm, shown)} is not likely", "; ".join([right, *meant[:1]]))


@dataclass(frozen=True)
class Setting:
    """How a card is worked: the unit shown first, the unit of bare numbers (None: say it), the shop's own axle files.

    base: the folder of the job that will be written, for names of files. axles: folder of axle files, None: beside it.
    """

    units: Units = "in"
    bare: Units | None = None
    base: Path = Path()
    axles: Path | None = None


@dataclass(frozen=True)
class Card:
    """A card: what it asks, and the function that works it from typed texts by key (blanks left out)."""

    name: str
    entries: tuple[Entry, ...]
    work: Callable[[Mapping[str, str], Setting], CardResult]
    asks_for_axles: bool = False


@dataclass(frozen=True)
class Cost:
    """What a blank costs: mm, how much the answer's half range would shrink were it read with its usual tool [mm].

    None where there is no answer without it.
    """

    entry: str
    mm: float | None
    words: str


def read_entries(
    entries: Sequence[Entry], typed: Mapping[str, str], units: Units | None = None, checks: Iterable[Check] = ()
) -> dict[str, Any]:
    """The values by key; blanks are left out. Raises InputError with every fault, checks between values included.

    units: of bare numbers, None refuses them.
    """
    known = {entry.key: entry for entry in entries}
    values: dict[str, Any] = {}
    findings: list[Finding] = []
    for key, text in typed.items():
        if key not in known:
            near = get_close_matches(key, known, n=1)
            right = f"was {near[0]} meant?" if near else f"one of {', '.join(known)}"
            findings.append(Finding(key, "is not asked here", right))
        elif text.strip():
            try:
                values[key] = known[key].value(text, units)
            except InputError as fault:
                findings += fault.findings
    for check in checks:
        findings += check(values)
    if findings:
        raise InputError(*findings)
    return values


def cost(entry: Entry, mm: float | None, units: Units) -> Cost:
    """The cost of a blank in words; mm: by how much the half range would shrink [mm], None: no answer without it."""
    if mm is None:
        return Cost(entry.key, None, f"{entry.name}: not measured: no answer without it")
    adds = f"adds {show_both(mm, units, rounding='up')}" if mm > NO_CHANGE_MM else "leaves the gap as it is"
    return Cost(entry.key, mm, f"{entry.name}: not measured: {adds}; {entry.blank}")


def costs(
    entries: Sequence[Entry],
    typed: Mapping[str, str],
    *,
    half_range_mm: Callable[[Mapping[str, str]], float],
    assumed: Mapping[str, str],
    units: Units,
) -> tuple[Cost, ...]:
    """The cost of every blank entry that has an assumed text, dearest first: worked again with that text typed.

    half_range_mm: half of low to high of the card's answer [mm] for typed texts; assumed: what stands in for a blank,
    as text, so that only its give or take changes from the default's to that of the usual tool.
    """
    now = half_range_mm(typed)
    found = [
        cost(entry, max(0.0, now - half_range_mm({**typed, entry.key: assumed[entry.key]})), units)
        for entry in entries
        if entry.key in assumed and not typed.get(entry.key, "").strip()
    ]
    return tuple(sorted(found, key=lambda each: -(each.mm or 0.0)))


def length(text: str, where: str, units: Units | None) -> float:
    """One length [mm]."""
    return parse_length(text, where=where, default_unit=units)


def lengths(count: int) -> Reader:
    """A reader of that many lengths on one line, spaces or semicolons between; the last unit serves those without.

    >>> lengths(3)("7.9 8.1 7 3/4 mm", "wall", None)
    Traceback (most recent call last):
    geartrack.errors.InputError: wall: 4 values; 3 of them with spaces between, fractions with semicolons between
    >>> lengths(2)("7.9 8.1 mm", "wall", None), lengths(2)("5/16 in; 3/8 in", "wall", None)
    ((7.9, 8.1), (7.9375, 9.525))
    """

    def read(text: str, where: str, units: Units | None) -> tuple[float, ...]:
        typed = _pieces(text)
        if len(typed) != count:
            right = f"{count} of them with spaces between, fractions with semicolons between"
            raise refuse(where, f"{len(typed)} value{'s' * (len(typed) != 1)}", right)
        last = re.sub(r"^[\d.,/ -]+", "", typed[-1])
        texts = [piece if re.search(r"[^\d.,/ -]", piece) else f"{piece} {last}".strip() for piece in typed]
        return tuple(parse_length(piece, where=where, default_unit=units) for piece in texts)

    return read


def _pieces(text: str) -> list[str]:
    """The numbers of a line, each with the unit that stands after it."""
    if ";" in text:
        return [piece.strip() for piece in text.split(";") if piece.strip()]
    pieces: list[str] = []
    for word in text.split():
        if pieces and not re.match(r"[\d.,-]", word):
            pieces[-1] += f" {word}"
        else:
            pieces.append(word.rstrip(","))
    return pieces


def teeth(text: str, where: str, units: Units | None) -> Any:
    """A ToothPair, or a Ratio where only that was typed; three digits are a ratio without its point."""
    if re.fullmatch(r"[1-9]\d\d", text.strip()):
        raise refuse(where, f"{text.strip()} is no ratio", f"was {text.strip()[0]}.{text.strip()[1:]} meant?")
    found = parse_teeth(text, where)
    return found if not isinstance(found, float) else Ratio(found)


@dataclass(frozen=True)
class Ratio:
    """A ratio of which the tooth counts are not known [-]."""

    ratio: float

    def __str__(self) -> str:
        return f"{self.ratio:g}:1"


def one_of(**choices: str) -> Reader:
    """A reader of a choice; each keyword's words, commas between, stand for its value, in any case of letters.

    >>> one_of(yes="yes, y", no="no, n", not_seen="not seen, don't know")("Y", "square", None)
    'yes'
    """
    by_word = {word.strip(): value for value, words in choices.items() for word in words.split(",")}

    def read(text: str, where: str, units: Units | None) -> str:
        said = " ".join(text.lower().replace("’", "'").split())
        if said not in by_word:
            raise refuse(where, f"{text.strip()!r} is not a choice", f"one of {', '.join(_firsts(choices))}")
        return by_word[said]

    return read


def _firsts(choices: Mapping[str, str]) -> list[str]:
    return [words.split(",")[0].strip() for words in choices.values()]
