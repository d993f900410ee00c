"""Rays from the bore axis and lines along it: where they meet the grown sweep, and where they leave it."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from geartrack.frame import Array, Seat, from_polar
from geartrack.relief.sweep_field import GrownSweep
from geartrack.relief.triangles import Index

_CLOSE_MM = 1e-4
_STEPS, _LOOKED_AT, _HALVINGS = 50, 501, 12
_UNDER = 33  # places looked at along a ray that passes under an untouched surface


def cut_radii(
    sweep: GrownSweep, seat: Seat, *, stations: Array, clocks: Array, low: Array, high: Array
) -> tuple[Array, Array]:
    """Where rays first meet the grown sweep on their way out; arguments (k,), stations and radii [mm], clocks [rad].

    Returns the least radius between `low` and `high` that lies in the grown sweep, `high` where none does, and the
    least distance to the sweep met on the way, negative where it is met [mm].
    """
    origin = seat.to_axle(from_polar(stations, np.zeros_like(clocks), clocks))
    heading = seat.to_axle(from_polar(stations, np.ones_like(clocks), clocks)) - origin
    at_end = sweep.distance(origin + high[:, None] * heading)
    radius, least = _marched(
        lambda which, at: sweep.distance(origin[which] + at[..., None] * heading[which]), low, high
    )
    least = np.minimum(least, at_end)
    radius = np.where((radius >= high) & (at_end <= 0) & (low < high), np.nextafter(high, low), radius)
    under = np.flatnonzero((at_end > 0) & (radius < high))
    for share in np.linspace(0, 1, _UNDER) if len(under) else ():
        along = radius[under] + share * (high - radius)[under]
        least[under] = np.minimum(least[under], sweep.distance(origin[under] + along[:, None] * heading[under]))
    return radius, least


def cut_stations(
    sweep: GrownSweep, seat: Seat, *, radius: Array, clocks: Array, stations: Array, metal: NDArray[np.bool_]
) -> Array:
    """Where lines parallel to the bore first leave the cut, on their way in from the first of the stations, (k,) [mm].

    radius [mm], clocks [rad]: (k,) of the lines; stations: (ns,) [mm]; metal: (ns, k) where lines run in metal [-].
    Tried at every station, then halved; a line that leaves the metal still within the sweep ends at the first station
    outside it.
    """
    origin = seat.to_axle(from_polar(np.zeros_like(clocks), radius, clocks))
    heading = seat.to_axle(from_polar(np.ones_like(clocks), radius, clocks)) - origin
    within = sweep.distance(origin + stations[:, None, None] * heading) < 0
    end = np.where((within & metal).all(axis=0), len(stations), (within & metal).argmin(axis=0))
    padded = np.append(stations, stations[-1])
    low, high = padded[np.maximum(end - 1, 0)], padded[end]
    still = np.take_along_axis(within, np.minimum(end, len(stations) - 1)[None], axis=0)[0]
    low, high = _halved(lambda at: sweep.distance(origin + at[:, None] * heading) < 0, low, high)
    inside, outside = (np.abs(sweep.distance(origin + at[:, None] * heading)) for at in (low, high))
    share = inside / np.maximum(inside + outside, np.finfo(float).tiny)
    return np.where(still, padded[end], low + share * (high - low))


def _marched(value: Callable[[Index, Array], Array], start: Array, limit: Array) -> tuple[Array, Array]:
    """The first place from `start` to `limit` (k,) where value(which, places) <= 0, else `limit`; and the least value.

    Each step is the value itself; as that is 1-Lipschitz, no root is stepped over. Close to the root the last step's
    slope gives the rest of the way. A ray that creeps along the sweep's side is looked over at even places in the end.
    """
    place, least, before = start.copy(), np.full(start.shape, np.inf), np.full(start.shape, np.inf)
    going = np.flatnonzero(limit > start)
    for _ in range(_STEPS):
        if not len(going):
            break
        now = value(going, place[going])
        least[going] = np.minimum(least[going], now)
        close = now <= _CLOSE_MM
        last = going[close & (now > 0) & (now < before[going])]
        slope = 1 - least[last] / before[last]
        place[last] += least[last] / slope
        going, now = going[~close], now[~close]
        place[going] += now
        before[going] = now
        going = going[place[going] < limit[going]]
    if len(going):
        place[going], seen = _looked_over(lambda at: value(going, at), place[going], limit[going])
        least[going] = np.minimum(least[going], seen)
    return np.minimum(place, limit), least


def _looked_over(value: Callable[[Array], Array], start: Array, limit: Array) -> tuple[Array, Array]:
    """As _marched, but tried at even places, and halved."""
    places = np.linspace(start, limit, _LOOKED_AT)
    values = value(places)
    met, column = values <= 0, np.arange(len(start))
    end = np.where(met.any(axis=0), met.argmax(axis=0), _LOOKED_AT - 1)
    low, high = places[np.maximum(end - 1, 0), column], places[end, column]
    low, _ = _halved(lambda at: value(at) > 0, low, high)
    return np.where(met.any(axis=0), low, limit), values.min(axis=0)


def _halved(holds: Callable[[Array], NDArray[np.bool_]], low: Array, high: Array) -> tuple[Array, Array]:
    """Intervals (k,) closed in on where something stops to hold that holds at their low end."""
    for _ in range(_HALVINGS):
        middle = (low + high) / 2
        still = holds(middle)
        low, high = np.where(still, middle, low), np.where(still, high, middle)
    return low, high
