"""What a card answers: frozen, and the only thing that its screen and its JSON are made from."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import singledispatch
from typing import Any

from geartrack import __version__
from geartrack.cards.entries import Cost
from geartrack.quote import Quote
from geartrack.spread import Sampling
from geartrack.study import as_document
from geartrack.verdict import WORDS, Code

DRAWS = Sampling(512)  # a card is quick: each blank is worth another set

SCHEMA = 1


@dataclass(frozen=True)
class CardAnswer:
    """One card's answer.

    card: its name. sentence: the answer in one sentence. sums: subtractions done, shown. low_mm, high_mm: ends of the
    gap; depth_mm, stop_mm: to take off and where to stop; wall_left_mm: all [mm], None where the card cannot say.
    price: if the boss has to be relieved; price_for: what piece of work that is. costs: of the blanks, dearest first.
    next: what to read or bring, in order of worth. job: a job document, as far as it is known; job_lacks: the tables or
    keys that it still needs.
    """

    card: str
    code: Code
    sentence: str
    sums: tuple[str, ...] = ()
    low_mm: float | None = None
    high_mm: float | None = None
    depth_mm: float | None = None
    stop_mm: float | None = None
    wall_left_mm: float | None = None
    price: Quote | None = None
    price_for: str = ""
    costs: tuple[Cost, ...] = ()
    next: tuple[str, ...] = ()
    job: Mapping[str, Any] | None = None
    job_lacks: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()

    @property
    def words(self) -> str:
        """The verdict's words."""
        return WORDS[self.code]


@dataclass(frozen=True)
class PartLine:
    """One line of the parts check: what was asked, what was said, and what to do about it ("" for nothing)."""

    part: str
    said: str
    todo: str
    stops: bool = False


@dataclass(frozen=True)
class PartsAnswer:
    """The parts check: its lines in the order asked, whether the axle cannot be built as it lies there, and the sums.

    wall_mm: wall round another pilot bearing's bore [mm], None where its size is not another or not known.
    """

    card: str
    lines: tuple[PartLine, ...]
    cannot_build: bool
    sentence: str
    sums: tuple[str, ...] = ()
    wall_mm: float | None = None
    notes: tuple[str, ...] = ()


CardResult = CardAnswer | PartsAnswer


@singledispatch
def card_document(result: object) -> dict[str, Any]:
    """The document of a card's answer for JSON: millimetres, versioned."""
    raise TypeError(f"no document for {type(result).__name__}")


def _head(card: str) -> dict[str, Any]:
    return {"schema": SCHEMA, "kind": "card", "geartrack": __version__, "card": card}


@card_document.register
def _(answer: CardAnswer) -> dict[str, Any]:
    return _head(answer.card) | {
        "verdict": answer.code.value,
        "words": answer.words,
        "sentence": answer.sentence,
        "sums": list(answer.sums),
        "band": {"low_mm": answer.low_mm, "high_mm": answer.high_mm},
        "depth_mm": answer.depth_mm,
        "stop_mm": answer.stop_mm,
        "wall_left_mm": answer.wall_left_mm,
        "price": as_document(answer.price) if answer.price else None,
        "price_for": answer.price_for,
        "costs": [{"entry": c.entry, "mm": c.mm, "words": c.words} for c in answer.costs],
        "next": list(answer.next),
        "job": answer.job,
        "job_lacks": list(answer.job_lacks),
        "notes": list(answer.notes),
    }


@card_document.register
def _(answer: PartsAnswer) -> dict[str, Any]:
    return _head(answer.card) | {
        "cannot_build": answer.cannot_build,
        "sentence": answer.sentence,
        "sums": list(answer.sums),
        "wall_mm": answer.wall_mm,
        "lines": [{"part": p.part, "said": p.said, "todo": p.todo, "stops": p.stops} for p in answer.lines],
        "notes": list(answer.notes),
    }
