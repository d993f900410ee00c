"""PLY, text and binary of either byte order, read by trimesh.

The header is handed on with all but points and corners renamed, so that no texture, colour or edge is gone into; what
it says is held against the file's length, each line of a text, and what comes back.
"""

from __future__ import annotations

import io
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any, BinaryIO

import numpy as np

from geartrack.boss.scan.limits import MOST_AT_ONCE_BYTES, MOST_FIELDS, MOST_HEADER_BYTES, MOST_ROWS, MOST_TRIANGLES
from geartrack.boss.scan.raw import WHOLE, Raw, as_text, reading, too_many, triangulated
from geartrack.errors import refuse

_FORMATS = (b"ascii", b"binary_little_endian", b"binary_big_endian")
_CORNERS = (b"vertex_indices", b"vertex_index")
_KEPT = {b"vertex": (b"x", b"y", b"z"), b"face": _CORNERS}


@dataclass
class _Element:
    """name; count: how many the header says; fields: (kind, the last word left out; name)."""

    name: bytes
    count: int
    fields: list[tuple[bytes, bytes]] = field(default_factory=list)

    def header(self, number: int) -> list[bytes]:
        """Its lines, with all names but those that matter made up."""
        kept = _KEPT.get(self.name, ())
        names = [name if name in kept else b"other%d" % i for i, (_, name) in enumerate(self.fields)]
        lines = [b"property %b %b" % (kind, name) for (kind, _), name in zip(self.fields, names, strict=True)]
        return [b"element %b %d" % (self.name if kept else b"other%d" % number, self.count), *lines]


def read_ply(stream: BinaryIO, size: int, where: str) -> Raw:
    """A stream of `size` bytes. Faces of more corners than three are cut into fans, in a binary file if all alike."""
    from trimesh.exchange.ply import load_ply

    form, elements = _header(stream, where)
    left = size - stream.tell()
    for each in elements:
        if each.name == b"face" and each.count > MOST_TRIANGLES:
            raise too_many(where, each.count)
    rows = sum(each.count for each in elements)
    if rows > left:
        raise refuse(where, f"says {rows:,} points, faces and others, more than its length holds", WHOLE)
    if left > MOST_AT_ONCE_BYTES or (form == b"ascii" and rows > MOST_ROWS):
        raise refuse(where, f"is {left / 2**20:,.0f} MiB of {rows:,} lines, more than is read", "fewer triangles")
    body = stream.read(left)
    triangles = 0
    if form == b"ascii":
        body, triangles = _checked(body, elements, where)
    lines = [b"ply", b"format %b 1.0" % form, *(line for i, each in enumerate(elements) for line in each.header(i))]
    with reading(where):
        loaded = load_ply(io.BytesIO(b"\n".join([*lines, b"end_header", body])), skip_materials=True)
        if form != b"ascii":
            triangles = _alike(loaded["metadata"]["_ply_raw"], where)
    return _raw(loaded, {each.name: each.count for each in elements}, triangles, where)


def _raw(loaded: Mapping[str, Any], says: Mapping[bytes, int], triangles: int, where: str) -> Raw:
    vertices = loaded.get("vertices", np.zeros((0, 3)))
    faces = loaded.get("faces", np.zeros((0, 3), np.int64))
    if len(vertices) != says.get(b"vertex", 0):
        raise refuse(where, f"says {says.get(b'vertex', 0):,} points, but {len(vertices):,} can be read", WHOLE)
    kind = np.result_type(np.float32, vertices.dtype)
    return Raw(vertices.astype(kind, copy=False), triangulated(faces, triangles, where))


def _header(stream: BinaryIO, where: str) -> tuple[bytes, list[_Element]]:
    """The format, and the elements of which there are any."""
    head = stream.read(MOST_HEADER_BYTES)
    end = head.find(b"end_header")
    after = head.find(b"\n", end) + 1
    if head[:3].lower() != b"ply" or end < 0 or not after:
        raise refuse(where, "has no PLY header", "a PLY file, or the right name for its format")
    stream.seek(after)
    form, elements = b"", []
    for line in head[:end].splitlines()[1:]:
        match line.split():
            case [b"format", name, *_] if name in _FORMATS:
                form = name
            case [b"element", name, count] if count.isdigit() and len(count) < 19:
                elements.append(_Element(name, int(count)))
            case [b"property", *kind, name] if elements and kind:
                elements[-1].fields.append((b" ".join(kind), name))
            case [b"format" | b"element" | b"property", *_]:
                what = f"has a line in its header that makes no sense: {line[:60].decode('ascii', 'replace')!r}"
                raise refuse(where, what, WHOLE)
    if not form:
        raise refuse(where, "does not say whether it is text or binary", "a PLY file of format 1.0")
    elements = [each for each in elements if each.count]
    _mesh_like(elements, where)
    return form, elements


def _mesh_like(elements: Iterable[_Element], where: str) -> None:
    names = [each.name for each in elements]
    if sum(len(each.fields) for each in elements) > MOST_FIELDS:
        raise refuse(where, f"has more than {MOST_FIELDS} properties in its header", "a PLY file of a mesh")
    for each in elements:
        kept = [name for _, name in each.fields if name in _KEPT.get(each.name, ())]
        if each.name == b"vertex" and sorted(kept) != [b"x", b"y", b"z"]:
            raise refuse(where, "has vertices without x, y and z, once each", "a PLY file of a mesh")
        if each.name == b"face" and len(kept) != 1:
            raise refuse(where, "has faces without their corners, once each", "a PLY file of a mesh")
        if names.count(each.name) > 1:
            raise refuse(where, "lists one kind of thing twice in its header", WHOLE)


def _checked(body: bytes, elements: Iterable[_Element], where: str) -> tuple[bytes, int]:
    """A text's lines that are not blank, and how many triangles they must give.

    Raises InputError unless there are as many as the header says, each as long as the lists in it say.
    """
    if not as_text(body, where).isascii():
        raise refuse(where, "holds bytes that belong in no text", "the right name for its format")
    lines = [line for line in body.splitlines() if line.strip()]
    at = triangles = 0
    for each in elements:
        name = each.name.decode("ascii", "replace")[:20]
        if at + each.count > len(lines):
            raise refuse(where, f"ends before its last {name}", WHOLE)
        kinds = [(kind.startswith(b"list"), label in _CORNERS) for kind, label in each.fields]
        for number, line in enumerate(lines[at : at + each.count], start=1):
            corners = _corners(line.split(), kinds)
            if corners < 0 or (each.name == b"face" and corners < 3):
                raise refuse(where, f"{name} {number:,} is cut short or spoilt", WHOLE)
            triangles += corners - 2 if each.name == b"face" else 0
        at += each.count
    if at != len(lines):
        raise refuse(where, "holds more than its header says", WHOLE)
    if triangles > MOST_TRIANGLES:
        raise too_many(where, triangles)
    return b"\n".join(lines), triangles


def _corners(words: list[bytes], kinds: Iterable[tuple[bool, bool]]) -> int:
    """How many corners a line names; -1 unless it is as long as the lists in it say and its corners are whole numbers.

    kinds: whether a field is a list, and whether it is one of corners.
    """
    at = corners = 0
    for is_list, is_corners in kinds:
        if not is_list:
            at += 1
            continue
        if at >= len(words) or not words[at].isdigit() or len(words[at]) > 9:
            return -1
        many = int(words[at])
        if is_corners:
            corners = many
            if many and not b"".join(words[at + 1 : at + 1 + many]).isdigit():
                return -1
        at += 1 + many
    return corners if at == len(words) else -1


def _alike(read: Mapping[str, Any], where: str) -> int:
    """How many triangles a binary file's faces are. Raises InputError unless all lists of a kind are of one length.

    The library takes the first one's length for all.
    """
    triangles = 0
    for name, element in read.items():
        data = element["data"]
        for label in data.dtype.names or ():
            if data[label].dtype.names and (data[label]["f0"] != data[label]["f0"][0]).any():
                raise refuse(
                    where, "has faces or other lists of unlike length, in binary", "triangles only, or as text"
                )
            if name == "face" and data[label].dtype.names and label.encode() in _CORNERS:
                corners = int(data[label]["f0"][0])
                triangles = len(data) * (corners - 2)
    if triangles < 0:
        raise refuse(where, "has faces of fewer than three corners", WHOLE)
    return triangles
