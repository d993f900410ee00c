"""The toe of many rings at once against the edge of round bosses, in the side view; and the teeth of many drawn sets.

A ring's toe is the chain toe root - toe end - toe tip - heel tip of its section, taken as a wedge that goes on behind;
a boss is a cylinder about the pinion axis, of which the ring's toe can only meet the outside and its pinion-side edge.
Arrays broadcast: (...) stands for any shape that bosses and rings share. Angles in radians, lengths in mm.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from geartrack.allowances import backlash_factor
from geartrack.frame import Array
from geartrack.gearset.defaults import MOST_SPIRAL_DEG, default_design, pinion_spiral_deg
from geartrack.gearset.depth import ToothDepth, mean_depth
from geartrack.gearset.pinion import pinion_cones, pinion_face_split
from geartrack.gearset.pitch import BEVEL_BELOW_MM, PitchCones, bevel_cones, hypoid_cones
from geartrack.gearset.ring import ring_corners
from geartrack.gearset.teeth import ToothPair
from geartrack.quantity import Quantity, Shape

SET_INPUTS = 9  # what a set's blanks hang on besides teeth, ring and offset
_CHAIN = (7, 0, 1, 2)  # corners of a ring's section: toe root, toe end, toe tip, heel tip
_TURNS = np.radians(np.linspace(-80.0, 90.0, 35))  # clock angles first looked at, round the side toward the ring
_FINER = np.linspace(-1.0, 1.0, 11)
_ROUNDS = 3  # each five times finer: from 5 deg to 0.04 deg, 0.02 mm round a usual boss
_FLATTEST = -0.3  # of the gap's fall for each mm of boss radius, so that no step of the search runs away
_SETTLED_MM = 0.001
_STEPS = 8


@dataclass(frozen=True, eq=False)
class Rings:
    """The rings of one tooth pair, (n,) of them.

    toe : (n, 4, 2) the chain in (r, z) [mm]. pinion_toe_mm: ring's centre line to the pinion's toe tips.
    backlash_factor: ring's travel for a change of backlash. tooth_mm: whole depth at the heel.
    """

    toe: Array
    pinion_toe_mm: Array
    backlash_factor: Array
    tooth_mm: Array

    @property
    def tip_mm(self) -> Array:
        """Height of the toe tips above the pinion's centre line."""
        tip: Array = self.toe[..., 2, 1]
        return tip

    def moved(self, dz_mm: Array) -> Array:
        """The chains (n, 4, 2) [mm] shifted along the ring's axis."""
        return self.toe + np.stack([np.zeros_like(dz_mm), dz_mm], axis=-1)[..., None, :]


def drawn(quantity: Quantity, shares: Array) -> Array:
    """Values of a quantity at these shares of its distribution, 0 to 1 [-], after its own value, which stands first.

    Normal to each side of the value, with 1.96 standard deviations to its limits; uniform between its limits.

    >>> from geartrack.quantity import give_or_take
    >>> drawn(give_or_take(5.0, 1.96), np.array([0.5, 0.841345])).round(3).tolist()
    [5.0, 5.0, 6.0]
    """
    from scipy.special import ndtri

    if quantity.shape is Shape.UNIFORM:
        values = quantity.low + (quantity.high - quantity.low) * shares
    else:
        off = ndtri(shares) / ndtri(0.975)
        values = quantity.value + off * np.where(off < 0, quantity.value - quantity.low, quantity.high - quantity.value)
    return np.concatenate([[quantity.value], values])


def rings(pair: ToothPair, *, ring_diameter_mm: Array, offset_mm: Array, shares: Array) -> Rings:
    """Rings of one pair with usual values of everything else, (n,) of them; the first has these values themselves.

    shares : (n - 1, SET_INPUTS), where in its distribution each other ring has each value [-]. The usual spiral angle
    follows each ring's own offset.
    """
    ring, offset = float(ring_diameter_mm[0]), float(offset_mm[0])
    usual = default_design(pair, ring, offset)
    value = {name: drawn(quantity, shares[:, i]) for i, (name, quantity) in enumerate(usual.items())}
    if offset >= BEVEL_BELOW_MM:
        formula = [pinion_spiral_deg(pair.ratio, share) for share in offset_mm / ring_diameter_mm]
        centre = np.minimum(formula, MOST_SPIRAL_DEG)
        value["pinion_spiral"] += np.radians(centre - centre[0])
    cones = _cones(pair, ring_diameter_mm, offset_mm, value)
    depth = mean_depth(
        cones,
        pair,
        ring_diameter_mm=ring_diameter_mm,
        cutter_radius_mm=value["cutter_radius"],
        depth_factor=value["depth_factor"],
        addendum_factor=value["addendum_factor"],
        clearance_factor=value["clearance_factor"],
    )
    face = {"ring_diameter_mm": ring_diameter_mm, "face_width_mm": value["face_width"]}
    corners = ring_corners(
        cones,
        depth,
        **face,
        toe_end_angle=value["toe_end_angle"],
        toe_chamfer_mm=value["toe_chamfer"],
        tip_chamfer_mm=value["tip_chamfer"],
    )
    heel = corners[:, 2] - corners[:, 3]
    return Rings(
        corners[:, _CHAIN, :].copy(),
        _pinion_toe(pair, cones, depth, face),
        backlash_factor(cones),
        np.hypot(heel[:, 0], heel[:, 1]),
    )


def _pinion_toe(pair: ToothPair, cones: PitchCones, depth: ToothDepth, face: dict[str, Array]) -> Array:
    """X of the pinion's toe tips, as geartrack.gearset.pinion has them [mm]."""
    _, inside = pinion_face_split(
        cones, depth, pair, ring_diameter_mm=face["ring_diameter_mm"], face_width_mm=face["face_width_mm"]
    )
    (tip_angle, _), _ = pinion_cones(cones, depth)
    height = depth.pinion_addendum_mm - inside * np.tan(tip_angle - cones.pinion_angle)
    toe: Array = cones.mean_point_x_mm - inside * np.cos(cones.pinion_angle) - height * np.sin(cones.pinion_angle)
    return toe


def _cones(pair: ToothPair, ring_diameter_mm: Array, offset_mm: Array, value: dict[str, Array]) -> PitchCones:
    face, spiral = value["face_width"], value["pinion_spiral"]
    if offset_mm[0] < BEVEL_BELOW_MM:
        return bevel_cones(pair, ring_diameter_mm=ring_diameter_mm, face_width_mm=face, spiral=spiral)
    return hypoid_cones(
        pair,
        ring_diameter_mm=ring_diameter_mm,
        face_width_mm=face,
        offset_mm=offset_mm,
        pinion_spiral=spiral,
        cutter_radius_mm=value["cutter_radius"],
    )


def with_toe_diameter(found: Rings, diameter_mm: Array) -> Rings:
    """The rings with the inside diameter across their toe ends as measured (n,) [mm]; their heels stay."""
    toe = found.toe.copy()
    toe[:, :3, 0] += (diameter_mm / 2 - toe[:, 1, 0])[:, None]
    return Rings(toe, found.pinion_toe_mm, found.backlash_factor, found.tooth_mm)


@dataclass(frozen=True, eq=False)
class Bosses:
    """Bosses about the pinion axis but for their radius; fields broadcast to (...).

    end_mm: pinion-side end along X; offset_mm: hypoid offset. flat_clock: where a flat faces; flat_share: its distance
    from the pinion axis over the radius [-], 1 or more for a round boss.
    """

    end_mm: Array
    offset_mm: Array
    flat_clock: Array
    flat_share: Array

    def edge(self, radius_mm: Array, turns: Array) -> tuple[Array, Array]:
        """Points of the pinion-side edge at clock angles `turns` [rad], as y and z (..., k) [mm]."""
        toward = np.cos(turns - self.flat_clock[..., None])
        cut = np.where(toward > 0, self.flat_share[..., None] / np.maximum(toward, np.finfo(float).tiny), np.inf)
        out = radius_mm[..., None] * np.minimum(1.0, cut)
        return self.offset_mm[..., None] + out * np.sin(turns), out * np.cos(turns)


def toe_gap(toe: Array, bosses: Bosses, radius_mm: Array) -> Array:
    """Signed gap (...) [mm] of ring toes, toe (..., 4, 2) [mm], to bosses of these radii.

    The boss's outside at a clock angle is, in the side view, a level line inward from its edge: its distance to the
    wedge is least at the edge or straight under the toe tip. The clock angle of least distance is narrowed down.
    """
    turns, step = _TURNS, float(_TURNS[1] - _TURNS[0])
    for _ in range(_ROUNDS):
        middle, _ = _nearest(toe, bosses, radius_mm, turns)
        turns, step = middle[..., None] + step * _FINER, step * float(_FINER[1] - _FINER[0])
    return _nearest(toe, bosses, radius_mm, turns)[1]


def _nearest(toe: Array, bosses: Bosses, radius_mm: Array, turns: Array) -> tuple[Array, Array]:
    """Of clock angles (..., k) or (k,) [rad] the one nearest to the toe (...), and its gap (...) [mm]."""
    y, z = bosses.edge(radius_mm, turns)
    edge = np.hypot(bosses.end_mm[..., None], y)
    under = np.clip(toe[..., 2, :1], np.abs(y), edge)
    gaps = np.minimum(_to_wedge(toe, edge, z), _to_wedge(toe, under, z))
    at = gaps.argmin(axis=-1)[..., None]
    middle = np.take_along_axis(np.broadcast_to(turns, gaps.shape), at, axis=-1)
    return middle[..., 0], np.take_along_axis(gaps, at, axis=-1)[..., 0]


def _to_wedge(toe: Array, r: Array, z: Array) -> Array:
    """Signed distance of points (..., k) to the convex wedge behind a chain (..., 4, 2), edges of no length ignored."""
    near, inside = np.full(r.shape, np.inf), np.full(r.shape, -np.inf)
    for i in range(toe.shape[-2] - 1):
        start, side = toe[..., i, None, :], toe[..., i + 1, None, :] - toe[..., i, None, :]
        side_r, side_z = side[..., 0], side[..., 1]
        length2 = side_r * side_r + side_z * side_z
        long = length2 > _SETTLED_MM**2
        inverse = 1 / np.where(long, length2, 1.0)
        dr, dz = r - start[..., 0], z - start[..., 1]
        out = dr * side_z - dz * side_r
        np.maximum(inside, np.where(long, out * np.sqrt(inverse), -np.inf), out=inside)
        along = np.clip((dr * side_r + dz * side_z) * inverse, 0.0, 1.0)
        dr -= along * side_r
        dz -= along * side_z
        np.minimum(near, dr * dr + dz * dz, out=near)
    return np.where(inside < 0, inside, np.sqrt(near))


def radius_for_gap(toe: Array, gap_mm: Array, bosses: Bosses, *, start_mm: float) -> tuple[Array, NDArray[np.bool_]]:
    """Radius (...) [mm] of the boss with this gap to each toe (..., 4, 2) [mm], and which of them (...) there are.

    The gap falls steadily as the boss grows; secant steps from `start_mm`, few since the fall is nearly even. A radius
    that is none has some value that means nothing.
    """

    def over(radius_mm: Array) -> Array:
        return toe_gap(toe, bosses, radius_mm) - gap_mm

    shape = np.broadcast_shapes(toe.shape[:-2], gap_mm.shape, bosses.end_mm.shape, bosses.flat_share.shape)
    old = np.full(shape, start_mm)
    f_old = over(old)
    new = np.maximum(old + f_old, _SETTLED_MM)
    f = over(new)
    for _ in range(_STEPS):
        if np.abs(f).max() < _SETTLED_MM:
            break
        moved = np.where(new == old, 1.0, new - old)
        slope = np.where(new == old, -1.0, np.clip((f - f_old) / moved, -1.0, _FLATTEST))
        old, f_old, new = new, f, np.maximum(new - f / slope, _SETTLED_MM)
        f = over(new)
    return new, np.abs(f) < 10 * _SETTLED_MM
