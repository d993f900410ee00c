"""Is the book sound, and if not, what of it can be saved: every row that can be read and vouches for itself."""

from __future__ import annotations

import shutil
import sqlite3
import tempfile
from collections.abc import Iterator
from contextlib import closing, suppress
from dataclasses import dataclass, replace
from pathlib import Path

from geartrack.errors import InputError, refuse
from geartrack.shopbook.bodies import checked
from geartrack.shopbook.book import Book
from geartrack.shopbook.entry import KEYS, KINDS, Entry
from geartrack.shopbook.file import told

_COLUMNS = ", ".join(KEYS)
_LEAST_BYTES = 200  # no row is smaller, so a file has no more rows than its size over this
_MISSES = 20_000  # so many numbers in a row without an entry: there are no more


@dataclass(frozen=True)
class Rescued:
    """What a rescue saved.

    kept, jobs: entries and jobs in the new book; altered: rows read that do not answer to their digest, or mean nothing
    to this version; cut_off: entries about one that is lost; lost: entry numbers under which nothing can be read.
    """

    kept: int
    jobs: int
    altered: int
    cut_off: int
    lost: int


def faults_of(book: Book) -> list[str]:
    """Everything wrong with a book that opened: SQLite's full check, references, digests, the rows taken out."""
    with told(book.path):
        found = [str(row[0]) for row in book.db.execute("PRAGMA integrity_check(20)") if row[0] != "ok"]
        found += [f"{row[0]} refers to what is not there" for row in book.db.execute("PRAGMA foreign_key_check")]
        for *fields, digest in book.db.execute(f"SELECT {_COLUMNS}, digest FROM entry ORDER BY id").fetchall():
            entry = Entry(*fields)
            if entry.digest != digest:
                found.append(f"entry {entry.uid} was altered")
                continue
            found += [f"entry {entry.uid}: {what}" for what in _rows_differ(book, entry)]
    return found


def _rows_differ(book: Book, entry: Entry) -> Iterator[str]:
    try:
        rows = checked(entry)
    except InputError as error:
        yield str(error)
        return
    for table in {table for table, _ in rows}:
        wanted = sorted(repr(values) for name, values in rows if name == table)
        there = [row[1:] for row in book.db.execute(f"SELECT * FROM {table} WHERE entry = ?", (entry.uid,))]
        if sorted(repr(tuple(row)) for row in there) != wanted:
            yield f"its row in {table} does not say what it says"


def rescue(path: Path, out: Path) -> Rescued:
    """Copy every entry that can be read and answers to its digest to a new book; the damaged file is left as it is.

    An entry that was made from one that is lost is kept without it; a state or an undo of a lost entry means nothing
    any more and is left out.
    """
    if out.exists():
        raise refuse(str(out), "is there already", "another name: a rescue overwrites nothing")
    with tempfile.TemporaryDirectory() as folder:
        try:
            copy = _copied(path, Path(folder))
            rows = list(_readable(copy)) or list(_readable(_with_new_head(copy)))
        except OSError as fault:
            raise refuse(str(path), f"cannot be read: {fault.strerror or fault}", "the damaged book's file") from None
        if not rows:
            raise refuse(str(path), "nothing in it can be read", "a backup, or an export")
        with Book(out, create=True) as book:
            return _written(book, rows)


def _copied(path: Path, folder: Path) -> Path:
    """A copy to read from, with what was written last and lies beside the book."""
    copy = folder / "damaged.sqlite"
    shutil.copyfile(path, copy)
    log = path.with_name(path.name + "-wal")
    if log.exists():
        shutil.copyfile(log, copy.with_name(copy.name + "-wal"))
    return copy


def _with_new_head(copy: Path) -> Path:
    """The copy under the first page of a new book, which says where each table starts: the same in every book."""
    new = copy.with_name("new.sqlite")
    Book(new, create=True).db.close()
    size = int.from_bytes(new.read_bytes()[16:18], "big")
    head, body = new.read_bytes()[:size], copy.read_bytes()
    pages = (len(body) // size).to_bytes(4, "big")
    copy.write_bytes(head[:28] + pages + head[32:] + body[size:])
    copy.with_name(copy.name + "-wal").unlink(missing_ok=True)
    return copy


def _readable(copy: Path) -> Iterator[tuple[int, int | None, Entry, str]]:
    """The rows that can be read, each by its own number, so that a damaged page takes no other with it."""
    with closing(sqlite3.connect(copy, isolation_level=None)) as db:
        db.execute("PRAGMA writable_schema = ON")  # read on past a schema or a length that does not fit
        db.text_factory = lambda raw: raw.decode("utf-8", errors="replace")
        last = max(copy.stat().st_size, _size_of_log(copy)) // _LEAST_BYTES + 1
        newest = _number(db, "SELECT max(id) FROM entry NOT INDEXED", ())
        misses = 0
        for number in range(1, max(last, newest or 0) + 1):
            sql = f"SELECT {_COLUMNS}, digest FROM entry NOT INDEXED WHERE id = ?"
            try:
                row = db.execute(sql, (number,)).fetchone()
            except sqlite3.Error:
                row = None
            misses = 0 if row else misses + 1
            if misses > _MISSES:
                return
            if row and all(isinstance(value, str) for n, value in enumerate(row) if KEYS[n : n + 1] != ("about",)):
                yield (
                    number,
                    _number(db, "SELECT id FROM job NOT INDEXED WHERE uid = ?", (row[1],)),
                    Entry(*row[:-1]),
                    row[-1],
                )


def _size_of_log(copy: Path) -> int:
    log = copy.with_name(copy.name + "-wal")
    return log.stat().st_size if log.exists() else 0


def _number(db: sqlite3.Connection, sql: str, values: tuple[object, ...]) -> int | None:
    try:
        found = db.execute(sql, values).fetchone()
    except sqlite3.Error:
        return None
    return int(found[0]) if found and isinstance(found[0], int) else None


def _is_known(entry: Entry) -> bool:
    """Whether this version can say what the entry means."""
    with suppress(InputError):
        return entry.kind in KINDS and checked(entry) is not None
    return False


def _written(book: Book, rows: list[tuple[int, int | None, Entry, str]]) -> Rescued:
    sound = [(job, entry) for _, job, entry, digest in rows if entry.digest == digest and _is_known(entry)]
    kept, cut_off, jobs = set[str](), 0, set[str]()
    with book.writing():
        for job, entry in sound:
            alone = entry
            if entry.about is not None and entry.about not in kept:
                cut_off += 1
                if entry.kind in ("state", "undo"):
                    continue
                alone = replace(entry, about=None)
            if entry.job not in jobs:
                free = job is not None and not book.db.execute("SELECT 1 FROM job WHERE id = ?", (job,)).fetchone()
                book.db.execute("INSERT INTO job VALUES (?, ?)", (job if free else None, entry.job))
                jobs.add(entry.job)
            book.put(alone)
            kept.add(entry.uid)
    altered = len(rows) - len(sound)
    return Rescued(len(kept), len(jobs), altered, cut_off, max(number for number, *_ in rows) - len(rows))
