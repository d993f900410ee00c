"""What walls read on the bench say of the boss's outside: its size and its place about the pilot bore (DESIGN 5).

A wall at a place is as drawn, and more by what the outside stands out there: straight in its size and in how far off
centre it sits. So walls are taken in exactly, as normals (the Kalman update; JCGM 102:2011, 6.2 for what a linear model
does to a covariance). The least wall of several places is not straight: it is fitted straight over what is still
possible, what the fit leaves counts as noise, and that is done again about what was found (from memory: Garcia-
Fernandez and others, IEEE Trans. Signal Process. 63 (2015) 5561).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from math import hypot, sqrt

import numpy as np

from geartrack.assembly.model import Plan
from geartrack.boss.mesh import BossMesh, PlacedBoss
from geartrack.frame import Array, oclock
from geartrack.inputs import bench_reading, wall_spread_mm
from geartrack.job import Correlated, Job, WallReading
from geartrack.quantity import Origin, Quantity, Shape, give_or_take
from geartrack.relief.crossings import BORE_SKIN_MM, radii

OUTSIDE = (
    "case.outside_size",
    "boss.readings",
    "case.outside_off_centre_across",
    "case.outside_off_centre_toward",
)
"""Inputs that move the boss's outside against its bore."""

FORM_MM = 0.1  # 2-sigma: how far a cast outside strays from its drawn form between one place and another; from memory
_BEYOND_SIGMAS = 3.29  # a reading further off than 999 of 1,000 does not go with the rest
_SIGMAS, _ROUNDS, _POINTS = 2.0, 3, 7
_STEP_MM, _STEEPEST = 0.05, 2.0  # for slopes; steeper than that is a step, at which a reading says little
_STATIONS, _CLOCKS = 9, 72
_BENT = 2.0  # what a straight line leaves is no normal: counted twice, or more would be known than there is to know
_NEAR = np.radians(30.0)  # the thinnest place may lie so far from where it is calculated


@dataclass(frozen=True)
class Outside:
    """A boss's outside given the walls read: inputs with those of OUTSIDE narrowed, what of them errs together, how far
    the outside moved (as Plan.outside has it [mm]), and the walls that do not go with the rest; with any such, nothing
    is narrowed or moved."""

    inputs: dict[str, Quantity]
    correlated: tuple[Correlated, ...]
    moved: tuple[float, float, float] = (0.0, 0.0, 0.0)
    flagged: tuple[str, ...] = ()


@dataclass(frozen=True)
class _Read:
    """A wall as read: the least of base (m,) + slopes (m, k) @ x over m places, x what the outside is off by [mm]."""

    name: str
    value: float
    sd: float
    base: Array
    slopes: Array

    def at(self, x: Array) -> Array:
        """The wall (n,) [mm] for outsides off by x (n, k) [mm]."""
        least: Array = (self.base + x @ self.slopes.T).min(axis=1)
        return least


@dataclass(frozen=True)
class _Normal:
    mean: Array
    covariance: Array


def walls_read(job: Job) -> list[tuple[int, WallReading]]:
    """The walls among a job's readings, with their numbers from 1."""
    return [(number, each) for number, each in enumerate(job.readings, 1) if isinstance(each, WallReading)]


def outside_given_walls(job: Job, inputs: dict[str, Quantity], mesh: BossMesh) -> Outside:
    """The inputs of a job and what of them errs together, given the walls that were read; mesh: the boss as drawn."""
    names = _names(job, inputs)
    reads = [_read(number, each, mesh, names, job) for number, each in walls_read(job)]
    if not reads or not any(name in OUTSIDE for name in names):
        return Outside(inputs, job.correlated)
    before = _before(job, inputs, names)
    flagged = tuple(each.name for i, each in enumerate(reads) if _off(before, each, reads[:i] + reads[i + 1 :]))
    if flagged:
        return Outside(inputs, job.correlated, flagged=flagged)
    after = _updated(before, reads)
    sd = np.sqrt(np.diag(after.covariance))
    about = {
        name: give_or_take(inputs[name].value, float(_SIGMAS * each), Origin.MEASURED, "walls read")
        for name, each in zip(names, sd, strict=True)
        if name in OUTSIDE
    }
    by = np.clip(after.covariance / np.outer(sd, sd), -1.0, 1.0)
    pairs = [(i, j) for i in range(len(names)) for j in range(i)]
    together = [Correlated(first=names[i], second=names[j], by=float(by[i, j])) for i, j in pairs]
    others = [each for each in job.correlated if not (each.first in names and each.second in names)]
    moved = dict(zip(names, (after.mean - before.mean).tolist(), strict=True))
    size, readings, across, toward = (moved.get(name, 0.0) for name in OUTSIDE)
    return Outside(inputs | about, (*others, *together), (size + readings, across, toward))


def wall_spread(plan: Plan, clock: float) -> float:
    """What the wall near a clock angle [rad] may be off by [mm], 2-sigma; the plain sum where no wall was read."""
    job, inputs = plan.job, plan.inputs
    if not walls_read(job) or plan.flagged:
        return wall_spread_mm(job, inputs["boss.readings"].reach)
    names = [name for name in OUTSIDE if inputs[name].reach]
    joint = _before(job, inputs, names, plan.correlated).covariance
    slopes = [_along(names, turn, 1.0) for turn in clock + np.linspace(-_NEAR, _NEAR, 7)]
    widest = max(float(slope @ joint @ slope) for slope in slopes)
    return _SIGMAS * sqrt(widest) + hypot(job.boss.bore_diameter.reach / 2, FORM_MM)


def outside_in_place(plan: Plan, placed: PlacedBoss) -> PlacedBoss:
    """A boss in its seat with its outside where the walls read put it, its bore where it was; growth is square to the
    bore's axis."""
    return _in_place(placed, *plan.outside) if any(plan.outside) else placed


@lru_cache(maxsize=40)
def _in_place(placed: PlacedBoss, grown_mm: float, across_mm: float, toward_mm: float) -> PlacedBoss:
    mesh = placed.mesh
    x, y, z = mesh.vertices.T
    radius = np.hypot(y, z)
    outside = radius > mesh.bore.diameter_mm / 2 + BORE_SKIN_MM
    share = 1 + np.where(outside, grown_mm / np.maximum(radius, 1.0), 0.0)
    moved = np.stack([x, y * share + outside * across_mm, z * share + outside * toward_mm], axis=1)
    return PlacedBoss(replace(mesh, vertices=moved), placed.seat)


def _names(job: Job, inputs: Mapping[str, Quantity]) -> list[str]:
    """The outside's inputs that are not exact, and every one that errs together with another, if one of them does."""
    own = [name for name in OUTSIDE if inputs[name].reach > 0]
    pairs = [(each.first, each.second) for each in job.correlated]
    if not any(name in own for pair in pairs for name in pair):
        return own
    known = (name for pair in pairs for name in pair if name in inputs and inputs[name].reach > 0)
    return list(dict.fromkeys([*own, *known]))


def _before(
    job: Job, inputs: Mapping[str, Quantity], names: Sequence[str], correlated: Sequence[Correlated] | None = None
) -> _Normal:
    """The joint normal of inputs; a uniform one counts with its own standard deviation."""
    quantities = [inputs[name] for name in names]
    sd = np.array([each.reach / (sqrt(3) if each.shape is Shape.UNIFORM else _SIGMAS) for each in quantities])
    by = np.eye(len(names))
    for each in job.correlated if correlated is None else correlated:
        if each.first in names and each.second in names:
            i, j = names.index(each.first), names.index(each.second)
            by[i, j] = by[j, i] = each.by
    return _Normal(np.array([each.value for each in quantities]), by * np.outer(sd, sd))


def _read(number: int, reading: WallReading, mesh: BossMesh, names: Sequence[str], job: Job) -> _Read:
    """A wall as read, and how it hangs on the outside: its slopes by moving the boss a little against its bore."""
    bore = mesh.bore
    stations = (
        np.array([reading.station.value])
        if reading.station
        else np.linspace(bore.seat_from_mm, bore.seat_to_mm, _STATIONS)
    )
    clocks = np.linspace(-np.pi, np.pi, _CLOCKS + 1)[:-1] if reading.clock is None else np.array([reading.clock.value])
    low, high = -mesh.vertices[:, 0].max(), -mesh.vertices[:, 0].min()
    here = np.clip(stations, low, high)
    base = radii(mesh, here, clocks)[0]
    ends = np.clip([here - _STEP_MM, here + _STEP_MM], low, high)
    along = (radii(mesh, ends[1], clocks)[0] - radii(mesh, ends[0], clocks)[0]) / (ends[1] - ends[0])[:, None]
    across, toward = (_moved(mesh, here, clocks, way) for way in ((0.0, 1.0, 0.0), (0.0, 0.0, 1.0)))
    along, across, toward = (np.clip(each, -_STEEPEST, _STEEPEST) for each in (along, across, toward))
    grown = np.sqrt(across**2 + toward**2 + along**2)  # 1 / (normal along the ray)
    by_name = dict(zip(OUTSIDE, (grown, grown, across, toward), strict=True))
    slopes = np.stack([by_name.get(name, np.zeros_like(grown)).ravel() for name in names], axis=1)
    read = bench_reading(reading.wall)
    station_off = reading.station.reach * float(np.abs(along).max()) if reading.station else 0.0
    turned = 0.0 if reading.clock is None else _turned(mesh, here, reading.clock.value, reading.clock.reach)
    spread = hypot(read.reach, job.boss.bore_diameter.reach / 2, station_off, turned, FORM_MM)
    place = "the least wall" if reading.clock is None else f"the wall at {oclock(reading.clock.value)}"
    name = f"{place} (reading {number})"
    return _Read(name, read.value, spread / _SIGMAS, (base - bore.diameter_mm / 2).ravel(), slopes)


def _moved(mesh: BossMesh, stations: Array, clocks: Array, way: tuple[float, float, float]) -> Array:
    """Change of where rays leave the metal for a move of the outside along `way`, (ns, nt) [mm/mm]."""
    places = (mesh.vertices + side * _STEP_MM * np.array(way) for side in (-1, 1))
    ends = [radii(replace(mesh, vertices=each), stations, clocks)[0] for each in places]
    slope: Array = (ends[1] - ends[0]) / (2 * _STEP_MM)
    return slope


def _turned(mesh: BossMesh, stations: Array, clock: float, give: float) -> float:
    """What a clock angle that may be off by `give` [rad] puts a wall off by [mm]."""
    walls = radii(mesh, stations, clock + max(give, 1e-6) * np.array([-1.0, 0.0, 1.0]))[0].min(axis=0)
    return float(np.abs(walls - walls[1]).max())


def _along(names: Sequence[str], clock: float, grown: float) -> Array:
    by_name = dict(zip(OUTSIDE, (grown, grown, np.sin(clock), np.cos(clock)), strict=True))
    return np.array([by_name[name] for name in names])


def _updated(before: _Normal, reads: Sequence[_Read]) -> _Normal:
    """The normal given what was read."""
    after = before
    for _ in range(_ROUNDS):
        shown, slopes, left = _line(after, reads)
        own = np.diag([each.sd**2 for each in reads])
        carried = before.covariance @ slopes.T
        gain = np.linalg.solve(slopes @ carried + left + own, carried.T).T
        off = np.array([each.value for each in reads]) - shown - slopes @ (before.mean - after.mean)
        kept = np.eye(len(gain)) - gain @ slopes
        covariance = kept @ before.covariance @ kept.T + gain @ (_BENT * left + own) @ gain.T
        after = _Normal(before.mean + gain @ off, covariance)
    return after


def _line(about: _Normal, reads: Sequence[_Read]) -> tuple[Array, Array, Array]:
    """Readings fitted straight about a normal: their means (j,), slopes (j, k), and what the line leaves (j, j)."""
    moves = np.flatnonzero(np.any([np.any(each.slopes, axis=0) for each in reads], axis=0))
    nodes, weights = np.polynomial.hermite_e.hermegauss(_POINTS)
    grid = np.stack(np.meshgrid(*[nodes] * len(moves), indexing="ij"), axis=-1).reshape(-1, len(moves))
    share = np.prod(np.stack(np.meshgrid(*[weights] * len(moves), indexing="ij"), axis=-1).reshape(grid.shape), axis=1)
    share = share / share.sum()
    values, vectors = np.linalg.eigh(about.covariance[np.ix_(moves, moves)])
    root = vectors * np.sqrt(np.clip(values, 1e-18, None))
    x = np.tile(about.mean, (len(grid), 1))
    x[:, moves] += grid @ root.T
    shown = np.stack([each.at(x) for each in reads], axis=1)
    mean = share @ shown
    by_score = (shown - mean).T @ (share[:, None] * grid)
    slopes = np.zeros((len(reads), len(about.mean)))
    slopes[:, moves] = by_score @ np.linalg.inv(root)
    left = (shown - mean).T @ (share[:, None] * (shown - mean)) - by_score @ by_score.T
    return mean, slopes, (left + left.T) / 2


def _off(before: _Normal, read: _Read, others: Sequence[_Read]) -> bool:
    """Whether a wall lies beyond what the rest, other walls too, leads to expect."""
    rest = _updated(before, others) if others else before
    shown, slopes, left = _line(rest, [read])
    variance = float((slopes @ rest.covariance @ slopes.T + left)[0, 0]) + read.sd**2
    return bool(abs(read.value - shown[0]) > _BEYOND_SIGMAS * sqrt(variance))
