"""The parts that a sweep gauge is put together from, and how it stands on the printer's bed.

Worked as printed: millimetres, the head's outer face on the bed (z = 0), the bore's axis up, y at 12 o'clock, so that a
clock angle t at radius q is (-q sin t, q cos t): what is at 3 o'clock from the pinion-nut end lies toward -x.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from geartrack.frame import Array, polar
from geartrack.relief.solid import of_triangles, united

if TYPE_CHECKING:
    from manifold3d import CrossSection, Manifold

_ROUND = 360  # sides of the spigot's circle; inscribed, so that no corner is over size
_CHAMFER_MM, _NECK_MM, _NECK_LONG_MM = 1.0, 0.6, 1.2
_HOLE_MM, _PIN_PLAY_MM = 5.0, 0.1  # the pin's hole is that much wider to each side, its bottom true
_GROOVE_MM, _GROOVE_DEEP_MM = 2.0, 0.8
_ROOT_MM = 1.0  # of the working part, let into the head
_PAST_FACE_MM = 8.0  # of the head, outside the end face: long edges to sight along


@dataclass(frozen=True)
class Window:
    """The room in which a gauge carries the ring, boss frame, from the end face on.

    clock_from, clock_to: ascending [rad]. end_mm: how far in from the end face; inner_mm, outer_mm: radii.
    """

    clock_from: float
    clock_to: float
    end_mm: float
    inner_mm: float
    outer_mm: float

    @property
    def clock(self) -> float:
        """The middle clock angle [rad]."""
        return (self.clock_from + self.clock_to) / 2

    @property
    def half(self) -> float:
        """Half of the arc [rad]."""
        return (self.clock_to - self.clock_from) / 2

    @property
    def middle(self) -> tuple[float, float]:
        """(y, z) of the direction of the middle clock angle, boss frame."""
        return float(np.sin(self.clock)), float(np.cos(self.clock))

    def holds(self, points: Array) -> NDArray[np.bool_]:
        """Which points (n, 3), boss frame [mm], lie in it."""
        station, radius, clock = polar(points)
        off = np.abs((clock - self.clock + np.pi) % (2 * np.pi) - np.pi)
        held: NDArray[np.bool_] = (
            (station >= 0) & (station <= self.end_mm) & (off <= self.half) & (radius <= self.outer_mm)
        )
        return held & (radius >= self.inner_mm)


@dataclass(frozen=True)
class Shape:
    """A gauge's sizes. spigot_mm: diameter; length_mm: of the spigot; end_face_mm: radius of the boss's end face.

    lift_mm: how far off the patch it goes in; pin_mm: diameter of the pin that goes in when it is down; window: where
    it carries the ring; notches: at 6 o'clock, its mark.
    """

    spigot_mm: float
    length_mm: float
    end_face_mm: float
    lift_mm: float
    pin_mm: float
    window: Window
    notches: int
    head_mm: float = 6.0

    @property
    def head_radius_mm(self) -> float:
        return self.end_face_mm + _PAST_FACE_MM

    @property
    def across_mm(self) -> float:
        """Over the two long edges, a whole number: measured, it checks the print's scale."""
        return float(np.ceil(self.spigot_mm + 2.5))

    @property
    def over_pin_mm(self) -> float:
        """Over the spigot's far side and the pin lying in its groove."""
        return self.spigot_mm / 2 + self.window.inner_mm

    @property
    def top_mm(self) -> float:
        """How far out the head stands at 12 o'clock."""
        window = self.window
        over = abs((window.clock + np.pi) % (2 * np.pi) - np.pi) < window.half
        return max(self.head_radius_mm, window.outer_mm) if over else self.head_radius_mm


def to_print(points: Array, head_mm: float) -> Array:
    """Boss-frame points (n, 3) [mm] as printed."""
    x, y, z = points.T
    return np.stack([-y, z, head_mm - x], axis=-1)


def _from_print(points: Array, head_mm: float) -> Array:
    x, y, z = points.T
    return np.stack([head_mm - z, -x, y], axis=-1)


def made_up(shape: Shape, sweep: Manifold) -> Manifold:
    """The gauge in place, boss frame [mm]: head, spigot and the part of `sweep` (boss frame) over the patch."""
    up = sweep.warp_batch(lambda points: to_print(np.asarray(points), shape.head_mm))
    work = _wedge(shape.window).extrude(_ROOT_MM + shape.window.end_mm).translate((0, 0, shape.head_mm - _ROOT_MM))
    whole = united([_head(shape), _spigot(shape), work ^ up]) - _marks(shape)
    mesh = whole.to_mesh64()
    return of_triangles(_from_print(np.array(mesh.vert_properties)[:, :3], shape.head_mm), np.array(mesh.tri_verts))


def _wedge(window: Window) -> CrossSection:
    """The window's arc, from its inner to its outer radius."""
    from manifold3d import CrossSection

    turn = np.linspace(window.clock_to, window.clock_from, 60)
    outer = window.outer_mm * np.stack([-np.sin(turn), np.cos(turn)], axis=-1)
    inner = outer[::-1] * (window.inner_mm / window.outer_mm)
    ring = np.concatenate([outer, inner])
    x, y = ring.T
    forward = np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y) > 0
    return CrossSection([ring if forward else ring[::-1]])


def _head(shape: Shape) -> Manifold:
    from manifold3d import CrossSection

    disc = CrossSection.circle(shape.head_radius_mm, _ROUND)
    strip = CrossSection.square((shape.across_mm, 4 * shape.head_radius_mm), center=True)
    return ((disc ^ strip) + _wedge(shape.window)).extrude(shape.head_mm)


def _spigot(shape: Shape) -> Manifold:
    """Round but for its side toward the patch, which is cut back by the lift; thinner at its root and at its tip."""
    from manifold3d import CrossSection

    radius = shape.spigot_mm / 2
    circle = CrossSection.circle(radius, _ROUND)
    y, z = shape.window.middle
    profile = circle ^ circle.translate((shape.lift_mm * y, -shape.lift_mm * z))
    neck, tip = 1 - _NECK_MM / radius, 1 - _CHAMFER_MM / radius
    root = profile.scale((neck, neck)).extrude(_NECK_LONG_MM, scale_top=(1 / neck, 1 / neck))
    body = profile.extrude(shape.length_mm - _NECK_LONG_MM - _CHAMFER_MM)
    end = profile.extrude(_CHAMFER_MM, scale_top=(tip, tip))
    foot = profile.scale((neck, neck)).extrude(_ROOT_MM).translate((0, 0, -_ROOT_MM))
    parts = [
        foot,
        root,
        body.translate((0, 0, _NECK_LONG_MM)),
        end.translate((0, 0, shape.length_mm - _CHAMFER_MM)),
    ]
    return united(parts).translate((0, 0, shape.head_mm))


def _marks(shape: Shape) -> Manifold:
    """A V at 12 o'clock, notches at 6, a groove toward the patch in the outer face, holes: in the middle, for the pin.

    The pin's hole runs on along the spigot as a groove whose bottom is a pin's diameter from the bore.
    """
    from manifold3d import CrossSection, Manifold

    top, foot = shape.top_mm, shape.head_radius_mm
    vee = CrossSection([np.array([(0, top - 3.0), (2.5, top + 1.0), (-2.5, top + 1.0)])])
    places = [4.0 * (k - (shape.notches - 1) / 2) for k in range(shape.notches)]
    rounds = [CrossSection.circle(1.5, 48).translate((x, -foot)) for x in places]
    outline = vee
    for notch in rounds:
        outline = outline + notch
    edges = outline.extrude(shape.head_mm + 2).translate((0, 0, -1))
    reach = shape.window.outer_mm - 2.0
    start = shape.window.inner_mm + 3.0
    groove = Manifold.cube((_GROOVE_MM, reach - start, _GROOVE_DEEP_MM + 1)).translate((-_GROOVE_MM / 2, start, -1.0))
    groove = groove.rotate((0, 0, float(np.degrees(shape.window.clock))))
    long, (y, z) = shape.head_mm + shape.length_mm + 2, shape.window.middle
    hole = Manifold.cylinder(long, _HOLE_MM / 2, _HOLE_MM / 2, 64).translate((0, 0, -1))
    pin, at = shape.pin_mm / 2 + _PIN_PLAY_MM, shape.window.inner_mm - shape.pin_mm / 2 + _PIN_PLAY_MM
    pin_hole = Manifold.cylinder(long, pin, pin, 96).translate((-at * y, at * z, -1.0))
    return united([edges, groove, hole, pin_hole])
