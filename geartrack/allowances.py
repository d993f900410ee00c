"""How setting, runout and load move the ring against the boss, as shifts of its section (DESIGN 5)."""

from __future__ import annotations

import math

import numpy as np

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
    radius, seat = section.points[:, 0].max(), section.points[:, 1].max()
    tilt = tir_mm / (2 * radius)
    r, z = section.points.T
    moved = section.points.copy()
    moved[:, 0] -= tilt * (seat - z)
    moved[:, 1] -= tilt * r
    return Section(moved, section.edges, section.name)
