"""OBJ: its vertices and faces, and nothing else. Names of materials and other files in it are never looked at."""

from __future__ import annotations

import re
from typing import BinaryIO

import numpy as np
from numpy.typing import NDArray

from geartrack.boss.scan.limits import MOST_TRIANGLES
from geartrack.boss.scan.raw import WHOLE, Raw, blocks, fans, numbers, too_many
from geartrack.errors import refuse
from geartrack.frame import Array

_VERTEX = re.compile(rb"^[ \t]*v[ \t]([^\n#]*)", re.MULTILINE)
_FACE = re.compile(rb"^[ \t]*f[ \t]([^\n#]*)", re.MULTILINE)
_BESIDE = re.compile(rb"/[0-9/-]*")  # numbers of a texture's place and a normal


def read_obj(stream: BinaryIO, size: int, where: str) -> Raw:
    """A stream of `size` bytes."""
    points, triangles, seen, count = [], [], 0, 0
    for block in blocks(stream, where):
        text = block.replace(b"\\\n", b" ") if b"\\\n" in block else block
        lines = _VERTEX.findall(text)
        if lines:
            points.append(_places(lines, where))
        faces = _faces(text, seen, where)
        seen, count = seen + len(lines), count + len(faces)
        if max(count, seen // 3) > MOST_TRIANGLES:
            raise too_many(where, max(count, seen // 3))
        triangles.append(faces)
    empty = np.zeros((0, 3))
    return Raw(np.concatenate([empty, *points]), np.concatenate([empty.astype(np.int64), *triangles]))


def _places(lines: list[bytes], where: str) -> Array:
    """Points of lines that hold three numbers each, or more after them (a weight, a colour), (n, 3) [any]."""
    wide = {len(line.split()) for line in lines}
    if min(wide) < 3:
        raise refuse(where, "has a vertex of fewer than three numbers", WHOLE)
    if len(wide) == 1:
        return numbers(b"\n".join(lines), where).reshape(len(lines), -1)[:, :3]
    return numbers(b" ".join(b" ".join(line.split()[:3]) for line in lines), where).reshape(-1, 3)


def _faces(text: bytes, seen: int, where: str) -> NDArray[np.int64]:
    """Triangles (m, 3) of a block; `seen`: vertices before it. Corners count from 1, or back from the last vertex."""
    lines = _FACE.findall(text)
    if not lines:
        return np.zeros((0, 3), np.int64)
    plain = _BESIDE.sub(b"", b"\n".join(lines))
    values = numbers(plain, where)
    whole = values.astype(np.int64)
    if (whole != values).any() or (whole == 0).any():
        raise refuse(where, "has a face whose corner is no whole number from 1 on", WHOLE)
    many = np.array([len(line.split()) for line in plain.split(b"\n")])
    if many.sum() != len(whole):
        raise refuse(where, "has a face that makes no sense", WHOLE)
    if (whole < 0).any():
        starts = np.array([found.start() for found in _FACE.finditer(text)])
        before = np.searchsorted([found.start() for found in _VERTEX.finditer(text)], starts)
        last = np.repeat(seen + before, many)
        whole = np.where(whole < 0, last + whole, whole - 1)
    else:
        whole -= 1
    if (many == 3).all():
        return whole.reshape(-1, 3)
    return fans(np.split(whole, np.cumsum(many)[:-1]))
