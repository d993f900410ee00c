"""Rows out of the pages of a damaged SQLite file, each page by itself, whether or not anything still leads to it.

After the SQLite database file format (sqlite.org/fileformat2.html), sections 1.3, 1.6 and 2.1. What is found is only
as good as what the caller can check it against: an entry of the book vouches for itself by its digest.
"""

from __future__ import annotations

import struct
from collections.abc import Iterator

Value = int | float | str | bytes | None
_LEAF = 0x0D  # a page of a table's rows
_HEAD = 100  # bytes of the file's own head on its first page
_LONGEST = 16_000_000  # bytes of a row; a longer one is nonsense
_WHOLE = {1: 1, 2: 2, 3: 3, 4: 4, 5: 6, 6: 8}
_BROKEN = (IndexError, ValueError, struct.error)


def rows(content: bytes) -> Iterator[tuple[int, list[Value]]]:
    """Number and values of every row on every page of table rows in a file's content."""
    size = int.from_bytes(content[16:18], "big")
    size = 65536 if size == 1 else size
    if size < 512:
        return
    for start in range(0, len(content) - size + 1, size):
        at = start + (0 if start else _HEAD)
        if content[at] != _LEAF:
            continue
        for n in range(int.from_bytes(content[at + 3 : at + 5], "big")):
            pointer = at + 8 + 2 * n
            try:
                yield _row(content, start, start + int.from_bytes(content[pointer : pointer + 2], "big"), size)
            except _BROKEN:
                continue


def _row(content: bytes, start: int, at: int, size: int) -> tuple[int, list[Value]]:
    if not start < at < start + size:
        raise ValueError("a row outside its page")
    length, at = _varint(content, at)
    number, at = _varint(content, at)
    return number, _values(_payload(content, at, length, size))


def _payload(content: bytes, at: int, length: int, size: int) -> bytes:
    """The bytes of a row, with those on its overflow pages."""
    if length > _LONGEST:
        raise ValueError("no row is so long")
    usable = size - content[20]
    here = length
    if length > usable - 35:
        least = (usable - 12) * 32 // 255 - 23
        here = least + (length - least) % (usable - 4)
        here = here if here <= usable - 35 else least
    found = content[at : at + here]
    page = int.from_bytes(content[at + here : at + here + 4], "big")
    while len(found) < length:
        start = (page - 1) * size
        if start < 0 or start + size > len(content):
            raise ValueError("the rest of a row is lost")
        page = int.from_bytes(content[start : start + 4], "big")
        found += content[start + 4 : start + usable]
    return found[:length]


def _values(payload: bytes) -> list[Value]:
    end, at = _varint(payload, 0)
    kinds = []
    while at < end:
        kind, at = _varint(payload, at)
        kinds.append(kind)
    found: list[Value] = []
    for kind in kinds:
        long = _WHOLE.get(kind, 8 if kind == 7 else (kind - 12) // 2 if kind >= 12 else 0)
        raw = payload[at : at + long]
        if len(raw) < long:
            raise ValueError("a row cut short")
        at += long
        if kind in _WHOLE:
            found.append(int.from_bytes(raw, "big", signed=True))
        elif kind == 7:
            found.append(float(struct.unpack(">d", raw)[0]))
        elif kind >= 12:
            found.append(raw.decode() if kind % 2 else raw)
        else:
            found.append({8: 0, 9: 1}.get(kind))
    return found


def _varint(content: bytes, at: int) -> tuple[int, int]:
    """A number of one to nine bytes, seven bits each and eight in the ninth; and where it ends."""
    value = 0
    for n in range(8):
        byte = content[at + n]
        value = value << 7 | byte & 0x7F
        if byte < 0x80:
            return value, at + n + 1
    return value << 8 | content[at + 8], at + 9
