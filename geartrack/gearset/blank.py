"""A gear design and its blanks: the ring and the pinion with every dimension a bench can check (DESIGN 2.3)."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np

from geartrack.errors import Finding, InputError
from geartrack.gearset.depth import (
    CLEARANCE_FACTOR,
    PRESSURE_ANGLE,
    Proportions,
    Taper,
    ToothDepth,
    addendum_factor,
    depth_factor,
    factor_notes,
    mean_depth,
    outer_depth,
)
from geartrack.gearset.pinion import PinionBlank, pinion_blank
from geartrack.gearset.pitch import BEVEL_BELOW_MM, PitchCones, pitch_cones
from geartrack.gearset.ring import RingBlank, ring_blank
from geartrack.gearset.teeth import ToothPair

ESTIMATED = "back face and bore of the ring are estimated (default): metal behind the teeth on the heavy side"


@dataclass(frozen=True)
class GearDesign:
    """What fixes the blanks of one set; geartrack.gearset.defaults gives usual values.

    pinion_spiral: the pinion's mean spiral angle [rad]. depth_factor, addendum_factor [-]: None takes the table's value
    for the pinion's teeth. pressure_angle: mean of both flanks [rad]. toe_end_angle [rad] and the chamfers: see
    geartrack.gearset.ring.ring_corners. The ring's diameter is its outer pitch diameter.
    """

    pair: ToothPair
    ring_diameter_mm: float
    offset_mm: float
    face_width_mm: float
    pinion_spiral: float
    cutter_radius_mm: float
    depth_factor: float | None = None
    addendum_factor: float | None = None
    clearance_factor: float = CLEARANCE_FACTOR
    taper: Taper = Taper.STANDARD
    proportions: Proportions = Proportions.MEAN
    pressure_angle: float = PRESSURE_ANGLE
    toe_end_angle: float = 0.0
    toe_chamfer_mm: float = 0.0
    tip_chamfer_mm: float = 0.0

    @property
    def kind(self) -> str:
        """hypoid, spiral bevel or straight bevel."""
        if self.offset_mm >= BEVEL_BELOW_MM:
            return "hypoid"
        return "spiral bevel" if self.pinion_spiral else "straight bevel"


@dataclass(frozen=True)
class GearBlanks:
    """Pitch cones, tooth depth, ring and pinion of one design, with what should be said beside them."""

    design: GearDesign
    pitch: PitchCones
    depth: ToothDepth
    ring: RingBlank
    pinion: PinionBlank
    notes: tuple[str, ...]


def blanks(design: GearDesign) -> GearBlanks:
    """Both blanks of a design, whole chain.

    Raises InputError with every fault of the inputs, OutOfRangeError where no such set exists.
    """
    _check_depth_inputs(design)
    ring_diameter, face = design.ring_diameter_mm, design.face_width_mm
    cones = pitch_cones(
        design.pair,
        ring_diameter_mm=ring_diameter,
        face_width_mm=face,
        offset_mm=design.offset_mm,
        pinion_spiral=design.pinion_spiral,
        cutter_radius_mm=design.cutter_radius_mm,
    )
    depth, depth_notes = tooth_depth(design, cones)
    ring = ring_blank(
        cones,
        depth,
        ring_diameter_mm=ring_diameter,
        face_width_mm=face,
        toe_end_angle=design.toe_end_angle,
        toe_chamfer_mm=design.toe_chamfer_mm,
        tip_chamfer_mm=design.tip_chamfer_mm,
    )
    pinion = pinion_blank(cones, depth, design.pair, ring_diameter_mm=ring_diameter, face_width_mm=face)
    notes = (*design.pair.notes, *cones.notes, *depth_notes, ESTIMATED)
    return GearBlanks(design, cones, depth, ring, pinion, notes)


def tooth_depth(design: GearDesign, cones: PitchCones) -> tuple[ToothDepth, tuple[str, ...]]:
    """The design's tooth depth on its pitch cones, and what to say beside it."""
    pair, hypoid = design.pair, design.kind == "hypoid"
    if design.proportions is not Proportions.MEAN:
        depth = outer_depth(
            cones,
            pair,
            ring_diameter_mm=design.ring_diameter_mm,
            face_width_mm=design.face_width_mm,
            proportions=design.proportions,
        )
        return depth, ()
    from_table = hypoid and (design.depth_factor is None or design.addendum_factor is None)
    kd = depth_factor(pair, hypoid=hypoid) if design.depth_factor is None else design.depth_factor
    ca = addendum_factor(pair, hypoid=hypoid) if design.addendum_factor is None else design.addendum_factor
    depth = mean_depth(
        cones,
        pair,
        ring_diameter_mm=design.ring_diameter_mm,
        cutter_radius_mm=design.cutter_radius_mm,
        depth_factor=kd,
        addendum_factor=ca,
        clearance_factor=design.clearance_factor,
        taper=design.taper,
        pressure_angle=design.pressure_angle,
    )
    return depth, factor_notes(pair) if from_table else ()


def depth_limits(design: GearDesign) -> tuple[tuple[str, str, Any, Any, Any], ...]:
    """Each input of the tooth depth and the ends with its key, its name, its value, its least and its most."""
    return (
        ("gears.depth_factor", "depth factor", design.depth_factor, 1.0, 3.0),
        ("gears.addendum_factor", "addendum factor", design.addendum_factor, 0.0, 0.9),
        ("gears.clearance_factor", "clearance factor", design.clearance_factor, 0.0, 0.5),
        ("gears.pressure_angle", "pressure angle (deg)", np.degrees(design.pressure_angle), 10.0, 30.0),
        ("gears.toe_end_angle", "toe end angle (deg)", np.degrees(design.toe_end_angle), -30.0, 45.0),
        ("gears.toe_chamfer", "toe chamfer (mm)", design.toe_chamfer_mm, 0.0, 0.25 * design.face_width_mm),
        ("gears.tip_chamfer", "tip chamfer (mm)", design.tip_chamfer_mm, 0.0, 0.1 * design.face_width_mm),
    )


def _check_depth_inputs(design: GearDesign) -> None:
    findings = [
        Finding(where, f"{what} {value:.4g}", f"between {low:.4g} and {high:.4g}")
        for where, what, value, low, high in depth_limits(design)
        if value is not None and not low <= value <= high  # also true for NaN
    ]
    if findings:
        raise InputError(*findings)


def _deg(angle: float) -> float:
    return float(np.degrees(angle))


# Dotted key -> bench name, and the value of one set of blanks [mm, deg, plain].
_TABLE: dict[str, tuple[str, Callable[[GearBlanks], float]]] = {
    "pitch.pinion_angle_deg": ("pinion pitch angle", lambda b: _deg(b.pitch.pinion_angle)),
    "pitch.ring_angle_deg": ("ring pitch angle", lambda b: _deg(b.pitch.ring_angle)),
    "pitch.pinion_mean_radius_mm": ("pinion mean pitch radius", lambda b: b.pitch.pinion_mean_radius_mm),
    "pitch.ring_mean_radius_mm": ("ring mean pitch radius", lambda b: b.pitch.ring_mean_radius_mm),
    "pitch.pinion_cone_distance_mm": ("pinion mean cone distance", lambda b: b.pitch.pinion_cone_distance_mm),
    "pitch.ring_cone_distance_mm": ("ring mean cone distance", lambda b: b.pitch.ring_cone_distance_mm),
    "pitch.pinion_spiral_deg": ("pinion spiral angle", lambda b: _deg(b.pitch.pinion_spiral)),
    "pitch.ring_spiral_deg": ("ring spiral angle", lambda b: _deg(b.pitch.ring_spiral)),
    "pitch.offset_angle_pitch_plane_deg": (
        "offset angle, pitch plane",
        lambda b: _deg(b.pitch.offset_angle_pitch_plane),
    ),
    "pitch.offset_angle_axial_plane_deg": (
        "offset angle, pinion axial plane",
        lambda b: _deg(b.pitch.offset_angle_axial_plane),
    ),
    "pitch.eta_deg": ("mean point's angle about the pinion axis", lambda b: _deg(b.pitch.eta)),
    "pitch.limit_pressure_angle_deg": ("limit pressure angle", lambda b: _deg(b.pitch.limit_pressure_angle)),
    "pitch.mean_point_height_mm": (
        "mean pitch point above the pinion's centre line",
        lambda b: b.pitch.mean_point_height_mm,
    ),
    "pitch.mean_point_x_mm": ("ring's centre line to the mean pitch point", lambda b: b.pitch.mean_point_x_mm),
    "depth.mean_normal_module_mm": ("mean normal module", lambda b: b.depth.mean_normal_module_mm),
    "depth.working_mm": ("working depth at mid face", lambda b: b.depth.working_mm),
    "depth.clearance_mm": ("tip clearance", lambda b: b.depth.clearance_mm),
    "depth.whole_mm": ("whole depth at mid face", lambda b: b.depth.whole_mm),
    "depth.whole_toe_mm": ("whole depth at the toe", lambda b: b.ring.whole_depth_toe_mm),
    "depth.whole_heel_mm": ("whole depth at the heel", lambda b: b.ring.whole_depth_heel_mm),
    "depth.ring_mean_addendum_mm": ("ring addendum at mid face", lambda b: b.depth.ring_addendum_mm),
    "depth.ring_mean_dedendum_mm": ("ring dedendum at mid face", lambda b: b.depth.ring_dedendum_mm),
    "cones.ring_tip_deg": ("ring face angle", lambda b: _deg(b.ring.tip_angle)),
    "cones.ring_root_deg": ("ring root angle", lambda b: _deg(b.ring.root_angle)),
    "cones.pinion_tip_deg": ("pinion face angle", lambda b: _deg(b.pinion.tip_angle)),
    "cones.pinion_root_deg": ("pinion root angle", lambda b: _deg(b.pinion.root_angle)),
    "ring.toe_tip_height_mm": ("toe tips above the pinion's centre line", lambda b: b.ring.toe_tip_height_mm),
    "ring.heel_tip_height_mm": ("heel tips above the pinion's centre line", lambda b: b.ring.heel_tip_height_mm),
    "ring.tooth_height_difference_mm": (
        "ring height at the toe less height at the heel",
        lambda b: b.ring.tooth_height_difference_mm,
    ),
    "ring.toe_height_mm": (
        "ring height at the toe, back face to tip (estimated)",
        lambda b: b.ring.back_face_height_mm - b.ring.toe_tip_height_mm,
    ),
    "ring.heel_height_mm": (
        "ring height at the heel, back face to tip (estimated)",
        lambda b: b.ring.back_face_height_mm - b.ring.heel_tip_height_mm,
    ),
    "ring.outside_diameter_mm": ("ring outside diameter over the heel tips", lambda b: 2 * b.ring.heel_radius_mm),
    "ring.toe_inside_diameter_mm": ("ring inside diameter across the toe tips", lambda b: 2 * b.ring.toe_radius_mm),
    "pinion.head_diameter_mm": ("pinion head diameter", lambda b: 2 * b.pinion.head_radius_mm),
    "pinion.toe_diameter_mm": ("pinion diameter over the toe tips", lambda b: 2 * b.pinion.toe_radius_mm),
    "pinion.toe_root_diameter_mm": ("pinion root diameter at the toe", lambda b: 2 * b.pinion.toe_root_radius_mm),
    "pinion.heel_root_diameter_mm": ("pinion root diameter at the heel", lambda b: 2 * b.pinion.heel_root_radius_mm),
    "pinion.toe_position_mm": ("ring's centre line to the pinion's toe end", lambda b: b.pinion.toe_position_mm),
    "pinion.heel_position_mm": ("ring's centre line to the pinion's heel tips", lambda b: b.pinion.heel_position_mm),
    "pinion.face_width_mm": ("pinion face width", lambda b: b.pinion.face_width_mm),
}
bench_names: dict[str, str] = {key: name for key, (name, _) in _TABLE.items()}


def as_dict(blanks: GearBlanks) -> dict[str, dict[str, float]]:
    """Every dimension as a nested dictionary, {"ring": {"outside_diameter_mm": ...}}; bench_names has their names."""
    nested: dict[str, dict[str, float]] = {}
    for key, (_, value) in _TABLE.items():
        group, name = key.split(".")
        nested.setdefault(group, {})[name] = float(value(blanks))
    return nested
