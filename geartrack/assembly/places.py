"""One place on the boss, or all of one clock ray, as a surface of its own: what a feeler at that place reads."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache

import numpy as np

from geartrack.assembly.bodies import assemble
from geartrack.assembly.many import Many, many
from geartrack.assembly.model import Plan
from geartrack.boss.mesh import PlacedBoss
from geartrack.clearance import Prepared, gap, prepare
from geartrack.errors import refuse
from geartrack.frame import Array, from_polar, meridian
from geartrack.readings import AgainstBoss, OnBoss
from geartrack.relief.crossings import radii
from geartrack.section import Section
from geartrack.sweep import signed_distance

_STEP_MM, _JUST_MM, _SLOPE_MM = 0.5, 1e-6, 1e-4
_MOST_STEPS = 40  # a mesh with more vertex stations is a scan: no true steps in it


@lru_cache(maxsize=64)
def surface_at(placed: PlacedBoss, place: OnBoss) -> Prepared:
    """The boss's outside at a place: a point where a station is said, else its whole outline along the clock ray, the
    end face down to the bore with it. Raises InputError where there is no metal."""
    points = placed.seat.to_axle(_outline(placed, place))
    first = np.arange(max(len(points) - 1, 1))
    after = np.minimum(first + 1, len(points) - 1)
    return prepare(points, np.stack([first, after, after], axis=1).astype(np.int32))


def gap_at(plan: Plan, place: OnBoss | None, height_mm: float) -> float:
    """The gap [mm], as calculated, at a place of the boss (None: the least) with the toe tips at a height [mm]."""
    low, high = at_place(many(plan, {}, 1), place).gaps(np.array([height_mm]))
    return float(low[0] + high[0]) / 2


def at_place(worked: Many, place: OnBoss | None) -> Many:
    """The same placements, their gaps those at one place; None: at all of the boss."""
    if place is None:
        return worked
    return replace(worked, surface=lambda placed: surface_at(placed, place), grows=_grows(worked.plan, place))


def by_eye(plan: Plan, read: AgainstBoss, height_mm: float) -> AgainstBoss:
    """A reading at a place, wider by what its clock angle by eye, and how well its station is known, do to the gap."""
    place = read.place
    if place is None:
        return read
    here = gap_at(plan, place, height_mm)
    off = [max(abs(gap_at(plan, each, height_mm) - here) for each in pair) for pair in read.ends]
    reach = float(np.hypot(read.gap.reach, np.hypot.reduce(off)))
    value = read.gap.value
    return replace(read, gap=replace(read.gap, low=value - reach, high=value + reach))


def _outline(placed: PlacedBoss, place: OnBoss) -> Array:
    """Points (n, 3) [mm] of the boss's outside at a place, boss frame."""
    mesh, clock = placed.mesh, np.array([place.clock])
    bore, along = mesh.bore.diameter_mm / 2, -mesh.vertices[:, 0]
    if place.station is not None:
        stations = np.clip([place.station], along.min(), along.max())
        radius = radii(mesh, stations, clock)[1][0]
        if radius[0] <= bore:
            raise refuse("readings", "the boss has no metal at that station and clock angle", "where the gap was read")
        return from_polar(stations, radius, np.array(place.clock))
    steps = np.unique(along.round(6))
    steps = steps if len(steps) <= _MOST_STEPS else np.empty(0)
    even = np.linspace(along.min(), along.max(), max(int(np.ptp(along) / _STEP_MM), 1) + 1)
    stations = np.unique(np.clip([*even, *(steps - _JUST_MM), *(steps + _JUST_MM)], along.min(), along.max()))
    radius = radii(mesh, stations, clock)[1][:, 0]
    return from_polar(np.append(stations[0], stations), np.append(bore, radius), np.array(place.clock))


def _grows(plan: Plan, place: OnBoss) -> float:
    """How much the gap at a place falls for a boss that stands out further all round [mm/mm], as calculated."""
    now = assemble(plan)
    point = gap(surface_at(now.boss, place), now.section).point
    toward = -_slope(now.section, point)
    out = now.boss.seat.to_axle(from_polar(np.zeros(2), np.array([0.0, 1.0]), np.array(place.clock)))
    square = float(toward @ (out[1] - out[0]))
    across = float(toward[0]) if place.station is None else 0.0
    return float(np.clip(np.hypot(max(square, 0.0), across), 0.0, 1.0))


def _slope(section: Section, point: Array) -> Array:
    """How a point's distance to the sweep changes along the three axes (3,) [mm/mm]."""
    steps = _SLOPE_MM * np.concatenate([np.eye(3), -np.eye(3)])
    found = signed_distance(section, meridian(point + steps))
    slope: Array = (found[:3] - found[3:]) / (2 * _SLOPE_MM)
    return slope
