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
