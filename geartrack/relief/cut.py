"""The least cut for a given clearance: its volume, its patch, and its depth in three named forms (DESIGN 4)."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import lru_cache

import numpy as np

from geartrack.boss.mesh import PlacedBoss
from geartrack.errors import refuse
from geartrack.frame import Array, from_polar
from geartrack.relief.crossings import radii
from geartrack.relief.depth import deepest_cut
from geartrack.relief.grid import JUST_MM, Grid, patch_grid, shoot, wrapped
from geartrack.relief.patch import Patch, find_patch
from geartrack.relief.rays import cut_stations
from geartrack.relief.search import peak
from geartrack.relief.sweep_field import GrownSweep
from geartrack.section import Section

_FINE_MM = 0.05  # to find the right hill; its top is then found more closely
_END_STEPS = 17  # places from bore to outside at which the end face is tried, and stations along each line


@dataclass(frozen=True, eq=False)
class Relief:
    """The least cut for one clearance, in the hand of the real part; a closed answer, nothing in it is ever NaN.

    clearance_mm: the clearance it gives, to a boss exactly where the mesh is.
    volume_mm3, volume_error_mm3: metal removed, and what the figure may be off by.
    area_mm2: of the boss's surface that is removed, end face included.
    depth_max_mm, depth_max_error_mm: the largest distance from the cut surface to the as-cast surface, and what the
        figure may be off by.
    depth_radial_max_mm: the largest depth along a ray from the bore axis, at depth_radial_station_mm and
        depth_radial_clock [rad].
    depth_axial_max_mm: how far in along the bore the cut goes at most from the pinion-side end face.
    stations_mm (ns,), clocks (nt,) [rad], ascending (past pi where the patch lies across 6 o'clock);
    depth_radial_mm, cast_radius_mm, cut_radius_mm: (ns, nt) along the clock rays; depth 0 where untouched. A ray that
        crosses the cut twice has the innermost radius.
    end_radius_mm, depth_axial_mm: (nq, nt), places on the end face from the bore out, and the depth along the bore.
    outline: closed curves (k, 2) of station [mm] and clock [rad] round where anything is cut along a ray.
    """

    clearance_mm: float
    volume_mm3: float = 0.0
    volume_error_mm3: float = 0.0
    area_mm2: float = 0.0
    depth_max_mm: float = 0.0
    depth_max_error_mm: float = 0.0
    depth_radial_max_mm: float = 0.0
    depth_radial_station_mm: float = 0.0
    depth_radial_clock: float = 0.0
    depth_axial_max_mm: float = 0.0
    stations_mm: Array = field(default_factory=lambda: np.zeros(0))
    clocks: Array = field(default_factory=lambda: np.zeros(0))
    depth_radial_mm: Array = field(default_factory=lambda: np.zeros((0, 0)))
    cast_radius_mm: Array = field(default_factory=lambda: np.zeros((0, 0)))
    cut_radius_mm: Array = field(default_factory=lambda: np.zeros((0, 0)))
    end_radius_mm: Array = field(default_factory=lambda: np.zeros((0, 0)))
    depth_axial_mm: Array = field(default_factory=lambda: np.zeros((0, 0)))
    outline: tuple[Array, ...] = ()

    @property
    def empty(self) -> bool:
        """Whether nothing at all has to go."""
        return self.area_mm2 == 0.0


def relief(boss: PlacedBoss, section: Section, clearance_mm: float) -> Relief:
    """The least cut that leaves `clearance_mm` [mm] between boss and sweep: all metal nearer to the sweep than that.

    The clearance is one plain number, the geometry is taken as exact: called directly, without the spread of the gap
    added to the target, this can cut too little. A negative clearance cuts only what is that deep inside the sweep.
    """
    sweep, patch, grid = least_cut(boss, section, clearance_mm)
    if grid is None:
        return Relief(clearance_mm)
    radial = peak(
        lambda s, t: shoot(boss, sweep, s, t).depth,
        *(grid.stations, grid.clocks),
        scale_mm=(1.0, float(grid.cast.max())),
        values=grid.depth,
        fine_mm=_FINE_MM,
    )
    end_radius, end_depth, axial = _axial(boss, sweep, grid)
    deepest = deepest_cut(boss, sweep, grid)
    strays = max(boss.mesh.short_mm, boss.mesh.proud_mm)
    return Relief(
        clearance_mm=clearance_mm,
        volume_mm3=patch.volume_mm3,
        volume_error_mm3=patch.error_mm3 + strays * patch.area_mm2,
        area_mm2=patch.area_mm2,
        depth_max_mm=deepest.value,
        depth_max_error_mm=deepest.error + strays,
        depth_radial_max_mm=radial.value,
        depth_radial_station_mm=radial.row,
        depth_radial_clock=wrapped(radial.column),
        depth_axial_max_mm=axial,
        stations_mm=grid.stations,
        clocks=grid.clocks,
        depth_radial_mm=grid.depth,
        cast_radius_mm=grid.cast,
        cut_radius_mm=grid.cut,
        end_radius_mm=end_radius,
        depth_axial_mm=end_depth,
        outline=_outline(grid),
    )


@lru_cache(maxsize=8)
def least_cut(boss: PlacedBoss, section: Section, clearance_mm: float) -> tuple[GrownSweep, Patch, Grid | None]:
    """The grown sweep, the patch it cuts and the rays over it, none where nothing is cut; kept for the wall to use."""
    if not np.isfinite(clearance_mm):
        raise refuse(section.name, f"a clearance of {clearance_mm} mm", "a clearance is a finite number")
    sweep = GrownSweep(section, clearance_mm)
    patch = find_patch(boss.vertices, boss.triangles, sweep)
    return sweep, patch, patch_grid(boss, sweep, patch.points) if len(patch.points) else None


def _axial(boss: PlacedBoss, sweep: GrownSweep, grid: Grid) -> tuple[Array, Array, float]:
    """Radii of places on the end face, the cut's depth there along the bore, both (nu, nt) [mm], and the largest."""
    shares, out = np.linspace(0.0, 1.0, _END_STEPS), float(grid.cast.max())
    radius, depth = _end_face(boss, sweep, grid, shares, grid.clocks)
    largest = peak(
        lambda u, t: _end_face(boss, sweep, grid, u, t)[1],
        *(shares, grid.clocks),
        scale_mm=(out - boss.mesh.bore.diameter_mm / 2, out),
        values=depth,
        fine_mm=_FINE_MM,
    )
    return radius, depth, largest.value


def _end_face(boss: PlacedBoss, sweep: GrownSweep, grid: Grid, shares: Array, clocks: Array) -> tuple[Array, Array]:
    """Radii at `shares` of the way from bore to outside on the end face, and the cut's depth there, (nu, nt) [mm]."""
    bore = boss.mesh.bore.diameter_mm / 2
    stations = grid.stations[np.unique(np.linspace(0, len(grid.stations) - 1, _END_STEPS).astype(int))]
    cast = radii(boss.mesh, stations, clocks)[1]
    radius = bore + shares[:, None] * (cast[0] - bore)
    if stations[0] > -boss.mesh.vertices[:, 0].max():
        return radius, np.zeros(radius.shape)
    depth = np.zeros(radius.shape)
    at = from_polar(stations[0], radius, clocks)
    touched = sweep.distance(boss.seat.to_axle(at)) < 0
    radii_, turns = radius[touched], np.broadcast_to(clocks, radius.shape)[touched]
    metal = np.broadcast_to(cast[:, None, :], (len(stations), *radius.shape))[:, touched] >= radii_ - JUST_MM
    reach = cut_stations(sweep, boss.seat, radius=radii_, clocks=turns, stations=stations, metal=metal)
    depth[touched] = reach - stations[0]
    return radius, depth


def _outline(grid: Grid) -> tuple[Array, ...]:
    """Closed curves (k, 2) of station [mm] and clock [rad] round the rays that are cut."""
    from contourpy import LineType, contour_generator

    level = np.pad(grid.level, 1, constant_values=np.abs(grid.level).max())
    stations, clocks = (np.pad(axis, 1, mode="edge") for axis in (grid.stations, grid.clocks))
    curves = contour_generator(clocks, stations, level, line_type=LineType.Separate).lines(0.0)
    return tuple(np.asarray(curve)[:, ::-1].copy() for curve in curves)
