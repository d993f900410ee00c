"""The gap against two general-purpose kernels: FCL (a collision library, faceted) and OpenCASCADE (exact surfaces).

FCL sees a ring of 1440 facets a turn, whose facets lie inside the true ring by up to R (1 - cos(pi / 1440)) = 0.0003 mm
at R = 122, and gives no depth. OpenCASCADE sees a true solid of revolution and a true cylinder; a depth d is put to it
as a question about distance, since the section shrunk by d just touches the boss. It misjudges contact within 1e-4 mm.
"""

from __future__ import annotations

from typing import Any

import fcl
import numpy as np
import pytest
import shapely
import trimesh
from gap_shapes import OFFSET, RING, box, cylinder, joined, placed
from OCP.BRepAlgoAPI import BRepAlgoAPI_Fuse
from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeFace, BRepBuilderAPI_MakePolygon, BRepBuilderAPI_MakeVertex
from OCP.BRepExtrema import BRepExtrema_DistShapeShape
from OCP.BRepPrimAPI import BRepPrimAPI_MakeBox, BRepPrimAPI_MakeCylinder, BRepPrimAPI_MakeRevol
from OCP.gp import gp_Ax1, gp_Ax2, gp_Dir, gp_Pnt

from geartrack.clearance import axial_retreat, boss_gap
from geartrack.sweep import signed_distance

AROUND = 517  # facets of the cylinder: DESIGN 3, for 0.0005 mm at 27 mm
SHORT = 27 * (1 - np.cos(np.pi / AROUND))
BLOCK = ((30.0, 60.0, -4.0), (46.0, 82.0, 18.0))
KERNEL_MM = 2e-4  # OpenCASCADE's contact threshold, both ways
RING_FACETS_MM = 122 * (1 - np.cos(np.pi / 1440))
DOWN_MM = (0.0, 1.0, 1.5, 2.0, 3.0, 4.5)
CASES = [(with_block, down) for with_block in (False, True) for down in DOWN_MM]


def boss(with_block: bool) -> Any:
    """Cylinder of radius 27 from x = 28 to 50 about the pinion axis, with or without a block on its far side."""
    plain = cylinder(27, 28, 50, AROUND)
    return placed(joined(plain, box(*BLOCK)) if with_block else plain, short_mm=SHORT)


def exact_boss(with_block: bool) -> Any:
    made = BRepPrimAPI_MakeCylinder(gp_Ax2(gp_Pnt(28, OFFSET, 0), gp_Dir(1, 0, 0)), 27.0, 22.0).Shape()
    if not with_block:
        return made
    return BRepAlgoAPI_Fuse(made, BRepPrimAPI_MakeBox(gp_Pnt(*BLOCK[0]), gp_Pnt(*BLOCK[1])).Shape()).Shape()


def revolved(points: Any) -> Any:
    """A true solid of revolution about Z."""
    wire = BRepBuilderAPI_MakePolygon()
    for r, z in points:
        wire.Add(gp_Pnt(float(r), 0.0, float(z)))
    wire.Close()
    face = BRepBuilderAPI_MakeFace(wire.Wire()).Face()
    return BRepPrimAPI_MakeRevol(face, gp_Ax1(gp_Pnt(0, 0, 0), gp_Dir(0, 0, 1))).Shape()


def kernel_distance(one: Any, other: Any) -> float:
    measured = BRepExtrema_DistShapeShape(one, other)
    assert measured.IsDone()
    return float(measured.Value())


def shrunk(points: Any, by_mm: float) -> Any:
    """What lies deeper than `by_mm` inside a section: exact, since shrinking rounds no convex corner."""
    left = shapely.Polygon(points).buffer(-by_mm, join_style="mitre", mitre_limit=50)
    return np.array(left.exterior.coords)[:-1]


@pytest.mark.parametrize(("with_block", "down_mm"), CASES)
def test_opencascade_agrees_on_distance_and_on_depth(with_block: bool, down_mm: float) -> None:
    ring = RING.moved(dz_mm=-down_mm)
    found, exact = boss_gap(boss(with_block), ring), exact_boss(with_block)
    apart = kernel_distance(exact, revolved(ring.points))
    if found.lower_mm > 0:
        assert found.lower_mm - KERNEL_MM <= apart <= found.upper_mm + KERNEL_MM
        return
    assert apart == 0
    assert kernel_distance(exact, revolved(shrunk(ring.points, -found.upper_mm - 0.005))) == 0
    beyond = kernel_distance(exact, revolved(shrunk(ring.points, -found.lower_mm + 0.005)))
    assert beyond > KERNEL_MM


def test_both_signs_were_met() -> None:
    """The cases above hold clear ones and interfering ones, with and without the block."""
    for with_block in (False, True):
        signs = {np.sign(boss_gap(boss(with_block), RING.moved(dz_mm=-d)).nominal_mm) for d in DOWN_MM}
        assert signs == {1, -1}


@pytest.mark.parametrize("with_block", [False, True])
def test_opencascade_finds_contact_gone_after_the_way_back(with_block: bool) -> None:
    ring = RING.moved(dz_mm=-4.5)
    back, exact = axial_retreat(boss(with_block), ring), exact_boss(with_block)
    assert kernel_distance(exact, revolved(ring.moved(dz_mm=back - 0.01).points)) == 0
    assert 0 < kernel_distance(exact, revolved(ring.moved(dz_mm=back + 0.01).points)) < 0.02


def test_opencascade_agrees_on_the_depth_of_single_points() -> None:
    """Points inside and outside the ring against the shell of the revolved solid."""
    solid = revolved(RING.points)
    rng = np.random.default_rng(4)
    r, z, a = rng.uniform(80, 125, 12), rng.uniform(12, 48, 12), rng.uniform(0, 6, 12)
    expected = np.abs(signed_distance(RING, np.stack([r, z], axis=1)))
    for distance, at in zip(expected, zip(r * np.cos(a), r * np.sin(a), z, strict=True), strict=True):
        vertex = BRepBuilderAPI_MakeVertex(gp_Pnt(*map(float, at))).Vertex()
        shells = kernel_distance(vertex, shell_of(solid))
        assert shells == pytest.approx(distance, abs=1e-6)


def shell_of(solid: Any) -> Any:
    from OCP.TopAbs import TopAbs_SHELL
    from OCP.TopExp import TopExp_Explorer

    return TopExp_Explorer(solid, TopAbs_SHELL).Current()


def fcl_object(vertices: Any, triangles: Any) -> Any:
    model = fcl.BVHModel()
    model.beginModel(len(vertices), len(triangles))
    model.addSubModel(np.ascontiguousarray(vertices), np.ascontiguousarray(triangles, np.int32))
    model.endModel()
    return fcl.CollisionObject(model)


@pytest.mark.parametrize(("with_block", "down_mm"), CASES)
def test_fcl_agrees_on_distance_and_on_contact(with_block: bool, down_mm: float) -> None:
    ring = RING.moved(dz_mm=-down_mm)
    made = boss(with_block)
    found = boss_gap(made, ring)
    facets = trimesh.creation.revolve(np.vstack([ring.points, ring.points[:1]]), sections=1440)
    one, other = fcl_object(made.vertices, made.triangles), fcl_object(facets.vertices, facets.faces)
    touches = fcl.collide(one, other, fcl.CollisionRequest(), fcl.CollisionResult()) > 0
    assert touches == (found.upper_mm < 0)
    if not touches:
        apart = fcl.distance(one, other, fcl.DistanceRequest(), fcl.DistanceResult())
        assert found.lower_mm <= apart <= found.upper_mm + RING_FACETS_MM + 1e-6
