"""The tooth pairs a ratio said may mean, and how much nearer the pinion the toe tips come, from usual values alone."""

from __future__ import annotations

import math
from collections.abc import Mapping
from functools import partial

from geartrack.cards.entries import Ratio
from geartrack.errors import refuse
from geartrack.gearset.blank import GearDesign, blanks
from geartrack.gearset.defaults import default_design
from geartrack.gearset.teeth import ToothPair, pairs_for_ratio, usual_pinion_teeth
from geartrack.inputs import MODEL
from geartrack.quantity import Origin, Quantity, Shape
from geartrack.spread import Range, worst_case

USUAL_OFFSETS = (0.11, 0.18, 0.25)  # hypoid offset over ring diameter: least, about, most; from memory


PINION_AWAY = 2.0  # pinion teeth from the usual count that a set sold for a ratio may have; from memory
SAME_RATIO = 0.005  # ratios that differ by less are one ratio said differently: 4.88 and 8/39
_TOLERANCES = (SAME_RATIO, 0.01, 0.02, 0.05, 0.1, 0.25)  # of a ratio said, until a usual pair is found


def usual_pairs(said: ToothPair | Ratio) -> tuple[tuple[ToothPair, ...], tuple[str, ...]]:
    """The tooth pairs that were meant, the most used first, and what to say where none gives the ratio itself."""
    if isinstance(said, ToothPair):
        return (said,), ()
    for tolerance in _TOLERANCES:
        usual = usual_pinion_teeth(said.ratio)
        pairs = [p for p in pairs_for_ratio(said.ratio, tolerance=tolerance) if abs(p.pinion - usual) <= PINION_AWAY]
        if pairs:
            listed = ", ".join(f"{p} = {p.ratio:.3f}" for p in pairs)
            near = f"no usual tooth pair gives {said.ratio:g}; worked with {listed}"
            several = f"{said.ratio:g} is given by {listed}; the worst of them decides" if len(pairs) > 1 else ""
            note = near if tolerance > SAME_RATIO else several
            return tuple(pairs), (note,) if note else ()
    raise refuse("ratio", f"no tooth pair is near {said.ratio:g}", "type the teeth, such as 7/36")


def usual_offset(ring_mm: float) -> Quantity:
    """The hypoid offset of an axle of which only the ring diameter is known [mm]."""
    low, about, high = (share * ring_mm for share in USUAL_OFFSETS)
    return Quantity(about, low, high, Origin.DEFAULT, "0.11 to 0.25 ring diameters, from memory", Shape.UNIFORM)


def toe_tip_shift(old: ToothPair, new: ToothPair, ring: Quantity, offset: Quantity) -> tuple[float, Range]:
    """How much nearer the pinion's centre line the toe tips of the new set run [mm], and its low to high.

    Ring diameter and offset are one and the same for both sets; everything else of each set moves on its own between
    its usual limits, and the gear model's own term is counted once. Low and high are the root sum of squares of what
    each does alone: all at their worst at once would span twice as far and tell a customer nothing.
    """
    inputs = {"ring": ring, "offset": offset, "model": MODEL}
    for side, pair in (("old", old), ("new", new)):
        usual = default_design(pair, ring.value, offset.value)
        inputs |= {f"{side}.{name}": quantity for name, quantity in usual.items()}
    evaluate = partial(_shift_mm, old, new, {name: quantity.value for name, quantity in inputs.items()})
    nominal = evaluate({})
    shares = worst_case(evaluate, inputs, nominal).shares
    low, high = (math.hypot(*(getattr(share, way) for share in shares)) for way in ("down", "up"))
    return nominal, Range(nominal - low, nominal + high, shares)


def _shift_mm(old: ToothPair, new: ToothPair, usual: Mapping[str, float], moved: Mapping[str, float]) -> float:
    value = {**usual, **moved}
    return _toe_tip_mm("old", old, value) - _toe_tip_mm("new", new, value) + value["model"]


def _toe_tip_mm(side: str, pair: ToothPair, value: Mapping[str, float]) -> float:
    own = {name.partition(".")[2]: v for name, v in value.items() if name.startswith(f"{side}.")}
    design = GearDesign(
        pair=pair,
        ring_diameter_mm=value["ring"],
        offset_mm=value["offset"],
        face_width_mm=own["face_width"],
        pinion_spiral=own["pinion_spiral"],
        cutter_radius_mm=own["cutter_radius"],
        depth_factor=own["depth_factor"],
        addendum_factor=own["addendum_factor"],
        clearance_factor=own["clearance_factor"],
        toe_end_angle=own["toe_end_angle"],
        toe_chamfer_mm=own["toe_chamfer"],
        tip_chamfer_mm=own["tip_chamfer"],
    )
    return blanks(design).ring.toe_tip_height_mm
