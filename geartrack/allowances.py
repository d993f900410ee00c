"""How setting, runout and load move the ring against the boss, as shifts of its section (DESIGN 5)."""

from __future__ import annotations

import math

import numpy as np

from geartrack.frame import Array
from geartrack.gearset.pitch import PitchCones, Real
from geartrack.section import Section

PRESSURE_ANGLE = math.radians(20.0)  # of both flanks: usual 19 to 22.5 deg, from memory; the least travels furthest


def backlash_factor(
    pitch: PitchCones, drive_angle: float = PRESSURE_ANGLE, coast_angle: float = PRESSURE_ANGLE
) -> Real:
    """How far the ring moves along its axis for a change of backlash, dz/dj [mm/mm].

    Backlash j is circumferential at the ring's mean pitch radius; more of it moves the ring away from the boss (+Z).
    dz = dj cos bm2 / (sin d2 (tan aD + tan aC)), DESIGN 5. A cross-check from the trade is 1.3 to 2.0.
    drive_angle, coast_angle: pressure angles of the two flanks [rad].
    """
    flanks = math.tan(drive_angle) + math.tan(coast_angle)
    return np.cos(pitch.ring_spiral) / (np.sin(pitch.ring_angle) * flanks)


def pinion_factor(pitch: PitchCones) -> Real:
    """How far the ring moves along its axis for the pinion moved toward the ring axis, backlash re-set, dz/dp [mm/mm].

    dz = +dp sin d1 / sin d2, away from the boss (+Z), DESIGN 5: both cones keep touching at the mean point.
    """
    return np.sin(pitch.pinion_angle) / np.sin(pitch.ring_angle)


def with_radial_runout(section: Section, tir_mm: float) -> Section:
    """Where a ring that runs out radially comes over a turn: TIR/2 in and out, the worst phase (DESIGN 5).

    tir_mm: total reading on the outside diameter [mm]. The section is stretched to both sides, as its sum with a level
    line of that length; exact below its highest corners, where the boss is. One-sided: never a random phase.
    """
    lowest = int(section.points[:, 1].argmin())
    edges = (*section.edges[:lowest], section.edges[lowest], *section.edges[lowest:])
    return Section(radial_corners(section.points, tir_mm), edges, section.name)


def radial_corners(corners: Array, tir_mm: Real) -> Array:
    """Corners (..., k + 1, 2) [mm] of sections stretched as `with_radial_runout` does, the lowest corner split in two.

    corners: (..., k, 2), counter-clockwise [mm]; tir_mm: a float or (...) [mm].
    """
    z = corners[..., 1]
    rising = np.sign(np.roll(z, -1, axis=-1) - z)
    side = np.sign(rising + np.roll(rising, 1, axis=-1))
    lowest = z.argmin(axis=-1)[..., None]
    place = np.arange(corners.shape[-2] + 1)
    source = place - (place > lowest)
    side = np.take_along_axis(side, source, axis=-1)
    side = np.where(place == lowest, -1.0, np.where(place == lowest + 1, 1.0, side))
    moved: Array = np.take_along_axis(corners, source[..., None], axis=-2)
    moved[..., 0] = np.maximum(moved[..., 0] + side * np.expand_dims(np.asarray(tir_mm) / 2, -1), 0.0)
    return moved


def with_runout(section: Section, tir_mm: float) -> Section:
    """The ring where back-face runout holds it closest: tilted about its seat, worst place of the turn (DESIGN 5).

    tir_mm: total reading on the back face near its outside [mm]. Each point moves by dz = -(TIR/2) r/Rb toward the
    boss and by dr = -(TIR/2) h/Rb, h its height above the back face. One-sided: never a random phase.
    """
    return Section(runout_corners(section.points, tir_mm), section.edges, section.name)


def runout_corners(corners: Array, tir_mm: Real) -> Array:
    """Corners (..., k, 2) [mm] of sections moved as `with_runout` moves them, tir_mm a float or (...) [mm]."""
    r, z = corners[..., 0], corners[..., 1]
    tilt = np.expand_dims(tir_mm / (2 * r.max(axis=-1)), -1)
    moved: Array = np.stack([r - tilt * (z.max(axis=-1, keepdims=True) - z), z - tilt * r], axis=-1)
    return moved
