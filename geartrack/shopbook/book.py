"""The shop's book: jobs and what became of them, added to and never overwritten."""

from __future__ import annotations

import secrets
import sqlite3
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from types import TracebackType
from typing import Any

from geartrack import __version__
from geartrack.errors import refuse
from geartrack.shopbook.bodies import MADE_FROM, checked
from geartrack.shopbook.entry import KEYS, Entry, as_text, in_force, newest
from geartrack.shopbook.file import back_up, connect, told
from geartrack.shopbook.schema import put

COLUMNS = ", ".join(f"entry.{key}" for key in KEYS)
_WITH_WORD = """SELECT DISTINCT job.id FROM said JOIN entry ON entry.uid = said.entry JOIN job ON job.uid = entry.job
    WHERE instr(said.words, ?)"""


def now() -> datetime:
    """The time with the shop's offset from UTC."""
    return datetime.now().astimezone()


@dataclass(frozen=True)
class Record:
    """One job: its number in this book, its name in every book, all that was written of it, in order."""

    number: int
    uid: str
    entries: tuple[Entry, ...]

    @property
    def held(self) -> list[Entry]:
        """What holds: not taken back, nor made from what was."""
        return in_force(self.entries)

    def newest(self, kind: str) -> Entry | None:
        """The last entry of its kind that holds."""
        return newest(self.held, kind)

    @property
    def customer(self) -> str | None:
        """The customer's initials, where any were given."""
        given = [entry.document["customer"] for entry in self.held if entry.kind == "inputs"]
        return next((each for each in reversed(given) if each), None)

    @property
    def state(self) -> str | None:
        """How the newest quote stands; None without one."""
        quote = self.newest("quote")
        if quote is None:
            return None
        states = [entry for entry in self.held if entry.kind == "state" and entry.about == quote.uid]
        return str(states[-1].document["state"]) if states else "draft"

    @property
    def outcome(self) -> dict[str, Any]:
        """What came of it: later entries add to earlier ones and stand before them."""
        found: dict[str, Any] = {"hours": {}, "gap_after_mm": None, "mass_g": None, "photos": [], "notes": []}
        for body in (entry.document for entry in self.held if entry.kind == "outcome"):
            found["hours"] |= body["hours"]
            found["photos"] += body["photos"]
            found["notes"] += [body["note"]] if body["note"] else []
            found |= {key: body[key] for key in ("gap_after_mm", "mass_g") if body[key] is not None}
        return found


class Book:
    """An open book; use it in a `with` block. Writing happens inside `with book.writing():`, whole or not at all."""

    def __init__(
        self, path: Path, *, create: bool = False, read_only: bool = False, clock: Callable[[], datetime] = now
    ) -> None:
        self.path = Path(path)
        self.clock = clock
        self.db: sqlite3.Connection = connect(self.path, create=create, read_only=read_only)

    def __enter__(self) -> Book:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, at: TracebackType | None) -> None:
        self.db.close()

    @contextmanager
    def writing(self) -> Iterator[None]:
        """One transaction: when the block has ended without an error, what was added is on the disk."""
        with told(self.path):
            self.db.execute("BEGIN IMMEDIATE")
            try:
                yield
                self.db.execute("COMMIT")
            except BaseException:
                if self.db.in_transaction:
                    self.db.execute("ROLLBACK")
                raise

    def add(self, kind: str, body: dict[str, Any], *, job: str | None = None, about: str | None = None) -> Entry:
        """Add an entry, to a new job where none is named; only inside `writing`."""
        at = self.clock().isoformat(timespec="milliseconds")
        entry = Entry(_name(), job or _name(), kind, at, __version__, about, as_text(body))
        self.put(entry)
        return entry

    def put(self, entry: Entry) -> None:
        """Add an entry as it is, with what is taken out of it; only inside `writing`."""
        rows = checked(entry)
        self._follows(entry)
        self.db.execute("INSERT INTO job (uid) VALUES (?) ON CONFLICT DO NOTHING", (entry.job,))
        fields = (*(getattr(entry, key) for key in KEYS), entry.digest)
        self.db.execute(f"INSERT INTO entry ({', '.join(KEYS)}, digest) VALUES (?, ?, ?, ?, ?, ?, ?, ?)", fields)
        for table, values in rows:
            put(self.db, entry, table, values)

    def _follows(self, entry: Entry) -> None:
        """Refuse an entry about what is not there before it, of another job or of the wrong kind."""
        if entry.about is None:
            return
        row = self.db.execute("SELECT job, kind FROM entry WHERE uid = ?", (entry.about,)).fetchone()
        wanted = MADE_FROM.get(entry.kind)
        if row is None or row[0] != entry.job or wanted not in (row[1], "entry"):
            what = f"is about {entry.about}, which is no {wanted or 'such entry'} of this job before it"
            raise refuse(entry.kind, what, "the entries of a job in order")

    def number_of(self, job: str) -> int:
        """The number in this book of a job by its name."""
        return int(self.db.execute("SELECT id FROM job WHERE uid = ?", (job,)).fetchone()[0])

    def entries(self, where: str = "", values: Sequence[object] = ()) -> Iterator[Entry]:
        """Entries in order, each held against its digest; `where` is a condition on `entry` and `job`."""
        sql = f"SELECT {COLUMNS}, entry.digest FROM entry JOIN job ON job.uid = entry.job {where} ORDER BY entry.id"
        with told(self.path):
            for row in self.db.execute(sql, values):
                yield vouched(Entry(*row[:-1]), row[-1], self.path)

    def record(self, number: int) -> Record:
        """The job of that number."""
        found = tuple(self.entries("WHERE job.id = ?", (number,)))
        if not found:
            raise refuse(str(self.path), f"has no job {number}", "`geartrack book list` shows the numbers")
        return Record(number, found[0].job, found)

    def records(self) -> Iterator[Record]:
        """Every job, one at a time, by its number."""
        with told(self.path):
            numbers = [row[0] for row in self.db.execute("SELECT id FROM job ORDER BY id")]
        for number in numbers:
            yield self.record(number)

    def numbers(self, words: Sequence[str] = ()) -> list[int]:
        """Numbers of the jobs in which every word was ever written, the newest first; capitals do not count."""
        with told(self.path):
            found = {int(row[0]) for row in self.db.execute("SELECT id FROM job")}
            for word in words:
                found &= {int(row[0]) for row in self.db.execute(_WITH_WORD, (word.casefold(),))}
        return sorted(found, reverse=True)

    def undo(self, number: int, position: int | None = None, note: str = "") -> Entry:
        """Take back an entry of a job by one that points back to it, by default the last deed; returns what it was.

        position counts the job's entries from 1, as its history shows them. An undo may itself be taken back.
        """
        with self.writing():
            record = self.record(number)
            target = _last_deed(record) if position is None else _at(record, position)
            self.add("undo", {"note": note}, job=record.uid, about=target.uid)
        return target

    def back_up(self, out: Path) -> None:
        """A checked copy of the book in one file of its own."""
        back_up(self.db, self.path, Path(out))


def vouched(entry: Entry, digest: str, path: Path) -> Entry:
    """The entry, where it answers to its digest; what does not is never shown."""
    if entry.digest != digest:
        raise refuse(str(path), f"is damaged (entry {entry.uid} was altered)", "`geartrack book rescue OUT`")
    return entry


def taken_back(record: Record) -> dict[str, int]:
    """The name of each entry that an undo in force takes back, and the undo's place in the history."""
    found: dict[str, int] = {}
    for position, entry in sorted(enumerate(record.entries, 1), reverse=True, key=lambda pair: pair[0]):
        if entry.kind == "undo" and entry.uid not in found and entry.about:
            found[entry.about] = position
    return found


def _last_deed(record: Record) -> Entry:
    """The newest entry in force; of a check with its quote, the inputs that both were made from."""
    held = {entry.uid: entry for entry in record.held}
    if not held:
        raise refuse(f"job {record.number}", "has nothing left to take back", "--entry takes back one of its undos")
    entry = list(held.values())[-1]
    while entry.kind in ("quote", "result") and entry.about in held:
        entry = held[entry.about]
    return entry


def _at(record: Record, position: int) -> Entry:
    if not 1 <= position <= len(record.entries):
        raise refuse(f"job {record.number}", f"has no entry {position}", f"1 to {len(record.entries)}")
    entry = record.entries[position - 1]
    by = taken_back(record).get(entry.uid)
    if by is not None:
        raise refuse(f"job {record.number}", f"entry {position} is taken back already, by entry {by}", f"--entry {by}")
    if entry.kind != "undo" and entry not in record.held:
        raise refuse(f"job {record.number}", f"entry {position} fell with what it was made from", "another entry")
    return entry


def _name() -> str:
    return secrets.token_hex(8)
