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
from geartrack.shopbook.carve import rows
from geartrack.shopbook.entry import KEYS, KINDS, Entry
from geartrack.shopbook.file import MAGIC, told

_COLUMNS = ", ".join(KEYS)


@dataclass(frozen=True)
class _Found:
    """Entries by number that vouch for themselves, numbers of jobs by name, and how many entries were altered."""

    entries: dict[int, Entry]
    jobs: dict[str, int]
    altered: int


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
            found = _found(_copied(path, Path(folder)))
        except OSError as fault:
            raise refuse(str(path), f"cannot be read: {fault.strerror or fault}", "the damaged book's file") from None
    if not found.entries:
        raise refuse(str(path), "nothing in it can be read", "a backup, or an export")
    with Book(out, create=True) as book:
        return _written(book, found)


def _copied(path: Path, folder: Path) -> Path:
    """A copy that starts as a book does, with what was committed last and lay in the log beside it."""
    copy, log = folder / "damaged.sqlite", path.with_name(path.name + "-wal")
    content = path.read_bytes()
    copy.write_bytes(content if _starts_well(content) else _with_new_head(content, folder))
    if log.exists():
        shutil.copyfile(log, copy.with_name(copy.name + "-wal"))
    with suppress(sqlite3.Error), closing(sqlite3.connect(copy, isolation_level=None)) as db:
        db.execute("PRAGMA writable_schema = ON")  # go on past a list of tables or a length that does not fit
        db.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchall()
    return copy


def _starts_well(content: bytes) -> bool:
    size = int.from_bytes(content[16:18], "big")
    return content.startswith(MAGIC) and (size == 1 or size in (512 << n for n in range(7)))


def _with_new_head(content: bytes, folder: Path) -> bytes:
    """The file under the first page of a new book."""
    new = folder / "new.sqlite"
    Book(new, create=True).db.close()
    head = new.read_bytes()
    size = int.from_bytes(head[16:18], "big")
    return head[:28] + (len(content) // size).to_bytes(4, "big") + head[32:size] + content[size:]


def _found(copy: Path) -> _Found:
    """The entries on every page that can be read, whether anything leads to it or not, and the numbers of jobs."""
    found = _Found({}, {}, 0)
    altered = set()
    for number, values in rows(copy.read_bytes()):
        match values:
            case [None, str(uid)] if len(uid) == 16:
                found.jobs[uid] = number
            case [None, *fields, str(digest)] if len(fields) == len(KEYS) and all(map(_is_field, fields)):
                entry = Entry(*fields)  # type: ignore[arg-type]
                if entry.digest == digest and _is_known(entry):
                    found.entries[number] = entry
                else:
                    altered.add(number)
    return replace(found, altered=len(altered - found.entries.keys()))


def _is_field(value: object) -> bool:
    return value is None or isinstance(value, str)


def _is_known(entry: Entry) -> bool:
    """Whether this version can say what the entry means."""
    with suppress(InputError):
        return entry.kind in KINDS and checked(entry) is not None
    return False


def _written(book: Book, found: _Found) -> Rescued:
    kept, cut_off, jobs = set[str](), 0, set[str]()
    with book.writing():
        for _, entry in sorted(found.entries.items()):
            alone = entry
            if entry.about is not None and entry.about not in kept:
                cut_off += 1
                if entry.kind in ("state", "undo"):
                    continue
                alone = replace(entry, about=None)
            if entry.job not in jobs:
                number = found.jobs.get(entry.job)
                free = number and not book.db.execute("SELECT 1 FROM job WHERE id = ?", (number,)).fetchone()
                book.db.execute("INSERT INTO job VALUES (?, ?)", (number if free else None, entry.job))
                jobs.add(entry.job)
            book.put(alone)
            kept.add(entry.uid)
    lost = max(found.entries) - len(found.entries) - found.altered
    return Rescued(len(kept), len(jobs), found.altered, cut_off, max(lost, 0))
