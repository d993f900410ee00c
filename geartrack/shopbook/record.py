"""What a shop writes into its book: a job with its check and quote, readings, how the quote stands, what came of it."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from difflib import get_close_matches
from pathlib import Path
from typing import Any

from geartrack.errors import refuse
from geartrack.job import StationsFile, job_document, write_job
from geartrack.job.parts import Table
from geartrack.shopbook.bodies import STATES, initials, typed_hours
from geartrack.shopbook.book import Book, Record
from geartrack.shopbook.entry import Entry
from geartrack.study.answer import Answer
from geartrack.study.document import as_document
from geartrack.units import parse_length

OTHER_WORK = "Other work, not in the quote"
FOLLOWS: Mapping[str, tuple[str, ...]] = {
    "draft": ("sent", "accepted", "lost"),
    "sent": ("accepted", "lost"),
    "accepted": ("done", "lost"),
    "lost": ("sent", "accepted"),
    "done": (),
}
"""Where a quote may go from each state; back is by undo."""
_TABLES, _LONGEST_TABLE = (".csv", ".toml", ".svg", ".dxf"), 200_000  # scans are too large: they stay by their path


def add_job(book: Book, path: Path, answer: Answer, quote: object, *, customer: str | None, to: int | None) -> int:
    """Write a checked job with its result and quote, as a new job or as another revision of job `to`; its number.

    path: the job's file, whose text is kept beside the values that were read from it; customer: initials, or none.
    """
    body = _inputs(path, answer, initials(customer, "--customer") if customer else None)
    with book.writing():
        job = book.record(to).uid if to is not None else None
        inputs = book.add("inputs", body, job=job)
        result = book.add("result", as_document(answer), job=inputs.job, about=inputs.uid)
        book.add("quote", as_document(quote), job=inputs.job, about=result.uid)
        return book.number_of(inputs.job)


def _inputs(path: Path, answer: Answer, customer: str | None) -> dict[str, Any]:
    job = answer.job
    tables = {file.name: _text(file) for file in _files(job.boss) if file.suffix.lower() in _TABLES and _short(file)}
    return {
        "customer": customer,
        "name": job.name,
        "teeth": str(answer.pair),
        "mark": job.case.mark,
        "file": path.name,
        "toml": _text(path),
        "job": job_document(job),
        "tables": tables,
    }


def _files(value: object) -> Iterator[Path]:
    """Every file that a table of a job is read from."""
    if isinstance(value, StationsFile):
        yield value.path
    elif isinstance(value, Table | tuple):
        for each in value:
            yield from _files(each)


def _short(path: Path) -> bool:
    return path.stat().st_size <= _LONGEST_TABLE


def _text(path: Path) -> str:
    try:
        return path.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError) as fault:
        raise refuse(str(path), f"cannot be read: {fault}", "the file that was checked, as it was") from None


def write_inputs(record: Record, path: Path) -> None:
    """Write the newest inputs of a job, as they were checked, to a job file that needs no other TOML file."""
    inputs = record.newest("inputs")
    if inputs is None:
        raise refuse(f"job {record.number}", "has no inputs in force", f"`geartrack book history {record.number}`")
    write_job(inputs.document["job"], path)


def move_quote(book: Book, number: int, state: str, note: str = "") -> str:
    """Say how the newest quote of a job stands now; returns how it stood."""
    with book.writing():
        record = book.record(number)
        quote, before = record.newest("quote"), record.state
        if quote is None or before is None:
            raise refuse(f"job {number}", "has no quote", "`geartrack book add JOB --to N` makes one")
        if state not in FOLLOWS[before]:
            may = ", ".join(FOLLOWS[before]) or "nothing more"
            what = f"its quote is {before}: {state if state in STATES else repr(state)} cannot follow"
            raise refuse(f"job {number}", what, f"{may}; `geartrack book undo {number}` goes back")
        book.add("state", {"state": state, "note": note}, job=record.uid, about=quote.uid)
    return before


def measure(book: Book, number: int, what: str, typed: str, *, tool: str = "", by: str = "", note: str = "") -> Entry:
    """Write down a length that was read; what: its name, typed: the length with its unit; by: initials."""
    body = {
        "what": what.strip(),
        "typed": typed,
        "value_mm": parse_length(typed, where=what),
        "tool": tool,
        "by": initials(by, "--by") if by else "",
        "note": note,
    }
    if not body["what"]:
        raise refuse("what was read", "nothing typed", "such as gap, or toe height")
    with book.writing():
        return book.add("measurement", body, job=book.record(number).uid)


def set_outcome(
    book: Book,
    number: int,
    *,
    hours: Sequence[str] = (),
    gap_after: str | None = None,
    mass: str | None = None,
    photos: Sequence[Path] = (),
    note: str = "",
) -> Entry:
    """Write down what came of a job; what is not said stays as it was.

    hours: "line=hours" each, the line by any part of its name that no other has; gap_after: a length with its unit;
    mass: the metal removed, in grams.
    """
    missing = [path for path in photos if not path.is_file()]
    if missing:
        raise refuse(str(missing[0]), "no such picture", "the path of a file that is there")
    with book.writing():
        record = book.record(number)
        lines = quoted_lines(record)
        typed = [each.rpartition("=") for each in hours]
        body = {
            "hours": {_line(name, lines): typed_hours(text, f"--hours {name}") for name, _, text in typed},
            "gap_after_mm": parse_length(gap_after, where="--gap-after") if gap_after else None,
            "mass_g": _grams(mass) if mass else None,
            "photos": [str(path.absolute()) for path in photos],
            "note": note,
        }
        if not any(value or value == 0.0 for value in body.values()):
            raise refuse(
                f"job {number}", "nothing was said of what came of it", "--hours, --gap-after, --mass or --photo"
            )
        return book.add("outcome", body, job=record.uid)


def quoted_lines(record: Record) -> list[str]:
    """Names of the lines of the newest quote that have hours."""
    quote = record.newest("quote")
    lines = quote.document["lines"] if quote else []
    return [str(line["name"]) for line in lines if line.get("hours") is not None]


def _line(name: str, lines: Sequence[str]) -> str:
    """The quote's line that is meant."""
    tidy = name.strip().casefold()
    known = [*lines, OTHER_WORK]
    ways: tuple[Callable[[str], bool], ...] = (
        tidy.__eq__,
        lambda line: line.startswith(tidy),
        lambda line: tidy in line,
    )
    found = next((hits for fits in ways if (hits := [line for line in known if fits(line.casefold())])), [])
    if tidy and len(found) == 1:
        return found[0]
    near = get_close_matches(name, known, n=1, cutoff=0.4)
    right = f"one of: {'; '.join(found or near or known)}"
    raise refuse(
        "--hours", f"{name.strip()!r} is {'several lines' if found and tidy else 'no line'} of the quote", right
    )


def _grams(text: str) -> float:
    tidy = text.strip().lower().removesuffix("g").strip().replace(",", ".")
    try:
        grams = float(tidy)
    except ValueError:
        grams = -1.0
    if not 0.0 <= grams <= 1e6:
        raise refuse("--mass", f"{text!r} is no mass in grams", "such as 5.3 g")
    return grams
