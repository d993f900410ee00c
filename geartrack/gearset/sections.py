"""Many rings at once: the whole chain from the inputs of one tooth pair to the section's corners, without a loop.

Row i is what `blanks` and `measured_section` make of the i-th values; what they refuse is said row by row, and never
ends as a NaN.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from geartrack.errors import OutOfRangeError, refuse
from geartrack.gearset.blank import GearDesign, depth_limits
from geartrack.gearset.depth import Taper, ToothDepth, addendum_factor, depth_factor, mean_depth
from geartrack.gearset.measured import MeasuredRing, misfits, with_readings
from geartrack.gearset.pitch import BEVEL_BELOW_MM, PitchCones, bevel_cones, hypoid_start, hypoid_where, input_limits
from geartrack.gearset.ring import EDGES, ring_corners
from geartrack.gearset.teeth import ToothPair

Array = NDArray[np.float64]
_CONES = tuple(each.name for each in fields(PitchCones) if each.name != "notes")
_DEPTHS = tuple(each.name for each in fields(ToothDepth))


@dataclass(frozen=True, eq=False)
class DrawnRings:
    """Rings of n designs of one tooth pair.

    design: with (n,) arrays in place of what was drawn. pitch, depth: with (n,) arrays.
    corners: (n, 8, 2) in (r, z) [mm], edge i (ring.EDGES) from corner i to i + 1; a chamfer of 0 leaves an edge of no
    length. refused: (n,) words [-], "" where nothing was wrong; such rows hold another row.
    """

    design: GearDesign
    pitch: PitchCones
    depth: ToothDepth
    corners: Array
    refused: NDArray[np.str_]

    @property
    def toe_tip_height_mm(self) -> Array:
        """Where the pitch cones put the toe tips, (n,) [mm]."""
        return self.corners[:, 1, 1]


def drawn_rings(design: GearDesign, drawn: Mapping[str, Array]) -> DrawnRings:
    """The ring of each of n designs: `design` with fields (n,) put in their place.

    drawn: by name of GearDesign's fields, in their units [any]. Depths from factors at the mean point only. Raises
    OutOfRangeError where not one of them makes a ring.
    """
    n = len(next(iter(drawn.values())))
    names = {"ring_diameter_mm", "offset_mm", "face_width_mm", "pinion_spiral", "cutter_radius_mm"}
    whole: dict[str, Any] = {name: np.broadcast_to(getattr(design, name), n).astype(float) for name in names} | dict(
        drawn
    )
    design = replace(design, **whole)
    refused = np.full(n, "", "<U60")
    sizes = design.ring_diameter_mm, design.face_width_mm, design.offset_mm
    for _, what, value, low, high, *_ in (
        *input_limits(*sizes, design.pinion_spiral, design.cutter_radius_mm),
        *depth_limits(design),
    ):
        if value is not None:
            _refuse(refused, np.logical_not((low <= value) & (value <= high)), f"{what} out of range")
    cones: dict[str, Any] = {name: np.full(n, np.nan) for name in _CONES}
    depths: dict[str, Any] = {name: np.full(n, np.nan) for name in _DEPTHS}
    hypoid = np.asarray(design.offset_mm) >= BEVEL_BELOW_MM
    for rows in (np.flatnonzero((refused == "") & each) for each in (hypoid, ~hypoid)):
        if len(rows):
            _fill(_rows(design, rows), rows, cones, depths, refused)
    made = refused == ""
    if not made.any():
        raise OutOfRangeError(refuse("gears", f"no ring can be made: {refused[0]}", "other inputs").findings[0])
    spare = int(np.argmax(made))
    for values in (*cones.values(), *depths.values()):
        values[~made] = values[spare]
    design = _rows(design, np.where(made, np.arange(n), spare))
    pitch, depth = PitchCones(**cones), ToothDepth(**depths)
    return DrawnRings(design, pitch, depth, _corners(design, pitch, depth), refused)


def measured_corners(
    rings: DrawnRings, measured: MeasuredRing, *, toe_tip_height_mm: Array
) -> tuple[Array, NDArray[np.str_]]:
    """The sections' corners (n, 8, 2) [mm] with what was read put in, and what is refused, (n,), as in DrawnRings.

    measured: readings [mm], each a float, an (n,) array or None. toe_tip_height_mm: (n,) where the toe tips run [mm].
    """
    design, refused = rings.design, rings.refused.copy()
    corners = rings.corners
    if measured.toe_chamfer_mm is not None:
        chamfered = replace(design, toe_chamfer_mm=measured.toe_chamfer_mm)
        corners = _corners(chamfered, rings.pitch, rings.depth)
    estimated = 2 * rings.corners[:, 0, 0], 2 * rings.corners[:, 2, 0]
    for what, misfit in misfits(design, measured, *estimated, rings.depth.whole_mm).items():
        _refuse(refused, misfit, what)
    corners = with_readings(corners.copy(), measured, design.pair.ring, toe_tip_height_mm)
    r, z = corners[..., 0], corners[..., 1]
    _refuse(refused, (z[:, 3] >= z[:, 4]) | (r[:, 1] >= r[:, 2]), "the readings leave no metal behind the teeth")
    turned = (r * np.roll(z, -1, axis=1) - np.roll(r, -1, axis=1) * z).sum(axis=1)
    _refuse(refused, ~((r >= 0).all(axis=1) & (turned > 0)), "the corners make no section")
    made = refused == ""
    if not made.any():
        raise OutOfRangeError(refuse("gears", f"no ring can be made: {refused[0]}", "other inputs").findings[0])
    corners[~made] = corners[np.argmax(made)]
    return corners, refused


def _refuse(refused: NDArray[np.str_], wrong: Any, what: str) -> None:
    refused[np.broadcast_to(wrong, refused.shape) & (refused == "")] = what


def _rows(design: GearDesign, rows: NDArray[np.intp]) -> GearDesign:
    """The design with these rows of each of its arrays."""
    arrays: dict[str, Any] = {
        name: value[rows] for name, value in vars(design).items() if isinstance(value, np.ndarray)
    }
    return replace(design, **arrays)


def _fill(
    design: GearDesign,
    rows: NDArray[np.intp],
    cones: dict[str, Array],
    depths: dict[str, Array],
    refused: NDArray[np.str_],
) -> None:
    """Put cones and depths of these rows, all hypoid or all bevel, in their place."""
    hypoid = bool(design.offset_mm[0] >= BEVEL_BELOW_MM)  # type: ignore[index]
    pitch, found = _cones(design, hypoid=hypoid)
    refused[rows[~found]] = "no pitch cones exist"
    if design.taper is Taper.DUPLEX:
        with np.errstate(invalid="ignore"):
            small = pitch.ring_cone_distance_mm * np.sin(pitch.ring_spiral) > design.cutter_radius_mm
        refused[rows[found & small]] = "teeth deeper at the toe by duplex taper"
        found = found & ~small
    kept = np.flatnonzero(found)
    pitch = PitchCones(**{name: getattr(pitch, name)[kept] for name in _CONES})
    depth = _depth(_rows(design, kept), pitch, hypoid=hypoid)
    for into, made in ((cones, pitch), (depths, depth)):
        for name, values in into.items():
            values[rows[kept]] = getattr(made, name)


def _cones(design: GearDesign, *, hypoid: bool) -> tuple[PitchCones, NDArray[np.bool_]]:
    ring, face = design.ring_diameter_mm, design.face_width_mm
    if not hypoid:
        cones = bevel_cones(design.pair, ring_diameter_mm=ring, face_width_mm=face, spiral=design.pinion_spiral)
        return cones, np.full(np.shape(ring), True)
    with np.errstate(invalid="ignore"):  # an offset beyond the ring's mean radius has no cones
        start = hypoid_start(
            design.pair.ratio,
            ring_diameter_mm=ring,
            face_width_mm=face,
            offset_mm=design.offset_mm,
            pinion_spiral=design.pinion_spiral,
        )
    start = type(start)(*(np.broadcast_to(v, np.shape(ring)) for v in start))
    return hypoid_where(start, design.cutter_radius_mm)


def _depth(design: GearDesign, cones: PitchCones, *, hypoid: bool) -> ToothDepth:
    pair: ToothPair = design.pair
    kd, ca = design.depth_factor, design.addendum_factor
    return mean_depth(
        cones,
        pair,
        ring_diameter_mm=design.ring_diameter_mm,
        cutter_radius_mm=design.cutter_radius_mm,
        depth_factor=depth_factor(pair, hypoid=hypoid) if kd is None else kd,
        addendum_factor=addendum_factor(pair, hypoid=hypoid) if ca is None else ca,
        clearance_factor=design.clearance_factor,
        taper=design.taper,
        pressure_angle=design.pressure_angle,
    )


def _corners(design: GearDesign, pitch: PitchCones, depth: ToothDepth) -> Array:
    corners: Array = ring_corners(
        pitch,
        depth,
        ring_diameter_mm=design.ring_diameter_mm,
        face_width_mm=design.face_width_mm,
        toe_end_angle=design.toe_end_angle,
        toe_chamfer_mm=design.toe_chamfer_mm,
        tip_chamfer_mm=design.tip_chamfer_mm,
    )
    return corners.reshape(-1, len(EDGES), 2)
