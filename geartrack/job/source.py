"""Where each value of a job was typed: file, key and line, found by a small search rather than a parser."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

Key = tuple[str | int, ...]

_HEADER = re.compile(r"\s*\[(\[?)\s*([^\[\]]+?)\s*\]")
_ASSIGNED = re.compile(r"\s*([A-Za-z0-9_.\"' -]+?)\s*=")


@dataclass(frozen=True)
class Origin:
    """A file as read: its label for messages, its folder, its text."""

    label: str
    base: Path
    text: str = ""


@dataclass(frozen=True, eq=False)
class Source:
    """What a job was made from: the document as typed, its file, and the files its tables were taken from."""

    document: Mapping[str, Any]
    main: Origin
    borrowed: Mapping[str, tuple[Origin, Mapping[str, Any]]] = field(default_factory=dict)
    changed: frozenset[str] = frozenset()

    def where(self, key: Key) -> str:
        """`file, key a.b (line n)` of a key, or of the nearest thing about it that was typed."""
        shown = show_key(key)
        if any(shown == name or shown.startswith(f"{name}.") for name in self.changed):
            return f"command line, key {shown}"
        origin = self.origin(key)
        line = line_of(origin.text, key)
        return f"{origin.label}, key {shown}" + (f" (line {line})" if line else "")

    def origin(self, key: Key) -> Origin:
        """The file a key was typed in: another file's where that file has it and the job itself does not."""
        if not key or key[0] not in self.borrowed:
            return self.main
        other, table = self.borrowed[str(key[0])]
        for length in range(len(key), 1, -1):
            if _holds(self.document, key[:length]):
                return self.main
            if _holds({key[0]: table}, key[:length]):
                return other
        return self.main


def show_key(key: Key) -> str:
    """A key as a builder counts: `boss.parts 2.diameter` is the second part's.

    >>> show_key(("boss", "parts", 1, "diameter"))
    'boss.parts 2.diameter'
    """
    text = ""
    for step in key:
        text += f" {step + 1}" if isinstance(step, int) else f".{step}" if text else step
    return text


def _holds(document: Any, key: Key) -> bool:
    for step in key:
        if not isinstance(document, Mapping) or step not in document:
            return False
        document = document[step]
    return True


def line_of(text: str, key: Key) -> int | None:
    """The line of a key, or of the longest part of it that has one; None if there is none."""
    places = _places(text)
    for length in range(len(key), 0, -1):
        if key[:length] in places:
            return places[key[:length]]
    return None


def _places(text: str) -> dict[Key, int]:
    places: dict[Key, int] = {}
    counts: dict[Key, int] = {}
    table: Key = ()
    for line, content in enumerate(text.splitlines(), 1):
        header = _HEADER.match(content)
        if header and "=" not in content.partition("]")[0]:
            table = _with_counts(_split(header[2]), counts)
            if header[1]:
                counts[table] = counts.get(table, -1) + 1
                places.setdefault(table, line)
                table = (*table, counts[table])
            places.setdefault(table, line)
            continue
        assigned = _ASSIGNED.match(content)
        if assigned:
            places.setdefault((*table, *_split(assigned[1])), line)
    return places


def _split(dotted: str) -> Key:
    return tuple(step.strip().strip("\"'") for step in dotted.split("."))


def _with_counts(key: Key, counts: Mapping[Key, int]) -> Key:
    """A header's key with the running number of each array of tables it lies in."""
    full: Key = ()
    for position, step in enumerate(key):
        full = (*full, step)
        if full in counts and position < len(key) - 1:
            full = (*full, counts[full])
    return full
