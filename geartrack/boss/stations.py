"""The boss from a station table: a smooth surface through the readings, and honest about where there are none.

Surface: thin-plate spline over the boss's outside, distances taken in (s, R cos t, R sin t) so that it closes round the
turn (R: mean radius read). Compared by leave-one-out and against the truth on synthetic bosses with linear, cubic and
Matern kernels, stretched axes, periodic cubic and monotone (PCHIP) curves ring by ring, and two triangulated surfaces:
for grids of 15 deg x 3 mm and finer and for irregular tables it was close to the best, and the same method serves
every table.

Where the readings stand too far apart the surface is not believed: the boss is drawn at the largest radius read, so
that a gap there is not made up, and `BossMesh.notes` says where. A nearest point there shows in `reading_steps_at`.
"""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from geartrack.boss.facets import (
    bore_circle_mm,
    bore_findings,
    clock_angles,
    facets_per_turn,
    lathe,
    sagitta_mm,
    said,
    seat_findings,
)
from geartrack.boss.mesh import Bore, BossMesh
from geartrack.boss.readings import StationTable, as_csv, parse_stations, read_stations
from geartrack.boss.spline import fitted
from geartrack.errors import Finding, InputError, refuse
from geartrack.frame import Array
from geartrack.tolerances import TOLERANCES, Tolerances
from geartrack.units import show_both

__all__ = [
    "CLOCK_STEP_LIMIT",
    "STATION_STEP_LIMIT_MM",
    "StationTable",
    "as_csv",
    "boss_from_stations",
    "parse_stations",
    "read_stations",
    "reading_steps_at",
]

CLOCK_STEP_LIMIT = math.radians(30)
"""Readings further apart than this round the turn say nothing about what lies between them (DESIGN 3)."""
STATION_STEP_LIMIT_MM = 5.08
"""The same along the boss: 0.200 in, which DESIGN 3 rounds to 5 mm."""

_HAIR = 1e-9
Mask = NDArray[np.bool_]


def boss_from_stations(
    table: StationTable, bore: Bore, *, edge_break_mm: float = 0.0, tolerances: Tolerances = TOLERANCES
) -> BossMesh:
    """A closed boss through the readings of a station table, the pilot bore cut out.

    edge_break_mm: break of the outer edge at the pinion-side end: from this far down the end face to this far in [mm].
    Beyond the first and the last reading the surface runs on at their radius. Raises InputError, one line each.

    `interpolation_mm` is twice the root mean square of the leave-one-out errors (reading errors are in it).
    `short_mm` and `proud_mm` hold against the interpolant: the circle's sagitta, and half as much again as the bending
    of the surface over one facet by second differences (an estimate: with facets of 0.002 mm and finer the true error
    stayed under nine tenths of it on 90 invented tables, rough ones too).
    """
    findings = [*bore_findings(bore), *seat_findings(bore, table.length_mm)]
    if not 0 <= edge_break_mm < table.length_mm:
        findings.append(Finding("boss.edge_break", f"{said(edge_break_mm)} is no edge break", "0 or a small length"))
    if findings:
        raise InputError(*findings)
    surface, widest = fitted(table), float(table.radius_mm.max())
    facets = facets_per_turn(widest, tolerances.facet_mm)
    station = _rows(table, edge_break_mm, 2 * math.pi * widest / facets)
    clock = clock_angles(facets)
    radius = surface.at(station, clock)
    read = _read(table, station, clock)
    radius[~read] = max(widest, radius[read].max(initial=0.0))
    if not radius.min() - edge_break_mm > bore_circle_mm(bore, facets):
        what = f"no wall is left round the bore of {said(bore.diameter_mm)} at the least radius, {said(radius.min())}"
        raise refuse(table.source, what, "radii greater than the bore's, edge break taken off")
    inside = (table.station_mm.min() <= station) & (station <= table.station_mm.max())
    bend = 1.5 * _bend_mm(radius[inside], read[inside])
    return BossMesh(
        *_outline(station, radius, bore, edge_break_mm),
        bore=bore,
        short_mm=sagitta_mm(float(radius.max()), facets) + bend,
        proud_mm=bend,
        origin=f"stations, {len(table.clock)} readings",
        interpolation_mm=surface.two_sigma_mm,
        interpolated=True,
        notes=_notes(read, station, clock, float(radius.max())),
    )


def reading_steps_at(table: StationTable, station_mm: float, clock: float) -> tuple[float, float]:
    """How far apart the readings stand about a place: (along the boss [mm], round the turn [rad]).

    Along: between the readings before and after `station_mm`, of those within 30 deg of `clock` [rad]; beyond the
    first or last of them, twice its distance to the boss's end. Round: between the readings to either side, of those
    within 5.08 mm of the station. On a reading itself, the larger of the steps to its two sides counts.
    """
    place = np.array([station_mm]), np.array([clock])
    along, around = _steps(table, *place)
    return float(along.max()), float(around.max())


def _rows(table: StationTable, first_mm: float, step_mm: float) -> Array:
    """Stations of the rings of points, no further apart than `step_mm`; the first and the last reading have their own.

    The surface bends sharply there, since it runs straight on beyond.
    """
    marks = np.clip([first_mm, table.station_mm.min(), table.station_mm.max(), table.length_mm], first_mm, None)
    parts = [np.linspace(a, b, math.ceil((b - a) / step_mm) + 1) for a, b in pairwise(np.unique(marks))]
    return np.unique(np.concatenate(parts))


def _outline(station: Array, radius: Array, bore: Bore, edge_break_mm: float) -> tuple[Array, NDArray[np.int32]]:
    """Rings from the bottom of the bore (or its far mouth) out along it, down the end face and in along the outside."""
    facets = radius.shape[1]
    length = float(station[-1])
    through = bore.depth_mm >= length - TOLERANCES.mesh_mm
    circle = np.full((2, facets), bore_circle_mm(bore, facets))
    rings = [circle, radius]
    stations = [np.array([length if through else bore.depth_mm, 0.0]), station]
    if edge_break_mm:
        rings.insert(1, radius[:1] - edge_break_mm)
        stations.insert(1, np.zeros(1))
    return lathe(np.concatenate(stations), np.concatenate(rings), facets, closed=through)


def _steps(table: StationTable, station: Array, clock: Array) -> tuple[Array, Array]:
    """Steps just before and just after each node of a grid, (2, stations, clocks): along [mm] and round [rad]."""
    along = np.empty((2, len(station), len(clock)))
    around = np.empty_like(along)
    turn = 2 * math.pi
    for j, t in enumerate(clock):
        near = np.abs(np.remainder(table.clock - t + math.pi, turn) - math.pi) <= CLOCK_STEP_LIMIT + _HAIR
        values = np.unique(table.station_mm[near])
        ends = [-values[0], *values, 2 * table.length_mm - values[-1]] if near.any() else [0.0, table.length_mm]
        along[:, :, j] = _step_about(np.array(ends), station)
    for i, s in enumerate(station):
        near = np.abs(table.station_mm - s) <= STATION_STEP_LIMIT_MM + _HAIR
        values = np.unique(np.remainder(table.clock[near], turn))
        ring = np.concatenate([values - turn, values, values + turn]) if near.any() else np.array([-turn, 0.0, turn])
        around[:, i, :] = _step_about(ring, np.remainder(clock, turn))
    return along, around


def _step_about(values: Array, places: Array) -> Array:
    """(2, n): the step between rising values that a place stands in, a hair before it and a hair after it."""
    last = len(values) - 1
    before = np.clip(np.searchsorted(values, places - _HAIR), 1, last)
    after = np.clip(np.searchsorted(values, places + _HAIR), 1, last)
    return np.stack([values[before] - values[before - 1], values[after] - values[after - 1]])


def _read(table: StationTable, station: Array, clock: Array) -> Mask:
    """Where on a grid the readings stand close enough for the surface to be believed."""
    along, around = _steps(table, station, clock)
    close: Mask = (along.min(axis=0) <= STATION_STEP_LIMIT_MM + _HAIR) & (
        around.min(axis=0) <= CLOCK_STEP_LIMIT + _HAIR
    )
    return close


def _bend_mm(radius: Array, read: Mask) -> float:
    """How far a facet's middle strays from a smooth surface through its corners, at most, by second differences.

    Linear interpolation over a cell misses by (d_ss + 2 d_st + d_tt)/8, d the second differences over one cell.
    """
    ahead, behind = np.roll(radius, -1, axis=1), np.roll(radius, 1, axis=1)
    around = np.abs(ahead - 2 * radius + behind)
    whole = read & np.roll(read, -1, axis=1) & np.roll(read, 1, axis=1)
    if len(radius) < 3:
        return float(around[whole].max(initial=0.0)) / 8
    along = np.abs(radius[2:] - 2 * radius[1:-1] + radius[:-2])
    slope = ahead - radius
    mixed = np.maximum(np.abs(slope[2:] - slope[1:-1]), np.abs(slope[1:-1] - slope[:-2]))
    inside = whole[2:] & whole[1:-1] & whole[:-2]
    return float((along + 2 * mixed + around[1:-1])[inside].max(initial=0.0)) / 8


def _notes(read: Mask, station: Array, clock: Array, largest_mm: float) -> tuple[str, ...]:
    """What was not read, in words."""
    if read.all():
        return ()
    size = show_both(largest_mm, "in")
    share = 100 * (1 - read.mean())
    notes = [
        f"{share:.0f} % of the outside lies between readings more than 30 deg or 0.200 in (5.08 mm) apart and is drawn "
        f"at the largest radius, {size}: a pad, a rib or a thin wall there is not seen"
    ]
    angle = np.degrees(np.remainder(clock + math.pi, 2 * math.pi) - math.pi)
    notes += [
        f"nothing read from {angle[a - 1]:.0f} deg clockwise to {angle[b]:.0f} deg, seen from the pinion-nut end"
        for a, b in _runs(~np.asarray(read.any(axis=0)), around=True)
    ]
    depth = [show_both(float(s), "in") for s in station]
    notes += [
        f"nothing read {depth[max(a - 1, 0)]} to {depth[min(b, len(depth) - 1)]} from the pinion-side end"
        for a, b in _runs(~np.asarray(read.any(axis=1)), around=False)
    ]
    return tuple(notes)


def _runs(flags: Mask, *, around: bool) -> list[tuple[int, int]]:
    """Index of the first of each run of true flags, and of the first after it; `around`: the end joins the start."""
    if flags.all():
        return [] if around else [(0, len(flags))]
    shift = int(np.argmin(flags)) if around else 0
    padded = np.concatenate([[False], np.roll(flags, -shift), [False]])
    edges = (np.flatnonzero(np.diff(padded.astype(int))) + shift).reshape(-1, 2)
    return [(int(a), int(b)) for a, b in (edges % len(flags) if around else edges)]
