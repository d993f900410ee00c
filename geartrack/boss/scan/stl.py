"""STL, binary and text.

The mesh library reads both, but takes 0.6 s to load, longer than a million triangles take here; and over text it takes
five times as long and a gigabyte for a million, and drops what it cannot read without a word.
"""

from __future__ import annotations

import re
from typing import BinaryIO

import numpy as np

from geartrack.boss.scan.limits import MOST_TRIANGLES
from geartrack.boss.scan.raw import WHOLE, Raw, blocks, numbers, too_many
from geartrack.errors import refuse

_HEAD = 84  # bytes: a text, then the count of triangles
_TRIANGLE = np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("rest", "<u2")])
_VERTEX = re.compile(rb"\bvertex[ \t]++(\S++[ \t]++\S++[ \t]++\S++)[ \t]*+(?:\n|\Z)")


def read_stl(stream: BinaryIO, size: int, where: str) -> Raw:
    """A stream of `size` bytes. Binary is what has the length its count says, whatever its header begins with."""
    head = stream.read(_HEAD)
    count = int.from_bytes(head[80:84], "little") if len(head) == _HEAD else 0
    if len(head) == _HEAD and size == _HEAD + count * _TRIANGLE.itemsize:
        if count > MOST_TRIANGLES:
            raise too_many(where, count)
        corners = np.frombuffer(stream.read(), _TRIANGLE)["corners"]
        return Raw(corners.reshape(-1, 3), None)
    if head.lstrip()[:5].lower() == b"solid":
        stream.seek(0)
        return _text(stream, where)
    if len(head) < _HEAD or not any(byte > 126 or byte < 9 for byte in head):
        raise refuse(where, "is no STL, neither binary nor text", "an STL file, or the right name for its format")
    holds = (size - _HEAD) / _TRIANGLE.itemsize
    raise refuse(where, f"says {count:,} triangles, but its length is that of {holds:,.1f}", WHOLE)


def _text(stream: BinaryIO, where: str) -> Raw:
    found, facets, many, ended = [], 0, 0, b""
    for block in blocks(stream, where):
        lower = block.lower()
        facets += lower.count(b"endfacet")
        corners = _VERTEX.findall(lower)
        many += len(corners)
        if many > 3 * MOST_TRIANGLES:
            raise too_many(where, many // 3)
        found.append(numbers(b" ".join(corners), where))
        ended = (ended + lower)[-200:]
    values = np.concatenate(found)
    if len(values) != 9 * facets or b"endsolid" not in ended:
        what = f"is a text STL cut short or spoilt: {len(values):,} numbers for {facets:,} triangles"
        raise refuse(where, what, WHOLE)
    return Raw(values.reshape(-1, 3), None)
