"""The pinion: tip and root cones from the ring's root and tip cones, and its section (DESIGN 2.3)."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from geartrack.gearset.depth import ToothDepth
from geartrack.gearset.pitch import PitchCones, Real
from geartrack.gearset.ring import face_split, root_cone, tip_cone
from geartrack.gearset.teeth import ToothPair
from geartrack.section import Section

EDGES = ("toe face", "toe", "tooth tips", "heel", "heel face", "axis")


@dataclass(frozen=True)
class PinionBlank:
    """The pinion's cones, ends and section, about the pinion axis.

    tip_angle, root_angle: of the two cones, from the pinion axis [rad]. Apexes and positions are X, from the ring axis
    toward the head; radii are from the pinion axis. The section lies in (q, X).
    """

    tip_angle: float
    root_angle: float
    tip_apex_x_mm: float
    root_apex_x_mm: float
    toe_position_mm: float
    toe_radius_mm: float
    toe_root_radius_mm: float
    heel_position_mm: float
    head_radius_mm: float
    heel_root_radius_mm: float
    face_width_mm: float
    section: Section


def tangent_cone(
    offset_mm: Real, *, mate_angle: Real, mate_apex_z_mm: Real, reach_mm: Real, clearance_mm: Real
) -> tuple[Real, Real]:
    """The pinion cone that runs clear of one of the ring's cones by the clearance: its angle [rad] and apex X [mm].

    mate_angle: of the ring's cone, from the ring axis [rad]; mate_apex_z_mm: its apex; reach_mm: the mean point's
    distance from O along that cone's side; clearance_mm: between the two cones.
    The clearance is the least distance of the two cones; it is measured along the normal that crosses both axes
    (DESIGN 2.3; ISO 23509 from memory, and held by a 3-D model in the tests).
    """
    sin_s = offset_mm * np.sin(mate_angle) / reach_mm
    sin_own = np.cos(mate_angle) * np.sqrt(1 - sin_s**2)
    apex = (clearance_mm - offset_mm * sin_s * np.cos(mate_angle) - mate_apex_z_mm * np.sin(mate_angle)) / sin_own
    return np.arcsin(sin_own), apex


def pinion_cones(cones: PitchCones, depth: ToothDepth) -> tuple[tuple[Real, Real], tuple[Real, Real]]:
    """The pinion's tip and root cones (mates of the ring's root and tip cones), each as angle [rad] and apex X [mm]."""
    return _mate(cones, depth, root_cone(cones, depth)), _mate(cones, depth, tip_cone(cones, depth))


def _mate(cones: PitchCones, depth: ToothDepth, cone: tuple[Real, Real]) -> tuple[Real, Real]:
    turned = cones.ring_angle - cone[0]
    reach = cones.ring_cone_distance_mm * np.cos(turned) - cones.ring_apex_beyond_mm * np.cos(cone[0])
    return tangent_cone(
        cones.offset_mm, mate_angle=cone[0], mate_apex_z_mm=cone[1], reach_mm=reach, clearance_mm=depth.clearance_mm
    )


def pinion_face_split(
    cones: PitchCones, depth: ToothDepth, pair: ToothPair, *, ring_diameter_mm: Real, face_width_mm: Real
) -> tuple[Real, Real]:
    """The pinion's face width outside and inside its mean point, along its pitch cone [mm].

    ISO 23509 from memory (shared/blank-formulas.md, "Pinion face"); for a bevel set it is the ring's own split, and a
    test checks that the pinion's face covers the ring's.
    """
    d1, d2, skew = cones.pinion_angle, cones.ring_angle, cones.offset_angle_pitch_plane
    outside, inside = face_split(cones, ring_diameter_mm=ring_diameter_mm, face_width_mm=face_width_mm)
    lead = np.arctan(np.sin(skew) * np.cos(d2) / (pair.ratio * np.cos(d1) + np.cos(d2) * np.cos(skew)))
    stretch = np.cos(lead) / np.cos(skew - lead)
    (tip_angle, _), _ = pinion_cones(cones, depth)
    addendum_angle = tip_angle - d1
    root_angle = root_cone(cones, depth)[0]
    reach = cones.ring_cone_distance_mm * np.cos(cones.ring_angle - root_angle)
    reach = reach - cones.ring_apex_beyond_mm * np.cos(root_angle)
    shift = depth.working_mm * cones.offset_mm * np.sin(root_angle) / reach * (1 - 1 / pair.ratio)
    per_face = stretch * np.cos(tip_angle) / np.cos(addendum_angle)
    step = depth.pinion_addendum_mm * np.sin(d1)
    axial_out = outside * per_face + shift - step
    axial_in = inside * per_face + shift + step
    return (
        np.cos(addendum_angle) * (axial_out + step) / np.cos(tip_angle),
        (axial_in - step) / (np.cos(d1) - np.tan(addendum_angle) * np.sin(d1)),
    )


def pinion_blank(
    cones: PitchCones, depth: ToothDepth, pair: ToothPair, *, ring_diameter_mm: float, face_width_mm: float
) -> PinionBlank:
    """The pinion of one design. Its ends are normal to its pitch cone, with flat faces from the roots to the axis.

    As in the published examples the ends take their height from the mean addendum and dedendum; the crown so found
    stands beside the exact tip cone by 0.01 mm in the published examples and 0.04 mm in steep sets of large offset (by
    c (1/cos(theta) - 1) without offset, tests/validation/test_iso_23509.py).
    """
    tip, root = pinion_cones(cones, depth)
    outside, inside = pinion_face_split(
        cones, depth, pair, ring_diameter_mm=ring_diameter_mm, face_width_mm=face_width_mm
    )
    d1, angle_a, angle_f = cones.pinion_angle, tip[0] - cones.pinion_angle, cones.pinion_angle - root[0]

    def end(along: float, mean_height: float, slope: float) -> tuple[float, float]:
        height = mean_height + along * np.tan(slope)
        radius = cones.pinion_mean_radius_mm + along * np.sin(d1) + height * np.cos(d1)
        return float(radius), float(cones.mean_point_x_mm + along * np.cos(d1) - height * np.sin(d1))

    toe, toe_root = (
        end(-inside, depth.pinion_addendum_mm, angle_a),
        end(-inside, -depth.pinion_dedendum_mm, -angle_f),
    )
    heel, heel_root = (
        end(outside, depth.pinion_addendum_mm, angle_a),
        end(outside, -depth.pinion_dedendum_mm, -angle_f),
    )
    points = [(0.0, toe_root[1]), toe_root, toe, heel, heel_root, (0.0, heel_root[1])]
    return PinionBlank(
        tip_angle=float(tip[0]),
        root_angle=float(root[0]),
        tip_apex_x_mm=float(tip[1]),
        root_apex_x_mm=float(root[1]),
        toe_position_mm=float(toe[1]),
        toe_radius_mm=float(toe[0]),
        toe_root_radius_mm=float(toe_root[0]),
        heel_position_mm=float(heel[1]),
        head_radius_mm=float(heel[0]),
        heel_root_radius_mm=float(heel_root[0]),
        face_width_mm=float(outside + inside),
        section=Section(np.array(points, dtype=float), EDGES, "pinion"),
    )
