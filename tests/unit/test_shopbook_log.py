"""The book's log: nothing is overwritten, an undo points back, what holds is worked out from what was written."""

import sqlite3

import pytest
from book_entries import Calendar, check_document, inputs_body, outcome_body, quote_document, state_body

from geartrack.errors import InputError
from geartrack.shopbook import Book
from geartrack.shopbook.bodies import initials
from geartrack.shopbook.record import FOLLOWS, OTHER_WORK, measure, move_quote, set_outcome, write_inputs
from geartrack.shopbook.rescue import faults_of
from geartrack.shopbook.summary import summaries


@pytest.fixture
def book(tmp_path):
    with Book(tmp_path / "book.sqlite", create=True, clock=Calendar()) as opened:
        yield opened


def add_job(book, name="invented job", *, to=None, **hours):
    """A job with its result and quote, as `add` writes them; its number."""
    with book.writing():
        inputs = book.add("inputs", inputs_body(name, customer="JD"), job=to)
        result = book.add("result", check_document(), job=inputs.job, about=inputs.uid)
        book.add("quote", quote_document(**hours), job=inputs.job, about=result.uid)
    return book.number_of(inputs.job)


def kinds(book, number=1):
    return [entry.kind for entry in book.record(number).held]


def test_jobs_are_numbered_from_one_and_hold_what_was_written(book):
    assert [add_job(book, name) for name in ("one", "two")] == [1, 2]
    record = book.record(2)
    assert record.newest("inputs").document["name"] == "two"
    assert record.newest("quote").document["total"]["likely"] == "150.10"
    assert (record.state, record.customer) == ("draft", "JD")
    assert record.entries[0].at == "2026-03-02T09:00:00.000+01:00"
    assert faults_of(book) == []


@pytest.mark.parametrize(
    "deed",
    [
        "UPDATE entry SET body = '{}'",
        "UPDATE quote SET low = '1'",
        "DELETE FROM entry",
        "DELETE FROM outcome_hours",
        "REPLACE INTO job VALUES (1, 'ffffffffffffffff')",
        "INSERT OR REPLACE INTO state SELECT * FROM state",
    ],
)
def test_nothing_is_overwritten_even_by_hand(book, deed):
    number = add_job(book)
    move_quote(book, number, "sent")
    set_outcome(book, number, hours=["cutting=1"])
    with pytest.raises(sqlite3.Error, match=r"overwritten|FOREIGN KEY"):
        book.db.execute(deed)
    assert faults_of(book) == []


def test_tables_are_strict_and_references_hold(book):
    add_job(book)
    with pytest.raises(sqlite3.IntegrityError, match="cannot store TEXT"):
        book.db.execute("INSERT INTO measurement SELECT uid, 'gap', 'wide' FROM entry LIMIT 1")
    with pytest.raises(sqlite3.IntegrityError, match="FOREIGN KEY"):
        book.db.execute("INSERT INTO state VALUES ('0123456789abcdef', 'sent')")
    strict = dict(book.db.execute("SELECT name, strict FROM pragma_table_list WHERE schema = 'main'"))
    assert {name for name, is_strict in strict.items() if not is_strict} == {"sqlite_schema"}


def test_undo_takes_back_the_last_deed_and_may_be_taken_back(book):
    add_job(book)
    move_quote(book, 1, "sent")
    move_quote(book, 1, "accepted")
    assert book.undo(1).document["state"] == "accepted"
    assert book.record(1).state == "sent"
    assert book.undo(1, position=6).kind == "undo"
    assert book.record(1).state == "accepted"
    assert len(book.record(1).entries) == 7


def test_undoing_inputs_takes_what_was_made_from_them(book):
    add_job(book, "first")
    add_job(book, "second", to=book.record(1).uid)
    move_quote(book, 1, "sent")
    assert kinds(book) == ["inputs", "result", "quote"] * 2 + ["state"]
    book.undo(1, position=4)
    assert kinds(book) == ["inputs", "result", "quote"]
    assert book.record(1).newest("inputs").document["name"] == "first"
    assert book.record(1).state == "draft"


def test_a_check_is_undone_as_one_deed(book):
    add_job(book, "first")
    add_job(book, "second", to=book.record(1).uid)
    assert book.undo(1).document["name"] == "second"
    assert book.undo(1).document["name"] == "first"
    assert kinds(book) == []
    assert summaries(book) == []
    with pytest.raises(InputError, match="nothing left to take back; --entry"):
        book.undo(1)


def test_what_cannot_be_undone_is_said_in_one_line(book):
    add_job(book)
    book.undo(1)
    for position, said in (
        (1, "taken back already, by entry 4; --entry 4"),
        (3, "fell with"),
        (9, "no entry 9; 1 to 4"),
    ):
        with pytest.raises(InputError, match=said):
            book.undo(1, position)


def test_a_quote_goes_forward_only(book):
    add_job(book)
    for state in ("done", "draft", "eaten"):
        with pytest.raises(InputError, match=f"its quote is draft: '?{state}'? cannot follow; sent, accepted, lost;"):
            move_quote(book, 1, state)
    for state in ("sent", "accepted", "done"):
        move_quote(book, 1, state)
    with pytest.raises(InputError, match="nothing more; `geartrack book undo 1` goes back"):
        move_quote(book, 1, "lost")
    add_job(book, to=book.record(1).uid)
    assert book.record(1).state == "draft"
    assert set(FOLLOWS) == {"draft", "sent", "accepted", "lost", "done"}


def test_an_outcome_may_be_said_bit_by_bit(book, tmp_path):
    picture = tmp_path / "boss.jpg"
    picture.write_bytes(b"")
    add_job(book, **{"Cutting": 0.5, "Fit and check": 1.0, "Fit the gears": 0.3})
    set_outcome(book, 1, hours=["cutting=0,75", "fit and=1"], note="chatter")
    set_outcome(book, 1, hours=["CUT=0.5", "other=2"], gap_after="0.022 in", mass="5,3 g", photos=[picture])
    found = book.record(1).outcome
    assert found["hours"] == {"Cutting": 0.5, "Fit and check": 1.0, OTHER_WORK: 2.0}
    assert found["gap_after_mm"] == pytest.approx(0.5588)  # 0.022 in at 25.4 mm exactly
    assert (found["mass_g"], found["photos"], found["notes"]) == (5.3, [str(picture)], ["chatter"])
    (summary,) = summaries(book)
    assert summary.taken == found["hours"]
    book.undo(1)
    assert book.record(1).outcome["hours"] == {"Cutting": 0.75, "Fit and check": 1.0}


@pytest.mark.parametrize(
    ("said", "line"),
    [
        ({"hours": ["fit=1"]}, "'fit' is several lines of the quote; one of: Fit and check; Fit the gears"),
        ({"hours": ["sanding=1"]}, "'sanding' is no line of the quote"),
        ({"hours": ["=1"]}, "no line of the quote|several lines"),
        ({"hours": ["cutting=-1"]}, "'-1' is no number of hours"),
        ({"hours": ["cutting=nan"]}, "'nan' is no number of hours"),
        ({"hours": ["cutting"]}, "no line of the quote|several lines"),
        ({"gap_after": "0.022"}, "no unit"),
        ({"gap_after": "-1 mm"}, "below zero"),
        ({"mass": "-3 g"}, "no mass in grams"),
        ({"mass": "inf"}, "no mass in grams"),
        ({}, "nothing was said"),
    ],
)
def test_an_outcome_that_makes_no_sense_is_refused_and_not_written(book, said, line):
    add_job(book, **{"Cutting": 0.5, "Fit and check": 1.0, "Fit the gears": 0.3})
    with pytest.raises(InputError, match=line):
        set_outcome(book, 1, **said)
    assert len(book.record(1).entries) == 3


def test_a_picture_that_is_not_there_is_refused(book, tmp_path):
    add_job(book)
    with pytest.raises(InputError, match="no such picture"):
        set_outcome(book, 1, photos=[tmp_path / "none.jpg"])


@pytest.mark.parametrize("name", ["John Doe", "Smith", "J. Doe", "12", "", "j d"])
def test_names_are_refused(name):
    with pytest.raises(InputError, match="initials only, no names; up to four letters"):
        initials(name)


def test_measurements_keep_what_was_typed(book):
    add_job(book)
    measure(book, 1, "gap", "20 thou", tool="clay", by="a.b.")
    body = book.record(1).newest("measurement").document
    assert body["value_mm"] == pytest.approx(0.508)
    assert (body["typed"], body["by"]) == ("20 thou", "AB")
    with pytest.raises(InputError, match="initials only"):
        measure(book, 1, "gap", "20 thou", by="Robert")
    with pytest.raises(InputError, match="nothing typed"):
        measure(book, 1, " ", "20 thou")


def test_search_finds_every_word_anywhere_and_knows_no_capitals(book):
    add_job(book, "Hill-climb car, ÄRGER")
    add_job(book, "Tow truck")
    set_outcome(book, 2, hours=["cutting=1"], note="needed the long burr")
    assert book.numbers(["ärger"]) == [1]
    assert book.numbers(["TRUCK", "burr", "f-1207"]) == [2]
    assert book.numbers(["burr", "hill"]) == []
    assert book.numbers(["jd"]) == [2, 1]
    assert book.numbers(["%"]) == book.numbers(["_"]) == []
    assert book.numbers() == [2, 1]


def test_an_entry_of_another_job_or_kind_is_not_pointed_to(book):
    add_job(book)
    add_job(book)
    mine, others = book.record(1), book.record(2)
    for about in (others.newest("quote"), mine.newest("inputs")):
        with pytest.raises(InputError, match=r"state: is about .* no quote of this job"), book.writing():
            book.add("state", state_body("sent"), job=mine.uid, about=about.uid)
    assert len(book.record(1).entries) == 3


def test_a_fault_half_way_leaves_nothing(book):
    def half_a_job():
        with book.writing():
            book.add("inputs", inputs_body())
            book.add("outcome", outcome_body(mass_g=-1))

    with pytest.raises(InputError, match="mass_g is no number from 0"):
        half_a_job()
    assert book.numbers() == []
    assert book.db.execute("SELECT count(*) FROM job").fetchone() == (0,)


def test_a_missing_job_is_said(book):
    with pytest.raises(InputError, match="has no job 7; `geartrack book list`"):
        book.record(7)
    add_job(book)
    with pytest.raises(InputError, match="has no job 7"):
        move_quote(book, 7, "sent")


def test_inputs_are_never_written_over_a_file(book, tmp_path):
    add_job(book)
    out = tmp_path / "job.toml"
    out.write_text("mine", encoding="utf-8")
    with pytest.raises(InputError, match="is there already"):
        write_inputs(book.record(1), out)
    assert out.read_text(encoding="utf-8") == "mine"
