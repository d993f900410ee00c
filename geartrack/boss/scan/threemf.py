"""3MF: a zip of XML models. What its directory says is held against limits first, then what comes out as it comes.

Each element is met once as it streams past, so that no tree is built: the mesh library's takes 1.6 GB for a million
triangles. A model with a document type is refused, and with it entities of every kind; the format allows none.
"""

from __future__ import annotations

import zipfile
import zlib
from array import array
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import BinaryIO
from xml.parsers import expat

import numpy as np
from numpy.typing import NDArray

from geartrack.boss.scan.limits import (
    BLOCK_BYTES,
    MOST_DEPTH,
    MOST_ENTRIES,
    MOST_FILE_BYTES,
    MOST_LINE_BYTES,
    MOST_PACKED_RATIO,
    MOST_TRIANGLES,
)
from geartrack.boss.scan.raw import WHOLE, Raw, too_many
from geartrack.errors import InputError, refuse
from geartrack.frame import Array

_UNITS = {"micron": "micron", "millimeter": "mm", "centimeter": "cm", "inch": "in", "foot": "ft", "meter": "m"}
_MOVE = np.vstack([np.eye(3), np.zeros(3)])
_SMALL = 2**20  # bytes: a part that unpacks to less may be packed as tightly as it likes
Key = tuple[str, str]
"""A model's name in the zip, and an object's number in that model."""


@dataclass
class _Object:
    """points, corners: its mesh, flat; parts: other objects, each moved by (4, 3)."""

    points: array[float] = field(default_factory=lambda: array("d"))
    corners: array[int] = field(default_factory=lambda: array("q"))
    parts: list[tuple[Key, Array]] = field(default_factory=list)


def read_3mf(stream: BinaryIO, size: int, where: str) -> Raw:
    """A stream of `size` bytes. What its build names is read; where it names nothing, every object."""
    try:
        with zipfile.ZipFile(stream) as packed:
            names = _models(packed, where)
            models = {name: _Model(packed, name, where) for name in names}
    except (zipfile.BadZipFile, RuntimeError, zlib.error, EOFError, ValueError) as fault:
        if isinstance(fault, InputError):
            raise
        raise refuse(where, "is no 3MF file or is spoilt", WHOLE) from None
    objects = {key: each for model in models.values() for key, each in model.objects.items()}
    first = models[names[0]]
    items = first.items or [(key, _MOVE) for key in first.objects]
    placed = _placed(objects, items, where)
    return _joined(placed, first.unit)


def _models(packed: zipfile.ZipFile, where: str) -> list[str]:
    """Names of the models in it, the main one first. Raises InputError for what would unpack to too much."""
    entries = packed.infolist()
    if len(entries) > MOST_ENTRIES:
        raise refuse(where, f"holds {len(entries):,} files", "a 3MF file of a scan")
    if sum(each.file_size for each in entries) > MOST_FILE_BYTES:
        raise refuse(where, "would unpack to more than is read", f"at most {MOST_FILE_BYTES / 2**30:.0f} GiB")
    for each in entries:
        if each.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED):
            raise refuse(where, "is packed in a way that no 3MF file is", WHOLE)
        if each.file_size > max(MOST_PACKED_RATIO * each.compress_size, _SMALL):
            raise refuse(where, "is packed tighter than any mesh can be", "a 3MF file of a scan")
    names = sorted({each.filename for each in entries if each.filename.lower().endswith(".model")})
    main = [name for name in names if name.lower().strip("/") == "3d/3dmodel.model"]
    if not main:
        raise refuse(where, "holds no model", "a 3MF file, or the right name for its format")
    return main[:1] + [name for name in names if name not in main[:1]]


class _Model:
    """One model's objects, build items and unit, from its elements as they stream past."""

    def __init__(self, packed: zipfile.ZipFile, name: str, where: str) -> None:
        self.name, self.where = name.strip("/"), where
        self.unit = "mm"  # where the model does not say, by the format's own rule
        self.objects: dict[Key, _Object] = {}
        self.items: list[tuple[Key, Array]] = []
        self.depth = self.links = self.triangles = 0
        self.now = _Object()
        parser = expat.ParserCreate()
        parser.StartElementHandler = self._start
        parser.EndElementHandler = self._end
        parser.StartDoctypeDeclHandler = self._doctype
        try:
            with packed.open(name) as content:
                since = 0  # an element that never ends would gather in the parser
                while piece := content.read(BLOCK_BYTES // 8):
                    met = parser.CurrentByteIndex
                    parser.Parse(piece, False)
                    since = 0 if parser.CurrentByteIndex > met else since + len(piece)
                    if since > MOST_LINE_BYTES:
                        raise refuse(where, "has an element longer than any of a mesh", WHOLE)
                parser.Parse(b"", True)
        except (expat.ExpatError, KeyError, ValueError, OverflowError) as fault:
            if isinstance(fault, InputError):
                raise
            raise refuse(where, f"{self.name} is no model that can be read or is spoilt", WHOLE) from None

    def _doctype(self, *_: object) -> None:
        raise refuse(self.where, f"{self.name} has a document type, which no 3MF may have", WHOLE)

    def _start(self, tag: str, said: dict[str, str]) -> None:
        self.depth += 1
        if self.depth > MOST_DEPTH:
            raise refuse(self.where, f"{self.name} is nested deeper than any mesh", WHOLE)
        match tag.rpartition(":")[2]:
            case "vertex":
                self.now.points.extend((float(said["x"]), float(said["y"]), float(said["z"])))
            case "triangle":
                self.triangles += 1
                self.now.corners.extend((int(said["v1"]), int(said["v2"]), int(said["v3"])))
                if self.triangles > MOST_TRIANGLES:
                    raise too_many(self.where, self.triangles)
            case "object":
                self._link()
                self.now = self.objects[self.name, said["id"]] = _Object()
            case "component":
                self.now.parts.append(self._link(said))
            case "item":
                self.items.append(self._link(said))
            case "model":
                stated = said.get("unit", "millimeter")
                if stated not in _UNITS:
                    raise refuse(self.where, f"has an unknown unit {stated[:20]!r}", f"one of {', '.join(_UNITS)}")
                self.unit = _UNITS[stated]

    def _end(self, _: str) -> None:
        self.depth -= 1

    def _link(self, said: Mapping[str, str] | None = None) -> tuple[Key, Array]:
        """Another object and how it is moved."""
        self.links += 1
        if self.links > MOST_ENTRIES:
            raise refuse(self.where, f"{self.name} has more objects than any scan", WHOLE)
        if said is None:
            return ("", ""), _MOVE
        path = next((text for name, text in said.items() if name.rpartition(":")[2] == "path"), self.name)
        move = np.array([float(text) for text in said["transform"].split()]) if "transform" in said else _MOVE
        return (path.strip("/"), said["objectid"]), move.reshape(4, 3)


def _placed(
    objects: Mapping[Key, _Object], items: list[tuple[Key, Array]], where: str
) -> list[tuple[Array, NDArray[np.int64]]]:
    """Meshes of items and of the objects they are put together from, each where it belongs."""
    made: list[tuple[Array, NDArray[np.int64]]] = []
    waiting = [(key, move, 0) for key, move in reversed(items)]
    total = steps = 0
    while waiting:
        key, move, depth = waiting.pop()
        steps += 1
        if key not in objects:
            raise refuse(where, f"names an object {key[1][:20]!r} that it does not hold", WHOLE)
        if depth > MOST_DEPTH or steps > MOST_ENTRIES:
            raise refuse(where, "is put together from more parts than any scan", WHOLE)
        each = objects[key]
        total += len(each.corners) // 3
        if total > MOST_TRIANGLES:
            raise too_many(where, total)
        points, corners = (
            np.frombuffer(each.points).reshape(-1, 3),
            np.frombuffer(each.corners, np.int64).reshape(-1, 3),
        )
        if len(corners) and (corners.min() < 0 or corners.max() >= len(points)):
            raise refuse(where, "has a triangle that points at a vertex it does not hold", WHOLE)
        if np.linalg.det(move[:3]) < 0:
            corners = corners[:, ::-1]  # a mirror image turns the winding round
        made.append((points @ move[:3] + move[3], corners))
        waiting += [(part, _after(inner, move), depth + 1) for part, inner in reversed(each.parts)]
    return made


def _after(inner: Array, outer: Array) -> Array:
    """One move (4, 3) after another: rows are multiplied from the left."""
    return np.vstack([inner[:3] @ outer[:3], inner[3] @ outer[:3] + outer[3]])


def _joined(meshes: list[tuple[Array, NDArray[np.int64]]], unit: str) -> Raw:
    starts = np.cumsum([0, *(len(points) for points, _ in meshes)])
    points = np.concatenate([np.zeros((0, 3)), *(points for points, _ in meshes)])
    corners = [corners + start for (_, corners), start in zip(meshes, starts, strict=False)]
    return Raw(points, np.concatenate([np.zeros((0, 3), np.int64), *corners]), unit)
