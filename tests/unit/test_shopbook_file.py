"""The book's file: real SQLite files, damaged, cut short, locked, read-only, full, older, newer, of others."""

import contextlib
import json
import os
import re
import shutil
import sqlite3
import tempfile
from dataclasses import replace
from pathlib import Path

import pytest
from book_entries import check_document, gap_body, inputs_body, quote_document, state_body
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from geartrack.errors import InputError
from geartrack.shopbook import Book, default_place
from geartrack.shopbook import file as book_file
from geartrack.shopbook.carve import rows
from geartrack.shopbook.entry import KEYS
from geartrack.shopbook.rescue import faults_of, rescue
from geartrack.shopbook.schema import VERSION
from geartrack.shopbook.summary import summaries

# The tables as version 1 made them, kept here in its own words: a book of that version is made by the test itself.
VERSION_1 = """
CREATE TABLE job (id INTEGER PRIMARY KEY, uid TEXT NOT NULL UNIQUE) STRICT;
CREATE TABLE entry (id INTEGER PRIMARY KEY, uid TEXT NOT NULL UNIQUE, job TEXT NOT NULL REFERENCES job (uid),
  kind TEXT NOT NULL, at TEXT NOT NULL, tool TEXT NOT NULL, about TEXT REFERENCES entry (uid), body TEXT NOT NULL,
  digest TEXT NOT NULL) STRICT;
CREATE INDEX entry_of_job ON entry (job);
CREATE TABLE inputs (entry TEXT NOT NULL REFERENCES entry (uid) PRIMARY KEY, name TEXT NOT NULL, teeth TEXT NOT NULL,
  mark TEXT NOT NULL, customer TEXT CHECK (length(customer) <= 4)) STRICT;
CREATE TABLE result (entry TEXT NOT NULL REFERENCES entry (uid) PRIMARY KEY, verdict TEXT NOT NULL, low_mm REAL,
  gap_mm REAL, high_mm REAL, was_read INTEGER NOT NULL) STRICT;
CREATE TABLE quote (entry TEXT NOT NULL REFERENCES entry (uid) PRIMARY KEY, currency TEXT NOT NULL, low TEXT NOT NULL,
  likely TEXT NOT NULL, high TEXT NOT NULL) STRICT;
CREATE TABLE quote_hours (entry TEXT NOT NULL REFERENCES entry (uid), line TEXT NOT NULL, low REAL NOT NULL,
  likely REAL NOT NULL, high REAL NOT NULL, counted INTEGER NOT NULL, PRIMARY KEY (entry, line)) STRICT;
CREATE TABLE state (entry TEXT NOT NULL REFERENCES entry (uid) PRIMARY KEY, state TEXT NOT NULL) STRICT;
CREATE TABLE measurement (entry TEXT NOT NULL REFERENCES entry (uid) PRIMARY KEY, what TEXT NOT NULL,
  value_mm REAL NOT NULL) STRICT;
CREATE TABLE outcome (entry TEXT NOT NULL REFERENCES entry (uid) PRIMARY KEY, gap_after_mm REAL, mass_g REAL) STRICT;
CREATE TABLE outcome_hours (entry TEXT NOT NULL REFERENCES entry (uid), line TEXT NOT NULL, hours REAL NOT NULL,
  PRIMARY KEY (entry, line)) STRICT;
PRAGMA application_id = 1196708418;
PRAGMA user_version = 1;
"""
TABLES_1 = ("inputs", "result", "quote", "quote_hours", "state", "measurement", "outcome", "outcome_hours")


def filled(path, jobs=12, note=""):
    """A book with so many jobs; its entries."""
    with Book(path, create=True) as book:
        for n in range(jobs):
            with book.writing():
                inputs = book.add("inputs", inputs_body(f"job {n + 1}", note=note))
                result = book.add("result", check_document(), job=inputs.job, about=inputs.uid)
                book.add("quote", quote_document(), job=inputs.job, about=result.uid)
        return list(book.entries())


@pytest.fixture
def path(tmp_path):
    return tmp_path / "book.sqlite"


def version_1_of(path, out):
    """The same entries in a file of version 1."""
    with sqlite3.connect(out) as old:
        old.executescript(VERSION_1)
        old.execute("ATTACH ? AS new", (str(path),))
        for table in ("job", "entry", *TABLES_1):
            old.execute(f"INSERT INTO {table} SELECT * FROM new.{table}")
    old.close()


def test_a_book_of_version_1_is_brought_up_and_loses_nothing(path, tmp_path):
    entries, old = filled(path), tmp_path / "old.sqlite"
    version_1_of(path, old)
    with pytest.raises(InputError, match=f"is a book of version 1, not {VERSION}; open it to write once"):
        Book(old, read_only=True)
    with Book(old) as book:
        assert list(book.entries()) == entries
        assert book.numbers(["JOB 7"]) == [7]
        assert faults_of(book) == []
        made = dict(book.db.execute("SELECT name, sql FROM sqlite_schema WHERE sql NOT NULL AND name NOT IN ('said')"))
        tables = {row[0] for row in book.db.execute("SELECT name FROM sqlite_schema WHERE type = 'table'")}
    with Book(path) as new:
        assert tables == {row[0] for row in new.db.execute("SELECT name FROM sqlite_schema WHERE type = 'table'")}
        assert made.keys() <= {row[0] for row in new.db.execute("SELECT name FROM sqlite_schema")}


def test_a_step_that_fails_leaves_the_old_version_as_it_was(path, tmp_path, monkeypatch):
    entries, old = filled(path), tmp_path / "old.sqlite"
    version_1_of(path, old)

    def fails(db):
        db.execute("CREATE TABLE said (x)")
        raise sqlite3.OperationalError("the lights went out")

    with monkeypatch.context() as patch:
        patch.setattr("geartrack.shopbook.schema.STEPS", (None, fails))
        with pytest.raises(InputError, match="the lights went out"):
            Book(old)
    with Book(old) as book:
        assert list(book.entries()) == entries
        assert book.numbers(["job 7"]) == [7]


def test_a_book_of_a_version_to_come_is_refused_and_not_touched(path):
    filled(path)
    with sqlite3.connect(path) as db:
        db.execute(f"PRAGMA user_version = {VERSION + 1}")
    db.close()
    before = path.read_bytes()
    for read_only in (True, False):
        with pytest.raises(InputError, match=f"is a book of version {VERSION + 1}"):
            Book(path, read_only=read_only)
    assert path.read_bytes() == before


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"", "is empty or was cut short"),
        (b"SQLite format 3\x00", "is empty or was cut short"),
        (b"name = 'a job file'\n" * 20, "is no book: its first bytes are another's"),
        (b"\x00" * 4096, "is no book"),
    ],
)
def test_what_is_no_book_is_said_and_left_alone(path, content, said):
    path.write_bytes(content)
    for how in ({}, {"create": True}, {"read_only": True}):
        with pytest.raises(InputError, match=said):
            Book(path, **how)
    assert path.read_bytes() == content


def test_another_programs_database_is_refused(path):
    with sqlite3.connect(path) as db:
        db.execute("CREATE TABLE t (x)")
    db.close()
    with pytest.raises(InputError, match="is a database, but no geartrack book"):
        Book(path, create=True)


def test_no_book_yet_and_a_folder_in_its_place(path, tmp_path):
    with pytest.raises(InputError, match="no book is there yet; `geartrack book add JOB` starts one"):
        Book(path)
    with pytest.raises(InputError, match="cannot be read: Is a directory"):
        Book(tmp_path)
    (tmp_path / "file").write_text("x", encoding="utf-8")
    with pytest.raises(InputError, match=r"cannot be made|cannot be read"):
        Book(tmp_path / "file" / "book.sqlite", create=True)


def pages_of(path):
    return path.stat().st_size // 4096


def test_a_book_cut_short_is_said_and_what_is_left_is_rescued(path, tmp_path):
    entries = filled(path, 40, note="y" * 3000)
    with path.open("r+b") as stream:
        stream.truncate(path.stat().st_size // 2)
    with pytest.raises(InputError, match=r"is damaged.*`geartrack book rescue OUT`"):
        Book(path)
    out = tmp_path / "new.sqlite"
    saved = rescue(path, out)
    with Book(out) as book:
        kept = list(book.entries())
        assert faults_of(book) == []
    assert 0 < saved.kept == len(kept) < len(entries)
    assert {entry.body for entry in kept} <= {entry.body for entry in entries}


def test_every_page_may_be_lost_and_the_rest_is_rescued(path, tmp_path):
    """Each page in turn, roots and the first with its list of tables too: no entry is made up, and none is lost but
    those on that page or with a part of them there. A page holds no more than six of these."""
    entries = {entry.uid: entry for entry in filled(path, 12, note="z" * 1500)}
    whole, kept = path.read_bytes(), []
    for page in range(pages_of(path)):
        path.write_bytes(whole[: page * 4096] + b"\xa5" * 4096 + whole[(page + 1) * 4096 :])
        out = tmp_path / f"new-{page}.sqlite"
        saved = rescue(path, out)
        with Book(out) as book:
            found = list(book.entries())
            assert faults_of(book) == []
        assert all(entry.body == entries[entry.uid].body for entry in found)
        assert saved.kept == len(found)
        kept.append(len(found))
    assert len(kept) > 25
    assert max(kept) == len(entries)
    assert min(kept) >= len(entries) - 6


def test_a_large_book_of_which_the_end_is_lost_keeps_its_beginning(path, tmp_path):
    """So large that the pages which lead to the first entries lie behind them, and go with the end."""
    entries = filled(path, 400, note="w" * 3500)
    raw = path.read_bytes()
    path.write_bytes(raw[: len(raw) // 8])
    saved = rescue(path, tmp_path / "new.sqlite")
    with Book(tmp_path / "new.sqlite") as book:
        found = list(book.entries())
        assert faults_of(book) == []
    assert found == entries[: len(found)]
    assert len(entries) / 12 < saved.kept < len(entries) / 6


@pytest.mark.parametrize("note", ["", "ä" * 1000, "x" * 4030, "x" * 30_000])
def test_pages_read_by_themselves_say_what_sqlite_says(path, note):
    filled(path, 7, note=note)
    found = {tuple(values[1:]): number for number, values in rows(path.read_bytes()) if values[0] is None}
    with Book(path) as book:
        wanted = {tuple(row[1:]): row[0] for row in book.db.execute("SELECT * FROM entry")}
        wanted |= {tuple(row[1:]): row[0] for row in book.db.execute("SELECT * FROM job")}
        numbers = book.db.execute("SELECT low_mm, gap_mm, high_mm, was_read FROM result").fetchall()
    assert found == wanted
    assert sum(values[2:] == list(numbers[0]) for _, values in rows(path.read_bytes())) == 7


@settings(max_examples=30, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data())
def test_no_damage_makes_a_rescue_invent_or_fall_over(one_book, tmp_path, data):
    """Bytes changed anywhere, up to whole pages of noise."""
    whole, bodies = one_book
    raw = bytearray(whole)
    for _ in range(data.draw(st.integers(1, 4))):
        at = data.draw(st.integers(0, len(raw) - 1))
        noise = data.draw(st.binary(min_size=1, max_size=300))
        raw[at : at + len(noise)] = noise
    path, out = tmp_path / "damaged.sqlite", tmp_path / "new.sqlite"
    path.write_bytes(raw)
    out.unlink(missing_ok=True)
    with contextlib.suppress(InputError):
        rescue(path, out)
        with Book(out) as book:
            assert {entry.body for entry in book.entries()} <= bodies


@pytest.fixture(scope="module")
def one_book(tmp_path_factory):
    path = tmp_path_factory.mktemp("book") / "book.sqlite"
    entries = filled(path, 5, note="v" * 5000)
    return path.read_bytes(), {entry.body for entry in entries}


def test_a_damaged_page_is_found_at_opening(path):
    filled(path, 40)
    whole = path.read_bytes()
    found = 0
    for page in range(1, len(whole) // 4096):
        path.write_bytes(whole[: page * 4096] + b"\xa5" * 4096 + whole[(page + 1) * 4096 :])
        with pytest.raises(InputError, match="is damaged"):
            Book(path)
        found += 1
    assert found > 10


def test_a_figure_altered_on_the_disk_is_never_shown(path, tmp_path):
    """One digit of a quote's total, which every structure check of SQLite lets by."""
    filled(path, 3)
    raw = path.read_bytes()
    assert raw.count(b'"likely":"150.10"') == 3
    path.write_bytes(raw.replace(b'"likely":"150.10"', b'"likely":"950.10"', 1))
    with Book(path) as book:
        damaged = [number for number in (1, 2, 3) if not readable(book, number)]
        assert len(damaged) == 1
        assert len([fault for fault in faults_of(book) if fault.endswith("was altered")]) == 1
    saved = rescue(path, tmp_path / "new.sqlite")
    assert (saved.kept, saved.altered, saved.lost) == (8, 1, 0)


def readable(book, number):
    with contextlib.suppress(InputError):
        return bool(book.record(number))
    with pytest.raises(InputError, match=r"is damaged \(entry [0-9a-f]+ was altered\)"):
        book.record(number)
    return False


def test_a_row_taken_out_that_was_altered_is_found(path):
    filled(path, 2)
    with sqlite3.connect(path) as db:
        db.execute("DROP TRIGGER quote_no_update")
        db.execute("UPDATE quote SET likely = '1.00' WHERE rowid = 1")
    db.close()
    with Book(path) as book:
        (fault,) = faults_of(book)
    assert "its row in quote does not say what it says" in fault


def test_a_row_taken_out_that_is_missing_is_said(path):
    filled(path, 2)
    with sqlite3.connect(path) as db:
        db.execute("DROP TRIGGER quote_no_delete")
        db.execute("DELETE FROM quote WHERE rowid = 1")
    db.close()
    with Book(path) as book, pytest.raises(InputError, match=r"is damaged \(no row of entry"):
        summaries(book)


def test_rescue_leaves_out_what_only_a_newer_version_knows(path, tmp_path):
    (first, *_) = filled(path, 1)
    poem = replace(first, uid="f" * 16, kind="poem")
    with Book(path) as book:
        fields = [getattr(poem, key) for key in KEYS]
        book.db.execute(
            f"INSERT INTO entry ({', '.join(KEYS)}, digest) VALUES (?,?,?,?,?,?,?,?)", [*fields, poem.digest]
        )
    saved = rescue(path, tmp_path / "new.sqlite")
    assert (saved.kept, saved.altered) == (3, 1)


def test_rescue_keeps_a_quote_whose_result_is_lost_and_drops_a_state_without_its_quote(path, tmp_path):
    """The rows of a result and of a quote are taken out of the log by hand, past the triggers."""
    entries = filled(path, 2)
    with Book(path) as book:
        for job, state in ((entries[0].job, "sent"), (entries[3].job, "lost")):
            quote = next(e for e in entries if e.job == job and e.kind == "quote")
            with book.writing():
                book.add("state", state_body(state), job=job, about=quote.uid)
    with sqlite3.connect(path) as db:
        db.execute("DROP TRIGGER entry_no_delete")
        db.execute("DELETE FROM entry WHERE id IN (2, 6)")
    db.close()
    saved = rescue(path, tmp_path / "new.sqlite")
    assert (saved.kept, saved.cut_off, saved.lost) == (5, 2, 2)
    with Book(tmp_path / "new.sqlite") as book:
        assert [entry.kind for entry in book.record(1).entries] == ["inputs", "quote", "state"]
        assert [entry.kind for entry in book.record(2).entries] == ["inputs", "result"]
        assert book.record(1).state == "sent"
        assert faults_of(book) == []


def test_rescue_keeps_numbers_leaves_the_damaged_file_and_overwrites_nothing(path, tmp_path):
    entries, out = filled(path, 3), tmp_path / "new.sqlite"
    before = path.read_bytes()
    saved = rescue(path, out)
    assert (saved.kept, saved.jobs, saved.altered, saved.cut_off, saved.lost) == (9, 3, 0, 0, 0)
    with Book(out) as book:
        assert list(book.entries()) == entries
        assert book.record(3).newest("inputs").document["name"] == "job 3"
    assert path.read_bytes() == before
    with pytest.raises(InputError, match="is there already"):
        rescue(path, out)


@pytest.mark.parametrize("head", [b"", b"\xff" * 16, b"SQLite format 3\x00\x12\x34", b"SQLite format 3\x00\x00\x00"])
def test_rescue_does_without_the_files_head(path, tmp_path, head):
    entries = filled(path, 5)
    path.write_bytes(head.ljust(100, b"\x00") + path.read_bytes()[100:])
    assert rescue(path, tmp_path / "new.sqlite").kept == len(entries)


def test_rescue_takes_what_lies_in_the_log(path, tmp_path):
    """What was written last is in the -wal file until a checkpoint; copied while the book is open, as after a crash."""
    with Book(path, create=True) as book:
        book.db.execute("PRAGMA wal_autocheckpoint = 0")
        with book.writing():
            book.add("inputs", inputs_body())
        other = tmp_path / "crashed"
        other.mkdir()
        for name in ("book.sqlite", "book.sqlite-wal"):
            shutil.copy(tmp_path / name, other)
    assert (other / "book.sqlite-wal").stat().st_size > 0
    assert rescue(other / "book.sqlite", tmp_path / "new.sqlite").kept == 1


def test_a_book_in_use_is_waited_for_then_said(path, monkeypatch):
    filled(path, 1)
    monkeypatch.setattr(book_file, "WAIT_MS", 50)
    other = sqlite3.connect(path, isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    with Book(path) as book:
        with pytest.raises(InputError, match="is in use by another program; try again; nothing of this was written"):
            book.undo(1)
        assert len(list(book.entries())) == 3  # reading goes on meanwhile
        other.execute("ROLLBACK")
        book.undo(1)
    other.close()


def test_a_full_disk_is_said_and_loses_nothing(path):
    """SQLite's own limit of pages is the full disk."""
    filled(path, 2)
    with Book(path) as book:
        book.db.execute(f"PRAGMA max_page_count = {pages_of(path)}")
        with pytest.raises(InputError, match="no room: the disk is full; make room and try again"), book.writing():
            book.add("inputs", inputs_body(note="x" * 100_000))
        assert len(list(book.entries())) == 6
        assert faults_of(book) == []
    with Book(path) as book, book.writing():
        book.add("inputs", inputs_body(note="x" * 100_000))


NOBODY = 65534


def as_nobody(work):
    """What `work` returns in a process of a user who owns nothing."""
    out, into = os.pipe()
    pid = os.fork()
    if pid == 0:
        try:
            os.setgid(NOBODY)
            os.setuid(NOBODY)
            os.write(into, json.dumps(work()).encode())
        finally:
            os._exit(0)
    os.close(into)
    os.waitpid(pid, 0)
    with open(out, encoding="utf-8") as stream:
        return json.load(stream)


@pytest.mark.skipif(os.name != "posix" or os.geteuid() != 0, reason="needs to become another user")
@pytest.mark.parametrize(
    ("file_mode", "folder_mode"), [(0o644, 0o755), (0o666, 0o755), (0o444, 0o777)], ids=["both", "folder", "file"]
)
def test_a_read_only_book_may_be_read_and_says_so(file_mode, folder_mode):
    def tried():
        with Book(path, read_only=True) as book:
            count = len(list(book.entries()))
        try:
            with Book(path) as book:
                book.undo(1)
        except InputError as error:
            return count, str(error)

    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "book.sqlite"
        filled(path, 1)
        path.chmod(file_mode)
        Path(folder).chmod(folder_mode)
        count, said = as_nobody(tried)
        assert count == 3
        assert re.search(r"is read-only; .* nothing of this was written|cannot be opened", said)
        Path(folder).chmod(0o755)
        with Book(path) as book:
            assert len(list(book.entries())) == 3


def test_a_backup_is_whole_while_others_write_and_overwrites_nothing(path, tmp_path):
    entries, out = filled(path, 5), tmp_path / "copy.sqlite"
    with Book(path) as book, Book(path) as other:
        with other.writing():
            other.add("measurement", gap_body(0.5), job=entries[0].job)
            book.back_up(out)
        with pytest.raises(InputError, match="is there already"):
            book.back_up(out)
        with pytest.raises(InputError, match=r"copy.sqlite: cannot be opened"):
            book.back_up(tmp_path / "nowhere" / "copy.sqlite")
    assert not list(tmp_path.glob(".*part*"))
    assert not list(tmp_path.glob("copy.sqlite-*"))
    with Book(out, read_only=True) as copy:
        assert list(copy.entries()) == entries
        assert faults_of(copy) == []


def test_a_new_book_leaves_nothing_beside_it_and_keeps_one_made_meanwhile(path, monkeypatch):
    def other_was_quicker(part, target):
        monkeypatch.undo()
        filled(target, 1)
        raise FileExistsError

    monkeypatch.setattr(book_file, "publish", other_was_quicker)
    with Book(path, create=True) as book:
        assert len(list(book.entries())) == 3
    assert [each.name for each in path.parent.iterdir()] == ["book.sqlite"]


def test_every_commit_is_on_the_disk(path):
    filled(path, 1)
    with Book(path) as book:
        settings = {name: book.db.execute(f"PRAGMA {name}").fetchone()[0] for name in ("synchronous", "journal_mode")}
        assert settings == {"synchronous": 2, "journal_mode": "wal"}  # 2 is FULL (SQLite's documentation of pragmas)
        assert book.db.execute("PRAGMA foreign_keys").fetchone() == (1,)


@pytest.mark.parametrize(
    ("system", "variables", "end"),
    [
        ("linux", {}, "home/.local/share/geartrack/book.sqlite"),
        ("linux", {"XDG_DATA_HOME": "data"}, "home/.local/share/geartrack/book.sqlite"),  # not absolute: XDG ignores it
        ("linux", {"XDG_DATA_HOME": "/data"}, "/data/geartrack/book.sqlite"),
        ("darwin", {"XDG_DATA_HOME": "/data"}, "home/Library/Application Support/geartrack/book.sqlite"),
        ("win32", {}, "home/AppData/Local/geartrack/book.sqlite"),
    ],
)
def test_the_book_lies_in_the_systems_data_folder(monkeypatch, system, variables, end):
    for name in ("XDG_DATA_HOME", "LOCALAPPDATA"):
        monkeypatch.delenv(name, raising=False)
    for name, value in variables.items():
        monkeypatch.setenv(name, value)
    monkeypatch.setattr(book_file.sys, "platform", system)
    monkeypatch.setattr(book_file.Path, "home", lambda: Path("home"))
    assert default_place().as_posix() == end
