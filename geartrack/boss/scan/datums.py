"""The datums of a scan: pilot bore, faces across its ends, and the ring axis through the side-bearing bores.

Found among patches of the surface by random trial (geartrack.boss.scan.find), then fitted to the scan's own points.
Which way round a triangle is wound, and how many shells there are, does not matter to any of them.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from geartrack.boss.mesh import Triangles
from geartrack.boss.scan.faces import closed_end, end_face
from geartrack.boss.scan.find import Found, find_cylinders
from geartrack.boss.scan.fits import Cylinder, Plane, fit_cylinder
from geartrack.boss.scan.picks import NONE, Picks
from geartrack.boss.scan.scene import ENOUGH, SEED, Scene, near_picks, scene
from geartrack.errors import InputError, refuse
from geartrack.frame import Array
from geartrack.units import show_both

PILOT_MM = (15.0, 120.0)  # diameters a pilot bore may have, as in a job
SIDE_MM = (30.0, 170.0)  # diameters a side-bearing bore may have, from memory
_BAND_MM, _GAP_MM, _STEP_MM = 0.6, 4.0, 0.5  # points for a fit lie so near; a bore's run ends at a gap, seen by steps
_LEAST_TURN, _LEAST_LONG_MM, _FULL, _WIDE, _HOLLOW_MM = 0.37, 4.0, 0.35, 0.03, 0.08
_ROUGH_MM = 0.22  # a bore's points lie closer about it: those that merely happen to be within _BAND_MM do not
_SQUARE_SINE, _COAXIAL_MM = 0.035, 2.5  # a ring axis leans no further, side bores agree as well as this


@dataclass(frozen=True, eq=False)
class Datums:
    """What was fitted. ends: the faces across the bore at its low and its high end along its axis, None where not seen.

    bottom: which end the bore is closed at, if any ("low", "high"); ring: the ring axis, None where not in the scan.
    """

    bore: Cylinder
    ends: tuple[Plane | None, Plane | None]
    bottom: str | None
    ring: Cylinder | None


def located(
    vertices: Array, triangles: Triangles, *, bore_diameter_mm: float | None = None, picks: Picks = NONE
) -> tuple[Scene, Datums]:
    """A scan's points and its datums, by its own vertices (n, 3) [mm] or, where they do not tell, by points drawn."""
    seen = scene(vertices, triangles)
    try:
        return seen, find_datums(seen, bore_diameter_mm=bore_diameter_mm, picks=picks)
    except InputError:
        if not seen.by_vertices:
            raise
        seen = scene(vertices, triangles, by_vertices=False)
        return seen, find_datums(seen, bore_diameter_mm=bore_diameter_mm, picks=picks)


def find_datums(seen: Scene, *, bore_diameter_mm: float | None = None, picks: Picks = NONE) -> Datums:
    """Pilot bore, end faces and ring axis of a scan. Raises InputError where there is no bore.

    bore_diameter_mm: as measured, a strong hint; None: searched for [mm].
    """
    rng = np.random.default_rng(SEED)
    bore = _bore(seen, bore_diameter_mm, picks, rng)
    ends = _end_faces(seen, bore, picks)
    return Datums(bore, ends, closed_end(seen, bore), _ring_axis(seen, bore, picks, rng))


def _end_faces(seen: Scene, bore: Cylinder, picks: Picks) -> tuple[Plane | None, Plane | None]:
    """The faces across the bore's ends; what was picked is on the nearer one."""
    low, high = bore.low_mm[0], bore.high_mm[0]
    picked = picks.get("end face")
    if picked is None:
        return end_face(seen, bore, low), end_face(seen, bore, high)
    at_low = float((picked.mean(axis=0) - bore.point) @ bore.axis) < (low + high) / 2
    return (
        end_face(seen, bore, low, picked=picked if at_low else None),
        end_face(seen, bore, high, picked=None if at_low else picked),
    )


def _bore(seen: Scene, diameter_mm: float | None, picks: Picks, rng: np.random.Generator) -> Cylinder:
    if diameter_mm is None:
        limits = PILOT_MM[0] / 2, PILOT_MM[1] / 2
    else:
        limits = 0.97 * diameter_mm / 2 - 0.3, 1.03 * diameter_mm / 2 + 0.3
    found = find_cylinders(
        seen.patches,
        rng,
        radii_mm=limits,
        seeds=near_picks(seen, picks, "bore"),
        most=12 if diameter_mm is None else 4,
    )
    found = [each for each in found if each.turn >= _LEAST_TURN]
    found = [each for each in found if each.score >= _FULL * found[0].score]
    if diameter_mm is None and "bore" not in picks:
        found.sort(key=lambda each: each.radius_mm)  # of bores one behind or round another the pilot's is the least
    fitted = (_refined(seen, each) for each in found)
    good = (bore for bore in fitted if bore is not None and _is_bore(bore, diameter_mm))
    best = next(good, None)
    if best is None:
        raise _no_bore(seen, diameter_mm, picks)
    return best


def _no_bore(seen: Scene, diameter_mm: float | None, picks: Picks) -> InputError:
    """What is said where no bore is found, or another than was measured."""
    if diameter_mm is None:
        right = "a scan with the pilot bore in it, its unit as scanned, or three points picked in the bore"
        return refuse("scan", "no pilot bore of 0.6 to 4.7 in (15 to 120 mm) is in it", right)
    what = f"no pilot bore of {show_both(diameter_mm, 'in')} is in it"
    try:
        other = show_both(2 * _bore(seen, None, picks, np.random.default_rng(SEED)).radii_mm[0], "in")
    except InputError:
        right = "a scan with the pilot bore in it, its unit as scanned, or three points picked in the bore"
        return refuse("scan", what, right)
    right = "the diameter of the bore that was scanned, and its unit as scanned"
    return refuse("scan", f"{what}, but one of {other} is", right)


def _is_bore(found: Cylinder, diameter_mm: float | None) -> bool:
    """Whether a cylinder is long and sharp enough for a bore, and as wide as was measured, if it was."""
    good = found.high_mm[0] - found.low_mm[0] >= _LEAST_LONG_MM and found.rms_mm <= _ROUGH_MM
    return good and (diameter_mm is None or abs(2 * found.radii_mm[0] - diameter_mm) <= _WIDE * diameter_mm)


def _refined(seen: Scene, found: Found) -> Cylinder | None:
    """A cylinder fitted to the scan's own points about one that was found."""
    points = _about(seen, found.point, found.axis, found.radius_mm)
    if len(points) < 12:
        return None
    fitted = fit_cylinder(points, point=found.point, axis=found.axis, radii_mm=(found.radius_mm,))
    points = _about(seen, fitted.point, fitted.axis, fitted.radii_mm[0])
    if len(points) < 12:
        return None
    fitted = fit_cylinder(points, point=fitted.point, axis=fitted.axis, radii_mm=fitted.radii_mm)
    return fitted if abs(fitted.hollow_mm) < _HOLLOW_MM else None


def _about(seen: Scene, point: Array, axis: Array, radius_mm: float) -> Array:
    """The scan's points near a cylinder, along one unbroken run about `point`."""
    for points in (seen.points, seen.vertices):
        away = points - point
        along = away @ axis
        flat2 = np.einsum("ij,ij->i", away, away) - along**2
        low, high = max(radius_mm - _BAND_MM, 0.0) ** 2, (radius_mm + _BAND_MM) ** 2
        near = (flat2 > low) & (flat2 < high) & (np.abs(along) < 3 * radius_mm + 10)
        near[near] = _run(along[near])
        if near.sum() >= ENOUGH:
            break
    chosen: Array = points[near]
    return chosen


def _run(along: Array) -> NDArray[np.bool_]:
    """Points of the unbroken run along the axis that holds 0, or comes nearest to it, (n,); strays make no run."""
    if not len(along):
        return np.zeros(0, bool)
    step = np.floor((along - along.min()) / _STEP_MM).astype(np.intp)
    counts = np.bincount(step)
    dense = np.flatnonzero(counts >= max(0.2 * np.quantile(counts[counts > 0], 0.8), 1))
    number = np.cumsum(np.diff(dense, prepend=dense[0]) * _STEP_MM > _GAP_MM)
    here = number[np.abs(along.min() + (dense + 0.5) * _STEP_MM).argmin()]
    low, high = dense[number == here][[0, -1]]
    run: NDArray[np.bool_] = (step >= low) & (step <= high)
    return run


def _ring_axis(seen: Scene, bore: Cylinder, picks: Picks, rng: np.random.Generator) -> Cylinder | None:
    """The axis that two bores share, square to the pilot bore's, one to each side of it; as picked, one will do."""
    radius, picked = bore.radii_mm[0], near_picks(seen, picks, "side bore 1", "side bore 2")
    away = seen.patches.centres - bore.point
    along = away @ bore.axis
    elsewhere = np.einsum("ij,ij->i", away, away) - along**2 > (1.5 * radius) ** 2
    found = find_cylinders(
        seen.patches.only(elsewhere),
        rng,
        radii_mm=(SIDE_MM[0] / 2, SIDE_MM[1] / 2),
        square_to=bore.axis,
        seeds=None if picked is None else picked[elsewhere],
        most=12,
    )
    found = [f for f in found if f.turn >= _LEAST_TURN and abs(float(f.axis @ bore.axis)) < _SQUARE_SINE]
    pair = _best_pair(bore, found) or _best_pair(bore, [_sharpened(seen, each) for each in found])
    if pair is not None:
        return _joint(seen, *pair)
    if picked is not None and found:
        return _refined(seen, found[0])
    return None


def _best_pair(bore: Cylinder, found: list[Found]) -> tuple[Found, Found] | None:
    pairs = [
        (one, other)
        for i, one in enumerate(found)
        for other in found[i + 1 :]
        if _coaxial(one, other) and _both_sides(bore, one, other)
    ]
    return max(pairs, key=lambda pair: pair[0].score + pair[1].score, default=None)


def _sharpened(seen: Scene, found: Found) -> Found:
    """A cylinder with its axis by the scan's points, where its patches are too few to settle it."""
    fitted = _refined(seen, found)
    if fitted is None:
        return found
    middle = fitted.point + (fitted.low_mm[0] + fitted.high_mm[0]) / 2 * fitted.axis
    return replace(found, point=middle, axis=fitted.axis, radius_mm=fitted.radii_mm[0])


def _coaxial(one: Found, other: Found) -> bool:
    away = one.point - other.point
    between = np.linalg.norm(away)
    if between < 0.5 * (one.radius_mm + other.radius_mm):
        return False
    leaning = max(np.linalg.norm(np.cross(away / between, each.axis)) for each in (one, other))
    return bool(leaning * between < _COAXIAL_MM + 0.02 * between)


def _both_sides(bore: Cylinder, one: Found, other: Found) -> bool:
    """Whether the pilot bore's axis runs between two bores, as it does between the side bearings."""
    sides = [float((each.point - bore.point) @ one.axis) for each in (one, other)]
    return sides[0] * sides[1] < 0


def _joint(seen: Scene, one: Found, other: Found) -> Cylinder | None:
    """One axis fitted to the points of two bores."""
    way = other.point - one.point
    axis = way / np.linalg.norm(way)
    sets = [_about(seen, each.point, axis, each.radius_mm) for each in (one, other)]
    if min(len(points) for points in sets) < 12:
        return None
    points = np.concatenate(sets)
    number = np.repeat([0, 1], [len(each) for each in sets])
    fitted = fit_cylinder(points, point=one.point, axis=axis, radii_mm=(one.radius_mm, other.radius_mm), bore=number)
    return fitted if np.isfinite(fitted.rms_mm) else None
