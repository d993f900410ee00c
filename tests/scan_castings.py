"""Made-up castings by a B-rep kernel, and what a scanner would make of them: noise, strays, holes, a pose of its own.

Every size is invented. The shapes are in the boss frame of a pinion below the ring axis (see geartrack.frame), where
the ring axis is the line x = -END_FACE, y = -OFFSET.
"""

from __future__ import annotations

import math
from functools import lru_cache
from typing import Any

import numpy as np
from OCP.BRep import BRep_Tool
from OCP.BRepAdaptor import BRepAdaptor_Curve, BRepAdaptor_Surface
from OCP.BRepAlgoAPI import BRepAlgoAPI_Cut, BRepAlgoAPI_Fuse
from OCP.BRepFilletAPI import BRepFilletAPI_MakeChamfer
from OCP.BRepMesh import BRepMesh_IncrementalMesh
from OCP.BRepPrimAPI import BRepPrimAPI_MakeBox, BRepPrimAPI_MakeCylinder
from OCP.GeomAbs import GeomAbs_SurfaceType
from OCP.gp import gp_Ax2, gp_Dir, gp_Pnt
from OCP.TopAbs import TopAbs_Orientation, TopAbs_ShapeEnum
from OCP.TopExp import TopExp_Explorer
from OCP.TopLoc import TopLoc_Location
from OCP.TopoDS import TopoDS
from trimesh.remesh import subdivide_to_size

END_FACE, OFFSET, BORE_DIAMETER, BORE_DEPTH, LENGTH = 50.0, 54.0, 38.0, 20.0, 27.0
SIDE_BORE, SIDE_FROM, SIDE_WIDE = 80.0, (68.0, -68.0), 22.0


def cylinder(at: Any, along: Any, radius: float, length: float) -> Any:
    return BRepPrimAPI_MakeCylinder(gp_Ax2(gp_Pnt(*at), gp_Dir(*along)), radius, length).Shape()


def box(low: Any, high: Any) -> Any:
    return BRepPrimAPI_MakeBox(gp_Pnt(*low), gp_Pnt(*high)).Shape()


def joined(*shapes: Any) -> Any:
    whole = shapes[0]
    for shape in shapes[1:]:
        whole = BRepAlgoAPI_Fuse(whole, shape).Shape()
    return whole


def cut(whole: Any, *shapes: Any) -> Any:
    for shape in shapes:
        whole = BRepAlgoAPI_Cut(whole, shape).Shape()
    return whole


def boss(*, radius: float = 27.2, depth: float = BORE_DEPTH, edge: float = 0.0, rib: float = 40.0) -> Any:
    """A boss with a step, a rib away from the ring and a flat-topped pad, its pinion-side edge broken by `edge`."""
    body = cylinder((0, 0, 0), (-1, 0, 0), radius, 22.0)
    if edge:
        chamfer = BRepFilletAPI_MakeChamfer(body)
        edges = TopExp_Explorer(body, TopAbs_ShapeEnum.TopAbs_EDGE)
        while edges.More():
            each = TopoDS.Edge(edges.Current())
            points = _ends(each)
            if all(abs(p[0]) < 1e-9 for p in points) and not BRep_Tool.Degenerated_s(each):
                chamfer.Add(edge, each)
                break
            edges.Next()
        body = chamfer.Shape()
    web = cylinder((-22, 0, 0), (-1, 0, 0), radius + 3.8, LENGTH - 22.0)
    spoke = box((-LENGTH, -4.5, -rib), (-6.0, 4.5, 0))
    pad = box((-LENGTH, -8.0, 0), (-4.0, 8.0, radius + 1.3))
    return cut(joined(body, web, spoke, pad), cylinder((1, 0, 0), (-1, 0, 0), BORE_DIAMETER / 2, depth + 1))


def saddles(from_mm: tuple[float, float] = SIDE_FROM) -> Any:
    """Two side-bearing bores about the ring axis, each a half, caps off, on blocks."""
    made = []
    for start, sign in zip(from_mm, (1, -1), strict=True):
        low, high = sorted((start, start + sign * SIDE_WIDE))
        block = box((-END_FACE, -OFFSET - 58, low), (-END_FACE + 55, -OFFSET + 58, high))
        made.append(cut(block, cylinder((-END_FACE, -OFFSET, low - 1), (0, 0, 1), SIDE_BORE / 2, SIDE_WIDE + 2)))
    return made


def whole_case(**sizes: Any) -> list[Any]:
    """A boss, its saddles, and the flange that the pinion support bolts to, with its bore."""
    flange = cut(
        box((55, -75, -75), (67, 75, 75)),
        cylinder((54, 0, 0), (1, 0, 0), 48.0, 20.0),
        *(cylinder((54, 62 * y, 62 * z), (1, 0, 0), 6.0, 20.0) for y in (-1, 1) for z in (-1, 1)),
    )
    return [boss(**sizes), *saddles(), flange]


def _ends(edge: Any) -> list[tuple[float, float, float]]:
    curve = BRepAdaptor_Curve(edge)
    points = [curve.Value(p) for p in np.linspace(curve.FirstParameter(), curve.LastParameter(), 3)]
    return [(p.X(), p.Y(), p.Z()) for p in points]


def meshed(shapes: Any, size: float, deflection: float = 0.1) -> tuple[Any, Any]:
    """Vertices (n, 3) and triangles (m, 3) of shapes, wound outward, no side longer than `size`.

    Rough facets are cut up and the points of cylinders put on their cylinders again, so that triangles are about as
    wide as long, as a scanner's are; a cone's (a broken edge) stay on its facets, which are right to 0.01 mm.
    """
    points: list[Any] = []
    faces: list[Any] = []
    start = 0
    for shape in shapes:
        BRepMesh_IncrementalMesh(shape, deflection, False, 0.1, False)
        explorer = TopExp_Explorer(shape, TopAbs_ShapeEnum.TopAbs_FACE)
        while explorer.More():
            face = TopoDS.Face(explorer.Current())
            corners, triangles = _face_mesh(face)
            corners, triangles = subdivide_to_size(corners, triangles, size, max_iter=14)
            surface = BRepAdaptor_Surface(face)
            if surface.GetType() == GeomAbs_SurfaceType.GeomAbs_Cylinder:
                corners = _onto(corners, surface.Cylinder())
            points.append(corners)
            faces.append(triangles + start)
            start += len(corners)
            explorer.Next()
    return merged(np.concatenate(points), np.concatenate(faces))


def _face_mesh(face: Any) -> tuple[Any, Any]:
    place = TopLoc_Location()
    mesh = BRep_Tool.Triangulation_s(face, place)
    move = place.Transformation()
    nodes = [mesh.Node(i).Transformed(move) for i in range(1, mesh.NbNodes() + 1)]
    triangles = np.array([mesh.Triangle(i).Get() for i in range(1, mesh.NbTriangles() + 1)]) - 1
    turned = face.Orientation() == TopAbs_Orientation.TopAbs_REVERSED
    return np.array([(p.X(), p.Y(), p.Z()) for p in nodes]), triangles[:, ::-1] if turned else triangles


def _onto(points: Any, surface: Any) -> Any:
    """Points moved straight out or in onto a cylinder."""
    place, way = surface.Axis().Location(), surface.Axis().Direction()
    origin, axis = np.array([place.X(), place.Y(), place.Z()]), np.array([way.X(), way.Y(), way.Z()])
    away = points - origin
    flat = away - np.outer(away @ axis, axis)
    return points + flat * (surface.Radius() / np.linalg.norm(flat, axis=1) - 1)[:, None]


def merged(points: Any, faces: Any) -> tuple[Any, Any]:
    unique, inverse = np.unique(np.round(points, 6), axis=0, return_inverse=True)
    faces = inverse.ravel()[faces]
    whole = (faces[:, 0] != faces[:, 1]) & (faces[:, 1] != faces[:, 2]) & (faces[:, 2] != faces[:, 0])
    return unique, faces[whole].astype(np.int32)


@lru_cache(maxsize=8)
def clean_scan(what: str, size: float, **sizes: float) -> tuple[Any, Any]:
    """A made-up casting ("boss" or "case") in fine triangles, no noise, in the boss frame."""
    return meshed([boss(**sizes)] if what == "boss" else whole_case(**sizes), size)


def turned(seed: int) -> tuple[Any, Any]:
    """A pose nobody knows: a rotation (3, 3) and a shift (3,) [mm]."""
    rng = np.random.default_rng(seed)
    q = rng.normal(size=4)
    w, x, y, z = q / np.linalg.norm(q)
    rotation = np.array(
        [
            [1 - 2 * (y * y + z * z), 2 * (x * y - z * w), 2 * (x * z + y * w)],
            [2 * (x * y + z * w), 1 - 2 * (x * x + z * z), 2 * (y * z - x * w)],
            [2 * (x * z - y * w), 2 * (y * z + x * w), 1 - 2 * (x * x + y * y)],
        ]
    )
    return rotation, rng.uniform(-200, 200, 3)


def scanned(
    points: Any,
    faces: Any,
    *,
    seed: int,
    noise: float = 0.02,
    strays: float = 0.0,
    stray_mm: float = 3.0,
    lost: Any = None,
    flipped: float = 0.0,
    mirrored: bool = False,
) -> tuple[Any, Any, Any, Any]:
    """A scanner's view: vertices, triangles, and the rotation and shift that took the true shape there.

    strays: share of the vertices thrown up to stray_mm off. lost: mask of vertices (n,) whose triangles are missing.
    """
    rng = np.random.default_rng(seed)
    rotation, shift = turned(seed + 1)
    moved = points + rng.normal(scale=noise, size=points.shape)
    thrown = rng.random(len(points)) < strays
    moved[thrown] += rng.uniform(-stray_mm, stray_mm, (int(thrown.sum()), 3))
    faces = faces.copy()
    if lost is not None:
        faces = faces[~lost[faces].any(axis=1)]
    back = rng.random(len(faces)) < flipped
    faces[back] = faces[back][:, ::-1]
    if mirrored:
        moved = moved * [1, -1, 1]
    return moved @ rotation.T + shift, faces, rotation, shift


def angle_apart(one: Any, other: Any) -> float:
    """Between two directions, whichever way each points [rad]."""
    return math.asin(min(1.0, float(np.linalg.norm(np.cross(one, other)))))
