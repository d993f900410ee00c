"""Scans of known size for the speed comparisons, written fast, and those who read them. All invented."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
from scan_files_made import CORE, packed_3mf

FILES = ("binary.stl", "text.stl", "binary.ply", "text.ply", "a.obj", "a.3mf")
SIZES = {"1M": 707, "5M": 1581}
"""Points along and round, about the root of half the triangles."""


def wavy(count: int) -> tuple[Any, Any]:
    """A rough boss with a bore, open at the deep end: about 2 count^2 triangles, boss frame."""
    rng = np.random.default_rng(7)
    turn = 2 * np.pi * np.arange(count) / count
    along = count // 2
    stations = np.linspace(0, 27, along)
    outside = 27 + 0.5 * np.sin(5 * turn) + rng.normal(scale=0.01, size=(along, count))
    bore = np.full((count - along, count), 19.0) + rng.normal(scale=0.01, size=(count - along, count))
    radius = np.concatenate([outside[::-1], bore])
    station = np.concatenate([stations[::-1], np.linspace(0, 27, count - along)])[:, None] + 0 * radius
    vertices = np.stack([-station, radius * np.sin(turn), radius * np.cos(turn)], axis=-1).reshape(-1, 3)
    i, j = np.meshgrid(np.arange(count - 1), np.arange(count), indexing="ij")
    a, b = i * count + j, i * count + (j + 1) % count
    quads = [np.stack([a, b, b + count], axis=-1), np.stack([a, b + count, a + count], axis=-1)]
    triangles = np.concatenate([each.reshape(-1, 3) for each in quads]).astype(np.int32)
    return vertices.astype(np.float32), triangles


def write(path: Path, vertices: Any, triangles: Any) -> None:
    """A file of the kind that its name says."""
    count = f"element vertex {len(vertices)}\nproperty float x\nproperty float y\nproperty float z\n"
    count += f"element face {len(triangles)}\nproperty list uchar int vertex_indices\nend_header\n"
    match path.name:
        case "binary.stl":
            rows = np.zeros(len(triangles), [("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("rest", "<u2")])
            rows["corners"] = vertices[triangles]
            path.write_bytes(b" " * 80 + np.uint32(len(triangles)).tobytes() + rows.tobytes())
        case "text.stl":
            corner = "  vertex %.6e %.6e %.6e\n"
            facet = f"facet normal 0 0 0\n outer loop\n{3 * corner} endloop\nendfacet"
            _lines(path, "solid made up\n", (facet, vertices[triangles].reshape(-1, 9)), end="endsolid made up\n")
        case "binary.ply":
            rows = np.zeros(len(triangles), [("count", "u1"), ("corners", "<i4", 3)])
            rows["count"], rows["corners"] = 3, triangles
            head = f"ply\nformat binary_little_endian 1.0\n{count}".encode()
            path.write_bytes(head + vertices.astype("<f4").tobytes() + rows.tobytes())
        case "text.ply":
            head = f"ply\nformat ascii 1.0\n{count}"
            _lines(path, head, ("%.5f %.5f %.5f", vertices), ("3 %d %d %d", triangles))
        case "a.obj":
            _lines(path, "mtllib none.mtl\n", ("v %.5f %.5f %.5f", vertices), ("f %d %d %d", triangles + 1))
        case "a.3mf":
            points = "".join(f'<vertex x="{x:.5f}" y="{y:.5f}" z="{z:.5f}"/>' for x, y, z in vertices.tolist())
            corners = "".join(f'<triangle v1="{a}" v2="{b}" v3="{c}"/>' for a, b, c in triangles.tolist())
            mesh = f"<mesh><vertices>{points}</vertices><triangles>{corners}</triangles></mesh>"
            object_ = f'<resources><object id="1" type="model">{mesh}</object></resources>'
            model = f'<model unit="millimeter" xmlns="{CORE}">{object_}<build><item objectid="1"/></build></model>'
            path.write_bytes(packed_3mf(model))


def _lines(path: Path, head: str, *tables: tuple[str, Any], end: str = "") -> None:
    with path.open("w") as stream:
        stream.write(head)
        for form, table in tables:
            np.savetxt(stream, table, fmt=form)
        stream.write(end)


def _geartrack(path: str) -> int:
    from geartrack.boss.scan.files import read_scan

    return len(read_scan(path, unit="mm").triangles)


def _health(path: str) -> int:
    from geartrack.boss.scan.files import read_scan
    from geartrack.boss.scan.health import health

    return health(read_scan(path, unit="mm")).triangles


def _solid(path: str) -> int:
    from boss_truth import BORE

    from geartrack.boss.scan.files import read_scan
    from geartrack.boss.scan.solid import boss_solid

    scan = read_scan(path, unit="mm")
    return len(boss_solid(scan.vertices, scan.triangles, BORE, length_mm=25.0, out_mm=40.0)[0].triangles)


def _alone(path: str) -> int:
    """The same library without the guard round it, equal vertices left as they are."""
    if path.endswith(".3mf"):
        import lib3mf

        model = lib3mf.Wrapper().CreateModel()
        model.QueryReader("3mf").ReadFromFile(path)
        meshes, count = model.GetMeshObjects(), 0
        while meshes.MoveNext():
            meshes.GetCurrentMeshObject().GetVertices()
            count += len(meshes.GetCurrentMeshObject().GetTriangleIndices())
        return count
    import trimesh

    return len(trimesh.load(path, force="mesh", process=False, skip_materials=True, maintain_order=True).faces)


def _meshio(path: str) -> int:
    import meshio

    return sum(len(block.data) for block in meshio.read(path).cells)


READERS: dict[str, Callable[[str], int]] = {
    "geartrack": _geartrack,
    "alone": _alone,
    "meshio": _meshio,
    "health": _health,
    "solid": _solid,
}
