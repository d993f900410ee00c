"""Where each value of a job was typed: file, key and line, found by a small search rather than a parser."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

Steps = tuple[str | int, ...]
"""The steps to a value: keys by name, members of a list by number from 0."""

_HEADER = re.compile(r"\s*(\[\[?)\s*([A-Za-z0-9_.\"' -]+?)\s*\]\]?\s*(?:#.*)?")
_ASSIGNED = re.compile(r"\s*([A-Za-z0-9_.\"' -]+?)\s*=(.*)")
_TEXTS = re.compile(r"\"(?:[^\"\\]|\\.)*\"|'[^']*'|#.*")


@dataclass(frozen=True)
class TextFile:
    """A file as read: its label for messages, the folder its file names start from, its text."""

    label: str
    base: Path
    text: str = ""


@dataclass(frozen=True, eq=False)
class Source:
    """What a job was made from: the document as typed, its file, and the files its tables were taken from."""

    document: Mapping[str, Any]
    main: TextFile
    borrowed: Mapping[str, tuple[TextFile, Mapping[str, Any]]] = field(default_factory=dict)
    changed: frozenset[str] = frozenset()

    def where(self, path: Steps) -> str:
        """`file, key a.b (line n)` of a value, or of the nearest thing round it that was typed."""
        shown = show_path(path)
        if any(shown == name or shown.startswith(f"{name}.") for name in self.changed):
            return f"command line, key {shown}"
        file = self.file_of(path)
        line = line_of(file.text, path)
        return f"{file.label}, key {shown}" + (f" (line {line})" if line else "") if path else file.label

    def file_of(self, path: Steps) -> TextFile:
        """The file a value was typed in: another file's where that file has it and the job itself does not."""
        if not path or path[0] not in self.borrowed:
            return self.main
        other, table = self.borrowed[str(path[0])]
        for length in range(len(path), 1, -1):
            if _holds(self.document, path[:length]):
                return self.main
            if _holds({path[0]: table}, path[:length]):
                return other
        return self.main


def show_path(path: Steps) -> str:
    """A path as a builder counts: `boss.parts 2.diameter` is the second part's.

    >>> show_path(("boss", "parts", 1, "diameter"))
    'boss.parts 2.diameter'
    """
    text = ""
    for step in path:
        text += f" {step + 1}" if isinstance(step, int) else f".{step}" if text else step
    return text


def line_of(text: str, path: Steps) -> int | None:
    """The line of a value, or of the nearest thing round it that has one; None if nothing has.

    >>> line_of('name = "x"\\n[axle]\\noffset = "2 in"', ("axle", "offset"))
    3
    """
    places: dict[Steps, int] = {}
    for place, line in _places(text):
        places.setdefault(place, line)
    return next((places[path[:n]] for n in range(len(path), 0, -1) if path[:n] in places), None)


def _holds(document: Any, path: Steps) -> bool:
    for step in path:
        try:
            document = document[step]
        except (KeyError, IndexError, TypeError):
            return False
    return True


def _places(text: str) -> Iterator[tuple[Steps, int]]:
    """Every heading, key and member of a list that starts a line, with that line."""
    counts: dict[Steps, int] = {}
    table: Steps = ()
    depth, members, member = 0, table, 0
    for line, content in enumerate(_without_long_texts(text).splitlines(), 1):
        bare = _TEXTS.sub('""', content)
        if depth:
            if depth == 1 and bare.lstrip()[:1] in ("{", "["):
                yield (*members, member), line
                member += 1
            depth += bare.count("[") - bare.count("]")
        elif header := _HEADER.fullmatch(content):
            table = _split(header[2])
            if header[1] == "[[":
                counts[table] = counts.get(table, -1) + 1
                yield table, line
                table = (*table, counts[table])
            yield table, line
        elif assigned := _ASSIGNED.match(content):
            members = (*table, *_split(assigned[1]))
            yield members, line
            value = _TEXTS.sub('""', assigned[2])
            depth = value.count("[") - value.count("]")
            member = max(value.count("{"), value.count("[") - 1)


def _without_long_texts(text: str) -> str:
    """The text with what stands between triple quotes blanked out, lines kept."""
    for quotes in ('"""', "'''"):
        pieces = text.split(quotes)
        pieces[1::2] = ["\n" * piece.count("\n") for piece in pieces[1::2]]
        text = '""'.join(pieces)
    return text


def _split(dotted: str) -> Steps:
    return tuple(step.strip().strip("\"'") for step in dotted.split("."))
