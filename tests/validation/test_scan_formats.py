"""Scan files written by other libraries than the ones that read them: meshio and OpenCASCADE (STL, PLY, OBJ), trimesh
(3MF); and by lib3mf itself, for units and parts, which the first two cannot write.

Each library wrote the triangles, so the same ones, each wound as it was, must come back.
"""

from __future__ import annotations

import math
from functools import lru_cache
from pathlib import Path
from typing import Any

import lib3mf
import meshio
import numpy as np
import pytest
import trimesh
from OCP.gp import gp_Pnt
from OCP.OSD import OSD_Path
from OCP.Poly import Poly_Triangle, Poly_Triangulation
from OCP.RWStl import RWStl
from OCP.TCollection import TCollection_AsciiString
from scan_files_made import furthest_apart

from geartrack.boss.scan.files import read_scan


@lru_cache
def knot() -> Any:
    """A closed shape with nothing even about it, 120 mm over."""
    made = trimesh.creation.icosphere(subdivisions=3, radius=60.0)
    x, y, z = made.vertices.T
    made.vertices[:, 2] = np.round(z * (1 + 0.2 * np.sin(x / 9)) + 0.1 * y, 4)
    return made


def checked(path: Path, vertices: Any, faces: Any, *, off: float, **said: str) -> Any:
    """The scan; `off`: half the last digit that the writer keeps, with a little over [mm]."""
    scan = read_scan(path, **said)
    assert furthest_apart(scan.vertices, scan.triangles, vertices, faces) <= off
    return scan


@pytest.mark.parametrize(
    ("name", "how"),
    [
        ("text.stl", {"file_format": "stl", "binary": False}),
        ("binary.stl", {"file_format": "stl", "binary": True}),
        ("text.ply", {"file_format": "ply", "binary": False}),
        ("binary.ply", {"file_format": "ply", "binary": True}),
        ("a.obj", {"file_format": "obj"}),
    ],
)
def test_what_meshio_wrote(tmp_path: Path, name: str, how: dict[str, Any]) -> None:
    made = knot()
    points = made.vertices.astype(np.float32) if "stl" in name else made.vertices
    meshio.Mesh(points, [("triangle", made.faces)]).write(tmp_path / name, **how)
    scan = checked(tmp_path / name, points, made.faces, off=2e-5)
    assert len(scan.vertices) == len(made.vertices)


def test_quads_that_meshio_wrote(tmp_path: Path) -> None:
    """A box of six quads: its area is known."""
    corners = np.array([[x, y, z] for x in (0, 50.0) for y in (0, 60.0) for z in (0, 70.0)])
    quads = np.array([[0, 1, 3, 2], [4, 6, 7, 5], [0, 4, 5, 1], [2, 3, 7, 6], [0, 2, 6, 4], [1, 5, 7, 3]])
    for name, how in (("a.ply", {"binary": True}), ("b.ply", {"binary": False}), ("a.obj", {})):
        meshio.Mesh(corners, [("quad", quads)]).write(tmp_path / name, **how)
        scan = read_scan(tmp_path / name)
        read = trimesh.Trimesh(scan.vertices, scan.triangles, process=False)
        assert len(scan.triangles) == 12
        assert read.is_watertight
        assert read.volume == pytest.approx(50.0 * 60.0 * 70.0, rel=1e-6)


def test_normals_places_and_colours_that_meshio_wrote(tmp_path: Path) -> None:
    """What stands beside a vertex or a corner is left alone."""
    made = knot()
    normals, places = np.roll(made.vertices, 1, axis=1) / 60.0, made.vertices[:, :2] / 60.0
    data = {"a.obj": {"obj:vn": normals, "obj:vt": places}, "a.ply": {"nx": normals[:, 0], "s": places[:, 0]}}
    for name, beside in data.items():
        meshio.Mesh(made.vertices, [("triangle", made.faces)], point_data=beside).write(tmp_path / name)
        checked(tmp_path / name, made.vertices, made.faces, off=2e-5)


@pytest.mark.parametrize("name", ["text.stl", "binary.stl"])
def test_what_opencascade_wrote(tmp_path: Path, name: str) -> None:
    """Its text has six digits."""
    made = knot()
    mesh = Poly_Triangulation(len(made.vertices), len(made.faces), False)
    for i, (x, y, z) in enumerate(made.vertices.tolist(), start=1):
        mesh.SetNode(i, gp_Pnt(x, y, z))
    for i, (a, b, c) in enumerate((made.faces + 1).tolist(), start=1):
        mesh.SetTriangle(i, Poly_Triangle(a, b, c))
    writer = RWStl.WriteAscii_s if name == "text.stl" else RWStl.WriteBinary_s
    assert writer(mesh, OSD_Path(TCollection_AsciiString(str(tmp_path / name))))
    checked(tmp_path / name, made.vertices, made.faces, off=2e-4 if name == "text.stl" else 2e-5)


def test_a_3mf_that_trimesh_wrote(tmp_path: Path) -> None:
    made = knot()
    made.export(tmp_path / "a.3mf")
    scan = checked(tmp_path / "a.3mf", made.vertices, made.faces, off=2e-5, unit="mm")
    assert len(scan.vertices) == len(made.vertices)


UNIT_MM = {"MilliMeter": 1.0, "Inch": 25.4, "CentiMeter": 10.0, "Meter": 1000.0, "MicroMeter": 0.001, "Foot": 304.8}


@pytest.mark.parametrize("unit", UNIT_MM)
def test_what_lib3mf_wrote(tmp_path: Path, unit: str) -> None:
    """An object placed twice, once turned and moved, with the unit in the file."""
    made = knot()
    library = lib3mf.Wrapper()
    model = library.CreateModel()
    model.SetUnit(getattr(lib3mf.ModelUnit, unit))
    each = model.AddMeshObject()
    each.SetName("knot")
    points = (made.vertices / UNIT_MM[unit]).astype(np.float32)
    each.SetGeometry([position(p) for p in points], [triangle(f) for f in made.faces])
    move = lib3mf.Transform()
    step = 150.0 / UNIT_MM[unit]
    for row, values in enumerate(([0, 1, 0], [-1, 0, 0], [0, 0, 1], [step, 0, 0])):
        for column, value in enumerate(values):
            move.Fields[row][column] = value
    model.AddBuildItem(each, library.GetIdentityTransform())
    model.AddBuildItem(each, move)
    model.QueryWriter("3mf").WriteToFile(str(tmp_path / "a.3mf"))
    one = points.astype(float) * UNIT_MM[unit]
    other = np.stack([150.0 - one[:, 1], one[:, 0], one[:, 2]], axis=1)
    both = np.concatenate([one, other]), np.concatenate([made.faces, made.faces + len(one)])
    # it cuts points off after six decimals, nine numbers of a triangle, and moves by six digits, three corners of it
    moved = math.sqrt(3) * 10.0 ** (math.floor(math.log10(step)) - 5) / 2
    scan = checked(tmp_path / "a.3mf", *both, off=(3e-6 + moved) * UNIT_MM[unit] + 2e-5)
    assert scan.unit_from == "file"


def position(point: Any) -> Any:
    made = lib3mf.Position()
    for i in range(3):
        made.Coordinates[i] = float(point[i])
    return made


def triangle(face: Any) -> Any:
    made = lib3mf.Triangle()
    for i in range(3):
        made.Indices[i] = int(face[i])
    return made
