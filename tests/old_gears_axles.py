"""Invented axles worked with the full model, and what a bench would read of them: for the difference method's test.

Everything is drawn from the spreads that the package itself states; sources beside each figure there. The boss is a
cylinder about the pinion axis, half of the time with a flat anywhere toward the ring, sampled densely all round.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from geartrack.allowances import backlash_factor, with_runout
from geartrack.cards.difference import Readings
from geartrack.cards.old_entries import Size
from geartrack.cards.old_sums import FINAL_BACKLASH, axle_of, readings_of
from geartrack.cards.shop_list import ShopList
from geartrack.errors import GeartrackError
from geartrack.gearset.blank import GearBlanks, GearDesign, blanks
from geartrack.gearset.defaults import default_design
from geartrack.gearset.place import ADJUSTER_TRAVEL
from geartrack.gearset.teeth import ToothPair
from geartrack.inputs import MODEL, RUNOUT
from geartrack.job import TOOLS
from geartrack.quantity import Quantity, Shape
from geartrack.section import Section
from geartrack.sweep import nearest, signed_distance

OLD = [ToothPair(*p) for p in ((13, 40), (12, 41), (11, 40), (11, 41), (10, 41), (9, 37), (9, 35))]
NEW = [ToothPair(*p) for p in ((9, 41), (8, 39), (8, 41), (7, 35), (7, 36), (7, 38), (6, 35))]
CLOCKS = np.radians(np.arange(-90.0, 100.0, 0.25))
INWARD = np.array([0.0, 0.1, 0.3, 0.6, 1.0, 1.5, 2.0, 3.0, 4.0, 6.0, 8.0, 12.0, 16.0, 24.0])
AT_THE_TOE = {"toe", "toe corner", "toe chamfer", "tooth tips"}


@dataclass(frozen=True)
class Invented:
    """One axle: what its bench reads, and the gap that its new set really has [mm]."""

    said: dict
    size: Size
    truth_mm: float
    flat: bool

    def readings(self) -> Readings:
        return readings_of(self.said, axle_of(self.size, ShopList(None), None))


def off(rng: np.random.Generator, quantity: Quantity) -> float:
    """A value from a quantity's stated spread."""
    if quantity.shape is Shape.UNIFORM:
        return float(rng.uniform(quantity.low, quantity.high))
    x = rng.normal() / 1.959964
    return float(quantity.value + x * (quantity.value - quantity.low if x < 0 else quantity.high - quantity.value))


def read(rng: np.random.Generator, value: float, tool: str) -> float:
    return value + rng.normal() * TOOLS[tool].two_sigma_mm / 1.959964


def gear_set(rng: np.random.Generator, pair: ToothPair, ring: float, offset: float) -> GearBlanks:
    value = {name: off(rng, quantity) for name, quantity in default_design(pair, ring, offset).items()}
    return blanks(
        GearDesign(
            pair,
            ring,
            offset,
            value["face_width"],
            value["pinion_spiral"],
            value["cutter_radius"],
            value["depth_factor"],
            value["addendum_factor"],
            value["clearance_factor"],
            toe_end_angle=value["toe_end_angle"],
            toe_chamfer_mm=value["toe_chamfer"],
            tip_chamfer_mm=value["tip_chamfer"],
        )
    )


def boss_points(rng: np.random.Generator, ring: float, offset: float, pinion_toe: float) -> tuple[np.ndarray, bool]:
    """A boss's outside as points (n, 2) of (r, z), and whether it has a flat."""
    end, radius = pinion_toe - rng.uniform(2.0, 0.08 * ring), rng.uniform(0.10, 0.16) * ring
    out, flat = np.full(CLOCKS.shape, radius), bool(rng.uniform() < 0.5)
    if flat:
        toward = np.cos(CLOCKS - math.radians(rng.uniform(-20.0, 60.0)))
        out = np.minimum(out, rng.uniform(0.85, 0.99) * radius / np.maximum(toward, 1e-9))
    x = end - INWARD[rng.uniform(0.08, 0.14) * ring > INWARD]
    r = np.hypot(x[:, None], offset + out * np.sin(CLOCKS))
    return np.stack([r.ravel(), np.broadcast_to(out * np.cos(CLOCKS), r.shape).ravel()], axis=-1), flat


def gap_at_toe(section: Section, points: np.ndarray) -> float | None:
    """The least distance, None where it is not at the ring's toe."""
    away = signed_distance(section, points)
    at = int(away.argmin())
    return float(away[at]) if nearest(section, points[at]).zone in AT_THE_TOE else None


def across_toe(made: GearBlanks) -> float:
    """What a caliper reads across the toe ends: the diameter, or the chord pi/z off it for an odd count."""
    teeth = made.design.pair.ring
    return 2 * made.ring.toe_radius_mm * (math.cos(math.pi / (2 * teeth)) if teeth % 2 else 1.0)


def invented(rng: np.random.Generator, offset_said: bool) -> Invented:
    """An axle in which the old set clears and the new one does not run in deeper than 3 mm, both nearest at the toe."""
    while True:
        try:
            found = _invented(rng, offset_said)
        except GeartrackError:  # no such gear set exists
            continue
        if found is not None:
            return found


def _invented(rng: np.random.Generator, offset_said: bool) -> Invented | None:
    ring = rng.uniform(190.0, 290.0)
    offset = rng.uniform(0.11, 0.25) * ring
    old, new = (gear_set(rng, pairs[rng.integers(len(pairs))], ring, offset) for pairs in (OLD, NEW))
    if new.design.pair.ratio <= old.design.pair.ratio:
        return None
    points, flat = boss_points(rng, ring, offset, min(old.pinion.toe_position_mm, new.pinion.toe_position_mm))
    heights = [each.ring.toe_tip_height_mm + off(rng, MODEL) for each in (old, new)]  # at the usual backlash
    then, final = rng.uniform(0.1, 0.35), off(rng, FINAL_BACKLASH)
    gaps = []
    for made, height, backlash in zip((old, new), heights, (then, final), strict=True):
        back = backlash_factor(made.pitch) * (backlash - FINAL_BACKLASH.value)
        section = made.ring.section.moved(dz_mm=height + back - made.ring.toe_tip_height_mm)
        gaps.append(gap_at_toe(with_runout(section, off(rng, RUNOUT)), points))
    if None in gaps or not 0.3 < gaps[0] < min(9.0, old.ring.whole_depth_heel_mm) or gaps[1] < -3.0:
        return None
    thick = old.ring.back_face_height_mm - old.ring.toe_tip_height_mm + rng.normal()
    thin = heights[0] + thick + off(rng, ADJUSTER_TRAVEL) - heights[1]  # where the back face runs
    tool = ("feeler", "solder", "clay")[rng.integers(3)]
    said = {
        "old_teeth": old.design.pair,
        "new_teeth": new.design.pair,
        "gap": (read(rng, gaps[0], tool), tool),
        "backlash": read(rng, then, "dial"),
        "old_height": read(rng, thick, "caliper"),
        "new_height": read(rng, thin, "caliper"),
        "toe_diameters": tuple(read(rng, across_toe(each), "caliper") for each in (old, new)),
        "carrier": 0.0,
        "set": 0.0,
    }
    size = Size(ring * rng.uniform(1.0, 1.008), read(rng, offset, "caliper") if offset_said else None, ())
    return Invented(said, size, gaps[1], flat)
