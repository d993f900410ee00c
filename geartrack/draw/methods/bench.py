"""What every method drawing shares: the sizes it is made from, the words of its card, the shapes of ring and boss."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, fields
from math import atan2, cos, radians, sin

from matplotlib.axes import Axes
from shapely import Point, Polygon, affinity, box
from shapely.geometry.base import BaseGeometry

from geartrack.errors import refuse

_TIGHTEST = radians(30.0)  # clock angle of the nearest place in the sketch of DESIGN 12
_HALVINGS = 40

SADDLES_MM = ((-90.0, -62.0), (86.0, 114.0))
"""Where the saddles stand along the ring's centre line, the teeth looking toward the first."""


@dataclass(frozen=True)
class Method:
    """One way to take a reading: `name` to call it by, the words of its card, and `draw`, which draws on given axes."""

    name: str
    title: str
    tool: str
    touches: str
    reading: str
    mistake: str
    accuracy: str
    draw: Callable[[Axes], Axes]


@dataclass(frozen=True)
class Bench:
    """Sizes of ring, case and tools that the drawings are made from; the example is invented.

    ring_diameter_mm is over the heel tips and toe_inside_diameter_mm across the toe tips; both heights are from the
    back face, which back_face_mm puts above the pinion's centre line; near_end_mm lies between the ring's centre line
    and the boss's end away from the pinion; saddle_depth_mm is from the caps' parting face to the saddle's bottom.
    Raises InputError for sizes that make no axle.
    """

    ring_diameter_mm: float = 240.0
    toe_inside_diameter_mm: float = 169.4
    ring_bore_diameter_mm: float = 156.0
    toe_height_mm: float = 39.2
    heel_height_mm: float = 29.6
    tooth_depth_mm: float = 11.0
    back_face_mm: float = 62.0
    offset_mm: float = 54.0
    boss_diameter_mm: float = 54.0
    boss_length_mm: float = 27.0
    bore_diameter_mm: float = 38.0
    near_end_mm: float = 23.0
    saddle_bore_mm: float = 78.0
    saddle_depth_mm: float = 47.0
    saddle_bar_mm: float = 30.0
    straightedge_mm: float = 25.0
    wire_mm: float = 1.6
    gap_mm: float = 0.8
    travel_mm: float = 5.0

    def __post_init__(self) -> None:
        for size in fields(self):
            if not getattr(self, size.name) > 0:
                raise refuse(size.name, f"{getattr(self, size.name)} mm", "a size is above zero")
        order = ("bore_diameter_mm", "boss_diameter_mm"), ("heel_height_mm", "toe_height_mm"), ("gap_mm", "wire_mm")
        rings = ("ring_bore_diameter_mm", "toe_inside_diameter_mm"), ("toe_inside_diameter_mm", "ring_diameter_mm")
        for less, more in (*order, *rings):
            if getattr(self, less) >= getattr(self, more):
                raise refuse(less, f"{getattr(self, less)} mm is not less than {more}", "swap them or read again")

    @property
    def centre_below_mm(self) -> float:
        """How far the ring's centre line lies below the caps' parting face: h - D/2."""
        return self.saddle_depth_mm - self.saddle_bore_mm / 2

    @property
    def end_face_mm(self) -> float:
        """From the ring's centre line to the boss's pinion-side end."""
        return self.near_end_mm + self.boss_length_mm


BENCH = Bench()


def ring_half(bench: Bench) -> tuple[Polygon, Polygon]:
    """One half of the ring's section and the teeth on it, in radius and height above the back face [mm]."""
    toe = (bench.toe_inside_diameter_mm / 2, bench.toe_height_mm)
    heel = (bench.ring_diameter_mm / 2, bench.heel_height_mm)
    slope = atan2(toe[1] - heel[1], heel[0] - toe[0])
    deep = (-bench.tooth_depth_mm * sin(slope), -bench.tooth_depth_mm * cos(slope))
    toe_root, heel_root = ((x + deep[0], y + deep[1]) for x, y in (toe, heel))
    bore = bench.ring_bore_diameter_mm / 2
    back = [(heel_root[0], 0.0), (bore, 0.0), (bore, toe_root[1] - 4.0)]
    return Polygon([toe, heel, heel_root, *back, toe_root]), Polygon([toe, heel, heel_root, toe_root])


def boss_near(bench: Bench) -> BaseGeometry:
    """The boss cut by the half-plane through the ring's centre line and its nearest edge, in (r, z) [mm].

    A cylinder about the pinion axis, cut so, is an ellipse (closed form) between two straight ends.
    """
    across = bench.offset_mm + bench.boss_diameter_mm / 2 * sin(_TIGHTEST)
    turn = atan2(across, bench.end_face_mm)

    def cut(diameter: float) -> BaseGeometry:
        circle = Point(0.0, 0.0).buffer(diameter / 2, quad_segs=64)
        return affinity.translate(affinity.scale(circle, 1 / sin(turn), 1.0), bench.offset_mm / sin(turn))

    near, far = bench.near_end_mm / cos(turn), bench.end_face_mm / cos(turn)
    tall = box(near, -bench.boss_diameter_mm, far, bench.boss_diameter_mm)
    return (cut(bench.boss_diameter_mm) - cut(bench.bore_diameter_mm)) & tall


def ring_at(bench: Bench, back_face_mm: float) -> tuple[BaseGeometry, BaseGeometry]:
    """The ring's section and its teeth in (r, z) with the back face at back_face_mm; the teeth look toward -z."""
    whole, teeth = (affinity.affine_transform(shape, [1, 0, 0, -1, 0, back_face_mm]) for shape in ring_half(bench))
    return whole, teeth


def back_face_at(bench: Bench, gap_mm: float) -> float:
    """Where the back face runs [mm] when the ring, coming sideways from its back, is gap_mm from the boss."""
    boss, (ring, _) = boss_near(bench), ring_at(bench, 0.0)
    if ring.distance(boss) > gap_mm:
        raise refuse(
            "toe_inside_diameter_mm", "the ring goes past the boss", "a ring that reaches the boss belongs here"
        )
    low, high = 0.0, 3 * bench.back_face_mm
    for _ in range(_HALVINGS):
        middle = (low + high) / 2
        apart = affinity.translate(ring, 0.0, middle).distance(boss)
        low, high = (low, middle) if apart > gap_mm else (middle, high)
    return high
