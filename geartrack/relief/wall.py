"""The wall round the pilot bearing, before the cut and after it, and where to stop grinding (DESIGN 4)."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache, partial
from typing import Literal

import numpy as np

from geartrack.boss.mesh import Bore, PlacedBoss
from geartrack.clearance import boss_gap
from geartrack.errors import refuse
from geartrack.frame import Array, from_polar
from geartrack.relief.crossings import BORE_SKIN_MM, radii
from geartrack.relief.cut import least_cut
from geartrack.relief.grid import Grid, ends, shoot, wrapped
from geartrack.relief.search import peak
from geartrack.relief.sweep_field import GrownSweep
from geartrack.section import Section

_STEP_MM = 1.0  # of a search's first grid over the whole land
_FINE_MM = 0.005  # and how closely a wall is settled
_SEAT_STEPS = 400


@dataclass(frozen=True)
class Wall:
    """The metal round the land: the bore's cylinder between the ends of the bearing seat. No strength verdict.

    before_mm: the thinnest wall over the land before the cut, at before_station_mm and before_clock [rad].
    left_mm: the thinnest after it, 0 where the cut breaks into the bore; at station_mm and clock [rad], the place on
        the cut face or the outside that comes nearest to the land. local_before_mm: the wall before the cut there.
    seat_length_left_mm: how much of the land's length has metal behind it all round.
    """

    before_mm: float
    before_station_mm: float
    before_clock: float
    left_mm: float
    station_mm: float
    clock: float
    local_before_mm: float
    seat_length_left_mm: float

    @property
    def breaks_in(self) -> bool:
        """Whether the cut breaks into the bore."""
        return self.left_mm <= 0


@dataclass(frozen=True)
class Stop:
    """Where to stop: no metal goes that is further than `clearance_mm` from the sweep; the depths are that relief's.

    Below the clearance asked for where the wall forbids it. wall_left_mm: the wall left when ground to there.
    limited_by: "allowance", or "wall" where the minimum wall comes first.
    """

    clearance_mm: float
    wall_left_mm: float
    limited_by: Literal["allowance", "wall"]


@lru_cache(maxsize=8)
def wall_before(boss: PlacedBoss) -> Wall:
    """The wall as it is, nothing cut."""
    bore = boss.mesh.bore
    rows, columns, scale_mm = _round_land(boss, bore.seat_from_mm, bore.seat_to_mm)
    found = peak(lambda s, t: -radii(boss.mesh, s, t)[0], rows, columns, scale_mm=scale_mm, fine_mm=_FINE_MM)
    thinnest = max(-found.value - bore.diameter_mm / 2, 0.0)
    place = found.row, wrapped(found.column)
    return Wall(thinnest, *place, thinnest, *place, thinnest, bore.seat_to_mm - bore.seat_from_mm)


def wall_left(boss: PlacedBoss, section: Section, clearance_mm: float) -> Wall:
    """The wall before and after the least cut for a clearance [mm].

    Left is the lesser of the wall before and the least distance in space from the land to the cut face. At any station
    and clock the cut face comes nearest to the land where a ray from the bore axis first meets it.
    """
    before = wall_before(boss)
    sweep, _, grid = least_cut(boss, section, clearance_mm)
    if grid is None:
        return before
    bore = boss.mesh.bore

    def nearness(rays: Grid) -> Array:
        return -_to_land(bore, rays, before.before_mm)

    found = peak(
        lambda s, t: nearness(shoot(boss, sweep, s, t)),
        *(grid.stations, grid.clocks),
        scale_mm=(1.0, float(grid.cast.max())),
        values=nearness(grid),
        fine_mm=_FINE_MM,
    )
    if -found.value >= before.before_mm:
        return before
    here = radii(boss.mesh, np.array([found.row]), np.array([found.column]))[0].item()
    return replace(
        before,
        left_mm=max(-found.value, 0.0),
        station_mm=found.row,
        clock=wrapped(found.column),
        local_before_mm=here - bore.diameter_mm / 2,
        seat_length_left_mm=_seat_left(boss, sweep, grid),
    )


def stop_clearance(
    boss: PlacedBoss, section: Section, *, clearance_mm: float, allowance_mm: float, minimum_wall_mm: float
) -> Stop:
    """The deepest anyone may grind: to the clearance plus an allowance, but never past the minimum wall; all [mm].

    A wall that is under the minimum as it is allows no cut at all.
    """
    if not (0 <= allowance_mm < np.inf and 0 <= minimum_wall_mm < np.inf):
        raise refuse("stop", "allowance and minimum wall must not be negative", "type 0 for none")
    wanted, before = clearance_mm + allowance_mm, wall_before(boss)
    if before.before_mm < minimum_wall_mm:
        untouched = boss_gap(boss, section).lower_mm
        return Stop(min(wanted, untouched), before.before_mm, "wall" if untouched < wanted else "allowance")
    limit = _clearance_at(boss, section, minimum_wall_mm)
    stop = min(wanted, limit)
    return Stop(stop, wall_left(boss, section, stop).left_mm, "wall" if limit < wanted else "allowance")


def _round_land(boss: PlacedBoss, low_mm: float, high_mm: float) -> tuple[Array, Array, tuple[float, float]]:
    """Stations between two, clocks all round, and millimetres for each unit of them: a search's first grid."""
    low, high = np.clip([low_mm, high_mm], *ends(boss.mesh))
    out = float(np.hypot(*boss.mesh.vertices[:, 1:].T).max())
    rows = np.linspace(low, high, max(int(np.ceil((high - low) / _STEP_MM)), 4) + 1)
    return rows, np.linspace(-np.pi, np.pi, int(np.ceil(2 * np.pi * out / _STEP_MM)) + 1), (1.0, out)


def _off_land(bore: Bore, stations: Array) -> Array:
    """How far stations lie outside the land [mm], 0 on it."""
    return np.maximum(np.maximum(bore.seat_from_mm - stations, stations - bore.seat_to_mm), 0.0)


def _to_land(bore: Bore, rays: Grid, before_mm: float) -> Array:
    """Distance from the land to the cut face where rays are cut, 0 where that is in the bore; else the wall before."""
    radius, off = bore.diameter_mm / 2, _off_land(bore, rays.stations)[:, None]
    away = np.hypot(off, rays.cut - radius)
    broken = (rays.cut <= radius + BORE_SKIN_MM) & (rays.stations[:, None] <= bore.depth_mm)
    away[broken] = 0.0
    away[rays.depth <= 0] = np.maximum(away[rays.depth <= 0], before_mm)
    return away


def _seat_left(boss: PlacedBoss, sweep: GrownSweep, grid: Grid) -> float:
    """Length of the land whose bore no cut reaches at any clock [mm]."""
    bore = boss.mesh.bore
    stations = np.linspace(bore.seat_from_mm, bore.seat_to_mm, _SEAT_STEPS + 1)
    at = from_polar(stations[:, None], np.array(bore.diameter_mm / 2), grid.clocks)
    least = sweep.distance(boss.seat.to_axle(at)).min(axis=1)
    low, high = np.sort([least[:-1], least[1:]], axis=0)
    whole = np.where(low > 0, 1.0, np.maximum(high, 0.0) / np.where(low < high, high - low, 1.0))
    return float(whole.sum() * (bore.seat_to_mm - bore.seat_from_mm) / _SEAT_STEPS)


def _clearance_at(boss: PlacedBoss, section: Section, wall_mm: float) -> float:
    """The largest clearance that leaves a wall, or a little less [mm]; the wall before must be at least that.

    The cut leaves less just where it takes metal that is nearer than the wall to the land: the answer is the least
    distance of that metal to the sweep. Distance has no least value inside the metal, so its outside and ends tell.
    """
    bore, sweep = boss.mesh.bore, GrownSweep(section, 0.0)
    radius = bore.diameter_mm / 2
    rows, clocks, scale_mm = _round_land(boss, bore.seat_from_mm - wall_mm, bore.seat_to_mm + wall_mm)

    def outside(stations: Array, turns: Array) -> Array:
        reach = np.sqrt(np.maximum(wall_mm**2 - _off_land(bore, stations) ** 2, 0.0))
        return np.minimum(radii(boss.mesh, stations, turns)[1], radius + reach[:, None])

    def nearness(stations: Array, at: Array, turns: Array) -> Array:
        return -sweep.distance(boss.seat.to_axle(from_polar(stations[:, None], at, turns)))

    def on_end(end: Array, shares: Array, turns: Array) -> Array:
        return nearness(end, radius + shares[:, None] * (outside(end, turns) - radius), turns)

    shares, deep_mm = np.linspace(0.0, 1.0, 9), (wall_mm, scale_mm[1])
    found = [
        peak(lambda s, t: nearness(s, outside(s, t), t), rows, clocks, scale_mm=scale_mm, fine_mm=_FINE_MM),
        peak(partial(on_end, rows[:1]), shares, clocks, scale_mm=deep_mm, fine_mm=_FINE_MM),
        peak(partial(on_end, rows[-1:]), shares, clocks, scale_mm=deep_mm, fine_mm=_FINE_MM),
    ]
    return min(-each.value - each.error for each in found)
