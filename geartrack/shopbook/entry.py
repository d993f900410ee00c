"""One line of the shop's book: never changed once written, vouched for by its digest."""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from geartrack.errors import refuse

KEYS = ("uid", "job", "kind", "at", "tool", "about", "body")
"""The fields of an entry, in the order of its line in an export."""
KINDS = ("inputs", "result", "quote", "state", "measurement", "outcome", "undo")
LONGEST_BODY = 2_000_000
_UID = re.compile(r"[0-9a-f]{16}")


@dataclass(frozen=True)
class Entry:
    """What was written once.

    uid: its name in every book it is carried to; job: the name of its job; kind: one of KINDS; at: when, with the
    shop's offset from UTC; tool: the geartrack that wrote it; about: the entry it was made from or takes back; body:
    the document, as JSON text.
    """

    uid: str
    job: str
    kind: str
    at: str
    tool: str
    about: str | None
    body: str

    @property
    def document(self) -> dict[str, Any]:
        """The body as a document."""
        found: dict[str, Any] = json.loads(self.body)
        return found

    @property
    def digest(self) -> str:
        """SHA-256 over every field: a row that was altered, by whatever, no longer answers to it."""
        told = json.dumps([getattr(self, key) for key in KEYS])
        return hashlib.sha256(told.encode()).hexdigest()


def as_text(document: object) -> str:
    """A document as the JSON text that a book holds; refuses what JSON has no word for."""
    try:
        text = json.dumps(document, ensure_ascii=False, separators=(",", ":"), allow_nan=False)
        text.encode()
    except (ValueError, TypeError, RecursionError):
        raise refuse("", "holds what no file can hold", "text, finite numbers, lists and tables") from None
    if len(text) > LONGEST_BODY:
        raise refuse("", f"is {len(text)} characters long", f"up to {LONGEST_BODY}")
    return text


def read_json(text: str) -> Any:
    """JSON as others wrote it; refuses NaN, numbers past every float, a key named twice, nesting without end."""
    try:
        return json.loads(text, parse_constant=_no_number, object_pairs_hook=_once)
    except (ValueError, RecursionError):
        raise refuse("", "is not JSON", "a line as `geartrack book export` writes it") from None


def entry_from(fields: Mapping[str, Any], kinds: Sequence[str] = KINDS) -> Entry:
    """An entry from the fields of an export's line, the body a document; refuses a field that is missing or odd."""
    if set(fields) != set(KEYS):
        raise refuse("", "has not the keys of an entry", ", ".join(KEYS))
    for key in ("uid", "job", "about"):
        value = fields[key]
        if not (key == "about" and value is None) and not (isinstance(value, str) and _UID.fullmatch(value)):
            raise refuse("", f"{key} is no name of an entry", "16 digits of 0-9a-f")
    if fields["kind"] not in kinds:
        raise refuse("", "kind is not known", ", ".join(kinds))
    tool = fields["tool"]
    if not (isinstance(tool, str) and 0 < len(tool) <= 40 and tool.isprintable()):
        raise refuse("", "tool is no version", "such as 0.1.0")
    if not isinstance(fields["body"], dict):
        raise refuse("", "body is no table", "a table in braces")
    body = as_text(fields["body"])
    return Entry(fields["uid"], fields["job"], fields["kind"], _time(fields["at"]), tool, fields["about"], body)


def in_force(entries: Sequence[Entry]) -> list[Entry]:
    """Of one job's entries in order, those that hold: not taken back, nor made from what was taken back."""
    undone: set[str | None] = set()
    for entry in reversed(entries):
        if entry.kind == "undo" and entry.uid not in undone:
            undone.add(entry.about)
    gone: set[str | None] = set()
    held = []
    for entry in entries:
        if entry.uid in undone or (entry.kind != "undo" and entry.about in gone):
            gone.add(entry.uid)
        elif entry.kind != "undo":
            held.append(entry)
    return held


def newest(entries: Sequence[Entry], kind: str) -> Entry | None:
    """The last entry of its kind; None where there is none."""
    return next((entry for entry in reversed(entries) if entry.kind == kind), None)


def _time(text: object) -> str:
    try:
        if isinstance(text, str) and len(text) <= 40 and datetime.fromisoformat(text).tzinfo is not None:
            return text
    except ValueError:
        pass
    raise refuse("", "at is no time with its offset from UTC", "such as 2026-03-01T09:30:00.000+00:00")


def _no_number(text: str) -> float:
    raise ValueError(text)


def _once(pairs: Sequence[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) != len(pairs):
        raise ValueError("a key twice")
    return found


def lines_of(document: object) -> Iterator[str]:
    """Every text in a document, however deep, for the search."""
    if isinstance(document, str):
        yield document
    elif isinstance(document, Mapping):
        for value in document.values():
            yield from lines_of(value)
    elif isinstance(document, list):
        for value in document:
            yield from lines_of(value)
