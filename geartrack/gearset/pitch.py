"""Pitch cones of a ring and pinion at a shaft angle of 90 degrees: bevel, and hypoid by ISO 23509 method 1.

Everything here broadcasts: a field is a float for one design, or an (n,) array where many are worked at once.
Angles in radians, lengths in mm. Step numbers are those of DESIGN 2.1; the chain is written from memory of the
standard, and vouched for by the invariants of DESIGN 2.2 and by the published examples under tests/validation.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal, NamedTuple

import numpy as np

from geartrack.errors import Finding, InputError, OutOfRangeError
from geartrack.gearset.roots import bracketed_root, bracketed_roots, nearest_brackets
from geartrack.gearset.teeth import ToothPair
from geartrack.tolerances import TOLERANCES

Real = Any  # a float, or an (n,) float array
BEVEL_BELOW_MM = TOLERANCES.bevel_below_mm
_ROOT = 1e-6  # an excess no larger is a root
_SEARCH = np.linspace(0.2, 2.5, 24)  # eta over its first guess; the curvature is smooth and monotone between


@dataclass(frozen=True)
class PitchCones:
    """The two pitch cones and their mean point P, in the frame of DESIGN 1 (floats, or (n,) arrays).

    pinion_angle, ring_angle: pitch angles d1, d2 [rad]; *_mean_radius_mm: r1, r2; *_cone_distance_mm: Rm1, Rm2.
    pinion_spiral, ring_spiral: mean spiral angles [rad].
    offset_angle_pitch_plane, offset_angle_axial_plane: e1', e1 [rad]; eta: P's angle about the pinion axis [rad].
    """

    offset_mm: Real
    pinion_angle: Real
    ring_angle: Real
    pinion_mean_radius_mm: Real
    ring_mean_radius_mm: Real
    pinion_cone_distance_mm: Real
    ring_cone_distance_mm: Real
    pinion_spiral: Real
    ring_spiral: Real
    offset_angle_pitch_plane: Real
    offset_angle_axial_plane: Real
    eta: Real
    notes: tuple[str, ...] = ()

    @property
    def mean_point_height_mm(self) -> Real:
        """z of P: its height above the pinion axis, toward the ring; why steep ratios crowd the boss [mm]."""
        return self.pinion_mean_radius_mm * np.cos(self.eta)

    @property
    def mean_point_x_mm(self) -> Real:
        """X of P: its distance from the ring axis along the pinion axis [mm]."""
        return self.ring_mean_radius_mm * np.cos(self.offset_angle_axial_plane)

    @property
    def ring_apex_beyond_mm(self) -> Real:
        """How far the ring's pitch apex lies beyond O, away from the teeth [mm]."""
        return self.ring_cone_distance_mm * np.cos(self.ring_angle) - self.mean_point_height_mm

    @property
    def pinion_apex_beyond_mm(self) -> Real:
        """How far the pinion's pitch apex lies beyond the ring axis, away from its head [mm]."""
        return self.pinion_cone_distance_mm * np.cos(self.pinion_angle) - self.mean_point_x_mm

    @property
    def limit_pressure_angle(self) -> Real:
        """Limit pressure angle [rad], DESIGN 2.1 step 3; 0 for a bevel set."""
        r1, r2 = self.pinion_cone_distance_mm, self.ring_cone_distance_mm
        t1, t2 = np.tan(self.pinion_angle), np.tan(self.ring_angle)
        slip = r1 * np.sin(self.pinion_spiral) - r2 * np.sin(self.ring_spiral)
        return np.arctan(-t1 * t2 / np.cos(self.offset_angle_pitch_plane) * slip / (r1 * t1 + r2 * t2))

    @property
    def limit_curvature_per_mm(self) -> Real:
        """1/rho, the limit curvature in the section normal to the tooth [1/mm], DESIGN 2.1 step 3; hypoid sets only."""
        r1, r2 = self.pinion_cone_distance_mm, self.ring_cone_distance_mm
        b1, b2 = self.pinion_spiral, self.ring_spiral
        limit = self.limit_pressure_angle
        bend = np.tan(b1) / (r1 * np.tan(self.pinion_angle)) + np.tan(b2) / (r2 * np.tan(self.ring_angle))
        reach = 1 / (r1 * np.cos(b1)) - 1 / (r2 * np.cos(b2))
        return np.cos(limit) * (reach - np.tan(limit) * bend) / (np.tan(b1) - np.tan(b2))


class Start(NamedTuple):
    """DESIGN 2.1 step 1: what stays fixed while eta is sought, and its first guess.

    ratio: u [-]; tan_spiral: tangent of the wanted pinion spiral angle [-]; ring_mean_radius_mm: r2; spiral_ratio: K
    [-]; first_pinion_radius_mm: rn; eta: first guess of the mean point's angle about the pinion axis [rad].
    """

    ratio: Real
    offset_mm: Real
    tan_spiral: Real
    ring_mean_radius_mm: Real
    spiral_ratio: Real
    first_pinion_radius_mm: Real
    eta: Real


def hypoid_start(
    ratio: Real, *, ring_diameter_mm: Real, face_width_mm: Real, offset_mm: Real, pinion_spiral: Real
) -> Start:
    """Step 1 of DESIGN 2.1 (the 1.2 is the standard's convention).

    ratio: u = z2/z1 [-]; pinion_spiral: the wanted mean spiral angle of the pinion [rad].
    """
    angle = np.arctan(ratio / 1.2)
    r2 = (ring_diameter_mm - face_width_mm * np.sin(angle)) / 2
    sin_e = offset_mm * np.sin(angle) / r2
    spiral_ratio = np.tan(pinion_spiral) * sin_e + np.sqrt(1 - sin_e**2)
    rn = r2 * spiral_ratio / ratio
    eta = np.arctan(offset_mm / (r2 * np.tan(angle) + rn))
    return Start(ratio, offset_mm, np.tan(pinion_spiral), r2, spiral_ratio, rn, eta)


def hypoid_cones_at(eta: Real, start: Start) -> PitchCones:
    """Step 2 of DESIGN 2.1: the cones that touch for a given eta [rad]; NaN where none do, for the caller to sort."""
    u, offset, tan_b, r2, k, rn, _ = start
    sin_e2 = (offset - rn * np.sin(eta)) / r2
    tan_e2 = sin_e2 / np.sqrt(1 - sin_e2**2)
    sin_e2p = sin_e2 * np.hypot(1, np.sin(eta) / tan_e2)  # sin e2 / cos di1
    tan_bi = (k - np.sqrt(1 - sin_e2p**2)) / sin_e2p
    dk = sin_e2p * (tan_b - tan_bi)
    dr = r2 * dk / u
    e1 = np.arcsin(sin_e2 - dr / r2 * np.sin(eta))
    d1 = np.arctan(np.sin(eta) / np.tan(e1))
    e1p = np.arcsin(np.sin(e1) / np.cos(d1))
    b1 = np.arctan((k + dk - np.cos(e1p)) / np.sin(e1p))
    d2 = np.arctan(np.sin(e1) / np.tan(eta))
    r1 = rn + dr
    return PitchCones(offset, d1, d2, r1, r2, r1 / np.sin(d1), r2 / np.sin(d2), b1, b1 - e1p, e1p, e1, eta)


def bevel_cones(pair: ToothPair, *, ring_diameter_mm: Real, face_width_mm: Real, spiral: Real = 0.0) -> PitchCones:
    """Pitch cones without offset; ring_diameter_mm is the outer pitch diameter, spiral the mean spiral angle [rad]."""
    ratio = pair.ratio
    d2 = np.arctan(ratio) + 0 * ring_diameter_mm
    r2 = (ring_diameter_mm - face_width_mm * np.sin(d2)) / 2
    d1, distance, zero = np.pi / 2 - d2, r2 / np.sin(d2), 0 * r2
    return PitchCones(zero, d1, d2, r2 / ratio, r2, distance, distance, spiral + zero, spiral + zero, zero, zero, zero)


def hypoid_cones(
    pair: ToothPair,
    *,
    ring_diameter_mm: Real,
    face_width_mm: Real,
    offset_mm: Real,
    pinion_spiral: Real,
    cutter_radius_mm: Real,
    stop: Literal["exact", "standard"] = "exact",
) -> PitchCones:
    """Hypoid pitch cones whose limit curvature radius is the cutter radius (DESIGN 2.1 step 4).

    Inputs are floats, or arrays that broadcast to (n,): then the fields of the result are arrays.
    ring_diameter_mm: outer pitch diameter; pinion_spiral: the pinion's wanted mean spiral angle [rad].
    stop: "exact" solves to 1e-12 relative; "standard" stops as the standard does, once within 1 % of the cutter radius
        (from memory; the standard leaves the stepping open, here secant steps from the first guess).

    Raises OutOfRangeError where no pitch cones exist. Several solutions: the nearest to the first guess, said in notes.
    """
    with np.errstate(invalid="ignore"):  # an offset beyond the ring's mean radius is refused below
        start = hypoid_start(
            pair.ratio,
            ring_diameter_mm=ring_diameter_mm,
            face_width_mm=face_width_mm,
            offset_mm=offset_mm,
            pinion_spiral=pinion_spiral,
        )
    shape = np.broadcast_shapes(*(np.shape(v) for v in (*start, cutter_radius_mm)))
    flat = Start(*(np.broadcast_to(v, shape).reshape(-1).astype(float) for v in start))
    cutter = np.broadcast_to(cutter_radius_mm, shape).reshape(-1).astype(float)

    notes: tuple[str, ...] = ()
    with np.errstate(invalid="ignore", divide="ignore"):
        if stop == "standard":
            eta = _stepped(flat, cutter)
        else:
            eta, notes = _solved(flat, cutter)
        found = hypoid_cones_at(eta, flat)
    fields = {
        name: float(value[0]) if shape == () else np.reshape(value, shape)
        for name, value in vars(found).items()
        if name != "notes"
    }
    return PitchCones(**fields, notes=notes)


def pitch_cones(
    pair: ToothPair,
    *,
    ring_diameter_mm: float,
    face_width_mm: float,
    offset_mm: float,
    pinion_spiral: float,
    cutter_radius_mm: float,
    stop: Literal["exact", "standard"] = "exact",
) -> PitchCones:
    """Bevel or hypoid pitch cones, by the offset; an offset under 0.5 mm is worked as a bevel set, with a note.

    Arguments as for hypoid_cones; pinion_spiral: mean spiral angle [rad], of both members in a bevel set.
    Raises InputError with every fault of the inputs, OutOfRangeError where no pitch cones exist.
    """
    _check_inputs(ring_diameter_mm, face_width_mm, offset_mm, pinion_spiral, cutter_radius_mm)
    if offset_mm >= BEVEL_BELOW_MM:
        return hypoid_cones(
            pair,
            ring_diameter_mm=ring_diameter_mm,
            face_width_mm=face_width_mm,
            offset_mm=offset_mm,
            pinion_spiral=pinion_spiral,
            cutter_radius_mm=cutter_radius_mm,
            stop=stop,
        )
    cones = bevel_cones(pair, ring_diameter_mm=ring_diameter_mm, face_width_mm=face_width_mm, spiral=pinion_spiral)
    if offset_mm == 0:
        return cones
    note = f"offset {offset_mm:.2f} mm is under {BEVEL_BELOW_MM} mm: worked as a bevel set without offset"
    return PitchCones(**{**vars(cones), "notes": (note,)})


def _excess(eta: Real, cutter: Real, *start: Real) -> Real:
    """Cutter radius over limit curvature radius, less one; its root is the eta that is sought."""
    return cutter * hypoid_cones_at(eta, Start(*start)).limit_curvature_per_mm - 1


def _over_the_search(start: Start, cutter: Any) -> tuple[Any, Any]:
    """Places (n, k) where eta is looked for, and the excess there."""
    grid = start.eta[:, None] * _SEARCH
    return grid, _excess(grid, cutter[:, None], *(v[:, None] for v in start))


def hypoid_where(start: Start, cutter: Any) -> tuple[PitchCones, Any]:
    """Hypoid cones for many starts and cutter radii (n,) [mm], and for which (n,) there are any; NaN where not."""
    with np.errstate(invalid="ignore", divide="ignore"):
        grid, values = _over_the_search(start, cutter)
        low, high, count = nearest_brackets(grid, values, start.eta)
        rows = np.flatnonzero(count)
        eta = np.full(len(cutter), np.nan)
        if len(rows):
            args = cutter[rows], *(v[rows] for v in start)
            found, success = bracketed_roots(_excess, low[rows], high[rows], args)
            success &= np.abs(_excess(found, *args)) < _ROOT  # a sign change may be no root
            eta[rows] = np.where(success, found, np.nan)
        return hypoid_cones_at(eta, start), np.isfinite(eta)


def _solved(start: Start, cutter: Any) -> tuple[Any, tuple[str, ...]]:
    grid, values = _over_the_search(start, cutter)
    low, high, count = nearest_brackets(grid, values, start.eta)
    if not count.all():
        raise _no_cones(start, cutter, values, int(np.argmin(count)))
    eta = bracketed_root(_excess, low, high, (cutter, *start))
    jump = ~(np.abs(_excess(eta, cutter, *start)) < _ROOT)  # a sign change that is no root
    if jump.any():
        raise _no_cones(start, cutter, values, int(np.argmax(jump)))
    several = int(count.max())
    note = f"{several} pitch-cone solutions exist for these inputs; the one nearest to the usual start was taken"
    return eta, (note,) if several > 1 else ()


def _stepped(start: Start, cutter: Any) -> Any:
    old, eta = start.eta, 1.1 * start.eta
    f_old, f = _excess(old, cutter, *start), _excess(eta, cutter, *start)
    found = np.where(_within_a_percent(f_old), old, np.nan)
    for _ in range(50):
        found = np.where(np.isnan(found) & _within_a_percent(f), eta, found)
        if np.isfinite(found).all():
            return found
        old, f_old, eta = eta, f, eta - f * (eta - old) / (f - f_old)
        f = _excess(eta, cutter, *start)
    raise _no_cones(start, cutter, _over_the_search(start, cutter)[1], int(np.isnan(found).argmax()))


def _within_a_percent(excess: Any) -> Any:
    return np.abs(1 / (excess + 1) - 1) <= 0.01


def _no_cones(start: Start, cutter: Any, values: Any, i: int) -> OutOfRangeError:
    offset, ring = start.offset_mm[i], 2 * start.ring_mean_radius_mm[i]
    curvature = (values[i][np.isfinite(values[i])] + 1) / cutter[i]
    if not curvature.size:
        return OutOfRangeError(
            Finding(
                "gears.offset",
                f"no pitch cones exist for an offset of {offset:.1f} mm on a ring of mean diameter {ring:.1f} mm",
                "a smaller offset, or a ring size that fits it; usual is up to a quarter of the ring's diameter",
            )
        )
    suits = f"a cutter radius over {1 / curvature.max():.0f} mm" if curvature.max() > 0 else "another cutter radius"
    if curvature.min() > 0:
        suits += f" and under {1 / curvature.min():.0f} mm"
    return OutOfRangeError(
        Finding(
            "gears.cutter_radius",
            f"no pitch cones suit a cutter radius of {cutter[i]:.1f} mm with offset {offset:.1f} mm and pinion spiral "
            f"{np.degrees(np.arctan(start.tan_spiral[i])):.1f} deg",
            f"{suits}, unless the spiral angle or the offset is not as typed",
        )
    )


def input_limits(
    ring: Real, face: Real, offset: Real, spiral: Real, cutter: Real
) -> tuple[tuple[str, str, Real, Real, Real, str], ...]:
    """Each input of pitch_cones with its key, its name, its value, its least, its most and their unit.

    ring, face, offset, cutter: diameter, width, offset, radius [mm]; spiral [rad].
    """
    return (
        ("gears.ring_diameter", "ring diameter", ring, 20.0, 2000.0, "mm"),
        ("gears.face_width", "face width", face, 0.02 * ring, 0.3 * ring, "mm"),
        ("gears.offset", "offset", offset, 0.0, 0.5 * ring, "mm"),
        ("gears.pinion_spiral", "pinion spiral angle", np.degrees(spiral), 0.0, 70.0, "deg"),
        ("gears.cutter_radius", "cutter radius", cutter, 0.1 * ring, 5.0 * ring, "mm"),
    )


def _check_inputs(ring: float, face: float, offset: float, spiral: float, cutter: float) -> None:
    findings = [
        Finding(where, f"{what} {value:.4g} {unit}", f"for this ring it lies between {low:.4g} and {high:.4g} {unit}")
        for where, what, value, low, high, unit in input_limits(ring, face, offset, spiral, cutter)
        if not low <= value <= high  # also false for NaN
    ]
    if findings:
        raise InputError(*findings)
