"""Bosses against general-purpose kernels.

Parts against a B-rep kernel (OpenCASCADE), volumes and distances to its exact cylinders, cones, tori and planes, made
by its own primitives, fuse, cut, fillet and chamfer. Its integration tolerance is set to 1e-9 relative: its default was
0.15 % off in a trial (DESIGN 9). Stations against scipy's radial-basis interpolator.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from boss_truth import BORE, DEMO, area, distance, volume
from OCP.BRepAdaptor import BRepAdaptor_Curve
from OCP.BRepAlgoAPI import BRepAlgoAPI_Cut, BRepAlgoAPI_Fuse
from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeVertex, BRepBuilderAPI_Transform
from OCP.BRepExtrema import BRepExtrema_DistShapeShape
from OCP.BRepFilletAPI import BRepFilletAPI_MakeChamfer, BRepFilletAPI_MakeFillet
from OCP.BRepGProp import BRepGProp
from OCP.BRepPrimAPI import BRepPrimAPI_MakeBox, BRepPrimAPI_MakeCone, BRepPrimAPI_MakeCylinder
from OCP.GeomAbs import GeomAbs_CurveType
from OCP.gp import gp_Ax1, gp_Ax2, gp_Dir, gp_Pnt, gp_Trsf
from OCP.GProp import GProp_GProps
from OCP.TopAbs import TopAbs_ShapeEnum
from OCP.TopExp import TopExp_Explorer
from OCP.TopoDS import TopoDS
from scipy.interpolate import RBFInterpolator

from geartrack.boss.parts import Cone, Cut, Cylinder, Pad, Part, Rib, boss_from_parts
from geartrack.boss.spline import fitted
from geartrack.boss.stations import StationTable

Shape = Any  # the binding has no types


def along(station_mm: float) -> gp_Ax2:
    """The bore axis from a station inward."""
    return gp_Ax2(gp_Pnt(-station_mm, 0, 0), gp_Dir(-1, 0, 0))


def cylinder(diameter: float, start: float, end: float) -> Shape:
    return BRepPrimAPI_MakeCylinder(along(start), diameter / 2, end - start).Shape()


def cone(first: float, last: float, start: float, end: float) -> Shape:
    return BRepPrimAPI_MakeCone(along(start), first / 2, last / 2, end - start).Shape()


def block(clock: float, low: float, high: float, width: float, start: float, end: float) -> Shape:
    """A box that faces 12 o'clock, turned clockwise as seen from +X looking toward -X: about +X by minus the clock."""
    box = BRepPrimAPI_MakeBox(gp_Pnt(-end, -width / 2, low), gp_Pnt(-start, width / 2, high)).Shape()
    turn = gp_Trsf()
    turn.SetRotation(gp_Ax1(gp_Pnt(0, 0, 0), gp_Dir(1, 0, 0)), -clock)
    return BRepBuilderAPI_Transform(box, turn, True).Shape()


def fuse(first: Shape, *others: Shape) -> Shape:
    for other in others:
        first = BRepAlgoAPI_Fuse(first, other).Shape()
    return first


def bored(shape: Shape, *cuts: Shape) -> Shape:
    for cut in (*cuts, cylinder(BORE.diameter_mm, -1.0, BORE.depth_mm)):
        shape = BRepAlgoAPI_Cut(shape, cut).Shape()
    return shape


def rounded(shape: Shape, make: Callable[[Shape], Any], size: float, radius: float, station: float) -> Shape:
    """A fillet or chamfer on the circle of this radius at this station."""
    maker, found = make(shape), 0
    edges = TopExp_Explorer(shape, TopAbs_ShapeEnum.TopAbs_EDGE)
    while edges.More():
        edge = TopoDS.Edge(edges.Current())
        edges.Next()
        curve = BRepAdaptor_Curve(edge)
        if curve.GetType() == GeomAbs_CurveType.GeomAbs_Circle:
            circle = curve.Circle()
            if math.isclose(circle.Radius(), radius) and math.isclose(circle.Location().X(), -station, abs_tol=1e-9):
                maker.Add(size, edge)
                found += 1
                break
    assert found == 1
    return maker.Shape()


def kernel_volume(shape: Shape) -> float:
    properties = GProp_GProps()
    BRepGProp.VolumeProperties_s(shape, properties, 1e-9)
    return float(properties.Mass())


def kernel_distance(shape: Shape, point: np.ndarray[Any, Any]) -> float:
    vertex = BRepBuilderAPI_MakeVertex(gp_Pnt(*map(float, point))).Vertex()
    return float(BRepExtrema_DistShapeShape(vertex, shape).Value())


def demo_shape() -> Shape:
    collar = fuse(cylinder(54.4, 0, 22), cylinder(62, 22, 27))
    filleted = rounded(collar, BRepFilletAPI_MakeFillet, 3.0, 27.2, 22.0)
    return bored(
        fuse(
            filleted,
            block(math.radians(150), 0, 40, 9, 6, 27),
            block(math.radians(-115), 0, 29, 16, 4, 27),
        )
    )


CASES: dict[str, tuple[list[Part], float, Callable[[], Shape]]] = {
    "cylinder": ([Cylinder(54, 0, 22)], 0.0, lambda: bored(cylinder(54, 0, 22))),
    "cone": ([Cone(54, 60, 0, 22)], 0.0, lambda: bored(cone(54, 60, 0, 22))),
    "two cylinders": (
        [Cylinder(54, 0, 10), Cylinder(48, 10, 22)],
        0.0,
        lambda: bored(fuse(cylinder(54, 0, 10), cylinder(48, 10, 22))),
    ),
    "pad": (
        [Cylinder(54, 0, 22), Pad(0.7, 30, 20, 3, 22)],
        0.0,
        lambda: bored(fuse(cylinder(54, 0, 22), block(0.7, 0, 30, 20, 3, 22))),
    ),
    "rib": (
        [Cylinder(54, 0, 22), Rib(-2.1, 8, 40, 0, 22)],
        0.0,
        lambda: bored(fuse(cylinder(54, 0, 22), block(-2.1, 0, 40, 8, 0, 22))),
    ),
    "cut": (
        [Cylinder(54, 0, 22), Cut(2.5, 24, 0, 6)],
        0.0,
        lambda: bored(cylinder(54, 0, 22), block(2.5, 24, 99, 99, 0, 6)),
    ),
    "edge break": (
        [Cylinder(54, 0, 22)],
        1.5,
        lambda: bored(rounded(cylinder(54, 0, 22), BRepFilletAPI_MakeChamfer, 1.5, 27, 0)),
    ),
    "demo, with fillet": (list(DEMO), 0.0, demo_shape),
}


@pytest.mark.parametrize("name", CASES)
def test_volume_against_opencascade(name: str) -> None:
    """The mesh's volume differs by no more than its facet error over its whole surface, on the side it says."""
    parts, edge_break_mm, shape = CASES[name]
    boss = boss_from_parts(parts, BORE, edge_break_mm=edge_break_mm)
    missing = kernel_volume(shape()) - volume(boss)
    rounding = 1e-8 * volume(boss)
    assert -area(boss) * boss.proud_mm - rounding < missing < area(boss) * boss.short_mm + rounding


@pytest.mark.parametrize("name", CASES)
def test_distances_against_opencascade(name: str) -> None:
    """From 40 points 3 to 40 mm off, ahead of the end face too: within the facet error, on the side it says."""
    parts, edge_break_mm, make = CASES[name]
    boss, shape = boss_from_parts(parts, BORE, edge_break_mm=edge_break_mm), make()
    rng = np.random.default_rng(20)
    clock, out = rng.uniform(-math.pi, math.pi, 40), rng.uniform(43.0, 70.0, 40)
    points = np.stack([rng.uniform(-30.0, 12.0, 40), out * np.sin(clock), out * np.cos(clock)], axis=1)
    excess = np.array([distance(boss, point) - kernel_distance(shape, point) for point in points])
    assert excess.max() <= boss.short_mm + 1e-7
    assert excess.min() >= -boss.proud_mm - 1e-7


def invented(count: int, seed: int) -> StationTable:
    """An invented boss read at irregular places: off centre, drafted, with a bump at 1 o'clock."""
    rng = np.random.default_rng(seed)
    s, t = rng.uniform(0.0, 22.0, count), rng.uniform(-math.pi, math.pi, count)
    bump = 1.5 / (1 + np.exp(-8 * (np.cos(t - 0.5) - 0.9)))
    return StationTable(s, t, 27.0 + 0.4 * np.sin(t) + 0.03 * s + bump + rng.normal(0, 0.02, count), 22.0)


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_the_spline_against_scipy(seed: int) -> None:
    """scipy.interpolate.RBFInterpolator, thin-plate kernel, linear trend, in the same three coordinates."""
    table = invented(80, seed)
    scale = table.radius_mm.mean()

    def space(s: Any, t: Any) -> Any:
        return np.stack([s / scale, np.cos(t), np.sin(t)], axis=-1)

    reference = RBFInterpolator(
        space(table.station_mm, table.clock), table.radius_mm, kernel="thin_plate_spline", degree=1
    )
    s = np.linspace(table.station_mm.min(), table.station_mm.max(), 7)
    t = np.linspace(-math.pi, math.pi, 11)
    grid = np.meshgrid(s, t, indexing="ij")
    expected = reference(space(*grid).reshape(-1, 3)).reshape(7, 11)
    np.testing.assert_allclose(fitted(table).at(s, t), expected, rtol=0, atol=1e-8)


def test_leave_one_out_against_refitting_with_scipy() -> None:
    """The closed form against 40 fits, each without one reading."""
    table = invented(40, 4)
    scale = table.radius_mm.mean()
    points = np.stack([table.station_mm / scale, np.cos(table.clock), np.sin(table.clock)], axis=-1)
    errors = []
    for i in range(40):
        rest = np.arange(40) != i
        refit = RBFInterpolator(points[rest], table.radius_mm[rest], kernel="thin_plate_spline", degree=1)
        errors.append(table.radius_mm[i] - refit(points[i : i + 1])[0])
    assert fitted(table).two_sigma_mm == pytest.approx(2 * math.sqrt(np.mean(np.square(errors))), rel=1e-8)
