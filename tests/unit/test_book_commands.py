"""`geartrack book` as a shop uses it: the demo's job from check to report, and every refusal in one line."""

import json
import shutil

import pytest
import screen_words as words
from click.testing import CliRunner

from geartrack.cli import main
from geartrack.cli.book import STATES
from geartrack.datafiles import data_path
from geartrack.job import job_document, read_job
from geartrack.shopbook import Book
from geartrack.shopbook.record import FOLLOWS

JOB = data_path("jobs/grind.toml")


def run(*arguments, book, status=0):
    """A book command's stdout; what it refuses is its stderr, checked to be lines without a traceback."""
    ran = CliRunner().invoke(main, ["book", *map(str, arguments)], env={"GEARTRACK_BOOK": str(book), "COLUMNS": "140"})
    assert ran.exit_code == status, ran.output
    assert "--json" in arguments or words.forbidden(ran.output, metals=words.METALS) == []
    if status:
        assert all(line.startswith("geartrack: ") for line in ran.stderr.splitlines())
    return ran.stderr if status else ran.stdout


@pytest.fixture(scope="module")
def one_job(tmp_path_factory):
    """A book with the demo's main job in it, to copy."""
    path = tmp_path_factory.mktemp("book") / "book.sqlite"
    run("add", JOB, "--customer", "j.d.", book=path)
    return path


@pytest.fixture
def book(one_job, tmp_path):
    return shutil.copy(one_job, tmp_path / "book.sqlite")


def test_the_demo_job_from_check_to_report(book, tmp_path):
    (tmp_path / "boss.jpg").write_bytes(b"")
    assert "the quote was draft, now sent" in run("state", 1, "sent", book=book)
    run("state", 1, "accepted", "--note", "by phone", book=book)
    run("measure", 1, "gap", "0.010 in", "--tool", "feeler", "--by", "ab", book=book)
    run(
        "outcome",
        1,
        "--hours",
        "template=0.5",
        "--hours",
        "fit and check=0.75",
        "--photo",
        tmp_path / "boss.jpg",
        book=book,
    )
    run("outcome", 1, "--gap-after", "0.024 in", "--mass", "1.2 g", book=book)
    run("state", 1, "done", book=book)
    shown = run("show", 1, book=book)
    assert "Gap said" in shown
    assert "Dye, template and marking out: 0.50 h, quoted 0.30" in shown
    found = json.loads(run("show", 1, "--json", book=book))
    assert (found["state"], found["customer"], found["result"]["verdict"]) == ("done", "JD", "grind")
    assert found["outcome"]["mass_g"] == 1.2
    assert found["measurements"][0]["value_mm"] == pytest.approx(0.254)
    (row,) = (
        json.loads(run("list", "hill-climb", book=book))[:1] if False else json.loads(run("list", "--json", book=book))
    )
    assert row["state"] == "done"
    assert row["gap"]["said_mm"] == pytest.approx(found["result"]["gap"]["nominal_mm"])
    made = json.loads(run("report", "--json", "--figure", tmp_path / "report.svg", book=book))
    assert (made["months"][-1]["added"], made["months"][-1]["won"]) == (1, 1)
    assert made["months"][-1]["taken_hours"] == pytest.approx(1.25)
    assert made["gap"]["bias_mm"]["mean"] == pytest.approx(0.254 - found["result"]["gap"]["nominal_mm"])
    assert (tmp_path / "report.svg").read_text(encoding="utf-8").count("1 of 1 quotes decided were won") >= 1
    text = run("report", book=book)
    taken = ("Dye, template and marking out", "Fit and check between passes")
    quoted = sum(float(line["hours"]["likely"]) for line in found["quote"]["lines"] if line["name"] in taken)
    assert f"quoted {quoted:.2f}, taken 1.25" in text
    assert "Proposals rest on jobs that were won" in run("learn", book=book)
    assert "all sound" in run("check", book=book)


def test_a_revision_an_undo_and_the_history(book):
    assert run("add", data_path("jobs/hits.toml"), "--to", 1, book=book).startswith("Job 1: ")
    assert len(json.loads(run("history", 1, "--json", book=book))["entries"]) == 6
    assert "taken back: inputs" in run("undo", 1, book=book)
    assert "takes back entry 4" in run("history", 1, book=book)
    assert "Hill-climb car, 5.14:1" in run("list", book=book)
    assert "taken back: undo" in run("undo", 1, "--entry", 7, book=book)
    run("undo", 1, book=book)
    run("undo", 1, book=book)
    assert "was taken back" in run("show", 1, book=book)
    assert "No such job" in run("list", book=book)


@pytest.mark.parametrize("name", ["clears", "grind-by-readings", "steps/3-old-gears-gap-read"])
def test_a_job_is_kept_as_typed_and_comes_back_equal(name, tmp_path):
    path = data_path(f"jobs/{name}.toml")
    book = tmp_path / "book.sqlite"
    run("add", path, book=book)
    run("show", 1, "--write", tmp_path / "job.toml", book=book)
    assert job_document(read_job(tmp_path / "job.toml")) == job_document(read_job(path))
    with Book(book) as opened:
        assert opened.record(1).newest("inputs").document["toml"] == path.read_text(encoding="utf-8")


@pytest.mark.parametrize("name", ["grind-by-readings", "grind-by-trace"])
def test_the_files_a_boss_is_read_from_are_kept_with_the_job(name, tmp_path):
    run("add", data_path(f"jobs/{name}.toml"), book=tmp_path / "book.sqlite")
    with Book(tmp_path / "book.sqlite") as opened:
        tables = opened.record(1).newest("inputs").document["tables"]
    assert tables
    for name, text in tables.items():
        (source,) = data_path("cases").rglob(name)
        assert text == source.read_text(encoding="utf-8")


def test_export_import_backup_and_rescue(book, tmp_path):
    for name in ("a.csv", "a.jsonl"):
        run("export", tmp_path / name, book=book)
        assert "already" in run("export", tmp_path / name, book=book, status=2)
        new = tmp_path / f"{name}.sqlite"
        assert "3 entries taken in; 0 were there already" in run("import", tmp_path / name, book=new)
        assert run("list", book=new) == run("list", book=book)
    run("backup", tmp_path / "copy.sqlite", book=book)
    assert run("show", 1, "--json", book=tmp_path / "copy.sqlite") == run("show", 1, "--json", book=book)
    raw = bytearray(book.read_bytes())
    raw[len(raw) // 2 :] = b""
    book.write_bytes(raw)
    assert "is damaged" in run("list", book=book, status=2)
    ran = CliRunner().invoke(main, ["book", "rescue", str(tmp_path / "saved.sqlite"), "--book", str(book)])
    assert ran.exit_code in (0, 2)
    assert "Traceback" not in ran.output


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("add", JOB, "--customer", "John Doe"), "--customer: the book keeps initials only, no names"),
        (("add", JOB, "--to", 9), "has no job 9"),
        (("add", "none.toml"), "none.toml"),
        (("show", 9), "has no job 9; `geartrack book list` shows the numbers"),
        (("state", 1, "done"), "its quote is draft: done cannot follow; sent, accepted, lost"),
        (("measure", 1, "gap", "0.02"), "has no unit"),
        (("outcome", 1, "--hours", "sanding=1"), "no line of the quote"),
        (("undo", 1, "--entry", 7), "has no entry 7; 1 to 3"),
        (("report", "--month", "May"), "no month; year and month, such as 2026-03"),
        (("report", "--figure", "r.gif"), "use .svg, .png or .pdf"),
        (("export", "out.xlsx"), "a name that ends in .jsonl or .csv"),
        (("import", "none.csv"), "cannot be read"),
    ],
)
def test_what_is_refused_is_one_line_and_changes_nothing(book, arguments, said, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    (line,) = run(*arguments, book=book, status=2).splitlines()
    assert said in line
    with Book(book) as opened:
        assert len(list(opened.entries())) == 3
    assert sorted(each.name for each in tmp_path.iterdir()) == ["book.sqlite"]


def test_a_refused_job_leaves_no_half_book(tmp_path):
    (tmp_path / "job.toml").write_text("name = 1", encoding="utf-8")
    assert "job.toml" in run("add", tmp_path / "job.toml", book=tmp_path / "new.sqlite", status=2)
    assert "No such job" in run("list", book=tmp_path / "new.sqlite")


def test_no_book_yet_is_said(tmp_path):
    for command in (
        ("list",),
        ("show", 1),
        ("report",),
        ("backup", tmp_path / "out"),
        ("check",),
        ("state", 1, "sent"),
    ):
        assert "no book is there yet" in run(*command, book=tmp_path / "none.sqlite", status=2)
    assert list(tmp_path.iterdir()) == []


def test_the_states_offered_are_those_that_can_follow():
    assert set(STATES) == {state for states in FOLLOWS.values() for state in states}
