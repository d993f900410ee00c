"""Scan files made by hand and by other libraries, and triangles compared whatever the order they are in."""

from __future__ import annotations

import io
import struct
import zipfile
from typing import Any

import numpy as np
from scipy.spatial import cKDTree

CORE = "http://schemas.microsoft.com/3dmanufacturing/core/2015/02"
PRODUCTION = "http://schemas.microsoft.com/3dmanufacturing/production/2015/06"

TETRA = np.array([[0.0, 0.0, 0.0], [60.0, 0.0, 0.0], [0.0, 50.0, 0.0], [0.0, 0.0, 45.5]])
FACES = np.array([[0, 2, 1], [0, 1, 3], [1, 2, 3], [2, 0, 3]])

PLY_TEXT = """ply
format ascii 1.0
comment made by hand
element vertex 4
property float x
property float y
property float z
property uchar red
element face 4
property list uchar int vertex_indices
end_header
0 0 0 7
60 0 0 7
0 50 0 7
0 0 45.5 7
3 0 2 1
3 0 1 3
3 1 2 3
3 2 0 3
"""

OBJ_TEXT = """# made by hand
mtllib /etc/passwd
mtllib ../../../../secret.mtl
o thing
v 0 0 0
v 60 0 0 1.0
v 0 50 0
v 0 0 45.5
vn 0 0 1
vt 0.5 0.5
usemtl //host/share
f 1/1/1 3/1/1 2/1/1
f 1//1 2//1 4//1
s off
f -3 -2 -1
f 3 \\
 1 4
"""


def placed(vertices: Any, triangles: Any, digits: int = 4) -> list[Any]:
    """Every triangle by its corners' places, the least corner first, winding kept, in order."""
    corners = np.round(np.asarray(vertices, float)[np.asarray(triangles)], digits) + 0.0
    rows = []
    for a, b, c in corners.tolist():
        rows.append(min((a, b, c), (b, c, a), (c, a, b)))
    return sorted(rows)


def furthest_apart(vertices: Any, triangles: Any, others: Any, other_triangles: Any) -> float:
    """Greatest distance of a triangle's nine numbers from its like's, wound alike; infinite where not one to one."""
    mine, theirs = np.asarray(vertices, float)[triangles], np.asarray(others, float)[other_triangles]
    every = np.concatenate([np.roll(theirs, turn, axis=1).reshape(-1, 9) for turn in range(3)])
    far, which = cKDTree(every).query(mine.reshape(-1, 9))
    alike = len(mine) == len(theirs) and np.array_equal(np.sort(which % len(theirs)), np.arange(len(mine)))
    return float(far.max()) if alike else np.inf


def binary_stl(vertices: Any, triangles: Any, *, says: int | None = None, header: bytes = b"") -> bytes:
    """A binary STL; `says`: another count of triangles than is there."""
    corners = np.asarray(vertices, "<f4")[np.asarray(triangles)]
    body = b"".join(struct.pack("<3f", 0, 0, 0) + each.tobytes() + b"\0\0" for each in corners)
    return header.ljust(80, b"\0")[:80] + struct.pack("<I", len(corners) if says is None else says) + body


def text_stl(vertices: Any, triangles: Any, end: str = "\n") -> bytes:
    """A text STL."""
    lines = ["solid made by hand"]
    for corners in np.asarray(vertices, float)[np.asarray(triangles)]:
        lines += ["facet normal 0 0 1", "  outer loop"]
        lines += [f"    vertex {x!r} {y!r} {z!r}" for x, y, z in corners.tolist()]
        lines += ["  endloop", "endfacet"]
    return end.join([*lines, "endsolid made by hand", ""]).encode()


def mesh_xml(vertices: Any, triangles: Any) -> str:
    """A 3MF mesh element."""
    points = "".join(f'<vertex x="{x}" y="{y}" z="{z}"/>' for x, y, z in np.asarray(vertices).tolist())
    corners = "".join(f'<triangle v1="{a}" v2="{b}" v3="{c}"/>' for a, b, c in np.asarray(triangles).tolist())
    return f"<mesh><vertices>{points}</vertices><triangles>{corners}</triangles></mesh>"


def model_xml(objects: str, items: str, unit: str = "millimeter", head: str = "") -> str:
    """A 3MF model."""
    return (
        f'<?xml version="1.0" encoding="UTF-8"?>{head}<model unit="{unit}" xmlns="{CORE}" xmlns:p="{PRODUCTION}">'
        f"<resources>{objects}</resources><build>{items}</build></model>"
    )


def packed(files: dict[str, str | bytes], how: int = zipfile.ZIP_DEFLATED) -> bytes:
    """A zip of named parts."""
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", how) as made:
        for name, content in files.items():
            made.writestr(name, content)
    return stream.getvalue()


TYPES = (
    '<?xml version="1.0" encoding="UTF-8"?><Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types">'
    '<Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/>'
    '<Default Extension="model" ContentType="application/vnd.ms-package.3dmanufacturing-3dmodel+xml"/></Types>'
)
MAIN = "3D/3dmodel.model"


def relations(*targets: str) -> str:
    """A part that names models."""
    kind = "http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel"
    each = "".join(f'<Relationship Target="{to}" Id="r{i}" Type="{kind}"/>' for i, to in enumerate(targets))
    return f'<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships">{each}</Relationships>'


def packed_3mf(main: str | bytes, others: dict[str, str] | None = None, how: int = zipfile.ZIP_DEFLATED) -> bytes:
    """A 3MF of its main model and others that it names, by their paths."""
    others = others or {}
    beside = {"3D/_rels/3dmodel.model.rels": relations(*(f"/{name}" for name in others))} if others else {}
    return packed(
        {"[Content_Types].xml": TYPES, "_rels/.rels": relations(f"/{MAIN}"), MAIN: main, **beside, **others}, how
    )


def simple_3mf(unit: str = "millimeter", head: str = "") -> bytes:
    """A 3MF of the one tetrahedron."""
    one = f'<object id="1" type="model">{mesh_xml(TETRA, FACES)}</object>'
    return packed_3mf(model_xml(one, '<item objectid="1"/>', unit, head))
