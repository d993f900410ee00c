"""`geartrack book`: the shop's own record of jobs, quotes, readings and outcomes."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from geartrack.cli.options import FIGURE, with_options

if TYPE_CHECKING:
    from geartrack.shopbook import Book

BOOK = click.option(
    "--book",
    "place",
    type=click.Path(path_type=Path),
    envvar="GEARTRACK_BOOK",
    help="The book's file (default: GEARTRACK_BOOK, else book.sqlite in your own data folder).",
)
NUMBER = click.argument("number", type=click.IntRange(min=1))
NOTE = click.option("--note", default="", help="A line to remember it by; no names.")
OUT = click.argument("out", type=click.Path(path_type=Path))
JSON = click.option("--json", "as_json", is_flag=True, help="Print it as JSON.")
STATES = ("sent", "accepted", "done", "lost")


def _open(place: Path | None, *, create: bool = False, read_only: bool = False) -> Book:
    from geartrack.shopbook import Book, default_place

    return Book(place or default_place(), create=create, read_only=read_only)


@click.group()
def book() -> None:
    """The shop's book: jobs, quotes, readings, what came of them. Nothing in it is ever overwritten."""


@book.command()
@click.argument("job", type=click.Path(path_type=Path))
@click.option("--customer", help="The customer's initials, up to four letters; the book keeps no names.")
@click.option("--to", type=click.IntRange(min=1), help="Number of a job in the book that this is a revision of.")
@BOOK
def add(job: Path, customer: str | None, to: int | None, place: Path | None) -> None:
    """Check a job, price it, and write job, result and quote into the book."""
    from geartrack.cli import present
    from geartrack.job import read_job
    from geartrack.shopbook.record import add_job
    from geartrack.study import quote_for

    with _open(place, create=True) as opened:
        answer = present.answered(read_job(job))
        number = add_job(opened, job, answer, quote_for(answer, date.today()), customer=customer, to=to)
    click.echo(f"Job {number}: {answer.job.name}, {answer.pair}: {answer.verdict.words}. The quote is a draft.")


@book.command("list")
@click.argument("words", nargs=-1)
@with_options(JSON, BOOK)
def list_jobs(words: tuple[str, ...], as_json: bool, place: Path | None) -> None:
    """The jobs, the newest first; with WORDS, those in which all of them were ever written."""
    from geartrack.cli import book_show
    from geartrack.shopbook.summary import summaries

    with _open(place, read_only=True) as opened:
        found = summaries(opened, opened.numbers(words))
    book_show.as_json([book_show.summary_document(job) for job in found]) if as_json else book_show.jobs(found)


@book.command()
@NUMBER
@click.option("--write", type=click.Path(path_type=Path), help="Write the job's newest inputs to this job file.")
@with_options(JSON, BOOK)
def show(number: int, write: Path | None, as_json: bool, place: Path | None) -> None:
    """One job as it stands."""
    from geartrack.cli import book_show
    from geartrack.shopbook.record import write_inputs
    from geartrack.shopbook.summary import summaries

    with _open(place, read_only=True) as opened:
        record, found = opened.record(number), summaries(opened, [number])
    if write:
        write_inputs(record, write)
        click.echo(f"Wrote {write}", err=True)
    if as_json:
        book_show.as_json(book_show.record_document(record))
    else:
        book_show.job(record, found)


@book.command()
@NUMBER
@with_options(JSON, BOOK)
def history(number: int, as_json: bool, place: Path | None) -> None:
    """All that was ever written of a job, what was taken back included."""
    from geartrack.cli import book_show

    with _open(place, read_only=True) as opened:
        record = opened.record(number)
    book_show.as_json(book_show.history_document(record)) if as_json else book_show.history(record)


@book.command(context_settings={"ignore_unknown_options": True})  # a gap below zero starts with a minus
@NUMBER
@click.argument("what")
@click.argument("value")
@click.option("--tool", default="", help="What it was read with.")
@click.option("--by", default="", help="Initials of who read it.")
@with_options(NOTE, BOOK)
def measure(number: int, what: str, value: str, tool: str, by: str, note: str, place: Path | None) -> None:
    """Write down a length that was read; WHAT is gap for the gap at final set-up, before any cutting."""
    from geartrack.shopbook.record import measure as write_measurement

    with _open(place) as opened:
        write_measurement(opened, number, what, value, tool=tool, by=by, note=note)
    click.echo(f"Job {number}: {what} {value}.")


@book.command()
@NUMBER
@click.argument("state", type=click.Choice(STATES))
@with_options(NOTE, BOOK)
def state(number: int, state: str, note: str, place: Path | None) -> None:
    """How the newest quote of a job stands: sent, accepted, done or lost; undo goes back."""
    from geartrack.shopbook.record import move_quote

    with _open(place) as opened:
        before = move_quote(opened, number, state, note)
    click.echo(f"Job {number}: the quote was {before}, now {state}.")


@book.command()
@NUMBER
@click.option(
    "--hours",
    multiple=True,
    metavar="LINE=HOURS",
    help="Hours a line of the quote took; any part of its name that no other line has.",
)
@click.option("--gap-after", help='Gap read at the end, such as "0.022 in".')
@click.option("--mass", help='Metal removed, such as "5.3 g"; "0 g" where nothing was ground.')
@click.option("--photo", "photos", multiple=True, type=click.Path(path_type=Path), help="A picture, kept by its path.")
@with_options(NOTE, BOOK)
def outcome(number: int, place: Path | None, **said: Any) -> None:
    """What came of a job; may be said bit by bit, the later word counts."""
    from geartrack.shopbook.record import set_outcome

    with _open(place) as opened:
        entry = set_outcome(opened, number, **said)
    lines = [f"{line} {hours:g} h" for line, hours in entry.document["hours"].items()]
    click.echo(f"Job {number}: outcome written{': ' if lines else ''}{'; '.join(lines)}.")


@book.command()
@NUMBER
@click.option(
    "--entry", type=click.IntRange(min=1), help="Which entry, as the history counts (default: the last deed)."
)
@with_options(NOTE, BOOK)
def undo(number: int, entry: int | None, note: str, place: Path | None) -> None:
    """Take back what was last written of a job; what was taken back stays in the history, and may be brought back."""
    from geartrack.cli import book_show

    with _open(place) as opened:
        target = opened.undo(number, entry, note)
    click.echo(f"Job {number}: taken back: {book_show.said_of(target)}.")


@book.command()
@OUT
@click.option("--force", is_flag=True, help="Write over a file that is there.")
@BOOK
def export(out: Path, force: bool, place: Path | None) -> None:
    """The whole book as JSON lines (.jsonl) or a table (.csv)."""
    from geartrack.files import write_whole
    from geartrack.shopbook.exchange import export_text

    with _open(place, read_only=True) as opened:
        text = export_text(opened, out)
    write_whole(text.encode(), out, overwrite=force)
    click.echo(f"Wrote {out}", err=True)


@book.command("import")
@click.argument("path", type=click.Path(path_type=Path))
@BOOK
def import_command(path: Path, place: Path | None) -> None:
    """Take in an export, all of it or nothing; what the book has already is passed over."""
    from geartrack.shopbook.exchange import import_file

    with _open(place, create=True) as opened:
        taken = import_file(opened, path)
    click.echo(f"{taken.new} entries taken in; {taken.known} were there already.")


@book.command()
@OUT
@BOOK
def backup(out: Path, place: Path | None) -> None:
    """A checked copy of the book, also while others write to it."""
    with _open(place) as opened:
        opened.back_up(out)
    click.echo(f"Wrote {out}", err=True)


@book.command()
@BOOK
@click.pass_context
def check(context: click.Context, place: Path | None) -> None:
    """Is the book's file sound? Looks at every page, every reference and every entry."""
    from geartrack.shopbook.rescue import faults_of

    with _open(place) as opened:
        faults = faults_of(opened)
        count = opened.db.execute("SELECT count(*) FROM entry").fetchone()[0]
    for fault in faults:
        click.echo(f"geartrack: {fault}", err=True)
    if faults:
        click.echo("geartrack: `geartrack book rescue OUT` copies what can still be read to a new book", err=True)
        context.exit(2)
    click.echo(f"{count} entries, all sound.")


@book.command()
@OUT
@BOOK
def rescue(out: Path, place: Path | None) -> None:
    """Copy what a damaged book still holds to a new book; the damaged file is left as it is."""
    from geartrack.cli import book_show
    from geartrack.shopbook import default_place
    from geartrack.shopbook.rescue import rescue as save

    click.echo(book_show.rescued(save(place or default_place(), out), out))


@book.command()
@with_options(JSON, BOOK)
def learn(as_json: bool, place: Path | None) -> None:
    """What your own jobs say of the figures: hours taken and quoted, gaps read and said. It changes nothing."""
    from geartrack.cli import book_show
    from geartrack.shopbook.learn import learn as learn_from
    from geartrack.shopbook.summary import summaries

    with _open(place, read_only=True) as opened:
        learned = learn_from(summaries(opened))
    book_show.as_json(book_show.learned_document(learned)) if as_json else book_show.learned(learned)


@book.command()
@click.option("--month", help="Year and month, such as 2026-03 (default: the last in which anything happened).")
@click.option("--units", type=click.Choice(["in", "mm"]), default="in", show_default=True, help="Unit shown first.")
@with_options(FIGURE, JSON, BOOK)
def report(month: str | None, units: str, figure: Path | None, as_json: bool, place: Path | None) -> None:
    """A month: jobs, how many were won, hours quoted and taken, how the gaps said came out."""
    from geartrack.cli import book_show
    from geartrack.shopbook.report import report as report_of
    from geartrack.shopbook.summary import summaries

    with _open(place, read_only=True) as opened:
        made = report_of(summaries(opened), month)
    if figure:
        book_show.save_figure(made, figure, "mm" if units == "mm" else "in")
    if as_json:
        book_show.as_json(book_show.report_document(made))
    else:
        book_show.report(made, "mm" if units == "mm" else "in")
    if figure:
        click.echo(f"Wrote {figure}", err=True)
