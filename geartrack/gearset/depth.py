"""Tooth depth at the mean point, its split between ring and pinion, and how it tapers from heel to toe (DESIGN 2.3)."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from geartrack.errors import Finding, OutOfRangeError, refuse
from geartrack.gearset.pitch import PitchCones, Real
from geartrack.gearset.teeth import ToothPair

CLEARANCE_FACTOR = 0.125  # of the working depth; from memory
PRESSURE_ANGLE = float(np.radians(20.0))  # mean of both flanks; only the duplex taper asks for it

# From memory (shared/depth_factors.csv, held to it by a test): pinion teeth -> depth factor, and the ring's addendum
# as a part of the working depth: constant + per_u2 / ratio^2. 12 stands for 12 and more; 5 is extrapolated.
_HYPOID = {
    5: (1.700, 0.090, 0.0),
    6: (1.765, 0.110, 0.0),
    7: (1.835, 0.130, 0.0),
    8: (1.895, 0.150, 0.0),
    9: (1.940, 0.170, 0.0),
    10: (1.975, 0.190, 0.0),
    11: (1.995, 0.210, 0.0),
    12: (2.000, 0.210, 0.290),
}
# From memory (shared/depth_proportions.csv): working, whole, addendum constant, addendum per 1/u^2, in outer modules.
_OUTER_20 = {"spiral": (1.700, 1.888, 0.460, 0.390), "straight": (2.000, 2.188, 0.540, 0.460)}
_BEVEL = (2.000, 0.210, 0.290)


class Taper(StrEnum):
    """How the depth changes from heel to toe."""

    STANDARD = "standard"
    DUPLEX = "duplex"
    UNIFORM = "uniform"


class Proportions(StrEnum):
    """Where the depths come from: factors at the mean point, or the 20-degree bevel proportions at the outer end."""

    MEAN = "mean factors"
    SPIRAL_20 = "20-degree spiral"
    STRAIGHT_20 = "20-degree straight"


@dataclass(frozen=True)
class ToothDepth:
    """Depths at the mean point and how they taper; floats, or (n,) arrays.

    ring_addendum_angle, ring_dedendum_angle: tip and root cone against the ring's pitch cone [rad]. The pinion's
    addendum and dedendum are those of the mean point; its tip and root angles follow from the ring's root and tip cones
    (geartrack.gearset.pinion), not from angles of its own.
    """

    mean_normal_module_mm: Real
    working_mm: Real
    clearance_mm: Real
    ring_addendum_mm: Real
    ring_addendum_angle: Real
    ring_dedendum_angle: Real

    @property
    def whole_mm(self) -> Real:
        return self.working_mm + self.clearance_mm

    @property
    def pinion_addendum_mm(self) -> Real:
        return self.working_mm - self.ring_addendum_mm

    @property
    def ring_dedendum_mm(self) -> Real:
        return self.pinion_addendum_mm + self.clearance_mm

    @property
    def pinion_dedendum_mm(self) -> Real:
        return self.ring_addendum_mm + self.clearance_mm


def depth_factor(pair: ToothPair, *, hypoid: bool) -> float:
    """Working depth over mean normal module; from memory (shared/depth_factors.csv).

    >>> depth_factor(ToothPair(8, 39), hypoid=True)
    1.895
    """
    return _row(pair)[0] if hypoid else _BEVEL[0]


def addendum_factor(pair: ToothPair, *, hypoid: bool) -> float:
    """The ring's mean addendum over the working depth; from memory (shared/depth_factors.csv).

    >>> addendum_factor(ToothPair(8, 39), hypoid=True)
    0.15
    """
    _, constant, per_u2 = _row(pair) if hypoid else _BEVEL
    return constant + per_u2 / pair.ratio**2


def factor_notes(pair: ToothPair) -> tuple[str, ...]:
    """What to say beside hypoid factors for this pair: five teeth are an extrapolation."""
    return ("depth factors for 5 pinion teeth are extrapolated, not from any table",) if pair.pinion == 5 else ()


def mean_depth(
    cones: PitchCones,
    pair: ToothPair,
    *,
    ring_diameter_mm: Real,
    cutter_radius_mm: Real,
    depth_factor: Real,
    addendum_factor: Real,
    clearance_factor: Real = CLEARANCE_FACTOR,
    taper: Taper = Taper.STANDARD,
    pressure_angle: Real = PRESSURE_ANGLE,
) -> ToothDepth:
    """Depths from factors at the mean point (DESIGN 2.3), with the taper wanted.

    ring_diameter_mm: outer pitch diameter; pressure_angle: mean of both flanks [rad]; these and the cutter radius
    matter to the duplex taper only. Raises OutOfRangeError where a duplex taper does not exist for this cutter.
    """
    module = 2 * cones.ring_mean_radius_mm * np.cos(cones.ring_spiral) / pair.ring
    working = depth_factor * module
    clearance = clearance_factor * working
    addendum = addendum_factor * working
    distance = cones.ring_cone_distance_mm
    if taper is Taper.STANDARD:  # ISO 23509, from memory: both mean dedenda, seen from the ring's mean cone distance
        tip, root = np.arctan((addendum + clearance) / distance), np.arctan((working - addendum + clearance) / distance)
    elif taper is Taper.DUPLEX:  # split as the working depth is, from memory
        total = duplex_sum(cones, pair, ring_diameter_mm, cutter_radius_mm, pressure_angle)
        tip, root = total * addendum_factor, total * (1 - addendum_factor)
    else:
        tip = root = 0 * distance
    return ToothDepth(module, working, clearance, addendum, tip, root)


def duplex_sum(
    cones: PitchCones, pair: ToothPair, ring_diameter_mm: Real, cutter_radius_mm: Real, pressure_angle: Real
) -> Real:
    """Sum of the ring's addendum and dedendum angles for duplex taper [rad]; ISO 23509, from memory.

    pressure_angle: mean of both flanks [rad]. In degrees the sum is 90 m_et (1 - Rm2 sin bm2/rc0)/(Re2 tan(alpha) cos
    bm2). Raises OutOfRangeError where the cutter is so small that the teeth would grow toward the toe.
    """
    module = ring_diameter_mm / pair.ring
    outer = ring_diameter_mm / (2 * np.sin(cones.ring_angle))
    least = cones.ring_cone_distance_mm * np.sin(cones.ring_spiral)
    if np.any(least > cutter_radius_mm):
        raise OutOfRangeError(
            Finding(
                "gears.taper",
                f"duplex taper with a cutter radius of {np.min(cutter_radius_mm):.1f} mm makes teeth deeper at the toe",
                f"a cutter radius over {np.max(least):.1f} mm, or the standard taper",
            )
        )
    degrees = 90 * module * (1 - least / cutter_radius_mm)
    return np.radians(degrees / (outer * np.tan(pressure_angle) * np.cos(cones.ring_spiral)))


def outer_depth(
    cones: PitchCones, pair: ToothPair, *, ring_diameter_mm: Real, face_width_mm: Real, proportions: Proportions
) -> ToothDepth:
    """The 20-degree bevel proportions, given at the outer end and brought to the mean point; tapered to the pitch apex.

    Source: shared/depth_proportions.csv. Bevel sets only: raises InputError for a set with offset.
    """
    if np.any(np.asarray(cones.offset_mm) != 0):
        raise refuse("gears.proportions", f"{proportions} proportions are for sets without offset", "use mean factors")
    working, whole, constant, per_u2 = _OUTER_20["spiral" if proportions is Proportions.SPIRAL_20 else "straight"]
    module, outer = ring_diameter_mm / pair.ring, ring_diameter_mm / (2 * np.sin(cones.ring_angle))
    addendum = (constant + per_u2 / pair.ratio**2) * module
    tip = np.arctan((addendum + (whole - working) * module) / outer)
    root = np.arctan((whole * module - addendum) / outer)
    half = face_width_mm / 2
    working_mean = working * module - half * (np.tan(tip) + np.tan(root))
    return ToothDepth(
        mean_normal_module_mm=2 * cones.ring_mean_radius_mm * np.cos(cones.ring_spiral) / pair.ring,
        working_mm=working_mean,
        clearance_mm=(whole - working) * module,  # the tip cone runs parallel to the mate's root cone
        ring_addendum_mm=addendum - half * np.tan(tip),
        ring_addendum_angle=tip,
        ring_dedendum_angle=root,
    )


def _row(pair: ToothPair) -> tuple[float, float, float]:
    if pair.pinion < 5:
        raise refuse("gears.teeth", f"no depth factors are known for {pair.pinion} pinion teeth", "type the factors")
    return _HYPOID[min(pair.pinion, 12)]
