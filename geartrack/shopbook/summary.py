"""Each job in figures, from the rows taken out of the entries in force: what lists, learning and the report rest on."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from types import MappingProxyType
from typing import Any

from geartrack.errors import refuse
from geartrack.shopbook.bodies import GAP
from geartrack.shopbook.book import Book
from geartrack.shopbook.entry import Entry, in_force
from geartrack.shopbook.file import told

Prices = tuple[Decimal, Decimal, Decimal]
Said = tuple[float, float, float]


@dataclass(frozen=True)
class GapPair:
    """A gap that was said before it was read: low, as calculated, high, and read [mm]; at: when it was read."""

    low_mm: float
    said_mm: float
    high_mm: float
    read_mm: float
    at: str

    @property
    def error_mm(self) -> float:
        """How much more gap there was than was said."""
        return self.read_mm - self.said_mm

    @property
    def inside(self) -> bool:
        """Whether the reading lies within what was said, low to high."""
        return self.low_mm <= self.read_mm <= self.high_mm


@dataclass(frozen=True)
class Summary:
    """One job as it stands.

    quoted: low, likely and high hours by line of the newest quote, taken: hours by line, of what came of it; both [h].
    decided: when it was won or lost; finished: when an outcome was last entered.
    """

    number: int
    uid: str
    added: str
    name: str = ""
    teeth: str = ""
    mark: str = ""
    customer: str | None = None
    verdict: str | None = None
    state: str | None = None
    currency: str = ""
    prices: Prices | None = None
    quoted: Mapping[str, Said] = field(default_factory=dict)
    taken: Mapping[str, float] = field(default_factory=dict)
    decided: str | None = None
    finished: str | None = None
    gap: GapPair | None = None
    gap_after_mm: float | None = None
    mass_g: float | None = None

    @property
    def won(self) -> bool | None:
        """Whether the customer said yes; None while that is open."""
        return {"accepted": True, "done": True, "lost": False}.get(self.state or "")


_TABLES = ("inputs", "result", "quote", "state", "measurement", "outcome")
Rows = Mapping[str, tuple[Any, ...]]
Hours = Mapping[str, list[tuple[Any, ...]]]


def summaries(book: Book, numbers: Iterable[int] | None = None) -> list[Summary]:
    """The jobs of the book, or those of the numbers given, in that order; what was taken back whole is left out."""
    with told(book.path):
        rows: Rows = MappingProxyType(
            {row[0]: row[1:] for table in _TABLES for row in book.db.execute(f"SELECT * FROM {table}")}
        )
        hours: dict[str, list[tuple[Any, ...]]] = defaultdict(list)
        for table in ("quote_hours", "outcome_hours"):
            for row in book.db.execute(f"SELECT * FROM {table}"):
                hours[row[0]].append(row[1:])
        jobs: dict[int, list[Entry]] = defaultdict(list)
        listed = """SELECT job.id, entry.uid, entry.job, entry.kind, entry.at, entry.tool, entry.about, ''
            FROM entry JOIN job ON job.uid = entry.job ORDER BY entry.id"""
        for number, *fields in book.db.execute(listed):
            jobs[number].append(Entry(*fields))
    for entry in (each for entries in jobs.values() for each in entries):
        if entry.kind in _TABLES and entry.uid not in rows:
            raise refuse(str(book.path), f"is damaged (no row of entry {entry.uid})", "`geartrack book rescue OUT`")
    chosen = jobs if numbers is None else numbers
    found = (_summary(number, jobs[number], rows, hours) for number in chosen)
    return [each for each in found if each is not None]


def _summary(number: int, entries: list[Entry], rows: Rows, hours: Hours) -> Summary | None:
    held = in_force(entries)
    if not held:
        return None
    found: dict[str, Any] = {"quoted": {}, "taken": {}}
    said: Said | None = None
    quote = ""
    for entry in held:
        row = rows.get(entry.uid, ())
        if entry.kind == "inputs":
            found |= {"name": row[0], "teeth": row[1], "mark": row[2]} | ({"customer": row[3]} if row[3] else {})
        elif entry.kind == "result":
            found["verdict"] = row[0]
            said = row[1:4] if not row[4] and None not in row[1:4] else said
        elif entry.kind == "quote":
            quote = entry.uid
            found |= {"currency": row[0], "prices": tuple(map(Decimal, row[1:4])), "state": "draft", "decided": None}
            found["quoted"] = {line: (low, likely, high) for line, low, likely, high, _ in hours[quote]}
        elif entry.kind == "state" and entry.about == quote:
            was_open = found["state"] in ("draft", "sent")
            found["state"] = row[0]
            if row[0] == "lost" or (row[0] in ("accepted", "done") and (was_open or found["decided"] is None)):
                found["decided"] = entry.at
        elif entry.kind == "measurement" and row[0] == GAP and said:
            found["gap"] = GapPair(*said, row[1], entry.at)
        elif entry.kind == "outcome":
            found |= {key: row[n] for n, key in enumerate(("gap_after_mm", "mass_g")) if row[n] is not None}
            found["taken"] = found["taken"] | dict(hours[entry.uid])
            found["finished"] = entry.at
    after, mass = found.get("gap_after_mm"), found.get("mass_g")
    if "gap" not in found and said and after is not None and mass == 0.0:  # nothing was ground: a reading like any
        found["gap"] = GapPair(*said, after, found["finished"])
    return Summary(number, entries[0].job, entries[0].at, **found)
