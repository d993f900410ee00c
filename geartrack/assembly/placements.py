"""Ring and boss for many values of the inputs at once: sections and shifts by arrays, without a loop over the draws."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from geartrack.allowances import backlash_factor, runout_corners
from geartrack.assembly.bodies import design
from geartrack.assembly.model import MODEL, NO_VALUES, WEIGHED, Plan
from geartrack.frame import Array, Seat
from geartrack.gearset.measured import MeasuredRing
from geartrack.gearset.sections import drawn_rings, measured_corners
from geartrack.inputs import MEASURED, RUNNING

_DESIGN = {  # fields of a gear design that inputs move
    "ring_diameter_mm": "axle.ring_diameter",
    "offset_mm": "axle.offset",
    "face_width_mm": "gears.face_width",
    "pinion_spiral": "gears.pinion_spiral",
    "cutter_radius_mm": "gears.cutter_radius",
    "depth_factor": "gears.depth_factor",
    "addendum_factor": "gears.addendum_factor",
    "clearance_factor": "gears.clearance_factor",
    "toe_end_angle": "gears.toe_end_angle",
    "toe_chamfer_mm": "gears.toe_chamfer",
    "tip_chamfer_mm": "gears.tip_chamfer",
}


@dataclass(frozen=True, eq=False)
class Placements:
    """Ring and boss in place for n sets of values; row i is what `assemble` makes of the i-th.

    corners: (n, 8, 2) the ring's sections in (r, z) [mm]. seat: of the boss at the plan's own values. shifts: (n, 3)
    how far from there the boss stands, axle frame [mm]. closer: (n,) how much it has grown all round [mm]. edge_break:
    (n,) of its pinion-side edge [mm]. toe_tips: (n,) by the pitch cones, no readings put in [mm]. refused: (n,) why a
    row makes no ring, "" where it does; such rows hold another row's ring.
    """

    corners: Array
    seat: Seat
    shifts: Array
    closer: Array
    edge_break: Array
    toe_tips: Array
    refused: NDArray[np.str_]


def placements(plan: Plan, values: Mapping[str, Array], heights: Array | None = None) -> Placements:
    """Ring and boss for n sets of values, by dotted name (n,) [mm, rad, plain]; every other input at its own.

    heights: (n,) of the toe tips [mm]; None leaves them to the plan. Raises OutOfRangeError where no row makes a ring.
    """
    n = len(next(iter({**values, **({} if heights is None else {"": heights})}.values())))
    nominal = {name: quantity.value for name, quantity in plan.inputs.items()}
    value = {name: np.broadcast_to(np.asarray(values.get(name, own), float), n) for name, own in nominal.items()}
    value |= {name: np.asarray(each, float) for name, each in values.items() if name not in value}
    rings = drawn_rings(design(plan, NO_VALUES), {field: value[name] for field, name in _DESIGN.items()})
    if heights is None:
        heights = value[WEIGHED] if WEIGHED in value else rings.toe_tip_height_mm + value[MODEL]
    read = MeasuredRing(**{f"{name}_mm": value.get(f"gears.measured.{name}") for name in MEASURED})
    corners, refused = measured_corners(rings, read, toe_tip_height_mm=heights)
    away = backlash_factor(rings.pitch) * value["running.backlash"]
    corners[..., 1] += (away - sum(value[name] for name in RUNNING if name in value))[:, None]
    corners = runout_corners(corners, value["running.runout"])
    seat = _seat(plan, nominal)
    moved = _seat(plan, value)
    shifts = [
        moved.end_face_mm - seat.end_face_mm,
        moved.offset_mm - seat.offset_mm + seat.hand.sign * (moved.y_mm - seat.y_mm),
        moved.z_mm - seat.z_mm,
    ]
    closer = value["case.outside_size"] + value["boss.readings"]
    edge_break = np.maximum(value["boss.edge_break"], 0.0)
    return Placements(corners, seat, np.stack(shifts, axis=-1), closer, edge_break, rings.toe_tip_height_mm, refused)


def _seat(plan: Plan, value: Mapping[str, Any]) -> Seat:
    """The seat as `assemble` has it, its lengths floats or (n,)."""
    return Seat(
        value["axle.offset"],
        value["boss.end_face"],
        plan.hand,
        value["case.outside_off_centre_across"] + value["case.bore_off_axis_across"],
        value["case.outside_off_centre_toward"] + value["case.bore_off_axis_toward"],
    )
