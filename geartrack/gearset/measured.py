"""A ring measured on the bench: what it reads replaces the estimated section (DESIGN 2.3)."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from geartrack.errors import Finding, InputError, refuse
from geartrack.gearset.blank import GearBlanks, GearDesign
from geartrack.gearset.pitch import Real
from geartrack.gearset.ring import ring_corners, section_of
from geartrack.section import Section
from geartrack.units import show_both

Array = NDArray[np.float64]

# Readings further than this from the blank do not belong to the same ring; from memory.
FITS_OUTSIDE, FITS_ACROSS = 0.025, 0.1


@dataclass(frozen=True)
class MeasuredRing:
    """Readings of one ring [mm], or (n,) arrays; what was not read is None and stays as estimated.

    toe_height_mm, heel_height_mm: back face on a flat plate, up to the tips at the toe and at the heel.
    outside_diameter_mm: caliper over the heel tips, the largest reading. toe_inside_diameter_mm: caliper across the toe
        ends, just below the tips (or below their chamfer). Both as read: an odd tooth count is put right here.
    bore_diameter_mm: bore of the ring. toe_chamfer_mm: legs of the chamfer at the toe, None as in the design.
    """

    toe_height_mm: Real | None = None
    heel_height_mm: Real | None = None
    outside_diameter_mm: Real | None = None
    toe_inside_diameter_mm: Real | None = None
    bore_diameter_mm: Real | None = None
    toe_chamfer_mm: Real | None = None


def true_diameter(reading_mm: Real, teeth: int) -> Real:
    """The circle's diameter from a caliper reading over (or across) tooth tips [mm].

    With an even count the tips lie opposite each other and the reading is the diameter. With an odd count the nearest
    to opposite lies pi/z aside, so the reading is a chord: D = reading / cos(pi/(2 z)). Tips are taken as points; a tip
    as wide as a land reads a little less short, so the result is never too small.

    >>> round(true_diameter(239.805, 39), 3)
    240.0
    """
    return reading_mm if teeth % 2 == 0 else reading_mm / math.cos(math.pi / (2 * teeth))


def measured_section(blanks: GearBlanks, measured: MeasuredRing, *, toe_tip_height_mm: float) -> Section:
    """The ring's section with what was read put in, its toe tips at z = toe_tip_height_mm [mm].

    Heights and diameters fix the shape; where the teeth run is `toe_tip_height_mm` alone (geartrack.gearset.place).
    Raises InputError where the readings cannot belong to one ring.
    """
    _check(blanks, measured)
    design, teeth = blanks.design, blanks.design.pair.ring
    chamfer = design.toe_chamfer_mm if measured.toe_chamfer_mm is None else measured.toe_chamfer_mm
    corners = ring_corners(
        blanks.pitch,
        blanks.depth,
        ring_diameter_mm=design.ring_diameter_mm,
        face_width_mm=design.face_width_mm,
        toe_end_angle=design.toe_end_angle,
        toe_chamfer_mm=chamfer,
        tip_chamfer_mm=design.tip_chamfer_mm,
    )
    corners = with_readings(corners, measured, teeth, toe_tip_height_mm)
    if corners[3, 1] >= corners[4, 1] or corners[1, 0] >= corners[2, 0]:
        right = f"these teeth are {show_both(blanks.ring.whole_depth_heel_mm, 'in')} deep at the heel"
        raise refuse("gears.measured", "the readings leave no metal behind the teeth", right)
    return section_of(corners)


def with_readings(corners: Array, measured: MeasuredRing, teeth: int, toe_tip_height_mm: Real) -> Array:
    """The section's corners (..., 8, 2) [mm] with readings put in: floats, or arrays (...) that go with them.

    Changes `corners` and returns them. toe_tip_height_mm: where the toe tips run [mm].
    """
    toe, heel, back, bore = [0, 1, 7], [2, 3, 4], [4, 5], [5, 6]
    r, z = corners[..., 0], corners[..., 1]
    z += np.expand_dims(toe_tip_height_mm - z[..., 1], -1)
    seat = None if measured.toe_height_mm is None else toe_tip_height_mm + measured.toe_height_mm
    if measured.toe_inside_diameter_mm is not None:
        r[..., toe] += np.expand_dims(true_diameter(measured.toe_inside_diameter_mm, teeth) / 2 - r[..., 0], -1)
    if measured.outside_diameter_mm is not None:
        r[..., heel] += np.expand_dims(true_diameter(measured.outside_diameter_mm, teeth) / 2 - r[..., 2], -1)
    if seat is not None:
        z[..., back] = np.expand_dims(seat, -1)
    if measured.heel_height_mm is not None and seat is not None:
        z[..., [2, 3]] += np.expand_dims(seat - measured.heel_height_mm - z[..., 2], -1)
    elif measured.heel_height_mm is not None:
        z[..., back] = np.expand_dims(z[..., 2] + measured.heel_height_mm, -1)
    if measured.bore_diameter_mm is not None:
        r[..., bore] = np.expand_dims(measured.bore_diameter_mm / 2, -1)
    r[..., bore] = np.minimum(r[..., bore], 0.999 * r[..., [7]])
    z[..., 6] = z[..., 7]
    return corners


def _check(blanks: GearBlanks, measured: MeasuredRing) -> None:
    design = blanks.design
    ring = design.ring_diameter_mm
    where = "gears.measured."
    toe, heel = measured.toe_height_mm, measured.heel_height_mm
    outside, inside = measured.outside_diameter_mm, measured.toe_inside_diameter_mm
    estimated = 2 * blanks.ring.toe_radius_mm
    findings = []
    if toe is not None and heel is not None and toe <= heel:
        what = f"{show_both(heel, 'in')} at the heel is not less than {show_both(toe, 'in')} at the toe"
        findings.append(
            Finding(where + "heel_height", what, "the teeth stand highest at the toe; are the two swapped?")
        )
    over = 2 * blanks.ring.heel_radius_mm
    if outside is not None and not (1 - FITS_OUTSIDE) * over <= outside <= (1 + FITS_OUTSIDE) * over:
        right = f"about {show_both(over, 'in')} on a ring of {show_both(ring, 'in')}; read it again"
        findings.append(Finding(where + "outside_diameter", f"{show_both(outside, 'in')} over the heel", right))
    if inside is not None and not 0.85 * estimated <= inside <= 1.15 * estimated:
        right = f"about {show_both(estimated, 'in')} for this ring and face width"
        findings.append(Finding(where + "toe_inside_diameter", f"{show_both(inside, 'in')} across the toe tips", right))
    bore = measured.bore_diameter_mm
    if bore is not None and not 0 < bore < estimated:
        right = f"less than across the toe tips, {show_both(estimated, 'in')}"
        findings.append(Finding(where + "bore_diameter", f"a bore of {bore:.1f} mm", right))
    if outside is not None and inside is not None and not findings:
        across, usual = (outside - inside) / 2, blanks.ring.heel_radius_mm - blanks.ring.toe_radius_mm
        if not (1 - FITS_ACROSS) * usual <= across <= (1 + FITS_ACROSS) * usual:
            what = f"{show_both(across, 'in')} from the toe tips to the outside"
            right = f"about {show_both(usual, 'in')} for this face width; read both diameters again"
            findings.append(Finding(where + "toe_inside_diameter", what, right))
    thick = design.face_width_mm + ring / 4
    for name, height in (("toe_height", toe), ("heel_height", heel)):
        if height is not None and not blanks.depth.whole_mm < height < thick:
            right = f"between one tooth depth and {show_both(thick, 'in')}, from the back face to the tooth tips"
            findings.append(Finding(where + name, show_both(height, "in"), right))
    if findings:
        raise InputError(*findings)


def misfits(
    design: GearDesign, measured: MeasuredRing, toe_mm: Real, heel_mm: Real, whole_mm: Real
) -> dict[str, NDArray[np.bool_]]:
    """Where readings (n,) cannot belong to the ring they are put on, by what is wrong: as `measured_section` refuses.

    toe_mm, heel_mm: the estimated diameters across the toe tips and over the heel; whole_mm: the whole depth [mm].
    """
    toe, heel = measured.toe_height_mm, measured.heel_height_mm
    outside, inside, bore = measured.outside_diameter_mm, measured.toe_inside_diameter_mm, measured.bore_diameter_mm
    fits: dict[str, Any] = {}
    if toe is not None and heel is not None:
        fits["the heel stands higher than the toe"] = toe > heel
    if outside is not None:
        fits["outside diameter does not fit"] = np.abs(outside - heel_mm) <= FITS_OUTSIDE * heel_mm
    if inside is not None:
        fits["toe inside diameter does not fit"] = np.abs(inside - toe_mm) <= 0.15 * toe_mm
    if bore is not None:
        fits["bore does not fit"] = (bore > 0) & (bore < toe_mm)
    if outside is not None and inside is not None:
        usual = (heel_mm - toe_mm) / 2
        fits["diameters do not fit the face width"] = np.abs((outside - inside) / 2 - usual) <= FITS_ACROSS * usual
    thick = design.face_width_mm + design.ring_diameter_mm / 4
    for name, height in (("toe", toe), ("heel", heel)):
        if height is not None:
            fits[f"height at the {name} does not fit"] = (whole_mm < height) & (height < thick)
    return {what: ~np.asarray(each) for what, each in fits.items()}
