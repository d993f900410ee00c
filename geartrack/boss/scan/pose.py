"""Where a scan stands in the axle: the boss frame set from its datums, and the hand of the axle told or checked."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from geartrack.boss.scan.axes import Axes, axes_of, offset_way
from geartrack.boss.scan.datums import Datums
from geartrack.boss.scan.faces import ROUND, SupportFace, support_face
from geartrack.boss.scan.fits import Plane
from geartrack.boss.scan.picks import NONE, Picks
from geartrack.boss.scan.scene import Scene
from geartrack.frame import Array, Hand
from geartrack.units import show_both

_PICK_MM = 2.0  # how far a point picked on a screen may be off
_WAY = (
    (0.38, 0.47),
    (0.15, 0.22),
)  # of the ring's diameter: from its axis, and above the pinion's: all ring; from memory
_IN_THE_WAY_MM2 = 60.0
_PICKED = "the point picked on the ring gear's side"
_SKEW, _LEAN = math.radians(0.5), math.radians(0.3)  # of the axes, of the end face: beyond it worth a word
_MOVES_MM = 0.1  # what the lean of the pinion support's face does to the boss's edge: more is worth a word


@dataclass(frozen=True, eq=False)
class Pose:
    """The boss frame in the scan's own place: rows of `rotation` (3, 3) are its X, Y, Z, `origin` (3,) its zero [mm].

    across_mm, toward_mm, along_mm: what the boss's place in it may be off by (Y, Z, X), 2-sigma [mm].
    clock_give: what its turn about the bore may be off by [rad].
    """

    rotation: Array
    origin: Array
    across_mm: float
    toward_mm: float
    along_mm: float
    clock_give: float

    def to_boss(self, points: Array) -> Array:
        """The scan's points (n, 3) [mm] in the boss frame of the real part."""
        placed: Array = (points - self.origin) @ self.rotation.T
        return placed


@dataclass(frozen=True, eq=False)
class Registration:
    """What a scan's datums say of the axle.

    pose: None while `missing` names what it takes. end: the pinion-side end face. hand: as the scan shows it, None
    where it does not; told_by: how. offset_mm, end_face_mm: from the ring axis, each with its give or take [mm].
    support: the face that the pinion support bolts to, None where not seen; support_mm: from the ring axis, as those.
    bore_depth_mm: how far the bore is seen to run in from the end face [mm]. notes: what must be said.
    """

    datums: Datums
    pose: Pose | None
    end: Plane | None
    hand: Hand | None
    told_by: str
    offset_mm: tuple[float, float] | None
    end_face_mm: tuple[float, float] | None
    support: SupportFace | None
    support_mm: tuple[float, float] | None
    bore_depth_mm: float
    missing: tuple[str, ...]
    notes: tuple[str, ...]


def register(
    seen: Scene, datums: Datums, *, hand: Hand | None, ring_diameter_mm: float | None = None, picks: Picks = NONE
) -> Registration:
    """The boss frame of a scan, or what is missing for it.

    hand: as typed, None where not; ring_diameter_mm: the side on which the ring would run into metal is not its side.
    """
    axes = axes_of(datums)
    x, end = _pinion_end(datums, axes, picks)
    told, told_by = _ring_side(seen, datums, x, axes, ring_diameter_mm, picks)
    shown = _hand_shown(x, axes, told)
    z = told if told is not None else _from_hand(x, axes, hand)
    missing = _missing(end, x, axes, ring_told=z is not None or "ring side" in picks)
    pose = None
    if end is not None and x is not None and z is not None and not missing:
        pose = _pose(datums, end, x, z, picks if axes is None else NONE)
    end_face = _end_face(datums, axes, x, pose)
    support = _support(seen, datums, end, x, picks)
    return Registration(
        datums=datums,
        pose=pose,
        end=end,
        hand=shown,
        told_by=told_by if shown else "",
        offset_mm=_offset(datums, axes),
        end_face_mm=end_face,
        support=support,
        support_mm=_sum(end_face, support.beyond_mm) if support and end_face else None,
        bore_depth_mm=_depth(datums, end, x),
        missing=missing,
        notes=_notes(datums, end, axes, support, picks),
    )


def _pinion_end(datums: Datums, axes: Axes | None, picks: Picks) -> tuple[Array | None, Plane | None]:
    """The direction of the pinion head along the bore, and the face of the boss at that end."""
    bore, (low, high) = datums.bore, datums.ends
    middle = bore.point + (bore.low_mm[0] + bore.high_mm[0]) / 2 * bore.axis
    if "end face" in picks:
        forward = float((picks["end face"].mean(axis=0) - middle) @ bore.axis) > 0
    elif axes is not None:
        forward = float((middle - axes.on_ring) @ bore.axis) > 0
    elif datums.bottom is not None:
        forward = datums.bottom == "low"
    else:
        return None, None
    return (bore.axis, high) if forward else (-bore.axis, low)


def _ring_side(
    seen: Scene,
    datums: Datums,
    x: Array | None,
    axes: Axes | None,
    ring_diameter_mm: float | None,
    picks: Picks,
) -> tuple[Array | None, str]:
    """The direction of the ring gear from the pinion axis, as picked or as the metal leaves room for it."""
    if x is None:
        return None, ""
    if "ring side" in picks:
        away = picks["ring side"].mean(axis=0) - (datums.bore.point if axes is None else axes.on_pinion)
        if axes is not None:
            return math.copysign(1.0, float(away @ axes.ring_way)) * axes.ring_way, _PICKED
        flat = away - (away @ x) * x
        return flat / max(float(np.linalg.norm(flat)), 1e-9), _PICKED
    if axes is None or ring_diameter_mm is None:
        return None, ""
    away = seen.points - axes.on_ring
    up = away @ axes.ring_way
    out2 = np.einsum("ij,ij->i", away, away) - up**2
    (inner, outer), (low, high) = ((a * ring_diameter_mm, b * ring_diameter_mm) for a, b in _WAY)
    ring = (out2 > inner**2) & (out2 < outer**2)
    metal = [float((ring & (side * up > low) & (side * up < high)).sum()) * seen.area_each_mm2 for side in (1.0, -1.0)]
    if min(metal) > _IN_THE_WAY_MM2 / 4 or max(metal) < _IN_THE_WAY_MM2:
        return None, ""
    return (axes.ring_way if metal[0] < metal[1] else -axes.ring_way), "the metal where the ring would run"


def _hand_shown(x: Array | None, axes: Axes | None, ring: Array | None) -> Hand | None:
    """Below where X, the way to the pinion axis and the way to the ring are right-handed (geartrack.frame)."""
    way = offset_way(axes) if axes is not None else None
    if x is None or way is None or ring is None:
        return None
    return Hand.BELOW if float(np.cross(x, way) @ ring) > 0 else Hand.ABOVE


def _from_hand(x: Array | None, axes: Axes | None, hand: Hand | None) -> Array | None:
    way = offset_way(axes) if axes is not None else None
    if x is None or axes is None or way is None or hand is None:
        return None
    return axes.ring_way * math.copysign(1.0, hand.sign * float(np.cross(x, way) @ axes.ring_way))


def _missing(end: Plane | None, x: Array | None, axes: Axes | None, *, ring_told: bool) -> tuple[str, ...]:
    """What it takes to set the frame, and what to do about it, a line each."""
    lines = []
    if x is None:
        lines.append(
            "which end of the bore is the pinion's: pick three points on the boss's face at that end (end face)"
        )
    elif end is None:
        lines.append(
            "the end face, round the bore's mouth at the pinion-side end, from which stations count: scan it too, or"
            " pick three points on it (end face)"
        )
    if not ring_told and axes is None:
        lines.append(
            "the ring axis (no two side-bearing bores seen): scan both saddles, or pick three points in each"
            " (side bore 1, side bore 2); or pick a point on the ring gear's side (ring side)"
        )
    elif not ring_told and axes is not None and offset_way(axes) is None:
        lines.append("the ring gear's side: pick a point on it (ring side)")
    elif not ring_told:
        lines.append(
            'the hand of the axle: hand = "below" or "above", or pick a point on the ring gear\'s side (ring side)'
        )
    return tuple(lines)


def _support(seen: Scene, datums: Datums, end: Plane | None, x: Array | None, picks: Picks) -> SupportFace | None:
    if end is None or x is None:
        return None
    picked = picks.get("support face")
    return support_face(seen, datums.bore, end, x, along_mm=_along_give(datums, end), picked=picked)


def _pose(datums: Datums, end: Plane, x: Array, z: Array, picks: Picks) -> Pose:
    bore = datums.bore
    along = float((end.point - bore.point) @ end.normal) / float(bore.axis @ end.normal)
    origin = bore.point + along * bore.axis
    y = np.cross(z, x)
    clock = 0.0
    if "ring side" in picks:
        away = picks["ring side"].mean(axis=0) - origin
        clock = _PICK_MM / max(float(np.linalg.norm(away - (away @ x) * x)), _PICK_MM)
    return Pose(
        rotation=np.stack([x, y, z]),
        origin=origin,
        across_mm=bore.give_mm(origin, y),
        toward_mm=bore.give_mm(origin, z),
        along_mm=_along_give(datums, end),
        clock_give=clock,
    )


def _along_give(datums: Datums, end: Plane) -> float:
    """What the end face may be off by along the bore, 2-sigma: by its fit, its roughness and its lean [mm]."""
    bore = datums.bore
    uneven = 2 * math.sqrt(max(end.rms_mm**2 - bore.rms_mm**2, 0.0))
    return math.hypot(end.give_mm, uneven) + ROUND * bore.radii_mm[0] * _lean(end, bore.axis)


def _lean(face: Plane, axis: Array) -> float:
    """Between a face's normal and an axis [rad]."""
    return math.asin(min(1.0, float(np.linalg.norm(np.cross(face.normal, axis)))))


def _sum(one: tuple[float, float], other: tuple[float, float]) -> tuple[float, float]:
    return one[0] + other[0], math.hypot(one[1], other[1])


def _offset(datums: Datums, axes: Axes | None) -> tuple[float, float] | None:
    if axes is None or datums.ring is None:
        return None
    value = float(np.linalg.norm(axes.on_pinion - axes.on_ring))
    way = offset_way(axes)
    if way is None:
        way = np.cross(axes.ring_way, datums.bore.axis)
    return value, math.hypot(datums.bore.give_mm(axes.on_pinion, way), datums.ring.give_mm(axes.on_ring, way))


def _end_face(datums: Datums, axes: Axes | None, x: Array | None, pose: Pose | None) -> tuple[float, float] | None:
    if axes is None or datums.ring is None or x is None or pose is None:
        return None
    return float((pose.origin - axes.on_ring) @ x), math.hypot(datums.ring.give_mm(axes.on_ring, x), pose.along_mm)


def _depth(datums: Datums, end: Plane | None, x: Array | None) -> float:
    bore = datums.bore
    if end is None or x is None:
        return bore.high_mm[0] - bore.low_mm[0]
    at = float((end.point - bore.point) @ bore.axis)
    return at - bore.low_mm[0] if float(x @ bore.axis) > 0 else bore.high_mm[0] - at


def _notes(
    datums: Datums, end: Plane | None, axes: Axes | None, support: SupportFace | None, picks: Picks
) -> tuple[str, ...]:
    lines = []
    if axes is not None and axes.skew > _SKEW:
        lines.append(
            f"bore and ring axis stand at {90 - math.degrees(axes.skew):.1f} deg, not 90: is the scan in one piece?"
        )
    if end is not None and _lean(end, datums.bore.axis) > _LEAN:
        lean = math.degrees(_lean(end, datums.bore.axis))
        lines.append(f"the end face leans {lean:.1f} deg against square to the bore")
    if support is not None and support.moves_mm[0] - support.moves_mm[1] > _MOVES_MM:
        lean, off = math.degrees(support.lean[0]), show_both(support.moves_mm[0], "in")
        lines.append(
            f"the pinion support's face leans {lean:.2f} deg against square to the bore: with the pinion square to it,"
            f" the boss's edge stands {off} off where the bore has it"
        )
    if support is None and "support face" in picks and end is not None:
        lines.append("no flat lies where the pinion support's face was picked")
    return tuple(lines)
