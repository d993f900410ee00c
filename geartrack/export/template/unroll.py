"""A strip of paper round the boss: where a place on the boss lies on it, and how far out that may be.

Paper bends but does not stretch: it lies on a cylinder or a cone, and bridges hollows. So lengths round the boss are
taken along the convex outline of its section, and the strip is developed from a cylinder or from a cone, whichever
misses the boss by less over the patch.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from shapely import LineString, MultiPoint

from geartrack.boss.mesh import BossMesh
from geartrack.frame import Array
from geartrack.relief.crossings import radii

PAPER_MM = 0.1
"""Thickness of common office paper; from memory."""

_TURN_STEPS, _ROWS, _FEWEST_ROWS = 720, 13, 4
_STANDS_OUT, _STEP_MM = (
    1.1,
    0.5,
)  # what stands out this much more than the patch, or steps out by so much, is in the way
_SPARE = np.radians(3.0)
_STRAIGHT = 1e-9
_WORTH_MM = 0.01  # a cone that is no better than this is not worth cutting along an arc


@dataclass(frozen=True, eq=False)
class Unrolled:
    """The paper's cylinder (slope 0) or cone, and where clock angles stand on it.

    radius_mm: of the paper at station 0; slope: how much its radius grows for each mm in from the end [-].
    clocks: (n,) rising [rad]; turned: (n,) the paper's own angle there, 0 at the place that the strip is laid by [rad].
    anchor: clock angle of that place [rad]; whole: the strip goes all the way round. worst_mm: how far from its place
    a mark of the patch can come to lie, the thickness of the paper counted.
    """

    radius_mm: float
    slope: float
    clocks: Array
    turned: Array
    anchor: float
    whole: bool
    worst_mm: float = 0.0

    @property
    def slant(self) -> float:
        """Length on the paper of a millimetre in along the boss [-]."""
        return float(np.hypot(1.0, self.slope))

    def on_paper(self, station: Array | float, clock: Array | float) -> Array:
        """Places at a station [mm] and a clock angle [rad], arrays or not, on the paper (..., 2), across and up [mm].

        Across is clockwise; up is in from the pinion-side end; what is seen is the printed side, which goes outward.
        """
        s, t = np.broadcast_arrays(np.asarray(station, float), np.asarray(clock, float))
        turned, sine = np.interp(t, self.clocks, self.turned), self.slope / self.slant
        if abs(sine) < _STRAIGHT:
            return np.stack([self.radius_mm * turned, s], axis=-1)
        apex = self.radius_mm / sine
        out = apex + s * self.slant
        return np.stack([out * np.sin(sine * turned), out * np.cos(sine * turned) - apex], axis=-1)


def unroll(mesh: BossMesh, *, clocks: tuple[float, float], deep_mm: float, width_mm: float) -> Unrolled:
    """The strip for a patch, `width_mm` wide.

    clocks: between which the patch lies [rad]; deep_mm: how far in from the pinion-side end it goes. The strip runs as
    far round as nothing stands in its way, and is laid by 12 o'clock if that is on it.
    """
    middle = (clocks[0] + clocks[1]) / 2
    turns = middle + np.linspace(-np.pi, np.pi, _TURN_STEPS + 1)
    stations = np.linspace(0.0, width_mm, _ROWS)
    cast = radii(mesh, stations, turns)[1]
    patch = (turns >= clocks[0]) & (turns <= clocks[1])
    free = patch | _clear(cast, cast[:, patch].max(axis=1))
    first, last = _run(free, len(turns) // 2)
    whole = first == 0 and last == len(turns) - 1
    if not whole:
        spare = int(_SPARE / (turns[1] - turns[0]))
        first = min(first + spare, int(np.flatnonzero(patch)[0]))
        last = max(last - spare, int(np.flatnonzero(patch)[-1]))
    turns, cast, patch = turns[first : last + 1], cast[:, first : last + 1], patch[first : last + 1]
    anchor = float(np.clip(2 * np.pi * round(middle / (2 * np.pi)), turns[0], turns[-1]))
    arcs = np.array([_along_hull(turns, row, anchor) for row in cast])
    return _best(stations, arcs, patch, deep_mm, Unrolled(0.0, 0.0, turns, turns, anchor, whole))


def _clear(cast: Array, at_patch: Array) -> NDArray[np.bool_]:
    """Where neither a rib nor a step outward, as one comes from the middle, is in the way of a strip, (nt,).

    A step that only leads out of a hollow is not: the paper bridges it.
    """
    middle, steps = cast.shape[1] // 2, np.diff(cast, axis=1)
    clear = np.array((cast <= _STANDS_OUT * at_patch[:, None]).all(axis=0), dtype=np.bool_)
    out = cast > at_patch[:, None] + _STEP_MM
    clear[middle + 1 :] &= ~(out[:, middle + 1 :] & (steps[:, middle:] > _STEP_MM)).any(axis=0)
    clear[:middle] &= ~(out[:, :middle] & (steps[:, :middle] < -_STEP_MM)).any(axis=0)
    return clear


def _run(flags: NDArray[np.bool_], at: int) -> tuple[int, int]:
    """First and last index of the run of true flags that holds `at`."""
    before, after = np.flatnonzero(~flags[:at]), np.flatnonzero(~flags[at:])
    return (int(before[-1]) + 1 if len(before) else 0), (at + int(after[0]) - 1 if len(after) else len(flags) - 1)


def _along_hull(turns: Array, cast: Array, anchor: float) -> Array:
    """Length from the anchor round the convex outline of a section to each clock angle, (n,) [mm]."""
    heading = np.stack([np.sin(turns), np.cos(turns)], axis=1)
    hull = MultiPoint([(0.0, 0.0), *(cast[:, None] * heading)]).convex_hull.exterior
    reach = 2 * float(cast.max())
    rays = [LineString([(0.0, 0.0), reach * each]).intersection(hull) for each in heading]
    out = np.array([max(np.hypot(*np.asarray(g.coords).T).max() for g in getattr(r, "geoms", (r,))) for r in rays])
    out = np.maximum(out, cast)  # a ray along the outline's own edge may be found to meet it at the centre alone
    steps = np.linalg.norm(np.diff(out[:, None] * heading, axis=0), axis=1)
    lengths = np.concatenate([[0.0], np.cumsum(steps)])
    from_anchor: Array = lengths - np.interp(anchor, turns, lengths)
    return from_anchor


def _best(stations: Array, arcs: Array, patch: NDArray[np.bool_], deep_mm: float, strip: Unrolled) -> Unrolled:
    """Cylinder, or a cone that misses the boss by less where the patch is; a broken edge tilts neither."""
    rows = stations <= max(deep_mm, stations[_FEWEST_ROWS - 1])
    stations, arcs = stations[rows], arcs[rows]
    radius = (arcs[:, -1] - arcs[:, 0]) / np.ptp(strip.clocks)
    one, other = np.triu_indices(len(stations), 1)
    slope = float(np.median((radius[other] - radius[one]) / (stations[other] - stations[one])))
    cone = float(np.median(radius - slope * stations)), slope
    found = []
    for radius_mm, tilt in ((float(np.median(radius)), 0.0), cone):
        own = (radius_mm + tilt * stations)[:, None]
        turned = np.median(arcs / own, axis=0)
        around = float(np.abs(own * turned - arcs)[:, patch].max())
        along = deep_mm * (np.hypot(1.0, slope) - np.hypot(1.0, tilt))
        thick = PAPER_MM / 2 * float(np.abs(turned[patch]).max())
        worst = float(np.hypot(around, along)) + thick
        found.append(replace(strip, radius_mm=radius_mm, slope=tilt, turned=turned, worst_mm=worst))
    return found[1] if found[1].worst_mm < found[0].worst_mm - _WORTH_MM else found[0]
