"""The ring: its tip and root cones, and its section (DESIGN 2.3). Corners broadcast; a Section is one design's."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from geartrack.gearset.depth import ToothDepth
from geartrack.gearset.pitch import PitchCones, Real
from geartrack.section import Section

EDGES = ("toe chamfer", "tooth tips", "heel", "outside", "back face", "bore", "inner face", "toe")
# An estimated ring's hidden metal: marked default wherever it is shown, and on the heavy side, from memory. It lies
# behind the roots, where a boss is reached only after the teeth.
BACKING_OF_DEPTH = 1.0  # metal behind the roots at the heel, in whole depths there
BORE_OF_DIAMETER = 0.62  # bore over ring diameter, but never more than 0.95 of the toe roots' circle


@dataclass(frozen=True)
class RingBlank:
    """The ring's tip and root cones, its corners, and its section.

    tip_angle, root_angle: of the two cones, from the ring axis [rad]; apexes: z where they meet the ring axis. Heights
    are z, above the pinion axis; radii are from the ring axis. The toe tip is the toe's point nearest to the pinion's
    height (least z), which a chamfer moves; the toe radius is where the toe end meets the tips or the chamfer.
    """

    tip_angle: float
    root_angle: float
    tip_apex_z_mm: float
    root_apex_z_mm: float
    toe_tip_height_mm: float
    toe_radius_mm: float
    heel_tip_height_mm: float
    heel_radius_mm: float
    back_face_height_mm: float
    whole_depth_toe_mm: float
    whole_depth_heel_mm: float
    section: Section

    @property
    def tooth_height_difference_mm(self) -> float:
        """How much nearer the pinion the teeth stand at the toe than at the heel [mm]."""
        return self.heel_tip_height_mm - self.toe_tip_height_mm


def tip_cone(cones: PitchCones, depth: ToothDepth) -> tuple[Real, Real]:
    """The ring's tip cone: angle [rad] and apex z [mm]."""
    return _cone(cones, cones.ring_angle + depth.ring_addendum_angle, depth.ring_addendum_mm)


def root_cone(cones: PitchCones, depth: ToothDepth) -> tuple[Real, Real]:
    """The ring's root cone: angle [rad] and apex z [mm]."""
    return _cone(cones, cones.ring_angle - depth.ring_dedendum_angle, -depth.ring_dedendum_mm)


def _cone(cones: PitchCones, angle: Real, height: Real) -> tuple[Real, Real]:
    r = cones.ring_mean_radius_mm + height * np.cos(cones.ring_angle)
    z = cones.mean_point_height_mm - height * np.sin(cones.ring_angle)
    return angle, z - r / np.tan(angle)


def face_split(cones: PitchCones, *, ring_diameter_mm: Real, face_width_mm: Real) -> tuple[Real, Real]:
    """Face width outside and inside the mean point, along the ring's pitch cone [mm]."""
    outside = ring_diameter_mm / (2 * np.sin(cones.ring_angle)) - cones.ring_cone_distance_mm
    return outside, face_width_mm - outside


def end_line_on_cone(
    mean: tuple[Real, Real], pitch_angle: Real, along: Real, tilt: Real, cone: tuple[Real, Real]
) -> tuple[Real, Real]:
    """Where the end of a tooth meets a cone, in the meridian plane (radius, axial) of ring or pinion [mm].

    pitch_angle: of the pitch cone [rad]. The end is a line through the pitch cone's point `along` [mm] outward from the
    mean point, normal to the pitch cone and turned by `tilt` [rad] (positive: toward parallel to the axis). cone: angle
    [rad], apex on the axis [mm].
    """
    r = mean[0] + along * np.sin(pitch_angle)
    a = mean[1] + along * np.cos(pitch_angle)
    dr, da = np.cos(pitch_angle + tilt), -np.sin(pitch_angle + tilt)
    t = np.tan(cone[0])
    height = ((a - cone[1]) * t - r) / (dr - da * t)
    return r + height * dr, a + height * da


def ring_corners(
    cones: PitchCones,
    depth: ToothDepth,
    *,
    ring_diameter_mm: Real,
    face_width_mm: Real,
    toe_end_angle: Real = 0.0,
    toe_chamfer_mm: Real = 0.0,
    tip_chamfer_mm: Real = 0.0,
) -> NDArray[np.float64]:
    """The section's corners (..., 8, 2) in (r, z) [mm], edge i (EDGES) from corner i to i + 1.

    toe_end_angle: turn of the toe end about the pitch cone, toward a cylinder about the ring axis [rad].
    toe_chamfer_mm: legs of an equal-legged chamfer at the toe corner. tip_chamfer_mm: height taken off the tooth tips
    over the whole face. Both lift the gap, so 0 is the careful value.
    """
    mean = cones.ring_mean_radius_mm, cones.mean_point_height_mm
    d2 = cones.ring_angle
    outside, inside = face_split(cones, ring_diameter_mm=ring_diameter_mm, face_width_mm=face_width_mm)
    tip = _cone(cones, d2 + depth.ring_addendum_angle, depth.ring_addendum_mm - tip_chamfer_mm)
    root = root_cone(cones, depth)
    toe = end_line_on_cone(mean, d2, -inside, toe_end_angle, tip)
    toe_foot = end_line_on_cone(mean, d2, -inside, toe_end_angle, root)
    heel = end_line_on_cone(mean, d2, outside, 0.0, tip)
    heel_foot = end_line_on_cone(mean, d2, outside, 0.0, root)
    down = d2 + toe_end_angle
    toe_end = toe[0] - toe_chamfer_mm * np.cos(down), toe[1] + toe_chamfer_mm * np.sin(down)
    toe_tip = toe[0] + toe_chamfer_mm * np.sin(tip[0]), toe[1] + toe_chamfer_mm * np.cos(tip[0])
    back = heel_foot[1] + BACKING_OF_DEPTH * np.hypot(heel[0] - heel_foot[0], heel[1] - heel_foot[1])
    bore = np.minimum(BORE_OF_DIAMETER * ring_diameter_mm / 2, 0.95 * toe_foot[0])
    corners = (
        toe_end,
        toe_tip,
        heel,
        heel_foot,
        (heel_foot[0], back),
        (bore, back),
        (bore, toe_foot[1]),
        toe_foot,
    )
    values = np.broadcast_arrays(*(v for corner in corners for v in corner))
    flat = np.stack(values, axis=-1)
    return flat.reshape((*flat.shape[:-1], len(EDGES), 2))


def section_of(corners: NDArray[np.float64]) -> Section:
    """One design's corners (8, 2) [mm] as a Section; edges of no length (a chamfer of 0) are left out."""
    long = np.hypot(*(np.roll(corners, -1, axis=0) - corners).T) > 0
    return Section(corners[long], tuple(e for e, keep in zip(EDGES, long, strict=True) if keep), "ring")


def ring_blank(cones: PitchCones, depth: ToothDepth, **shape: Any) -> RingBlank:
    """The ring of one design; `shape` as for ring_corners."""
    corners = ring_corners(cones, depth, **shape)
    toe_end, toe_tip, heel, _, (_, back), *_ = corners.tolist()
    tip, root = tip_cone(cones, depth), root_cone(cones, depth)
    outside, inside = face_split(
        cones, ring_diameter_mm=shape["ring_diameter_mm"], face_width_mm=shape["face_width_mm"]
    )
    fall = np.tan(depth.ring_addendum_angle) + np.tan(depth.ring_dedendum_angle)
    topped = shape.get("tip_chamfer_mm", 0.0)
    return RingBlank(
        tip_angle=float(tip[0]),
        root_angle=float(root[0]),
        tip_apex_z_mm=float(tip[1]),
        root_apex_z_mm=float(root[1]),
        toe_tip_height_mm=toe_tip[1],
        toe_radius_mm=toe_end[0],
        heel_tip_height_mm=heel[1],
        heel_radius_mm=heel[0],
        back_face_height_mm=back,
        whole_depth_toe_mm=float(depth.whole_mm - inside * fall) - topped,
        whole_depth_heel_mm=float(depth.whole_mm + outside * fall) - topped,
        section=section_of(corners),
    )
