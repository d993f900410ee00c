"""Ring and boss for many values of the inputs at once: row i is what `assemble` makes of the i-th values."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from geartrack.allowances import backlash_factor, pinion_factor, radial_corners, runout_corners
from geartrack.assembly.bodies import DESIGN, SEATED, design, measured, placed_boss, seat
from geartrack.assembly.ladder import Index, Ladder
from geartrack.assembly.model import MODEL, NO_VALUES, WEIGHED, Plan
from geartrack.assembly.walls import outside_in_place
from geartrack.boss.mesh import PlacedBoss
from geartrack.clearance import Prepared, prepare
from geartrack.clearance.batch import batch_gap
from geartrack.frame import Array
from geartrack.gearset.measured import MeasuredRing
from geartrack.gearset.sections import DrawnRings, drawn_rings, measured_corners
from geartrack.inputs import MEASURED
from geartrack.quantity import Quantity
from geartrack.tolerances import TOLERANCES, Tolerances

_EDGES = np.array([0.0, 0.15, 0.35, 0.6, 1.0, 1.5, 2.5])  # edge breaks that get a mesh, in parts of the way to a limit
_FEW_EDGES = np.array([0.0, 0.35, 1.0, 2.5])
_FACET_MM = 0.004  # round faces may stand out this much beyond the facets of these meshes; the lower bound counts it
_ROUGH = replace(TOLERANCES, gap_mm=0.01)
_WATCHED = 64  # rows, about, that are worked with every mesh, to see how straight the gap runs between meshes


class _Between(NamedTuple):
    """Gaps (n,) worked with meshes of few edge breaks, straight between them, all [mm].

    low, high: bounds on the straight line. missed: how far the gap may lie off it, by what a line twice as long misses
    at most over some of the rows, if watched. nearest: the nearest edge break with a mesh. own: what the row's own edge
    break adds over that.
    """

    low: Array
    high: Array
    missed: Array
    nearest: Array
    own: Array


@dataclass(frozen=True, eq=False)
class Many:
    """A plan for n values of its inputs.

    values: (n,) [any] of each input that moves, others at their own. rings: the rings of the pitch cones. surface: what
    of the boss gaps are to, if not all of it; grows: how much of growth all round its gap falls by [-].
    """

    plan: Plan
    count: int
    values: Mapping[str, Array]
    rings: DrawnRings
    surface: Callable[[PlacedBoss], Prepared] | None = None
    grows: float = 1.0

    @property
    def made(self) -> NDArray[np.bool_]:
        """(n,) whether these values make a gear set; rows that do not stand for none."""
        made: NDArray[np.bool_] = self._read(self.toe_tips)[1] == ""
        return made

    @property
    def toe_tips(self) -> Array:
        """Height of the toe tips by the pitch cones (n,) [mm]."""
        return self.rings.toe_tip_height_mm

    def of(self, name: str) -> Array:
        """An input's values (n,) [mm, rad, plain]."""
        nominal = self.plan.inputs[name].value if name in self.plan.inputs else 0.0
        return np.broadcast_to(self.values.get(name, np.array(nominal)), self.count)

    def sections(self, heights: Array | None = None, *, as_read: bool = False) -> Array:
        """Corners (n, 9, 2) in (r, z) [mm] of the rings, their toe tips at heights (n,) [mm] (default: as planned)."""
        if heights is None:
            heights = self.of(WEIGHED) if WEIGHED in self.plan.inputs else self.toe_tips + self.of(MODEL)
        corners, _ = self._read(np.broadcast_to(heights, self.count))
        pitch = self.rings.pitch
        ways = {"running.backlash": backlash_factor(pitch), "running.pinion_moved": pinion_factor(pitch)}
        for name, factor in ways.items():
            change = self.plan.inputs[name].value if as_read else self.of(name)
            corners[..., 1] += np.expand_dims(factor * change, -1)
        return radial_corners(runout_corners(corners, self.of("running.runout")), self.of("running.radial_runout"))

    def _read(self, heights: Array) -> tuple[Array, NDArray[np.str_]]:
        """The rings with what was read of them put in, and what of it does not fit them."""
        drawn = {f"{name}_mm": self.values.get(f"gears.measured.{name}") for name in MEASURED}
        own = vars(measured(self.plan, NO_VALUES))
        ring = MeasuredRing(**{name: own[name] if each is None else each for name, each in drawn.items()})
        return measured_corners(self.rings, ring, toe_tip_height_mm=heights)

    def gaps(
        self, heights: Array | None = None, *, as_read: bool = False, tolerance_mm: float = TOLERANCES.gap_mm
    ) -> tuple[Array, Array]:
        """Certified bounds (n,), (n,) of the set-up gaps [mm]; see `sections` for heights (n,) [mm].

        Between edge breaks that have a mesh the gap is taken to run straight, and by how much that may miss is counted.
        as_read: with backlash and pinion at their own values, as readings against the boss are worked.
        """
        corners = self.sections(heights, as_read=as_read)
        found = self._between(_EDGES, corners, replace(TOLERANCES, gap_mm=tolerance_mm), watch=True)
        return found.low - found.missed, found.high + found.missed

    def gaps_of(self, cut: Prepared, heights: Array | None = None) -> tuple[Array, Array]:
        """Certified bounds (n,), (n,) of the set-up gaps [mm] to one mesh in place of the boss.

        heights: (n,) [mm], as for `gaps`.
        """
        low, high = batch_gap(cut, self.sections(heights), self.shifts())
        return low - self._closer(), high - self._closer()

    def rough_gaps(self, heights: Array) -> Array:
        """Set-up gaps (n,) [mm] at heights (n,) [mm] as readings are worked: `as_read`, and to 0.02 mm only.

        What a row's own edge break adds over the nearest one with a mesh is worked where the pitch cones put the teeth,
        and kept.
        """
        return self._along_height(heights)

    @cached_property
    def _along_height(self) -> Ladder:
        known = self._between(_FEW_EDGES, self.sections(self.toe_tips, as_read=True), _ROUGH)
        closer, shifts = self._closer(), self.shifts()

        def gaps(heights: Array, rungs: Index, rows: Index) -> Array:
            corners = np.concatenate([self.sections(each, as_read=True) for each in heights])[rungs * self.count + rows]
            found = known.own[rows] - closer[rows]
            for edge in np.unique(known.nearest[rows]):
                of = known.nearest[rows] == edge
                found[of] += np.mean(self._at(edge, corners[of], shifts[rows[of]], _ROUGH), axis=0)
            return found

        return Ladder(gaps)

    def _edges(self) -> Array:
        edges: Array = np.maximum(self.of("boss.edge_break"), 0.0)
        return edges

    def _closer(self) -> Array:
        """How much further out each boss stands all round than its mesh (n,) [mm]."""
        closer: Array = self.grows * (self.of("case.outside_size") + self.of("boss.readings"))
        return closer

    def _between(self, places: Array, corners: Array, tolerances: Tolerances, *, watch: bool = False) -> _Between:
        """Gaps to sections (n, 8, 2) [mm], straight between those with the next sharper and the next blunter mesh."""
        edge, shifts = self._edges(), self.shifts()
        nodes = _nodes(self.plan.inputs["boss.edge_break"], edge, places)
        edge = np.minimum(edge, nodes[-1])
        place = np.searchsorted(nodes, edge, side="right") - 1
        after = np.where(edge > nodes[place], place + 1, place)
        watched = np.zeros(self.count, bool)
        if watch and (after > place).any():
            watched[:: max(1, self.count // _WATCHED)] = True
        sharper, blunter, seen = np.empty((2, self.count)), np.empty((2, self.count)), []
        for i, node in enumerate(nodes):
            of = np.flatnonzero((place == i) | (after == i) | watched)
            if len(of):
                found = np.array(self._at(node, corners[of], shifts[of], tolerances))
                at, on = place[of] == i, after[of] == i
                sharper[:, of[at]], blunter[:, of[on]] = found[:, at], found[:, on]
                seen.append(found[:, watched[of]].mean(axis=0))
        step = nodes[after] - nodes[place]
        share = np.divide(edge - nodes[place], step, out=np.zeros(self.count), where=step > 0)
        low, high = (1 - share) * sharper + share * blunter
        missed = edge_steps_missed(nodes, np.array(seen))[place] if watched.any() else np.zeros(self.count)
        near = share < 0.5
        own = (low + high - np.where(near, sharper, blunter).sum(axis=0)) / 2
        return _Between(
            low=low - self._closer(),
            high=high - self._closer(),
            missed=np.where(share > 0, missed, 0.0),
            nearest=nodes[np.where(near, place, after)],
            own=own,
        )

    def _at(self, edge_mm: float, corners: Array, shifts: Array, tolerances: Tolerances) -> tuple[Array, Array]:
        placed = placed_boss(
            self.plan.job.boss, self.plan.readings, float(edge_mm), seat(self.plan, NO_VALUES), _FACET_MM
        )
        placed = outside_in_place(self.plan, placed)
        prepared = self.surface(placed) if self.surface else _prepared(placed)
        low, high = batch_gap(prepared, corners, shifts, tolerances=tolerances)
        return low - placed.mesh.short_mm, high + placed.mesh.proud_mm

    def shifts(self) -> Array:
        """How far each boss stands from its own place (n, 3), axle frame [mm]."""
        own, side = {name: self.of(name) for name in SEATED}, self.plan.hand.sign
        at = seat(self.plan, NO_VALUES)
        across = own["case.outside_off_centre_across"] + own["case.bore_off_axis_across"]
        toward = own["case.outside_off_centre_toward"] + own["case.bore_off_axis_toward"]
        return np.stack(
            [
                own["boss.end_face"] - at.end_face_mm,
                own["axle.offset"] - at.offset_mm + side * (across - at.y_mm),
                toward - at.z_mm,
            ],
            axis=-1,
        )


def _nodes(edge: Quantity, values: Array, places: Array) -> Array:
    """Edge breaks [mm] of the meshes that stand for all; exact ones where the values are few."""
    few: Array = np.unique(values)
    if len(few) <= len(places):
        return few
    up, down = (edge.high - edge.value) * places, (edge.low - edge.value) * places
    nodes: Array = np.unique(np.maximum(edge.value + np.concatenate([up, down]), 0.0))
    return nodes


def edge_steps_missed(nodes: Array, gaps: Array) -> Array:
    """How far gaps (k, m) [mm] at edge breaks nodes (k,) [mm] lie off the straight line past the one before and the one
    after, at most over the m, either side of each step between edge breaks (k - 1,) [mm]."""
    if len(nodes) < 3:
        return np.full(len(nodes), float(np.ptp(gaps, axis=0).max()))
    share = ((nodes[1:-1] - nodes[:-2]) / (nodes[2:] - nodes[:-2]))[:, None]
    off = np.abs((1 - share) * gaps[:-2] + share * gaps[2:] - gaps[1:-1]).max(axis=1)
    ends = np.concatenate([off[:1], off, off[-1:]])
    found: Array = np.append(np.maximum(ends[:-1], ends[1:]), 0.0)
    return found


@lru_cache(maxsize=40)
def _prepared(placed: PlacedBoss) -> Prepared:
    return prepare(placed.vertices, placed.triangles)


def many(plan: Plan, values: Mapping[str, Array], count: int) -> Many:
    """A plan for `count` values (n,) [any] of its inputs; see Many."""
    drawn = {field: values[name] for name, field in DESIGN.items() if name in values}
    nominal = design(plan, NO_VALUES)
    rings = drawn_rings(nominal, drawn or {"face_width_mm": np.full(count, nominal.face_width_mm)})
    return Many(plan, count, values, rings)
