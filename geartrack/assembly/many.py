"""Ring and boss for many values of the inputs at once: row i is what `assemble` makes of the i-th values."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from geartrack.allowances import backlash_factor
from geartrack.assembly.bodies import DESIGN, design, measured
from geartrack.assembly.model import MODEL, NO_VALUES, WEIGHED, Plan
from geartrack.frame import Array
from geartrack.gearset.measured import MeasuredRing
from geartrack.gearset.sections import DrawnRings, drawn_rings, measured_corners
from geartrack.inputs import MEASURED
from geartrack.tolerances import TOLERANCES


@dataclass(frozen=True, eq=False)
class Many:
    """A plan for n values of its inputs.

    values: (n,) of each input that moves, others at their own [mm, rad, plain]. rings: the rings of the pitch cones.
    """

    plan: Plan
    count: int
    values: Mapping[str, Array]
    rings: DrawnRings

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
        """Corners (n, 8, 2) in (r, z) [mm] of the rings, their toe tips at heights (n,) [mm] (default: as planned)."""
        if heights is None:
            heights = self.of(WEIGHED) if WEIGHED in self.plan.inputs else self.toe_tips + self.of(MODEL)
        corners, _ = self._read(np.broadcast_to(heights, self.count))
        change = self.plan.inputs["running.backlash"].value if as_read else self.of("running.backlash")
        corners[..., 1] += np.expand_dims(backlash_factor(self.rings.pitch) * change, -1)
        return _tilted(corners, self.of("running.runout"))

    def _read(self, heights: Array) -> tuple[Array, NDArray[np.str_]]:
        """The rings with what was read of them put in, and what of it does not fit them."""
        drawn = {f"{name}_mm": self.values.get(f"gears.measured.{name}") for name in MEASURED}
        own = vars(measured(self.plan, NO_VALUES))
        ring = MeasuredRing(**{name: own[name] if each is None else each for name, each in drawn.items()})
        return measured_corners(self.rings, ring, toe_tip_height_mm=heights)

    def gaps(
        self, heights: Array | None = None, *, as_read: bool = False, tolerance_mm: float = TOLERANCES.gap_mm
    ) -> tuple[Array, Array]:
        """Certified bounds (n,), (n,) of the set-up gaps [mm]; see `sections` for heights.

        as_read: with the backlash at its own value, as readings against the boss are worked.
        """
        return _slow(self, self.sections(heights, as_read=as_read), tolerance_mm)


def _slow(m: Many, corners: Array, tolerance_mm: float) -> tuple[Array, Array]:
    from geartrack.assembly.bodies import _placed
    from geartrack.clearance import boss_gap
    from geartrack.frame import Seat
    from geartrack.gearset.ring import section_of

    low, high = np.zeros(m.count), np.zeros(m.count)
    for i in range(m.count):
        value = {name: float(m.of(name)[i]) for name in m.plan.inputs}
        seat = Seat(
            value["axle.offset"],
            value["boss.end_face"],
            m.plan.hand,
            value["case.outside_off_centre_across"] + value["case.bore_off_axis_across"],
            value["case.outside_off_centre_toward"] + value["case.bore_off_axis_toward"],
        )
        placed = _placed(m.plan.job.boss, m.plan.readings, value["boss.edge_break"], seat)
        found = boss_gap(placed, section_of(corners[i]))
        grown = value["case.outside_size"] + value["boss.readings"]
        low[i], high[i] = found.lower_mm - grown, found.upper_mm - grown
    return low, high


def many(plan: Plan, values: Mapping[str, Array], count: int) -> Many:
    """A plan for `count` values of its inputs; see Many."""
    drawn = {field: values[name] for name, field in DESIGN.items() if name in values}
    nominal = design(plan, NO_VALUES)
    rings = drawn_rings(nominal, drawn or {"face_width_mm": np.full(count, nominal.face_width_mm)})
    return Many(plan, count, values, rings)


def _tilted(corners: Array, tir: Array) -> Array:
    """`allowances.with_runout` for many: corners (n, 8, 2), total readings (n,) [mm]."""
    r, z = corners[..., 0], corners[..., 1]
    tilt = (tir / (2 * r.max(axis=1)))[:, None]
    return np.stack([r - tilt * (z.max(axis=1)[:, None] - z), z - tilt * r], axis=-1)
