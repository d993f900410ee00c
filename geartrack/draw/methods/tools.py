"""The measuring tools of the method drawings, each drawn where it touches; sizes in mm."""

from __future__ import annotations

from matplotlib.axes import Axes
from shapely import LineString, Point, Polygon, box, union_all
from shapely.geometry.base import BaseGeometry

from geartrack.draw import ink
from geartrack.draw.methods import pen
from geartrack.draw.methods.pen import Spot

_BEAM, _ROD, _BALL = 14.0, 2.6, 3.0  # widths of a caliper's beam and rod, radius of a ball


def depth_rod(ax: Axes, foot: Spot, tip: Spot, *, tall_mm: float) -> None:
    """A caliper standing on `foot` with its depth rod out to `tip` straight below; the beam is broken off above."""
    x, y = foot
    side = tip[0]
    rod = box(side - _ROD / 2, tip[1], side + _ROD / 2, y)
    left, right = (side - 2 * _ROD, side + _BEAM) if x >= side else (side - _BEAM, side + 2 * _ROD)
    torn = [(right, y + tall_mm), ((2 * right + left) / 3, y + tall_mm - 3), ((right + 2 * left) / 3, y + tall_mm + 2)]
    beam = Polygon([(left, y), (right, y), *torn, (left, y + tall_mm - 1)])
    ink.fill(ax, union_all([rod, beam]), "depth rod", zorder=3, **pen.TOOL)


def straightedge(ax: Axes, start: Spot, long_mm: float, high_mm: float) -> None:
    """A straightedge lying to the right of its lower left corner."""
    x, y = start
    ink.fill(ax, box(x, y, x + long_mm, y + high_mm), "straightedge", zorder=2.5, **pen.TOOL)


def jaws(first: Spot, second: Spot, *, jaw_mm: Spot, beam_mm: float, over_mm: float) -> BaseGeometry:
    """An outside caliper as one shape: two jaws hanging from a beam above, their faces through `first` and `second`.

    The spots are the lower ends of the faces; jaw_mm is (thickness, length), beam_mm the beam's height, over_mm what
    stands out of it at both ends.
    """
    (x0, y), (x1, _) = first, second
    thick, long = jaw_mm
    top = y + long
    left, right = box(x0 - thick, y, x0, top), box(x1, y, x1 + thick, top)
    return union_all([left, right, box(x0 - thick - over_mm, top, x1 + thick + over_mm, top + beam_mm)])


def ball_micrometer(ball: Spot, spindle: Spot, *, deep_mm: float) -> tuple[BaseGeometry, BaseGeometry]:
    """Frame and screw of a micrometer standing up: its ball touches from below at `ball`, its spindle above it.

    deep_mm is how far to the right of them the frame passes.
    """
    (x, low), (_, high) = ball, spindle
    middle, head = low - _BALL, high + 5 * _BALL
    bow = LineString([(x, middle), (x + deep_mm, middle), (x + deep_mm, head), (x, head)])
    frame = union_all([Point(x, middle).buffer(_BALL), bow.buffer(_BALL / 2, cap_style="flat")])
    rod, thimble = box(x - _BALL / 2, high, x + _BALL / 2, head), box(x - 1.2 * _BALL, head, x + 1.2 * _BALL, head + 13)
    return frame, union_all([rod, thimble])


def dial(ax: Axes, tip: Spot, *, radius_mm: float, stem_mm: float) -> Spot:
    """A dial indicator whose stem runs to the right from its tip; its middle, to be held by."""
    x, y = tip
    middle = (x + stem_mm + radius_mm, y)
    stem = union_all([box(x + 2, y - 1.2, x + stem_mm + 2, y + 1.2), Point(x + 2, y).buffer(2.0)])
    ink.fill(ax, stem, "dial stem", zorder=3, **pen.TOOL)
    ink.fill(ax, Point(middle).buffer(radius_mm), "dial", zorder=3, **pen.TOOL)
    ink.fill(ax, Point(middle).buffer(0.78 * radius_mm), "dial face", zorder=3, **pen.PART)
    pen.line(ax, middle, (middle[0] - 0.35 * radius_mm, y + 0.55 * radius_mm), "pointer", linewidth=1.6, zorder=4)
    return middle
