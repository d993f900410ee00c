"""Files as text, as TOML, and the tables that a job takes from other files."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from geartrack.errors import Finding, InputError, refuse
from geartrack.job.fields import Bare
from geartrack.job.source import Key, Origin, Source

LARGEST_FILE = 1_000_000
BORROWING = ("axle", "gears", "case", "boss", "shop")
_EITHER = ("parts", "stations")


def read_text(path: Path, where: str = "") -> str:
    """A file's text; refuses what is not a regular UTF-8 file of at most 1 MB."""
    where = where or str(path)
    try:
        if path.is_dir():
            raise refuse(where, f"{path.name or path} is a folder", "name the file itself")
        if not path.exists():
            raise refuse(where, f"there is no file {path.name!r}", f"looked in {path.parent}")
        if not path.is_file():
            raise refuse(where, f"{path.name} is not a plain file", "name a file on disk")
        with path.open("rb") as stream:
            data = stream.read(LARGEST_FILE + 1)
    except InputError:
        raise
    except (OSError, ValueError) as fault:
        raise refuse(where, f"cannot be read: {fault}", "check the name and the permission to read it") from None
    if len(data) > LARGEST_FILE:
        raise refuse(where, f"{path.name} is larger than 1 MB", "a job file is a few kilobytes of text")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as fault:
        line = data.count(b"\n", 0, fault.start) + 1
        raise refuse(where, f"{path.name} is not UTF-8 text (line {line})", "save it as UTF-8") from None


def parse_toml(text: str, where: str) -> dict[str, Any]:
    """A TOML text as a dictionary; a syntax error is told with its line."""
    try:
        return tomllib.loads(text)
    except (ValueError, RecursionError) as fault:
        right = 'a value with a unit goes in quotes, such as gap = "0.020 in"'
        raise refuse(where, f"not TOML: {fault}", right) from None


def borrow(
    document: Mapping[str, Any], main: Origin, changed: frozenset[str]
) -> tuple[dict[str, Any], Source, list[Finding]]:
    """The document with the tables of other files merged under its own keys, bare numbers marked with their file's unit."""
    findings: list[Finding] = []
    borrowed: dict[str, tuple[Origin, Mapping[str, Any]]] = {}
    source = Source(document, main, borrowed, changed)
    unit = document.get("default_unit")
    raw = {k: v if k in ("format", "default_unit") else marked(v, unit) for k, v in document.items()}
    for name in BORROWING:
        table = raw.get(name)
        if not isinstance(table, dict) or "file" not in table:
            continue
        try:
            origin, theirs, their_unit = _other_file(name, table.pop("file"), source)
        except InputError as fault:
            findings += fault.findings
            continue
        borrowed[name] = (origin, theirs)
        raw[name] = _merged(marked(theirs, their_unit), table)
    _resolve_stations(raw, source)
    return raw, source, findings


def marked(value: Any, unit: Any) -> Any:
    """The same tree with every bare number marked with the unit its file gives to bare lengths."""
    if isinstance(value, dict):
        return {key: marked(item, unit) for key, item in value.items()}
    if isinstance(value, list):
        return [marked(item, unit) for item in value]
    if isinstance(value, int | float) and not isinstance(value, bool):
        return Bare(value, unit if unit in ("in", "mm") else None)
    return value


def _other_file(name: str, typed: object, source: Source) -> tuple[Origin, dict[str, Any], Any]:
    where = source.where((name, "file"))
    if not isinstance(typed, str) or not typed:
        raise refuse(where, "the file's name is not text", f'such as file = "{name}s/mine.toml"')
    path = source.main.base / typed
    text = read_text(path, where)
    origin = Origin(typed, path.resolve().parent, text)
    document = parse_toml(text, typed)
    table = document.get(name)
    if not isinstance(table, dict):
        raise refuse(where, f"{typed} has no table [{name}]", f"a file for this table holds [{name}]")
    if "file" in table:
        raise refuse(f"{typed}, key {name}.file", "a file that a job names cannot name another", "give the values here")
    return origin, table, document.get("default_unit")


def _merged(theirs: dict[str, Any], ours: dict[str, Any]) -> dict[str, Any]:
    """Our keys over theirs; [gears.measured] key by key; our parts or stations replace either of theirs."""
    kept = {k: v for k, v in theirs.items() if not (k in _EITHER and any(e in ours for e in _EITHER))}
    merged = {**kept, **ours}
    if isinstance(theirs.get("measured"), dict) and isinstance(ours.get("measured"), dict):
        merged["measured"] = {**theirs["measured"], **ours["measured"]}
    return merged


def _resolve_stations(raw: dict[str, Any], source: Source) -> None:
    boss = raw.get("boss")
    if isinstance(boss, dict) and isinstance(boss.get("stations"), str):
        typed = boss["stations"]
        base = source.origin(("boss", "stations")).base
        boss["stations"] = {"path": base / typed, "typed": typed}


__all__ = ["BORROWING", "Key", "borrow", "marked", "parse_toml", "read_text"]
