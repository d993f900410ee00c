"""Files as text, as TOML, and the tables that a job takes from other files."""

from __future__ import annotations

import math
import tomllib
from collections.abc import Mapping
from pathlib import Path
from types import MappingProxyType
from typing import Any

from geartrack.errors import Finding, InputError, refuse
from geartrack.job.fields import Bare
from geartrack.job.files import StationsFile
from geartrack.job.model import EITHER
from geartrack.job.source import Source, Steps, TextFile

LARGEST_FILE = 1_000_000
BORROWING = ("axle", "gears", "case", "boss", "shop")
FILES: Mapping[Steps, str] = MappingProxyType(
    {
        ("boss", "stations"): "boss.csv",
        ("boss", "scan"): "boss.stl",
        ("boss", "scan_picks"): "picks.csv",
        ("boss", "trace", "end_view"): "boss-end.dxf",
        ("boss", "trace", "side_view"): "boss-side.svg",
    }
)
"""Keys that name a file, with an example."""


def read_text(path: Path, where: str = "") -> str:
    """A file's text; InputError for what is not a plain UTF-8 file of at most 1 MB. `where`: the key that asked."""
    where = where or str(path)
    try:
        if path.is_dir():
            raise refuse(where, f"{path.name or path} is a folder", "name the file in it")
        if not path.exists():
            raise refuse(where, f"there is no file {path.name!r}", f"looked in {path.parent}")
        if not path.is_file():
            raise refuse(where, f"{path.name!r} is not a plain file", "name a file on disk")
        with path.open("rb") as stream:
            data = stream.read(LARGEST_FILE + 1)
    except InputError:
        raise
    except (OSError, ValueError) as fault:
        reason = fault.strerror if isinstance(fault, OSError) and fault.strerror else str(fault)
        raise refuse(where, f"cannot be read: {reason}", "check the name and the right to read it") from None
    if len(data) > LARGEST_FILE:
        raise refuse(where, f"{path.name!r} is larger than 1 MB", "a job file is a few kilobytes of text")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as fault:
        line = data.count(b"\n", 0, fault.start) + 1
        raise refuse(where, f"{path.name!r} is not UTF-8 text (line {line})", "save it as UTF-8") from None


def parse_toml(text: str, where: str) -> dict[str, Any]:
    """A TOML text as a dictionary; a fault in it is told with its line."""
    try:
        return tomllib.loads(text)
    except (ValueError, RecursionError) as fault:
        right = 'a value with a unit goes in quotes, such as gap = "0.020 in"'
        raise refuse(where, f"not TOML: {fault}", right) from None


def borrow(
    document: Mapping[str, Any], main: TextFile, changed: frozenset[str]
) -> tuple[dict[str, Any], Source, list[Finding]]:
    """The document with other files' tables under its own keys, every bare number marked with its file's unit."""
    findings: list[Finding] = []
    borrowed: dict[str, tuple[TextFile, Mapping[str, Any]]] = {}
    source = Source(document, main, borrowed, changed)
    unit = document.get("default_unit")
    raw = {key: value if key in ("format", "default_unit") else marked(value, unit) for key, value in document.items()}
    for name in BORROWING:
        table = raw.get(name)
        if not isinstance(table, dict) or "file" not in table:
            continue
        del table["file"]
        try:
            file, theirs, their_unit = _other_file(name, source)
        except InputError as fault:
            findings += fault.findings
            continue
        borrowed[name] = (file, theirs)
        raw[name] = merged(marked(theirs, their_unit), table)
    findings += [finding for steps in FILES for finding in _find_file(raw, steps, source)]
    return raw, source, findings


def marked(value: Any, unit: object) -> Any:
    """The same tree with every bare number as `Bare`, in the unit its file gives to bare lengths."""
    if isinstance(value, dict):
        return {key: marked(item, unit) for key, item in value.items()}
    if isinstance(value, list):
        return [marked(item, unit) for item in value]
    if isinstance(value, int | float) and not isinstance(value, bool):
        return Bare(value if abs(value) < 1e15 else math.inf, "mm" if unit == "mm" else "in" if unit == "in" else None)
    return value


def _other_file(name: str, source: Source) -> tuple[TextFile, dict[str, Any], object]:
    typed = source.document[name]["file"]
    where = source.where((name, "file"))
    if not isinstance(typed, str) or not typed:
        raise refuse(where, "the file's name is not text", f'such as file = "{name}/mine.toml"')
    path = source.main.base / typed
    text = read_text(path, where)
    document = parse_toml(text, typed)
    table = document.get(name)
    if not isinstance(table, dict):
        raise refuse(where, f"{typed} has no table [{name}]", f"a file for this table holds [{name}]")
    file = TextFile(typed, path.resolve().parent, text)
    if "file" in table:
        inner = Source(document, file).where((name, "file"))
        raise refuse(inner, "a file that a job names cannot name another", "the values themselves")
    return file, table, document.get("default_unit")


def merged(theirs: dict[str, Any], ours: dict[str, Any]) -> dict[str, Any]:
    """Our keys over theirs; tables within, as [gears.measured], key by key; our way of giving the boss for theirs."""
    replaced: tuple[str, ...] = EITHER if any(key in ours for key in EITHER) else ()
    if "scan" in ours or ("trace" in ours and "trace" not in theirs):
        replaced += ("edge_break", "length")  # of the boss as it was read, not as it is scanned or traced
    found = {key: value for key, value in theirs.items() if key not in replaced} | ours
    for key in ("measured", "trace", "hours", "if_found", "terms"):
        if isinstance(theirs.get(key), dict) and isinstance(ours.get(key), dict):
            found[key] = theirs[key] | ours[key]
    return found


def _find_file(raw: Any, steps: Steps, source: Source) -> list[Finding]:
    """Puts a file's path, absolute, in place of its name, which starts from the file that says it."""
    *tables, key = steps
    for step in tables:
        raw = raw.get(step) if isinstance(raw, dict) else None
    if not isinstance(raw, dict) or key not in raw:
        return []
    where, typed = source.where(steps), raw[key]
    if not isinstance(typed, str) or not typed.strip() or "\0" in typed:
        raw[key] = StationsFile(path=source.main.base, typed="")
        return [Finding(where, "the file's name is not text", f'such as {key} = "{FILES[steps]}"')]
    path = source.file_of(steps).base / typed
    try:
        path = path.resolve()
        found, state = path.is_file(), path.stat()
        stamp = (state.st_mtime_ns, state.st_size)
    except (OSError, RuntimeError):  # no such file, a folder not to be looked into, links in a circle
        found, stamp = False, (0, 0)
    raw[key] = StationsFile(path=path, typed=typed, stamp=stamp)
    return [] if found else [Finding(where, f"there is no file {typed!r}", f"looked in {path.parent}")]
