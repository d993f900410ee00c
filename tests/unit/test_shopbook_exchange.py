"""Export and import: round trips, faults told line by line, all or nothing, and whatever a fuzzer thinks of."""

import csv
import json

import pytest
from book_entries import Calendar, check_document, inputs_body, outcome_body, quote_document, state_body
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from geartrack.errors import InputError
from geartrack.shopbook import Book
from geartrack.shopbook.entry import KEYS
from geartrack.shopbook.exchange import Taken, export_text, import_file
from geartrack.shopbook.rescue import faults_of

FUZZ = settings(max_examples=60, suppress_health_check=[HealthCheck.function_scoped_fixture])


def filled(path):
    with Book(path, create=True, clock=Calendar()) as book:
        for name in ('plain "quoted", comma', "Zeilen\nund Umlaute äöü, 日本"):
            with book.writing():
                inputs = book.add("inputs", inputs_body(name, note="a\r\nb\tc \u2028 =1+1"))
                result = book.add("result", check_document(said=0.1 + 0.2), job=inputs.job, about=inputs.uid)
                quote = book.add("quote", quote_document(), job=inputs.job, about=result.uid)
                book.add("state", state_body("sent"), job=inputs.job, about=quote.uid)
                book.add("outcome", outcome_body(hours={"Cutting": 1.25}, mass_g=0.0), job=inputs.job)
        book.undo(1)
    return path


@pytest.fixture(scope="module")
def full(tmp_path_factory):
    return filled(tmp_path_factory.mktemp("full") / "book.sqlite")


def exported(book_path, out):
    with Book(book_path, read_only=True) as book:
        out.write_bytes(export_text(book, out).encode())
    return out


@pytest.mark.parametrize("suffix", [".jsonl", ".csv", ".CSV"])
def test_a_round_trip_is_equal(full, tmp_path, suffix):
    out = exported(full, tmp_path / f"out{suffix}")
    with Book(full) as book, Book(tmp_path / "new.sqlite", create=True) as new:
        assert import_file(new, out) == Taken(11, 0)
        assert list(new.entries()) == list(book.entries())
        assert [r.held for r in new.records()] == [r.held for r in book.records()]
        assert export_text(new, out).encode() == out.read_bytes()
        assert faults_of(new) == []
        assert import_file(new, out) == Taken(0, 11)  # twice is once


def test_each_line_is_plain_json_and_each_row_has_the_heading(full, tmp_path):
    lines = exported(full, tmp_path / "a.jsonl").read_text(encoding="utf-8").split("\n")
    assert [tuple(json.loads(line)) for line in lines if line] == [KEYS] * 11
    with exported(full, tmp_path / "a.csv").open(encoding="utf-8", newline="") as stream:
        rows = list(csv.reader(stream))
    assert tuple(rows[0]) == KEYS
    assert not [cell for row in rows for cell in row if cell[:1] in {"=", "+", "-", "@"}]  # nothing a sheet would run


def test_two_books_become_one(full, tmp_path):
    other = filled(tmp_path / "other.sqlite")
    with Book(other) as book:
        assert import_file(book, exported(full, tmp_path / "a.csv")) == Taken(11, 0)
        assert len(book.numbers()) == 4


def broken(full, tmp_path, change):
    """An export whose lines are changed, and what importing it says, line by line; the book must stay empty."""
    lines = exported(full, tmp_path / "a.jsonl").read_text(encoding="utf-8").split("\n")
    out = tmp_path / "b.jsonl"
    out.write_text("\n".join(change(lines)), encoding="utf-8")
    with Book(tmp_path / "new.sqlite", create=True) as book:
        with pytest.raises(InputError) as caught:
            import_file(book, out)
        assert book.db.execute("SELECT (SELECT count(*) FROM entry) + (SELECT count(*) FROM job)").fetchone() == (0,)
    return str(caught.value).splitlines()


def with_field(line, **fields):
    return json.dumps(json.loads(line) | fields)


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (lambda line: line[:-9], "is not JSON"),
        (lambda line: "[1]", "is no table"),
        (lambda line: line.replace('"tool"', '"tools"'), "has not the keys of an entry; uid, job, kind"),
        (lambda line: with_field(line, uid="x"), "uid is no name of an entry; 16 digits"),
        (lambda line: with_field(line, job=3), "job is no name of an entry"),
        (lambda line: with_field(line, kind="poem"), "kind is not known; inputs, result"),
        (lambda line: with_field(line, at="yesterday"), "at is no time with its offset"),
        (lambda line: with_field(line, at="2026-03-02T09:00:00"), "at is no time with its offset"),
        (lambda line: with_field(line, tool=""), "tool is no version"),
        (lambda line: with_field(line, about="0123456789abcdef"), "is about 0123456789abcdef, which is no result"),
        (lambda line: with_field(line, body=[]), "body is no table"),
        (lambda line: with_field(line, body={}), "quote a quote is a quote's document|quote: a quote is"),
        (lambda line: line.replace("150.10", "x"), "low, likely and high are not all there"),
        (lambda line: line.replace("150.10", "NaN"), "not all sums from zero on"),
        (lambda line: line.replace("150.10", "1"), "do not rise"),
        (lambda line: line.replace('"counted": true', '"counted": NaN'), "is not JSON"),
        (lambda line: line.replace('"counted": true', '"counted": 1e999'), "holds what no file can hold"),
        (lambda line: line.replace('"Burr"', '"\\ud800"'), "holds what no file can hold"),
        (lambda line: line.replace('"kind": "quote"', '"kind": "quote", "kind": "quote"', 1), "is not JSON"),
        (lambda line: line.replace('"counted": true', '"counted": ' + "[" * 100_000), "is not JSON"),
        (lambda line: line.replace('"counted": true', '"counted": ' + "9" * 5000), "is not JSON"),
    ],
)
def test_a_fault_is_told_with_its_line_and_nothing_is_taken_in(full, tmp_path, change, said):
    faults = broken(full, tmp_path, lambda lines: [*lines[:2], change(lines[2]), *lines[3:]])
    assert faults[0].startswith(f"{tmp_path / 'b.jsonl'}, line 3: ")
    assert any(each in faults[0] for each in said.split("|"))


def test_every_faulty_line_is_told_up_to_twenty(full, tmp_path):
    faults = broken(full, tmp_path, lambda lines: [*lines[:1], "{", *lines[1:4], "}", *lines[4:]])
    assert [fault.split(": ")[0].split(", ")[1] for fault in faults] == ["line 2", "line 6"]
    many = broken(full, tmp_path, lambda lines: ["nonsense"] * 100)
    assert len(many) == 21
    assert many[-1].endswith("more than 20 lines are at fault; the rest was not looked at")


def test_order_counts(full, tmp_path):
    faults = broken(full, tmp_path, lambda lines: lines[::-1])
    assert "the entries of a job in order" in faults[0]


def test_an_entry_that_says_something_else_under_a_known_name_is_refused(full, tmp_path):
    out = exported(full, tmp_path / "a.jsonl")
    out.write_text(out.read_text(encoding="utf-8").replace("F-1207", "F-9999", 1), encoding="utf-8")
    with Book(full) as book, pytest.raises(InputError, match=r"line 1: entry .* already and says something else"):
        import_file(book, out)


def test_names_do_not_come_in_by_an_import(full, tmp_path):
    faults = broken(
        full, tmp_path, lambda lines: [lines[0].replace('"customer": null', '"customer": "Doe"'), *lines[1:]]
    )
    assert "customer is not in initials; up to four capitals" in faults[0]


@pytest.mark.parametrize(
    ("name", "content", "said"),
    [
        ("a.txt", b"", "no kind of export; a name that ends in .jsonl or .csv"),
        ("a.jsonl", b"", "holds no entry"),
        ("a.csv", b"", "holds no entry"),
        ("a.csv", b"a,b\r\n", "line 1: is not the heading of an export"),
        ("a.csv", ",".join(KEYS).encode() + b"\r\n1,2\r\n", "line 2: has 2 cells; 7, as in the heading"),
        ("a.csv", ",".join(KEYS).encode() + b'\r\n"unended', "line 2: cannot be read as CSV"),
        ("a.csv", ",".join(KEYS).encode() + b"\r\na,b,c,d,e,f,{\r\n", "line 2: body is not JSON"),
        ("a.jsonl", b"\xff\xfe", "is no text in UTF-8"),
    ],
)
def test_a_file_that_is_no_export_is_refused(tmp_path, name, content, said):
    path = tmp_path / name
    path.write_bytes(content)
    with Book(tmp_path / "new.sqlite", create=True) as book:
        with pytest.raises(InputError, match=said):
            import_file(book, path)
        with pytest.raises(InputError, match="cannot be read: No such file"):
            import_file(book, tmp_path / "none.csv")
        assert book.numbers() == []


def test_a_line_without_end_is_refused_without_being_held(tmp_path, monkeypatch):
    monkeypatch.setattr("geartrack.shopbook.exchange.LONGEST_LINE", 1000)
    for name in ("a.jsonl", "a.csv"):
        path = tmp_path / name
        path.write_text('{"uid": "' + "x" * 5000, encoding="utf-8")
        with Book(tmp_path / "new.sqlite", create=True) as book, pytest.raises(InputError, match="line 1"):
            import_file(book, path)


JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(), inner, max_size=3),
    max_leaves=8,
)


@FUZZ
@given(data=st.data())
def test_whatever_stands_in_a_line_is_taken_or_told_never_a_traceback(full, tmp_path, data):
    """A field somewhere in an entry, or in its body, becomes anything at all."""
    lines = exported(full, tmp_path / "a.jsonl").read_text(encoding="utf-8").split("\n")
    at = data.draw(st.integers(0, len(lines) - 2))
    line = json.loads(lines[at])
    place = line["body"] if data.draw(st.booleans()) and line["body"] else line
    place[data.draw(st.sampled_from(sorted(place)))] = data.draw(JSON)
    lines[at] = json.dumps(line)
    out = tmp_path / "b.jsonl"
    out.write_text("\n".join(lines), encoding="utf-8")
    taken_or_told(out, tmp_path, len(lines) - 1)


@FUZZ
@given(data=st.binary(max_size=300), suffix=st.sampled_from([".jsonl", ".csv"]), headed=st.booleans())
def test_any_bytes_are_taken_or_told(tmp_path, data, suffix, headed):
    out = tmp_path / f"c{suffix}"
    out.write_bytes(",".join(KEYS).encode() + b"\r\n" + data if headed else data)
    taken_or_told(out, tmp_path, None)


def taken_or_told(out, tmp_path, count):
    new = tmp_path / "fuzz.sqlite"
    new.unlink(missing_ok=True)
    with Book(new, create=True) as book:
        try:
            taken = import_file(book, out)
        except InputError as error:
            told = str(error).splitlines()
            taken = Taken(0, 0)
            if not all(line.startswith(str(out)) for line in told):
                raise
        else:
            if count is not None and taken.new + taken.known != count:
                raise AssertionError(taken)
        assert len(list(book.entries())) == taken.new
        assert faults_of(book) == []
