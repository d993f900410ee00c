"""Files brought to the page: kept under names of the page's own, a job's tables put together from what came with it.

What a client calls its files is only ever compared with what a job names; it never becomes a path.
"""

from __future__ import annotations

import copy
import re
import secrets
import shutil
from collections.abc import Mapping
from pathlib import Path, PurePosixPath, PureWindowsPath
from typing import Any, BinaryIO

from geartrack.errors import Finding, InputError, refuse
from geartrack.files import write_whole
from geartrack.job.borrow import BORROWING, FILES, LARGEST_FILE, merged, parse_toml

SUFFIXES = (".csv", ".stl", ".ply", ".obj", ".3mf", ".dxf", ".svg")
OWN_NAME = re.compile(r"[0-9a-f]{32}\.(csv|stl|ply|obj|3mf|dxf|svg)")
"""How the page names a file that it keeps; a document may name no other."""


def base_name(typed: str) -> str:
    """The last piece of a name as any system writes it, in small letters.

    >>> base_name("..\\\\cases/Larch.STL")
    'larch.stl'
    """
    return PurePosixPath(PureWindowsPath(typed).name).name.casefold()


def keep(content: bytes, name: str, folder: Path) -> str:
    """Keep a file under a name of the page's own; the client's name gives the ending only. Returns the new name."""
    own = _own_name(name)
    write_whole(content, folder / own, overwrite=False)
    return own


def keep_stream(content: BinaryIO, name: str, folder: Path) -> str:
    """The same for a large file, piece by piece."""
    own = _own_name(name)
    part = folder / f".{own}.part"
    try:
        with part.open("xb") as out:
            shutil.copyfileobj(content, out)
        part.replace(folder / own)
    finally:
        part.unlink(missing_ok=True)
    return own


def _own_name(name: str) -> str:
    suffix = PurePosixPath(base_name(name)).suffix
    if suffix not in SUFFIXES:
        raise refuse(name[:60], "is no file that a boss is read from", f"one that ends in {', '.join(SUFFIXES)}")
    return f"{secrets.token_hex(16)}{suffix}"


def gathered(text: bytes, label: str, beside: Mapping[str, bytes], folder: Path) -> dict[str, Any]:
    """The document of a job file with the tables and files it names, taken from what came beside it.

    beside: contents by name, whatever folders they were in. Files are kept in `folder` under the page's own names.
    Raises InputError with every file that is missing.
    """
    return put_together(parse_toml(_text(text, label), label), label, beside, folder)


def put_together(document: dict[str, Any], label: str, beside: Mapping[str, bytes], folder: Path) -> dict[str, Any]:
    """The same for a document that is read already."""
    document = copy.deepcopy(document)
    brought = {base_name(name): content for name, content in beside.items()}
    findings: list[Finding] = []
    for name in BORROWING:
        table = document.get(name)
        if isinstance(table, dict) and "file" in table:
            typed = str(table.pop("file"))
            theirs = brought.get(base_name(typed))
            if theirs is None:
                findings.append(_missing(label, f"{name}.file", typed))
                continue
            other = parse_toml(_text(theirs, typed), typed).get(name)
            if not isinstance(other, dict):
                findings.append(Finding(f"{label}, key {name}.file", f"{typed} has no table [{name}]", "another file"))
                continue
            document[name] = merged(other, table)
    for steps in FILES:
        holder, last = _holder(document, steps)
        if holder is None or last not in holder:
            continue
        typed = str(holder[last])
        content = brought.get(base_name(typed))
        if content is None:
            findings.append(_missing(label, ".".join(map(str, steps)), typed))
        else:
            holder[last] = keep(content, typed, folder)
    if findings:
        raise InputError(*findings)
    return document


def _holder(document: Any, steps: tuple[str | int, ...]) -> tuple[dict[str, Any] | None, str]:
    *tables, last = steps
    for step in tables:
        document = document.get(step) if isinstance(document, dict) else None
    return (document if isinstance(document, dict) else None), str(last)


def _missing(label: str, key: str, typed: str) -> Finding:
    return Finding(f"{label}, key {key}", f"names {typed}", "choose that file too, together with the job")


def _text(content: bytes, label: str) -> str:
    if len(content) > LARGEST_FILE:
        raise refuse(label, "is larger than 1 MB", "a job file is a few kilobytes of text")
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise refuse(label, "is not UTF-8 text", "a job file, saved as UTF-8") from None
