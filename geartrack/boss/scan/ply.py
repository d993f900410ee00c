"""PLY, text and binary of either byte order. The header's counts are believed only where the file is as long.

Points and faces are read, all else is stepped over; a face of more corners than three is cut into a fan.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import BinaryIO

import numpy as np
from numpy.typing import NDArray

from geartrack.boss.scan.limits import MOST_BINARY_BYTES, MOST_HEADER_BYTES, MOST_NUMBERS, MOST_TRIANGLES
from geartrack.boss.scan.raw import WHOLE, Raw, blocks, fans, numbers, too_many
from geartrack.errors import InputError, refuse
from geartrack.frame import Array

_KINDS = {
    **dict.fromkeys(("char", "int8"), "i1"),
    **dict.fromkeys(("uchar", "uint8"), "u1"),
    **dict.fromkeys(("short", "int16"), "i2"),
    **dict.fromkeys(("ushort", "uint16"), "u2"),
    **dict.fromkeys(("int", "int32"), "i4"),
    **dict.fromkeys(("uint", "uint32"), "u4"),
    **dict.fromkeys(("float", "float32"), "f4"),
    **dict.fromkeys(("double", "float64"), "f8"),
}
_ORDERS = {"ascii": "", "binary_little_endian": "<", "binary_big_endian": ">"}
_LISTS = ("vertex_indices", "vertex_index")


@dataclass
class _Element:
    """name; count: how many the header says; fields: (name, kind, kind of a list's length or "")."""

    name: str
    count: int
    fields: list[tuple[str, str, str]]

    def least(self, *, binary: bool) -> int:
        """Bytes that one takes at the least: lists empty, two for a number in a text."""
        sizes = (int((length or kind)[-1]) if binary else 2 for _, kind, length in self.fields)
        return max(sum(sizes) - (not binary), 1)


def read_ply(stream: BinaryIO, size: int, where: str) -> Raw:
    """A stream of `size` bytes."""
    order, elements = _header(stream, where)
    left = size - stream.tell()
    for each in elements:
        if each.name == "face" and each.count > MOST_TRIANGLES:
            raise too_many(where, each.count)
    if sum(each.count * each.least(binary=bool(order)) for each in elements) > left:
        counts = ", ".join(f"{each.count:,} of {each.name[:20]}" for each in elements)
        raise refuse(where, f"says {counts}, more than its length holds", WHOLE)
    rows = _text(stream, where) if not order else _binary(stream, left, order, where)
    vertices: NDArray[np.floating] = np.zeros((0, 3))
    triangles = np.zeros((0, 3), np.int64)
    for each in elements:
        try:
            if each.name == "vertex":
                vertices = _columns(rows, each, where)
            elif each.name == "face":
                triangles = _faces(rows, each, where)
            else:
                _stepped_over(rows, each)
        except InputError:
            raise
        except (ValueError, IndexError):
            raise refuse(where, f"ends before its last {each.name[:20]} or is spoilt", WHOLE) from None
    if rows.left():
        raise refuse(where, "holds more than its header says, or faces of a kind that is not read", WHOLE)
    return Raw(vertices, triangles)


def _header(stream: BinaryIO, where: str) -> tuple[str, list[_Element]]:
    head = stream.read(MOST_HEADER_BYTES)
    end = head.find(b"end_header")
    after = head.find(b"\n", end) + 1
    if head[:3].lower() != b"ply" or end < 0 or not after:
        raise refuse(where, "has no PLY header", "a PLY file, or the right name for its format")
    stream.seek(after)
    order, elements = None, []
    for line in head[:end].decode("ascii", "replace").replace("\r", "\n").split("\n"):
        match line.split():
            case ["format", name, *_] if name in _ORDERS:
                order = _ORDERS[name]
            case ["element", name, count] if count.isdecimal() and len(count) < 19:
                elements.append(_Element(name, int(count), []))
            case ["property", "list", length, kind, name] if elements and {length, kind} <= _KINDS.keys():
                elements[-1].fields.append((name, _KINDS[kind], _KINDS[length]))
            case ["property", kind, name] if elements and kind in _KINDS:
                elements[-1].fields.append((name, _KINDS[kind], ""))
            case ["format" | "element" | "property", *_]:
                raise refuse(where, f"has a line in its header that makes no sense: {line[:60]!r}", WHOLE)
    if order is None:
        raise refuse(where, "does not say whether it is text or binary", "a PLY file of format 1.0")
    return order, elements


def _text(stream: BinaryIO, where: str) -> _Text:
    found, count = [], 0
    for block in blocks(stream, where):
        found.append(numbers(block, where))
        count += len(found[-1])
        if count > MOST_NUMBERS:
            raise refuse(where, "holds more numbers than are read", "fewer triangles, or the binary kind of PLY")
    return _Text(np.concatenate([np.zeros(0), *found]))


def _binary(stream: BinaryIO, left: int, order: str, where: str) -> _Binary:
    if left > MOST_BINARY_BYTES:
        raise refuse(where, f"is {left / 2**20:,.0f} MiB, more than is read", "fewer triangles")
    return _Binary(stream.read(left), order)


class _Binary:
    """What follows the header, taken piece by piece."""

    def __init__(self, content: bytes, order: str) -> None:
        self.content, self.order, self.at = content, order, 0

    def table(self, element: _Element, corners: int) -> list[NDArray[np.generic]]:
        """An element whose every list has so many, as one array for each field; an array (n, corners) for a list."""
        kinds: list[tuple[str, str] | tuple[str, str, int]] = []
        for i, (_, kind, length) in enumerate(element.fields):
            kinds += [(f"n{i}", self.order + length), (f"f{i}", self.order + kind, corners)] if length else []
            kinds += [] if length else [(f"f{i}", self.order + kind)]
        rows = np.frombuffer(self.content, np.dtype(kinds), element.count, self.at)  # ValueError where too short
        if any((rows[f"n{i}"] != corners).any() for i, field in enumerate(element.fields) if field[2]):
            raise _NotAlike
        self.at += rows.nbytes
        return [rows[f"f{i}"] for i in range(len(element.fields))]

    def one(self, kind: str, count: int) -> NDArray[np.generic]:
        """The next numbers of one kind."""
        found = np.frombuffer(self.content, self.order + kind, count, self.at) if count else np.zeros(0)
        self.at += found.nbytes if count else 0
        return found

    def left(self) -> bool:
        """Whether anything remains."""
        return self.at < len(self.content)


class _Text:
    """The same of a text's numbers."""

    def __init__(self, values: Array) -> None:
        self.values, self.at = values, 0

    def table(self, element: _Element, corners: int) -> list[NDArray[np.generic]]:
        """An element whose every list has so many, as one array for each field; an array (n, corners) for a list."""
        wide = sum(1 + corners if length else 1 for _, _, length in element.fields)
        rows = self.values[self.at : self.at + element.count * wide].reshape(element.count, wide)
        found: list[NDArray[np.generic]] = []
        column = 0
        for _, _, length in element.fields:
            if length and (rows[:, column] != corners).any():
                raise _NotAlike
            found.append(rows[:, column + 1 : column + 1 + corners] if length else rows[:, column])
            column += 1 + corners if length else 1
        self.at += rows.size
        return found

    def one(self, kind: str, count: int) -> NDArray[np.generic]:
        """The next numbers, of whatever kind."""
        found = self.values[self.at : self.at + count]
        if len(found) != count:
            raise ValueError
        self.at += count
        return found

    def left(self) -> bool:
        """Whether anything remains."""
        return self.at < len(self.values)


class _NotAlike(Exception):
    """Lists of an element are not all of the length supposed."""


def _columns(rows: _Binary | _Text, element: _Element, where: str) -> NDArray[np.floating]:
    names = [name for name, _, length in element.fields if not length]
    if not {"x", "y", "z"} <= set(names) or len(names) != len(element.fields):
        raise refuse(where, "has vertices without x, y and z", "a PLY file of a mesh")
    found = rows.table(element, 0)
    columns = [found[names.index(axis)] for axis in "xyz"]
    kind = np.result_type(np.float32, *columns)
    return np.stack([column.astype(kind) for column in columns], axis=1)


def _faces(rows: _Binary | _Text, element: _Element, where: str) -> NDArray[np.int64]:
    at = next((i for i, field in enumerate(element.fields) if field[0] in _LISTS and field[2]), None)
    if at is None:
        raise refuse(where, "has faces without their corners", "a PLY file of a mesh")
    if sum(bool(field[2]) for field in element.fields) == 1 and element.count:
        start = rows.at
        first = len(_row(rows, element)[at])
        rows.at = start
        try:
            alike = _indices(rows.table(element, first)[at], where)
            return (
                np.concatenate([alike[:, [0, i, i + 1]] for i in range(1, first - 1)]) if first > 2 else alike[:0, :0]
            )
        except (_NotAlike, ValueError):
            rows.at = start
    corners = [_row(rows, element)[at] for _ in range(element.count)]
    return fans([_indices(each, where) for each in corners])


def _row(rows: _Binary | _Text, element: _Element) -> list[NDArray[np.generic]]:
    """One of an element, whatever the lengths of its lists."""
    found = []
    for _, kind, length in element.fields:
        count = int(rows.one(length, 1)[0]) if length else 1
        if count < 0:
            raise ValueError
        found.append(rows.one(kind, count))
    return found


def _stepped_over(rows: _Binary | _Text, element: _Element) -> None:
    if any(length for _, _, length in element.fields):
        for _ in range(element.count):
            _row(rows, element)
    elif element.fields:
        rows.table(element, 0)


def _indices(found: NDArray[np.generic], where: str) -> NDArray[np.int64]:
    whole: NDArray[np.int64] = found.astype(np.int64)
    if not np.array_equal(whole, found):
        raise _no_index(where)
    return whole


def _no_index(where: str) -> InputError:
    return refuse(where, "has a triangle whose corner is no whole number", WHOLE)
