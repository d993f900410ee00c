"""A cut taken in steps: how deep the deepest new cut between two clearances is, and clearances that keep it in bounds.

Clearances, not depths, are what is chosen: every step is the least cut for one of them, so the last is the cut itself.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from geartrack.boss.mesh import PlacedBoss
from geartrack.errors import refuse
from geartrack.frame import Array
from geartrack.relief.cut import least_cut
from geartrack.relief.grid import Grid, shoot, wrapped
from geartrack.relief.search import peak
from geartrack.relief.sweep_field import GrownSweep
from geartrack.section import Section

MOST_STEPS = 60
_LEVELS = 33  # with 129 of them no step of the demo's cuts moves by more than 1 % of itself
_LEAST_SHARE = 0.1  # a step's clearance grows by this much of its depth at least: depth may jump where a cut breaks out
_FIRST_SHARE = 1 / 16  # a first small patch has rays of its own: between those of the whole it may be twice as deep
_SHY = 0.99  # steps aim this much short of their depth, since between rays a cut is up to 1 % deeper (tests)
_CLOSE_MM = 1e-5


@dataclass(frozen=True)
class Deepest:
    """The deepest new cut between two clearances along a clock ray [mm], and its station [mm] and clock [rad]."""

    depth_mm: float
    station_mm: float
    clock: float


def new_cut(boss: PlacedBoss, section: Section, *, from_mm: float, to_mm: float) -> Deepest:
    """The deepest new cut, along a ray from the bore axis, where the boss as cut for `from_mm` is cut for `to_mm` [mm].

    The deepest new cut is mostly not where the whole cut is deepest, so depths of whole cuts do not give it.
    """
    before, (after, _, grid) = GrownSweep(section, from_mm), least_cut(boss, section, to_mm)
    if grid is None or to_mm <= from_mm:
        return Deepest(0.0, 0.0, 0.0)
    found = peak(
        lambda s, t: shoot(boss, after, s, t).depth - shoot(boss, before, s, t).depth,
        *(grid.stations, grid.clocks),
        scale_mm=(1.0, float(grid.cast.max())),
        fine_mm=0.05,
    )
    return Deepest(found.value, found.row, wrapped(found.column))


def even_steps(boss: PlacedBoss, section: Section, *, from_mm: float, to_mm: float, most_mm: float) -> Array:
    """Clearances [mm] of the fewest steps whose deepest new cuts are equal and no more than `most_mm`; to_mm is last.

    from_mm: the clearance cut for so far; the gap itself where nothing is cut yet.
    """
    fields = _fields(boss, section, from_mm, to_mm)
    most_mm *= _SHY
    count = len(_steps(fields, from_mm, to_mm, most_mm))
    if count <= 1:
        return np.array([to_mm] * count)

    def last_is_deeper_by(depth_mm: float) -> float:
        before_last = [from_mm, *_steps(fields, from_mm, to_mm, depth_mm, most=count - 1)][-1]
        return _new(fields, before_last, to_mm) - depth_mm

    depth = _root(last_is_deeper_by, most_mm / 2 / count, most_mm)
    return np.append(_steps(fields, from_mm, to_mm, depth, most=count - 1), to_mm)


def full_steps(boss: PlacedBoss, section: Section, *, from_mm: float, to_mm: float, depth_mm: float) -> Array:
    """Clearances [mm] of steps whose deepest new cut is `depth_mm`; the last, to_mm, takes what is left.

    from_mm: the clearance cut for so far; the gap itself where nothing is cut yet. Raises InputError for too many.
    """
    return _steps(_fields(boss, section, from_mm, to_mm), from_mm, to_mm, depth_mm * _SHY)


@dataclass(frozen=True, eq=False)
class _Fields:
    """Depth along rays (m, n) [mm] of the cuts for rising clearances (m,) [mm]."""

    clearances: Array
    depth: Array


@lru_cache(maxsize=8)
def _fields(boss: PlacedBoss, section: Section, from_mm: float, to_mm: float) -> _Fields:
    parts = [least_cut(boss, section, from_mm + share * (to_mm - from_mm))[2] for share in (_FIRST_SHARE, 1.0)]
    grids = [grid for grid in parts if grid is not None]
    if not grids or to_mm <= from_mm:
        return _Fields(np.array([from_mm]), np.zeros((1, 1)))
    clearances = np.linspace(from_mm, to_mm, _LEVELS)
    depths = [_depths(boss, GrownSweep(section, float(clearance)), grids) for clearance in clearances]
    return _Fields(clearances, np.stack(depths))


def _depths(boss: PlacedBoss, sweep: GrownSweep, grids: list[Grid]) -> Array:
    return np.concatenate([shoot(boss, sweep, grid.stations, grid.clocks).depth.ravel() for grid in grids])


def _at(fields: _Fields, clearance_mm: float) -> Array:
    """Depths at a clearance, between its neighbours (n,) [mm]: a ray's depth never falls as clearance rises."""
    place = np.interp(clearance_mm, fields.clearances, np.arange(len(fields.clearances)))
    low = int(min(place, len(fields.clearances) - 2))
    depth: Array = fields.depth[low] + (place - low) * (fields.depth[low + 1] - fields.depth[low])
    return depth


def _new(fields: _Fields, from_mm: float, to_mm: float) -> float:
    return float((_at(fields, to_mm) - _at(fields, from_mm)).max())


def _steps(fields: _Fields, from_mm: float, to_mm: float, depth_mm: float, most: int | None = None) -> Array:
    """Clearances from one step's deepest new cut to the next, until to_mm or `most` steps."""
    found: list[float] = []
    at = from_mm
    while at < to_mm - _CLOSE_MM and len(found) != most and len(fields.clearances) > 1:
        if len(found) == MOST_STEPS:
            raise refuse("", f"more than {MOST_STEPS} passes", "a deeper cut each pass")
        at = min(max(_reached(fields, at, to_mm, depth_mm), at + _LEAST_SHARE * depth_mm), to_mm)
        found.append(at)
    return np.array(found)


def _reached(fields: _Fields, from_mm: float, to_mm: float, depth_mm: float) -> float:
    """The clearance to which the deepest new cut is depth_mm [mm], or to_mm where it is less than that."""
    if _new(fields, from_mm, to_mm) <= depth_mm:
        return to_mm
    return _root(lambda clearance: _new(fields, from_mm, clearance) - depth_mm, from_mm, to_mm)


def _root(function: Callable[[float], float], low: float, high: float) -> float:
    """Where the function changes its sign; the end that is nearer to it where it does not."""
    from scipy.optimize import brentq

    ends = function(low), function(high)
    if ends[0] * ends[1] > 0:
        return low if abs(ends[0]) < abs(ends[1]) else high
    return float(brentq(function, low, high, xtol=_CLOSE_MM / 10))
