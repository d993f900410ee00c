"""The jobs being worked on: every change is on the disk before it is answered, and may be taken back.

One SQLite file beside the uploaded files, both in a folder of the page's own.
"""

from __future__ import annotations

import json
import secrets
import sqlite3
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from geartrack.errors import GeartrackError, refuse

_TABLES = """
CREATE TABLE IF NOT EXISTS kept (name TEXT PRIMARY KEY, value BLOB NOT NULL) STRICT;
CREATE TABLE IF NOT EXISTS draft (id TEXT PRIMARY KEY, at TEXT NOT NULL, head INTEGER NOT NULL, book INTEGER) STRICT;
CREATE TABLE IF NOT EXISTS revision (draft TEXT NOT NULL REFERENCES draft (id), number INTEGER NOT NULL,
    before INTEGER, at TEXT NOT NULL, what TEXT NOT NULL, body TEXT NOT NULL, PRIMARY KEY (draft, number)) STRICT;
CREATE TABLE IF NOT EXISTS brought (own TEXT PRIMARY KEY, called TEXT NOT NULL) STRICT;
"""


class Conflict(GeartrackError):
    """A change made to an older state than the newest: another tab or person was faster."""


@dataclass(frozen=True)
class Revision:
    """A job as it stood after one change: the document as typed, which may hold faults; what the change was."""

    draft: str
    number: int
    before: int | None
    at: str
    what: str
    document: dict[str, Any]


@dataclass(frozen=True)
class Draft:
    """A job being worked on, with its newest state; book: its number in the shop's book, where it is there."""

    id: str
    at: str
    now: Revision
    book: int | None
    may_redo: bool


class Drafts:
    """The file of drafts and the folder of what was uploaded; each call opens the file anew."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.files = folder / "files"
        self.files.mkdir(parents=True, exist_ok=True)
        with self._open() as db:
            db.execute("PRAGMA journal_mode = WAL")
            db.executescript(_TABLES)

    @contextmanager
    def _open(self) -> Iterator[sqlite3.Connection]:
        path = self.folder / "drafts.sqlite"
        try:
            db = sqlite3.connect(path, timeout=10, isolation_level=None)
        except sqlite3.Error as fault:
            raise refuse(str(path), f"cannot be opened: {fault}", "a folder that may be written to") from None
        try:
            db.execute("PRAGMA synchronous = FULL")
            db.execute("BEGIN IMMEDIATE") if db.execute("PRAGMA journal_mode").fetchone()[0] == "wal" else None
            yield db
            if db.in_transaction:
                db.execute("COMMIT")
        except BaseException:
            if db.in_transaction:
                db.execute("ROLLBACK")
            raise
        finally:
            db.close()

    def secret(self) -> bytes:
        """The page's own secret, the same after a restart, so that an open tab goes on working."""
        with self._open() as db:
            db.execute("INSERT OR IGNORE INTO kept VALUES ('secret', ?)", (secrets.token_bytes(32),))
            return bytes(db.execute("SELECT value FROM kept WHERE name = 'secret'").fetchone()[0])

    def begin(self, document: Mapping[str, Any], what: str) -> Draft:
        """A new draft with its first revision."""
        name = secrets.token_hex(8)
        with self._open() as db:
            db.execute("INSERT INTO draft VALUES (?, ?, 1, NULL)", (name, _now()))
            db.execute("INSERT INTO revision VALUES (?, 1, NULL, ?, ?, ?)", (name, _now(), what, json.dumps(document)))
            return _draft(db, name)

    def get(self, name: str) -> Draft:
        """The draft of that name; refuses one that is not there."""
        with self._open() as db:
            return _draft(db, name)

    def all(self) -> list[Draft]:
        """Every draft, the newest first."""
        with self._open() as db:
            names = [row[0] for row in db.execute("SELECT id FROM draft ORDER BY at DESC, id")]
            return [_draft(db, name) for name in names]

    def history(self, name: str) -> list[Revision]:
        """Every revision of a draft, the first first."""
        with self._open() as db:
            rows = db.execute(f"SELECT {_COLUMNS} FROM revision WHERE draft = ? ORDER BY number", (name,)).fetchall()
        return [_revision(row) for row in rows]

    def revision(self, name: str, number: int) -> Revision:
        """One state of a draft."""
        with self._open() as db:
            return _at(db, name, number)

    def change(self, name: str, seen: int, document: Mapping[str, Any], what: str, *, typing: bool = False) -> Draft:
        """A new state after the one that was seen; Conflict where that is not the newest any more.

        typing: it was sent while somebody types: undo then goes back to before the word, not to half of it.
        """
        with self._open() as db:
            draft = _newest(db, name, seen)
            if document == draft.now.document:
                return draft
            number = 1 + int(db.execute("SELECT max(number) FROM revision WHERE draft = ?", (name,)).fetchone()[0])
            body, before = json.dumps(document), seen
            if typing and draft.now.what == what and draft.now.before is not None and _fresh(draft.now):
                before = draft.now.before
            db.execute("INSERT INTO revision VALUES (?, ?, ?, ?, ?, ?)", (name, number, before, _now(), what, body))
            db.execute("UPDATE draft SET head = ? WHERE id = ?", (number, name))
            return _draft(db, name)

    def undo(self, name: str, seen: int) -> Draft:
        """Back to the state before; it stays in the history."""
        with self._open() as db:
            draft = _newest(db, name, seen)
            if draft.now.before is not None:
                db.execute("UPDATE draft SET head = ? WHERE id = ?", (draft.now.before, name))
            return _draft(db, name)

    def redo(self, name: str, seen: int) -> Draft:
        """Forward again to the last state that came after this one."""
        with self._open() as db:
            _newest(db, name, seen)
            later = "(SELECT max(number) FROM revision WHERE draft = ? AND before = ?)"
            db.execute(f"UPDATE draft SET head = coalesce({later}, head) WHERE id = ?", (name, seen, name))
            return _draft(db, name)

    def brought(self, own: str, called: str) -> None:
        """Note what a kept file was called where it came from; only ever to be shown."""
        with self._open() as db:
            db.execute("INSERT OR REPLACE INTO brought VALUES (?, ?)", (own, called))

    def called(self) -> dict[str, str]:
        """What each kept file was called."""
        with self._open() as db:
            return dict(db.execute("SELECT own, called FROM brought").fetchall())

    def in_book(self, name: str, number: int) -> None:
        """Note a draft's number in the shop's book."""
        with self._open() as db:
            db.execute("UPDATE draft SET book = ? WHERE id = ?", (number, name))


_ONE_WORD_S = 4.0
_COLUMNS = "draft, number, before, at, what, body"


def _draft(db: sqlite3.Connection, name: str) -> Draft:
    row = db.execute("SELECT id, at, head, book FROM draft WHERE id = ?", (name,)).fetchone()
    if row is None:
        raise refuse("", "there is no such job on this page", "the list of jobs shows those that are")
    later = db.execute("SELECT 1 FROM revision WHERE draft = ? AND before = ?", (name, row[2])).fetchone()
    return Draft(row[0], row[1], _at(db, name, row[2]), row[3], later is not None)


def _newest(db: sqlite3.Connection, name: str, seen: int) -> Draft:
    draft = _draft(db, name)
    if draft.now.number != seen:
        raise Conflict(
            f"This job was changed elsewhere meanwhile (state {draft.now.number}: {draft.now.what}; this page showed"
            f" state {seen}). Nothing was overwritten."
        )
    return draft


def _at(db: sqlite3.Connection, name: str, number: int) -> Revision:
    row = db.execute(f"SELECT {_COLUMNS} FROM revision WHERE draft = ? AND number = ?", (name, number)).fetchone()
    if row is None:
        raise refuse("", "there is no such state of this job", "its history shows those that are")
    return _revision(row)


def _revision(row: tuple[Any, ...]) -> Revision:
    draft, number, before, at, what, body = row
    return Revision(draft, number, before, at, what, json.loads(body))


def _fresh(revision: Revision) -> bool:
    """Whether it was written a moment ago, so that what follows may be the rest of one word."""
    return (datetime.now().astimezone() - datetime.fromisoformat(revision.at)).total_seconds() < _ONE_WORD_S


def _now() -> str:
    return datetime.now().astimezone().isoformat(timespec="milliseconds")
