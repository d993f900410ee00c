"""STL, binary and text. Text is read in blocks, not by the mesh library: that takes five times as long, more than a
gigabyte for a million triangles, and drops what it cannot read without a word."""

from __future__ import annotations

import re
from typing import BinaryIO

import numpy as np

from geartrack.boss.scan.limits import MOST_TRIANGLES
from geartrack.boss.scan.raw import WHOLE, Raw, blocks, numbers, too_many
from geartrack.errors import refuse

_HEAD, _EACH = 84, 50  # bytes: of the header with its count, and of one triangle
_VERTEX = re.compile(rb"\bvertex\b([^\n]*)")


def read_stl(stream: BinaryIO, size: int, where: str) -> Raw:
    """A stream of `size` bytes. Binary is what has the length its count says, whatever its header begins with."""
    head = stream.read(_HEAD)
    stream.seek(0)
    count = int.from_bytes(head[80:84], "little") if len(head) == _HEAD else 0
    if len(head) == _HEAD and size == _HEAD + count * _EACH:
        if count > MOST_TRIANGLES:
            raise too_many(where, count)
        return _binary(stream)
    if head.lstrip()[:5].lower() == b"solid":
        return _text(stream, where)
    if len(head) < _HEAD or not any(byte > 126 or byte < 9 for byte in head):
        raise refuse(where, "is no STL, neither binary nor text", "an STL file, or the right name for its format")
    holds = (size - _HEAD) / _EACH
    raise refuse(where, f"says {count:,} triangles, but its length is that of {holds:,.1f}", WHOLE)


def _binary(stream: BinaryIO) -> Raw:
    from trimesh.exchange.stl import load_stl_binary

    loaded = load_stl_binary(stream)
    return Raw(loaded.get("vertices", np.zeros((0, 3))), None)


def _text(stream: BinaryIO, where: str) -> Raw:
    found, facets, ended = [], 0, b""
    for block in blocks(stream, where):
        lower = block.lower()
        facets += lower.count(b"endfacet")
        if facets > MOST_TRIANGLES:
            raise too_many(where, facets)
        found.append(numbers(b" ".join(_VERTEX.findall(lower)), where))
        ended = (ended + lower)[-200:]
    values = np.concatenate(found)
    if len(values) != 9 * facets or b"endsolid" not in ended:
        raise refuse(
            where, f"is a text STL cut short or spoilt: {len(values):,} numbers for {facets:,} triangles", WHOLE
        )
    return Raw(values.reshape(-1, 3), None)
