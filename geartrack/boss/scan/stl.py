"""STL, binary and text, read by trimesh: a text a few thousand facets at a time, so that memory stays small.

Which of the two it is tells the length: binary is what has the length that its count says, whatever its header says.
"""

from __future__ import annotations

import io
import re
from typing import BinaryIO

import numpy as np
from numpy.typing import NDArray

from geartrack.boss.scan.limits import MOST_LINE_BYTES, MOST_TRIANGLES
from geartrack.boss.scan.raw import WHOLE, Raw, blocks, reading, too_many
from geartrack.errors import InputError, refuse

_HEAD, _TRIANGLE = 84, 50  # bytes: a text and the count of triangles; one triangle
_SOLID = re.compile(rb"^[ \t]*(end)?solid\b[^\n]*", re.MULTILINE)
_VERTEX = re.compile(rb"\bvertex[ \t]++\S++[ \t]++\S++[ \t]++\S++[ \t]*+(?:\n|\Z)")
_END = b"endfacet"


def read_stl(stream: BinaryIO, size: int, where: str) -> Raw:
    """A stream of `size` bytes."""
    head = stream.read(_HEAD)
    count = int.from_bytes(head[80:84], "little") if len(head) == _HEAD else 0
    stream.seek(0)
    if len(head) == _HEAD and size == _HEAD + count * _TRIANGLE:
        if count > MOST_TRIANGLES:
            raise too_many(where, count)
        return _binary(stream, where)
    if head.lstrip()[:5].lower() == b"solid":
        return _text(stream, where)
    if len(head) < _HEAD or not any(byte > 126 or byte < 9 for byte in head):
        raise refuse(where, "is no STL, neither binary nor text", "an STL file, or the right name for its format")
    holds = (size - _HEAD) / _TRIANGLE
    raise refuse(where, f"says {count:,} triangles, but its length is that of {holds:,.1f}", WHOLE)


def _binary(stream: BinaryIO, where: str) -> Raw:
    from trimesh.exchange.stl import load_stl_binary

    with reading(where):
        vertices = load_stl_binary(stream).get("vertices", np.zeros((0, 3), np.float32))
    return Raw(vertices, None)


def _text(stream: BinaryIO, where: str) -> Raw:
    found: list[NDArray[np.floating]] = [np.zeros((0, 3))]
    many, rest, ends = 0, b"", [0, 0]
    for block in blocks(stream, where):
        lower = block.lower()
        for end in _SOLID.findall(lower):
            ends[bool(end)] += 1
        rest += _SOLID.sub(b"", lower)  # a name may hold any word
        whole = rest.rfind(_END) + len(_END) if _END in rest else 0
        found.append(_facets(rest[:whole], where))
        rest, many = rest[whole:], many + len(found[-1])
        if many > 3 * MOST_TRIANGLES:
            raise too_many(where, many // 3)
        if len(rest) > MOST_LINE_BYTES:
            raise _spoilt(where, "a triangle without an end")
    if rest.strip() or ends[0] != ends[1]:
        raise _spoilt(where, "a triangle without an end" if rest.strip() else "a solid without an end")
    return Raw(np.concatenate(found), None)


def _facets(text: bytes, where: str) -> NDArray[np.floating]:
    """Corners (n, 3) [any] of whole facets. Raises InputError unless each has three corners of three numbers."""
    from trimesh.exchange.stl import load_stl_ascii

    facets, corners = text.count(_END), sum(1 for _ in _VERTEX.finditer(text))
    if not 3 * facets == corners == text.count(b"vertex"):
        raise _spoilt(where, f"{corners:,} corners for {facets:,} triangles")
    with reading(where):
        loaded = load_stl_ascii(io.StringIO(f"solid\n{text.decode('ascii', 'replace')}\nendsolid"))
    vertices: NDArray[np.floating] = loaded.get("vertices", np.zeros((0, 3)))
    if len(vertices) != corners:
        raise _spoilt(where, f"{len(vertices):,} of {corners:,} corners can be read")
    return vertices


def _spoilt(where: str, what: str) -> InputError:
    return refuse(where, f"is a text STL cut short or spoilt: {what}", WHOLE)
