"""The least cut against two general-purpose kernels: manifold3d (faceted) and OpenCASCADE (exact surfaces).

manifold3d cuts the very mesh of the boss, but with a ring of flat facets: its answers are given at several facet
numbers, and taken to the limit. OpenCASCADE knows true cylinders, and the true round edges of the growth, so there the
boss's own facets are made so fine that they do not count; its volumes need their tolerance set.
"""

from __future__ import annotations

from functools import lru_cache
from typing import Any

import numpy as np
import pytest
import trimesh
from gap_shapes import NOSE, box
from OCP.BRepAlgoAPI import BRepAlgoAPI_Common, BRepAlgoAPI_Cut
from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeFace, BRepBuilderAPI_MakePolygon
from OCP.BRepExtrema import BRepExtrema_DistShapeShape
from OCP.BRepGProp import BRepGProp
from OCP.BRepOffsetAPI import BRepOffsetAPI_MakeOffset
from OCP.BRepPrimAPI import BRepPrimAPI_MakeCylinder, BRepPrimAPI_MakeRevol
from OCP.GeomAbs import GeomAbs_Arc
from OCP.gp import gp_Ax1, gp_Ax2, gp_Dir, gp_Pnt
from OCP.GProp import GProp_GProps
from OCP.TopoDS import TopoDS
from relief_shapes import BORE, END_FACE, LENGTH, OFFSET, RADIUS, RING, placed, solid, swept, tube

from geartrack.boss.mesh import Bore, PlacedBoss
from geartrack.clearance import boss_gap
from geartrack.frame import Hand, Seat
from geartrack.relief import relief, wall_left
from geartrack.section import Section
from geartrack.sweep import grown
from geartrack.tolerances import TOLERANCES

ARCS = TOLERANCES.arc_segments


@lru_cache
def lumpy() -> PlacedBoss:
    """A bored boss with a block on its far side, joined and bored by manifold3d."""
    from manifold3d import Manifold, Mesh64

    vertices, triangles = box((-19.0, 2.0, -30.0), (-3.0, 31.0, 22.5))
    block = Manifold(Mesh64(vert_properties=vertices, tri_verts=triangles.astype(np.uint64)))
    plain = tube(offset=0.0, end_face=0.0, around=180, bore=2.0)
    bored = Manifold.cylinder(40.0, BORE, BORE, 360).rotate((0.0, -90.0, 0.0)).translate((5.0, 0.0, 0.0))
    made = (solid(plain) + block - bored).to_mesh64()
    mesh = np.asarray(made.vert_properties)[:, :3], np.asarray(made.tri_verts)
    return placed(*mesh, bore=Bore(2 * BORE, LENGTH, 2.0, 18.0), seat=Seat(OFFSET, END_FACE, Hand.BELOW))


CASES = [(plain, ring, clearance) for plain in (True, False) for ring in (RING, NOSE) for clearance in (0.5, 2.0)]


@pytest.mark.parametrize(("plain", "ring", "clearance"), CASES)
def test_volume_by_manifold3d(plain: bool, ring: Section, clearance: float) -> None:
    """Facets halved three times over: the kernel's volume settles quadratically, and what is left of its last step is
    a third of that step. The growth's arcs, 128 segments a quarter, are over by 2e-5 of C, which is less still."""
    boss = tube() if plain else lumpy()
    ring = ring if ring is RING else ring.moved(dr_mm=3.0, dz_mm=2.0)
    shape, body = grown(ring, clearance, arc_segments=ARCS), solid(boss)
    coarse, fine = ((body ^ swept(shape, around)).volume() for around in (360, 720))
    cut = relief(boss, ring, clearance)
    limit = fine + (fine - coarse) / 3
    assert cut.volume_mm3 > 0.1
    assert (
        abs(cut.volume_mm3 - limit) <= cut.volume_error_mm3 + abs(fine - coarse) / 3 + 2e-5 * clearance * cut.area_mm2
    )


@pytest.mark.parametrize("plain", [True, False])
@pytest.mark.parametrize("clearance", [0.5, 1.5])
def test_after_the_cut_the_gap_is_the_clearance(plain: bool, clearance: float) -> None:
    """Ground with a faceted tool the rest of the boss clears the ring by C: no less, and no more, so the cut is the
    least. Ground to 1 % less, it does not. The tool's facets (1440 a turn) stray by 88 (1 - cos(pi / 1440)) = 2e-4 mm,
    its arcs (32 a quarter) by 3e-4 C."""
    boss = tube() if plain else lumpy()
    tolerance = 0.001 + 2e-4 + 3e-4 * clearance

    def left(growth: float) -> float:
        rest = (solid(boss) - swept(grown(RING, growth, arc_segments=32), 1440)).to_mesh64()
        vertices = boss.seat.to_boss(np.asarray(rest.vert_properties)[:, :3])
        ground = placed(vertices, np.asarray(rest.tri_verts), bore=boss.mesh.bore, seat=boss.seat)
        return boss_gap(ground, RING).nominal_mm

    assert left(clearance) == pytest.approx(clearance, abs=tolerance)
    assert left(0.99 * clearance) < clearance - 0.005 * clearance
    assert boss_gap(boss, RING).nominal_mm < 0.2


@pytest.mark.parametrize(("plain", "clearance"), [(True, 0.5), (True, 2.0), (False, 1.0)])
def test_deepest_place_by_trimesh(plain: bool, clearance: float) -> None:
    """What manifold3d takes off, its faces cut into 0.3 mm: of its corners none is further from the as-cast surface
    than said, and some corner is within a step of the deepest. The distances are trimesh's."""
    boss = tube() if plain else lumpy()
    chip = (solid(boss) ^ swept(grown(RING, clearance, arc_segments=16), 720)).refine_to_length(0.3).to_mesh64()
    corners = boss.seat.to_boss(np.asarray(chip.vert_properties)[:, :3])
    pieces = boss.mesh.vertices[boss.mesh.triangles]
    outside = pieces[(np.hypot(pieces[..., 1], pieces[..., 2]) > BORE + 0.1).any(axis=1)]
    outside = outside[(outside.max(axis=1) > corners.min(axis=0) - 4).all(axis=1)]  # none is deeper than 4 mm
    deepest = 0.0
    for corner in corners[:: max(1, len(corners) // 800)]:
        there = trimesh.triangles.closest_point(outside, np.broadcast_to(corner, (len(outside), 3)))
        deepest = max(deepest, float(np.linalg.norm(there - corner, axis=1).min()))
    cut = relief(boss, RING, clearance)
    assert deepest <= cut.depth_max_mm + cut.depth_max_error_mm + 1e-3
    assert cut.depth_max_mm <= deepest + 0.2


def exact_tube() -> Any:
    """The boss of `tube` as OpenCASCADE has it, true cylinders."""
    at = gp_Ax2(gp_Pnt(END_FACE - LENGTH, OFFSET, 0.0), gp_Dir(1, 0, 0))
    outside, bore = (BRepPrimAPI_MakeCylinder(at, radius, LENGTH).Shape() for radius in (RADIUS, BORE))
    return BRepAlgoAPI_Cut(outside, bore).Shape()


def exact_sweep(ring: Section, clearance: float) -> Any:
    """The sweep grown by OpenCASCADE's own offset, round edges and all."""
    outline = BRepBuilderAPI_MakePolygon()
    for r, z in ring.points:
        outline.Add(gp_Pnt(float(r), 0.0, float(z)))
    outline.Close()
    offset = BRepOffsetAPI_MakeOffset(BRepBuilderAPI_MakeFace(outline.Wire()).Face(), GeomAbs_Arc)
    offset.Perform(clearance)
    as_wire = getattr(TopoDS, "Wire", None) or TopoDS.Wire_s  # renamed between the binding's versions
    face = BRepBuilderAPI_MakeFace(as_wire(offset.Shape())).Face()
    return BRepPrimAPI_MakeRevol(face, gp_Ax1(gp_Pnt(0, 0, 0), gp_Dir(0, 0, 1))).Shape()


@lru_cache
def exact_chip(clearance: float, down_mm: float) -> Any:
    return BRepAlgoAPI_Common(exact_tube(), exact_sweep(RING.moved(dz_mm=-down_mm), clearance)).Shape()


@pytest.mark.parametrize(("clearance", "down"), [(0.5, 0.0), (2.0, 0.0), (1.0, 1.5)])
def test_volume_and_area_by_opencascade(clearance: float, down: float) -> None:
    """A boss of 8,000 facets is 2e-6 mm from the cylinder. Area: the boss's skin inside the sweep; ours takes distance
    as linear over pieces of some tenths of a millimetre."""
    volume, area = GProp_GProps(), GProp_GProps()
    BRepGProp.VolumeProperties_s(exact_chip(clearance, down), volume, 1e-7)
    at = gp_Ax2(gp_Pnt(END_FACE - LENGTH, OFFSET, 0.0), gp_Dir(1, 0, 0))
    skin = BRepPrimAPI_MakeCylinder(at, RADIUS, LENGTH).Shell()
    ring = RING.moved(dz_mm=-down)
    BRepGProp.SurfaceProperties_s(BRepAlgoAPI_Common(skin, exact_sweep(ring, clearance)).Shape(), area, 1e-7)
    cut = relief(tube(around=8000), ring, clearance)
    assert abs(cut.volume_mm3 - volume.Mass()) <= cut.volume_error_mm3 + 1e-5 * volume.Mass()
    assert cut.area_mm2 == pytest.approx(area.Mass(), rel=0.01)


@pytest.mark.parametrize(("clearance", "down"), [(2.0, 0.0), (1.0, 1.5), (0.5, 3.0)])
def test_wall_left_by_opencascade(clearance: float, down: float) -> None:
    """The least distance from the land, a true cylinder, to the chip that comes off."""
    land = BRepPrimAPI_MakeCylinder(gp_Ax2(gp_Pnt(END_FACE - 18.0, OFFSET, 0.0), gp_Dir(1, 0, 0)), BORE, 16.0).Shell()
    measured = BRepExtrema_DistShapeShape(land, exact_chip(clearance, down))
    found = wall_left(tube(around=2000), RING.moved(dz_mm=-down), clearance)
    assert found.left_mm == pytest.approx(measured.Value(), abs=1e-3)
