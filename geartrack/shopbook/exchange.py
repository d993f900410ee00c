"""The book as a file for others: JSON lines or CSV, an entry a line; taken in whole, or not at all."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, TextIO

from geartrack.errors import Finding, InputError, refuse
from geartrack.shopbook.book import Book
from geartrack.shopbook.entry import KEYS, LONGEST_BODY, Entry, entry_from, read_json

LONGEST_LINE = 2 * LONGEST_BODY
_FAULTS_SHOWN = 20
_KINDS = (".jsonl", ".csv")


@dataclass(frozen=True)
class Taken:
    """What an import did: entries that were new, and those that the book had already."""

    new: int
    known: int


def export_text(book: Book, path: Path) -> str:
    """The whole book as JSON lines or CSV, by the path's suffix, in the order in which it was written."""
    _suffix(path)
    if path.suffix.lower() == ".jsonl":
        lines = ({key: getattr(e, key) for key in KEYS} | {"body": e.document} for e in book.entries())
        return "".join(json.dumps(line, ensure_ascii=False, allow_nan=False) + "\n" for line in lines)
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(KEYS)
    writer.writerows(
        ["" if value is None else value for value in (getattr(e, key) for key in KEYS)] for e in book.entries()
    )
    return out.getvalue()


def import_file(book: Book, path: Path) -> Taken:
    """Take in an export, every entry or none; one that the book has already is passed over, so twice is once.

    Raises InputError with a line for each line of the file that is at fault; then the book is as it was.
    """
    _suffix(path)
    faults: list[Finding] = []
    new = known = 0
    try:
        with path.open(encoding="utf-8", newline="") as stream, book.writing():
            for number, fields in _lines(stream, path):
                try:
                    entry = _entry(fields)
                    if faults or _is_known(book, entry):
                        known += 1
                        continue
                    book.put(entry)
                    new += 1
                except InputError as error:
                    said = error.findings[0]
                    what = f"{said.where} {said.what}".strip()
                    faults.append(Finding(f"{path}, line {number}", what, said.right))
                    if len(faults) > _FAULTS_SHOWN:
                        break
            if faults or not new + known:
                raise InputError(*_told(path, faults))
    except UnicodeDecodeError:
        raise refuse(str(path), "is no text in UTF-8", "a file as `geartrack book export` writes it") from None
    except OSError as fault:
        raise refuse(str(path), f"cannot be read: {fault.strerror or fault}", "an export of a book") from None
    return Taken(new, known)


def _told(path: Path, faults: list[Finding]) -> list[Finding]:
    if not faults:
        return [Finding(str(path), "holds no entry", "a file as `geartrack book export` writes it")]
    more = [Finding(str(path), f"more than {_FAULTS_SHOWN} lines are at fault", "the rest was not looked at")]
    return faults[:_FAULTS_SHOWN] + (more if len(faults) > _FAULTS_SHOWN else [])


def _suffix(path: Path) -> None:
    if path.suffix.lower() not in _KINDS:
        raise refuse(str(path), "the name says no kind of export", f"a name that ends in {' or '.join(_KINDS)}")


def _entry(fields: Mapping[str, Any] | InputError) -> Entry:
    if isinstance(fields, InputError):
        raise fields
    return entry_from(fields)


def _is_known(book: Book, entry: Entry) -> bool:
    row = book.db.execute("SELECT digest FROM entry WHERE uid = ?", (entry.uid,)).fetchone()
    if row is None:
        return False
    if row[0] != entry.digest:
        raise refuse("", f"entry {entry.uid} is in the book already and says something else", "an unaltered export")
    return True


def _lines(stream: TextIO, path: Path) -> Iterator[tuple[int, Mapping[str, Any] | InputError]]:
    """The number of each line, and its fields or what is wrong with it."""
    if path.suffix.lower() == ".csv":
        yield from _csv_lines(stream)
        return
    number = 0
    while line := stream.readline(LONGEST_LINE):
        number += 1
        if len(line) >= LONGEST_LINE:
            yield number, refuse("", "is longer than any entry", f"up to {LONGEST_LINE} characters")
            return
        if line.strip():
            yield number, _json_fields(line)


def _json_fields(line: str) -> Mapping[str, Any] | InputError:
    try:
        found = read_json(line)
    except InputError as error:
        return error
    return found if isinstance(found, dict) else refuse("", "is no table", "an entry in braces")


def _csv_lines(stream: TextIO) -> Iterator[tuple[int, Mapping[str, Any] | InputError]]:
    csv.field_size_limit(LONGEST_LINE)
    reader = csv.reader(iter(lambda: stream.readline(LONGEST_LINE), ""), strict=True)
    try:
        head = next(reader, None)
        if head is None:
            return
        if tuple(head) != KEYS:
            yield 1, refuse("", "is not the heading of an export", ",".join(KEYS))
            return
        for cells in reader:
            yield reader.line_num, _csv_fields(cells)
    except csv.Error as fault:
        yield reader.line_num, refuse("", f"cannot be read as CSV ({fault})", "an unaltered export")


def _csv_fields(cells: list[str]) -> Mapping[str, Any] | InputError:
    if len(cells) != len(KEYS):
        return refuse("", f"has {len(cells)} cells", f"{len(KEYS)}, as in the heading")
    fields: dict[str, Any] = dict(zip(KEYS, cells, strict=True))
    try:
        return fields | {"about": fields["about"] or None, "body": read_json(fields["body"])}
    except InputError:
        return refuse("", "body is not JSON", "an unaltered export")
