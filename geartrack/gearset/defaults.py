"""Usual values, spreads and sources for a set of which only teeth, ring size and offset are known (DESIGN 2.4)."""

from __future__ import annotations

import math

from geartrack.gearset.depth import CLEARANCE_FACTOR, addendum_factor, depth_factor, factor_notes
from geartrack.gearset.pitch import BEVEL_BELOW_MM
from geartrack.gearset.teeth import ToothPair
from geartrack.quantity import Origin, Quantity, Shape, give_or_take

MEMORY = "from memory"
CUTTER_RADII_MM = (57.15, 63.5, 76.2, 95.25, 114.3, 152.4, 203.2, 228.6)  # usual face-mill heads; from memory
MOST_SPIRAL_DEG = 50.0  # usual pinions of 8-10 in gears have 45 to 52 degrees; from memory
CUTTER_OVER_RING = 0.4  # cutter radius over ring diameter, about; from memory


def default_design(pair: ToothPair, ring_diameter_mm: float, offset_mm: float) -> dict[str, Quantity]:
    """Usual values of everything else that fixes the blanks, keyed as a job file names them [mm, rad, plain].

    Every one has Origin.DEFAULT, its 95 % limits and its source. The chamfers are one-sided, 0 being the careful value;
    limits of the cutter radius are the next heads of the usual row.
    """
    hypoid = offset_mm >= BEVEL_BELOW_MM
    factor = "extrapolated from memory" if hypoid and factor_notes(pair) else MEMORY
    return {
        "face_width": _face_width(pair, ring_diameter_mm, hypoid),
        "pinion_spiral": _pinion_spiral(pair.ratio, offset_mm / ring_diameter_mm),
        "cutter_radius": _cutter_radius(ring_diameter_mm),
        "depth_factor": _default(depth_factor(pair, hypoid=hypoid), 0.05, factor),
        "addendum_factor": _default(addendum_factor(pair, hypoid=hypoid), 0.02, factor),
        "clearance_factor": _default(CLEARANCE_FACTOR, 0.025),
        "toe_end_angle": Quantity(0.0, 0.0, math.radians(10.0), Origin.DEFAULT, MEMORY),
        "toe_chamfer": Quantity(0.0, 0.0, 1.5, Origin.DEFAULT, MEMORY),
        "tip_chamfer": Quantity(0.0, 0.0, 0.5, Origin.DEFAULT, MEMORY),
    }


def pinion_spiral_deg(ratio: float, offset_over_ring: float) -> float:
    """Usual mean spiral angle of the pinion [deg]: 25 + 5 sqrt(u) + 90 E/D; from memory, give or take 2 degrees.

    ratio: u = z2/z1 [-]; offset_over_ring: E/D [-].

    >>> round(pinion_spiral_deg(4.0, 0.2), 1)
    53.0
    """
    return 25.0 + 5.0 * math.sqrt(ratio) + 90.0 * offset_over_ring


def _pinion_spiral(ratio: float, offset_over_ring: float) -> Quantity:
    """The screening formula, held to 50 degrees: with large offsets it runs past the usual 45 to 52."""
    formula = pinion_spiral_deg(ratio, offset_over_ring)
    held = (
        f"; the screening formula gives {formula:.1f} deg, held to what is usual" if formula > MOST_SPIRAL_DEG else ""
    )
    return _default(math.radians(min(formula, MOST_SPIRAL_DEG)), math.radians(2.0), MEMORY + held)


def _default(value: float, spread: float, source: str = MEMORY) -> Quantity:
    return give_or_take(value, spread, Origin.DEFAULT, source)


def _face_width(pair: ToothPair, ring_mm: float, hypoid: bool) -> Quantity:
    """Hypoid: 0.155 ring diameters. Bevel: a third of the outer cone distance or 10 modules, the smaller."""
    if hypoid:
        return _default(0.155 * ring_mm, 0.01 * ring_mm)
    outer = ring_mm / (2 * math.sin(math.atan(pair.ratio)))
    face = min(outer / 3, 10 * ring_mm / pair.ring)
    return _default(face, 0.06 * face, "web pages, unreviewed (trade.md, sources 38 and 39)")


def _cutter_radius(ring_mm: float) -> Quantity:
    radii = (CUTTER_RADII_MM[0] * 0.8, *CUTTER_RADII_MM, CUTTER_RADII_MM[-1] * 1.25)
    i = min(range(1, len(radii) - 1), key=lambda i: abs(math.log(radii[i] / (CUTTER_OVER_RING * ring_mm))))
    return Quantity(radii[i], radii[i - 1], radii[i + 1], Origin.DEFAULT, MEMORY, Shape.UNIFORM)
