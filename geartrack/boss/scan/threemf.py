"""3MF, read by lib3mf, which sees only what was looked through before: geartrack.boss.scan.threemf_guard."""

from __future__ import annotations

import ctypes
from collections.abc import Iterator
from typing import Any, BinaryIO

import numpy as np
from numpy.typing import NDArray

from geartrack.boss.scan.raw import WHOLE, Raw, reading
from geartrack.boss.scan.threemf_guard import looked_through
from geartrack.errors import refuse
from geartrack.frame import Array

_UNITS = {"MicroMeter": "micron", "MilliMeter": "mm", "CentiMeter": "cm", "Inch": "in", "Foot": "ft", "Meter": "m"}
_MOVE = np.vstack([np.eye(3), np.zeros(3)])


def read_3mf(stream: BinaryIO, size: int, where: str) -> Raw:
    """A stream of `size` bytes. What its build names is read, each object where it is placed."""
    content, expected = looked_through(stream, where)
    with reading(where):
        model = _model(content)
        items = model.GetBuildItems()
        points, corners, count = [np.zeros((0, 3))], [np.zeros((0, 3), np.int64)], 0
        while items.MoveNext():
            item = items.GetCurrent()
            move = _matrix(item.GetObjectTransform()) if item.HasObjectTransform() else _MOVE
            for some, faces in _placed(item.GetObjectResource(), move):
                points.append(some)
                corners.append(faces + count)
                count += len(some)
        triangles = np.concatenate(corners)
        unit = _UNITS[model.GetUnit().name]
    if len(triangles) != expected:
        raise refuse(where, f"holds {expected:,} triangles, but {len(triangles):,} can be read", WHOLE)
    return Raw(np.concatenate(points), triangles, unit)


def _model(content: BinaryIO) -> Any:
    """The library's model of a stream's content. Nothing is written, and no file opened."""
    import lib3mf

    size = content.seek(0, 2)
    content.seek(0)

    def read(address: int, count: int, _: object) -> None:
        piece = content.read(count)
        ctypes.memmove(address, piece, len(piece))

    def seek(position: int, _: object) -> None:
        content.seek(position)

    model = lib3mf.Wrapper().CreateModel()
    model.QueryReader("3mf").ReadFromCallback(lib3mf.ReadCallback(read), size, lib3mf.SeekCallback(seek), None)
    return model


def _placed(thing: Any, move: Array) -> Iterator[tuple[Array, NDArray[np.int64]]]:
    """Points (n, 3) [any] and triangles (m, 3) [-] of the library's object and of the objects it is put together from.

    A row of three numbers and a 1, times the (4, 3) move, is where it lies; a mirror image turns the winding round.
    """
    if thing.IsMeshObject():
        points, corners = _mesh(thing)
        yield points @ move[:3] + move[3], corners[:, ::-1] if np.linalg.det(move[:3]) < 0 else corners
    elif thing.IsComponentsObject():
        for i in range(thing.GetComponentCount()):
            part = thing.GetComponent(i)
            inner = _matrix(part.GetTransform()) if part.HasTransform() else _MOVE
            both = np.vstack([inner[:3] @ move[:3], inner[3] @ move[:3] + move[3]])
            yield from _placed(part.GetObjectResource(), both)


def _mesh(mesh: Any) -> tuple[Array, NDArray[np.int64]]:
    import lib3mf

    points, corners = mesh.GetVertices(), mesh.GetTriangleIndices()
    return (
        np.frombuffer((lib3mf.Position * len(points))(*points), np.float32).reshape(-1, 3).astype(float),
        np.frombuffer((lib3mf.Triangle * len(corners))(*corners), np.uint32).reshape(-1, 3).astype(np.int64),
    )


def _matrix(transform: Any) -> Array:
    return np.array([list(row) for row in transform.Fields], float)
