"""OBJ, read by trimesh: only its lines of vertices and faces are handed on, so that no other file can be asked for.

Left out with the rest are materials, groups, and what stands beside a corner's number after a slash.
"""

from __future__ import annotations

import io
import re
from typing import BinaryIO

import numpy as np

from geartrack.boss.scan.limits import MOST_AT_ONCE_BYTES, MOST_ROWS, MOST_TRIANGLES
from geartrack.boss.scan.raw import WHOLE, Raw, blocks, reading, too_many, triangulated
from geartrack.errors import refuse

_LINE = re.compile(rb"^[ \t]*([vf])[ \t]([^\n#]*)", re.MULTILINE)
_BESIDE = re.compile(rb"/[0-9/-]*")  # numbers of a texture's place and a normal
_NOUGHT = re.compile(rb"[ -]0+(?= |$)")


def read_obj(stream: BinaryIO, size: int, where: str) -> Raw:
    """A stream of `size` bytes. Faces of more corners than three are cut into fans."""
    from trimesh.exchange.obj import load_obj

    if size > MOST_AT_ONCE_BYTES:
        raise refuse(where, f"is {size / 2**20:,.0f} MiB, more than is read of an OBJ", "fewer triangles")
    text, vertices, triangles = _lines(stream, where)
    if not triangles:
        return Raw(np.zeros((vertices, 3)), np.zeros((0, 3), np.int64))
    with reading(where):
        try:
            loaded = load_obj(io.StringIO(text), skip_materials=True, maintain_order=True)
        except IndexError:
            raise refuse(where, "has a triangle that points at a vertex it does not hold", WHOLE) from None
        (mesh,) = loaded.get("geometry", {"": loaded}).values()  # older releases give the mesh itself
    if len(mesh["vertices"]) != vertices:
        raise refuse(where, f"has {vertices:,} vertices, but {len(mesh['vertices']):,} can be read", WHOLE)
    return Raw(mesh["vertices"], triangulated(mesh["faces"], triangles, where))


def _lines(stream: BinaryIO, where: str) -> tuple[str, int, int]:
    """The lines that matter, bare of all else, and how many vertices and triangles they must give."""
    kept, vertices, triangles, rows = [], 0, 0, 0
    back = False  # a corner counted back from the last vertex so far, which the library takes for the very last
    for block in blocks(stream, where):
        lines = [(kind, _bare(kind, line, where)) for kind, line in _LINE.findall(block.replace(b"\\\n", b" "))]
        for kind, line in lines:
            if kind == b"v" and back:
                raise refuse(where, "counts corners back from a vertex that others follow", "corners counted from 1")
            vertices += kind == b"v"
            triangles += line.count(b" ") - 2 if kind == b"f" else 0
            back = back or (kind == b"f" and b"-" in line)
        if max(triangles, vertices // 3) > MOST_TRIANGLES:
            raise too_many(where, max(triangles, vertices // 3))
        rows += len(lines)
        if rows > MOST_ROWS:
            raise refuse(
                where, f"has more than {MOST_ROWS:,} vertices and faces", "fewer triangles, or a binary format"
            )
        kept.append(b"\n".join(line for _, line in lines))
    return b"\n".join(kept).decode("ascii", "replace"), vertices, triangles


def _bare(kind: bytes, line: bytes, where: str) -> bytes:
    """The letter and a vertex's three numbers, without its weight or colour, or a face's corners; a space between."""
    words = line.split()[:3] if kind == b"v" else _BESIDE.sub(b"", line).split()
    if len(words) < 3:
        what = "vertex of fewer than three numbers" if kind == b"v" else "face of fewer than three corners"
        raise refuse(where, f"has a {what}", WHOLE)
    bare = b" ".join([kind, *words])
    if kind == b"f" and _NOUGHT.search(bare):
        raise refuse(where, "has a face whose corner is no whole number from 1 on", WHOLE)
    return bare
