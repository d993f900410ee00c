"""The tables of the book and the steps from one version of them to the next; nothing in them is ever overwritten."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterator

from geartrack.errors import refuse
from geartrack.shopbook.bodies import rows_of
from geartrack.shopbook.entry import KEYS, Entry

APPLICATION_ID = 0x47545242  # "GTRB"
Step = Callable[[sqlite3.Connection], None]

_OF_ENTRY = "entry TEXT NOT NULL REFERENCES entry (uid)"
_FIRST = {
    "job": "id INTEGER PRIMARY KEY, uid TEXT NOT NULL UNIQUE",
    "entry": """id INTEGER PRIMARY KEY,
        uid TEXT NOT NULL UNIQUE,
        job TEXT NOT NULL REFERENCES job (uid),
        kind TEXT NOT NULL,
        at TEXT NOT NULL,
        tool TEXT NOT NULL,
        about TEXT REFERENCES entry (uid),
        body TEXT NOT NULL,
        digest TEXT NOT NULL""",
    "inputs": f"""{_OF_ENTRY} PRIMARY KEY, name TEXT NOT NULL, teeth TEXT NOT NULL, mark TEXT NOT NULL,
        customer TEXT CHECK (length(customer) <= 4)""",
    "result": f"""{_OF_ENTRY} PRIMARY KEY, verdict TEXT NOT NULL, low_mm REAL, gap_mm REAL, high_mm REAL,
        was_read INTEGER NOT NULL""",
    "quote": f"""{_OF_ENTRY} PRIMARY KEY, currency TEXT NOT NULL, low TEXT NOT NULL, likely TEXT NOT NULL,
        high TEXT NOT NULL""",
    "quote_hours": f"""{_OF_ENTRY}, line TEXT NOT NULL, low REAL NOT NULL, likely REAL NOT NULL, high REAL NOT NULL,
        counted INTEGER NOT NULL, PRIMARY KEY (entry, line)""",
    "state": f"{_OF_ENTRY} PRIMARY KEY, state TEXT NOT NULL",
    "measurement": f"{_OF_ENTRY} PRIMARY KEY, what TEXT NOT NULL, value_mm REAL NOT NULL",
    "outcome": f"{_OF_ENTRY} PRIMARY KEY, gap_after_mm REAL, mass_g REAL",
    "outcome_hours": f"{_OF_ENTRY}, line TEXT NOT NULL, hours REAL NOT NULL, PRIMARY KEY (entry, line)",
}
_SEARCH = {"said": f"{_OF_ENTRY} PRIMARY KEY, words TEXT NOT NULL"}


def _first(db: sqlite3.Connection) -> None:
    """Version 1: the entries, and what is taken out of them."""
    for table in _made(_FIRST):
        db.execute(table)
    db.execute("CREATE INDEX entry_of_job ON entry (job)")


def _search(db: sqlite3.Connection) -> None:
    """Version 2: the words that a job is found by, taken out of the entries already there."""
    for table in _made(_SEARCH):
        db.execute(table)
    for row in db.execute(f"SELECT {', '.join(KEYS)} FROM entry ORDER BY id").fetchall():
        entry = Entry(*row)
        for table, values in rows_of(entry):
            if table == "said":
                put(db, entry, table, values)


STEPS: tuple[Step, ...] = (_first, _search)
VERSION = len(STEPS)


def _made(tables: dict[str, str]) -> Iterator[str]:
    for name, columns in tables.items():
        yield f"CREATE TABLE {name} ({columns}) STRICT"
        for deed in ("UPDATE", "DELETE"):
            yield (
                f"CREATE TRIGGER {name}_no_{deed.lower()} BEFORE {deed} ON {name}"
                " BEGIN SELECT RAISE(ABORT, 'nothing in the book is overwritten'); END"
            )


def put(db: sqlite3.Connection, entry: Entry, table: str, values: tuple[object, ...]) -> None:
    """A row taken out of an entry into its table."""
    db.execute(f"INSERT INTO {table} VALUES ({', '.join('?' * (len(values) + 1))})", (entry.uid, *values))


def version_of(db: sqlite3.Connection) -> int:
    """The version of a book's tables; 0 before there are any."""
    found: int = db.execute("PRAGMA user_version").fetchone()[0]
    return found


def bring_up(db: sqlite3.Connection, name: str) -> None:
    """Each step to this version in a transaction of its own; a book of a version to come is refused."""
    while version_of(db) < VERSION:
        db.execute("BEGIN IMMEDIATE")
        try:
            at = version_of(db)  # another process may have been quicker
            if at < VERSION:
                STEPS[at](db)
                db.execute(f"PRAGMA user_version = {at + 1}")
            db.execute("COMMIT")
        except BaseException:
            db.execute("ROLLBACK")
            raise
    if version_of(db) > VERSION:
        what = f"is a book of version {version_of(db)}, made by a newer geartrack; this one knows up to {VERSION}"
        raise refuse(name, what, "install the newer geartrack; the book was not touched")
