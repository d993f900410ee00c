"""The book's file: where it lies, how it is made and opened, and what SQLite's complaints mean, in one line each."""

from __future__ import annotations

import os
import secrets
import sqlite3
import sys
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path

from geartrack.errors import refuse
from geartrack.shopbook.schema import APPLICATION_ID, VERSION, bring_up, version_of

WAIT_MS = 10_000
_OLDEST_SQLITE = (3, 37, 0)  # the first with STRICT tables
MAGIC = b"SQLite format 3\x00"
_RESCUE = "`geartrack book rescue OUT` copies what can still be read to a new book"
_SAID = {
    "SQLITE_BUSY": ("is in use by another program", "try again; nothing of this was written"),
    "SQLITE_LOCKED": ("is in use by another program", "try again; nothing of this was written"),
    "SQLITE_READONLY": ("is read-only", "a book and a folder that may be written to; nothing of this was written"),
    "SQLITE_FULL": ("finds no room: the disk is full", "make room and try again; what was in the book stays"),
    "SQLITE_IOERR": ("cannot be read or written: the disk complains", "a sound disk with room; what was there stays"),
    "SQLITE_CANTOPEN": ("cannot be opened", "a file and a folder that you may read and write"),
    "SQLITE_NOTADB": ("is damaged or no book", _RESCUE),
    "SQLITE_CORRUPT": ("is damaged", _RESCUE),
}
_FOLDERS = {"win32": ("LOCALAPPDATA", "AppData/Local"), "darwin": ("", "Library/Application Support")}


def default_place() -> Path:
    """Where the book lies where nobody says otherwise: the user's own data folder on this system."""
    variable, folder = _FOLDERS.get(sys.platform, ("XDG_DATA_HOME", ".local/share"))
    named = os.environ.get(variable, "") if variable else ""
    return (Path(named) if Path(named).is_absolute() else Path.home() / folder) / "geartrack" / "book.sqlite"


@contextmanager
def told(path: Path) -> Iterator[None]:
    """What SQLite complains about, as one line that names the book."""
    try:
        yield
    except sqlite3.Error as fault:
        name = getattr(fault, "sqlite_errorname", "") or ""
        primary = next((each for each in _SAID if name.startswith(each)), None)
        if primary is None:
            raise refuse(str(path), f"was refused by the book: {fault}", _RESCUE) from fault
        raise refuse(str(path), *_SAID[primary]) from None


def connect(path: Path, *, create: bool = False, read_only: bool = False) -> sqlite3.Connection:
    """A book's connection: every commit is on the disk before it returns, foreign keys hold, others are waited for.

    Raises InputError, one line, for what is no book, damaged, in use, made by a newer geartrack or not to be read.
    """
    if sqlite3.sqlite_version_info < _OLDEST_SQLITE:
        raise refuse("SQLite", f"is version {sqlite3.sqlite_version}", "Python with SQLite 3.37 or newer")
    if create and not path.exists():
        _make(path)
    _look(path)
    with told(path):
        db = _opened(path, read_only)
        try:
            _settle(db, read_only)
            if not read_only:
                bring_up(db, str(path))
            elif version_of(db) != VERSION:
                raise refuse(
                    str(path), f"is a book of version {version_of(db)}, not {VERSION}", "open it to write once"
                )
            fault = first_fault(db)
            if fault:
                raise refuse(str(path), f"is damaged ({fault})", _RESCUE)
        except BaseException:
            db.close()
            raise
    return db


def first_fault(db: sqlite3.Connection) -> str | None:
    """The first fault that SQLite's own quick check finds; None where the file is sound."""
    found = str(db.execute("PRAGMA quick_check(1)").fetchone()[0])
    return None if found == "ok" else " ".join(found.split())[:120]


def _look(path: Path) -> None:
    """Refuse what cannot be a book before SQLite is asked: it would take an empty file for a new one."""
    try:
        with path.open("rb") as stream:
            head = stream.read(100)
    except FileNotFoundError:
        raise refuse(str(path), "no book is there yet", "`geartrack book add JOB` starts one") from None
    except OSError as fault:
        raise refuse(str(path), f"cannot be read: {fault.strerror}", "a book's file, which you may read") from None
    if not head.startswith(MAGIC) or len(head) < 100:
        short = MAGIC.startswith(head[: len(MAGIC)])
        what = "is empty or was cut short" if short else "is no book: its first bytes are another's"
        raise refuse(str(path), what, "a book made by `geartrack book`, or its backup")
    if int.from_bytes(head[68:72], "big") != APPLICATION_ID:
        raise refuse(str(path), "is a database, but no geartrack book", "a book made by `geartrack book`")


def _opened(path: Path, read_only: bool) -> sqlite3.Connection:
    """A connection; a book that only may be read, and that nobody has open, needs no files beside it."""
    where = path.resolve().as_uri()
    log = _beside(path, "-wal")
    alone = not (log.exists() and log.stat().st_size) and not os.access(path.resolve().parent, os.W_OK)
    mode = ("?mode=ro&immutable=1" if alone else "?mode=ro") if read_only else "?mode=rw"
    return sqlite3.connect(where + mode, uri=True, timeout=WAIT_MS / 1000, isolation_level=None)


def _settle(db: sqlite3.Connection, read_only: bool) -> None:
    db.execute("PRAGMA foreign_keys = ON")
    db.execute("PRAGMA trusted_schema = OFF")
    db.execute("PRAGMA recursive_triggers = ON")  # so that REPLACE is a DELETE to the triggers
    if not read_only:
        db.execute("PRAGMA journal_mode = WAL")
        db.execute("PRAGMA synchronous = FULL")


def _make(path: Path) -> None:
    """A new book, whole under its name or not there at all; one that another process makes meanwhile is kept."""
    part = path.with_name(f".{path.name}.{secrets.token_hex(4)}.part")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        try:
            with told(path), closing(sqlite3.connect(part, isolation_level=None)) as db:
                db.execute(f"PRAGMA application_id = {APPLICATION_ID}")
                bring_up(db, str(path))
            publish(part, path)
        finally:
            for each in (part, _beside(part, "-journal")):
                each.unlink(missing_ok=True)
    except FileExistsError:
        return
    except OSError as fault:
        what = f"cannot be made: {fault.strerror or fault}"
        raise refuse(str(path), what, "name a folder that can be written to") from None


def publish(part: Path, path: Path) -> None:
    """Give a finished file its name, on the disk before this returns; raises FileExistsError where one is there."""
    with part.open("rb+") as stream:
        os.fsync(stream.fileno())
    try:
        os.link(part, path)
    except FileExistsError:
        raise
    except OSError:  # a file system without links
        if path.exists():
            raise FileExistsError(str(path)) from None
        part.rename(path)
    if os.name == "posix":
        folder = os.open(path.parent, os.O_RDONLY)
        try:
            os.fsync(folder)
        finally:
            os.close(folder)


def back_up(db: sqlite3.Connection, book: Path, out: Path) -> None:
    """A copy of the book as it stands, by SQLite's own backup, checked, in one file; never over a file."""
    if out.exists():
        raise refuse(str(out), "is there already", "another name: a backup overwrites nothing")
    part = out.with_name(f".{out.name}.{secrets.token_hex(4)}.part")
    try:
        try:
            with told(out), closing(sqlite3.connect(part, isolation_level=None)) as copy:
                with told(book):
                    db.backup(copy)
                copy.execute("PRAGMA journal_mode = DELETE")
                fault = first_fault(copy)
            if fault:
                raise refuse(str(book), f"is damaged ({fault})", _RESCUE)
            publish(part, out)
        finally:
            for tail in ("", "-wal", "-shm", "-journal"):
                _beside(part, tail).unlink(missing_ok=True)
    except FileExistsError:
        raise refuse(str(out), "is there already", "another name: a backup overwrites nothing") from None
    except OSError as fault:
        what = f"cannot be written: {fault.strerror or fault}"
        raise refuse(str(out), what, "name a folder that can be written to") from None


def _beside(path: Path, tail: str) -> Path:
    return path.with_name(path.name + tail)
