"""What each kind of entry must hold, and the rows that are taken out of it for lists, search and learning."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterator, Mapping
from decimal import Decimal, InvalidOperation
from types import MappingProxyType
from typing import Any

from geartrack.errors import InputError, refuse
from geartrack.shopbook.entry import Entry, lines_of

STATES = ("draft", "sent", "accepted", "done", "lost")
GAP = "gap"
"""The measurement that the prediction is held against: the gap at final set-up, before any cutting."""
MADE_FROM: Mapping[str, str] = MappingProxyType(
    {"result": "inputs", "quote": "result", "state": "quote", "undo": "entry"}
)
"""What each kind of entry is about."""
INITIALS = re.compile(r"[A-Za-z](?:\.?[A-Za-z]){0,3}\.?")
READ_EVIDENCE = ("gap", "touch", "wind", "bar to toe", "old set")
"""Words in the name of evidence that was read in the case, so that the result is no prediction any more."""
_MONEY_LIMIT, _HOURS_LIMIT, _MM_LIMIT = Decimal(10**9), 10_000.0, 1000.0

Row = tuple[str, tuple[Any, ...]]
"""A table's name and the values of a row, without the entry's uid that comes first."""


def initials(text: str, where: str = "") -> str:
    """A customer's or a reader's initials, in capitals; a name is refused: the book keeps no names.

    >>> initials("j.d.")
    'JD'
    """
    tidy = text.strip()
    if len(tidy.replace(".", "")) > 4 or not INITIALS.fullmatch(tidy):
        raise refuse(where, "the book keeps initials only, no names", "up to four letters, such as JD")
    return tidy.replace(".", "").upper()


def rows_of(entry: Entry) -> list[Row]:
    """What is taken out of an entry into the book's tables. Raises InputError where the body is not of its kind."""
    body = entry.document
    if entry.about is None and entry.kind in ("state", "undo"):
        raise refuse("", f"does not say what {MADE_FROM[entry.kind]} it is about", "its uid under about")
    rows = list(_KINDS[entry.kind](body))
    said = " ".join(_searched(entry.kind, body)).casefold()
    return [*rows, ("said", (said,))] if said else rows


def _searched(kind: str, body: Mapping[str, Any]) -> Iterator[str]:
    """The words a job is found by: what people typed, not what was worked out."""
    if kind == "inputs":
        yield from (body["name"], body["teeth"], body["mark"], body["customer"] or "", body["file"], body["toml"])
    elif kind in ("measurement", "outcome", "state"):
        yield from lines_of(body)


def _inputs(body: Mapping[str, Any]) -> Iterator[Row]:
    _keys(body, "customer", "name", "teeth", "mark", "file", "toml", "job", "tables")
    customer = body["customer"]
    if customer is not None and initials(_text(body, "customer", 8)) != customer:
        raise refuse("", "customer is not in initials", "up to four capitals, such as JD")
    if not isinstance(body["job"], dict) or not isinstance(body["tables"], dict):
        raise refuse("", "job and tables are no tables", "the job as a document, the texts of the tables it reads")
    _text(body, "file", 400)
    _text(body, "toml", 1_000_000)
    yield "inputs", (_text(body, "name", 400), _text(body, "teeth", 40), _text(body, "mark", 100), customer)


def _result(body: Mapping[str, Any]) -> Iterator[Row]:
    if body.get("kind") != "check":
        raise refuse("", "a result is a check's document", "kind = check")
    gap, band = _table(body, "gap"), _table(body, "band")
    low, high = _number(band, "low_mm", _MM_LIMIT), _number(band, "high_mm", _MM_LIMIT)
    yield "result", (_text(body, "verdict", 40), low, _number(gap, "nominal_mm", _MM_LIMIT), high, int(_read(body)))


def _read(body: Mapping[str, Any]) -> bool:
    """Whether readings in this very case went into the result."""
    run = body.get("teeth_run")
    found = run.get("evidence") if isinstance(run, dict) else None
    names = [str(each.get("name", "")) for each in found or () if isinstance(each, dict)]
    return any(word in name for name in names for word in READ_EVIDENCE)


def _quote(body: Mapping[str, Any]) -> Iterator[Row]:
    if body.get("kind") != "quote":
        raise refuse("", "a quote is a quote's document", "kind = quote")
    yield "quote", (_text(body, "currency", 8), *map(str, _three(_table(body, "total"), _MONEY_LIMIT, rising=True)))
    lines = body.get("lines")
    if not isinstance(lines, list) or not all(isinstance(line, dict) for line in lines):
        raise refuse("", "lines of the quote are no list of tables", "as `geartrack quote --json` prints them")
    names: set[str] = set()
    for line in lines:
        name, hours = _text(line, "name", 200), line.get("hours")
        if hours is None or name in names:
            continue
        names.add(name)
        three = _three(_table(line, "hours"), Decimal(_HOURS_LIMIT))
        yield "quote_hours", (name, *map(float, three), int(line.get("counted") is not False))


def _state(body: Mapping[str, Any]) -> Iterator[Row]:
    _keys(body, "state", "note")
    if body["state"] not in STATES:
        raise refuse("", "no state of a quote", ", ".join(STATES))
    _text(body, "note", 2000)
    yield "state", (body["state"],)


def _measurement(body: Mapping[str, Any]) -> Iterator[Row]:
    _keys(body, "what", "typed", "value_mm", "tool", "by", "note")
    value = _number(body, "value_mm", _MM_LIMIT)
    if value is None:
        raise refuse("", "value_mm is missing", "a length in mm")
    for key, longest in (("typed", 100), ("tool", 100), ("by", 4), ("note", 2000)):
        _text(body, key, longest)
    yield "measurement", (_text(body, "what", 100), value)


def _outcome(body: Mapping[str, Any]) -> Iterator[Row]:
    _keys(body, "hours", "gap_after_mm", "mass_g", "photos", "note")
    photos = body["photos"]
    if not isinstance(photos, list) or not all(isinstance(each, str) and len(each) < 2000 for each in photos):
        raise refuse("", "photos are no list of paths", "the path of each picture, as text")
    _text(body, "note", 2000)
    yield "outcome", (_number(body, "gap_after_mm", _MM_LIMIT), _number(body, "mass_g", 1e6, least=0.0))
    hours = _table(body, "hours")
    for line in hours:
        taken = _number(hours, line, _HOURS_LIMIT, least=0.0)
        if not line.strip() or len(line) > 200 or taken is None:
            raise refuse("", f"hours of {line[:60]!r} are no number", "hours by the line of the quote")
        yield "outcome_hours", (line, taken)


def _undo(body: Mapping[str, Any]) -> Iterator[Row]:
    _keys(body, "note")
    _text(body, "note", 2000)
    yield from ()


_KINDS: Mapping[str, Callable[[Mapping[str, Any]], Iterator[Row]]] = MappingProxyType(
    {
        "inputs": _inputs,
        "result": _result,
        "quote": _quote,
        "state": _state,
        "measurement": _measurement,
        "outcome": _outcome,
        "undo": _undo,
    }
)


def _keys(body: Mapping[str, Any], *wanted: str) -> None:
    if set(body) != set(wanted):
        raise refuse("", "body has not the keys of its kind", ", ".join(wanted))


def _table(body: Mapping[str, Any], key: str) -> Mapping[str, Any]:
    found = body.get(key)
    if not isinstance(found, dict):
        raise refuse("", f"{key} is no table", "a table in braces")
    return found


def _text(body: Mapping[str, Any], key: str, longest: int) -> str:
    found = body.get(key)
    if not isinstance(found, str) or len(found) > longest:
        raise refuse("", f"{key} is no text of up to {longest} characters", "text in quotes")
    return found


def _number(body: Mapping[str, Any], key: str, limit: float, *, least: float | None = None) -> float | None:
    found = body.get(key)
    if found is None:
        return None
    low = -limit if least is None else least
    if isinstance(found, bool) or not isinstance(found, int | float) or not low <= found <= limit:
        raise refuse("", f"{key} is no number from {low:g} to {limit:g}", "a plain number, or null")
    return float(found)


def _three(body: Mapping[str, Any], limit: Decimal, *, rising: bool = False) -> tuple[Decimal, Decimal, Decimal]:
    try:
        low, likely, high = (Decimal(str(body[key])) for key in ("low", "likely", "high"))
    except (KeyError, InvalidOperation):
        raise refuse("", "low, likely and high are not all there as numbers", "three numbers") from None
    if not all(each.is_finite() and 0 <= each <= limit for each in (low, likely, high)):
        raise refuse("", "low, likely and high are not all sums from zero on", f"0 to {limit}")
    if rising and not low <= likely <= high:
        raise refuse("", "low, likely and high do not rise", "low <= likely <= high")
    return low, likely, high


def typed_hours(text: str, where: str) -> float:
    """Hours as typed.

    >>> typed_hours("1,5", "hours")
    1.5
    """
    try:
        hours = float(text.strip().replace(",", "."))
    except ValueError:
        hours = math.nan
    if not 0.0 <= hours <= _HOURS_LIMIT:
        raise refuse(where, f"{text.strip()[:30]!r} is no number of hours", "such as 0.75")
    return hours


def checked(entry: Entry) -> list[Row]:
    """rows_of, with the kind in front of what it refuses."""
    try:
        return rows_of(entry)
    except InputError as error:
        raise refuse(entry.kind, error.findings[0].what, error.findings[0].right) from None
