"""Wall: a ball caliper through the boss's wall at the pinion-side end, at five places toward the ring."""

from __future__ import annotations

from math import cos, radians, sin, sqrt

from matplotlib.axes import Axes
from shapely import Point, box
from shapely.geometry.base import BaseGeometry

from geartrack.draw import ink
from geartrack.draw.methods import pen, tools
from geartrack.draw.methods.bench import BENCH, Bench, Method
from geartrack.draw.methods.pen import Spot

PLACES = (("a", -60.0, "10"), ("b", -30.0, "11"), ("c", 0.0, "12"), ("d", 30.0, "1"), ("e", 60.0, "2"))
"""Letter, clock angle [deg] and o'clock of each reading."""
_IN, _JAW = 6.0, 7.0  # how far in the ball sits; half of a flat jaw


def at_clock(radius: float, clock_deg: float) -> Spot:
    """A spot on the end view: radius [mm] from the middle, 12 o'clock at the top, clockwise positive."""
    return radius * sin(radians(clock_deg)), radius * cos(radians(clock_deg))


def draw(ax: Axes, bench: Bench = BENCH) -> Axes:
    """The method on given axes, to scale from the bench's sizes."""
    _end_on(ax, bench)
    _cut_along(ax, bench)
    _flat_jaw(ax, bench)
    return ax


def _end_face(bench: Bench) -> BaseGeometry:
    outer, bore = (Point(0, 0).buffer(d / 2, quad_segs=64) for d in (bench.boss_diameter_mm, bench.bore_diameter_mm))
    return outer - bore


def _end_on(ax: Axes, bench: Bench) -> None:
    outer, bore = bench.boss_diameter_mm / 2, bench.bore_diameter_mm / 2
    window = (-outer - 23, -outer - 8, outer + 23, outer + 31)
    view = pen.panel(ax, (0.0, 0.0, 0.61, 0.95), window, title="seen from the pinion-nut end")
    ink.fill(view, _end_face(bench), "boss", **pen.PART)
    for letter, clock, hour in PLACES:
        pen.centre(view, (0.0, 0.0), at_clock(outer + 3, clock), "ray")
        pen.reading(view, at_clock(bore, clock), at_clock(outer, clock), letter, at=at_clock(outer + 5, clock))
        pen.name(view, f"{hour} o'clock", at_clock(outer + 12 + abs(clock) / 20, clock))
    arrow = {"arrowstyle": "-|>", "color": ink.INK, "linewidth": 2.2}
    view.annotate("", xy=(0, outer + 30), xytext=(0, outer + 17), arrowprops=arrow)
    pen.name(view, "straight at\nthe ring gear", (3, outer + 25), ha="left")
    pen.name(view, "pilot bore", (0, -8))
    pen.name(view, "boss, pinion-side end", (0, -outer - 5))


def _cut_along(ax: Axes, bench: Bench) -> None:
    """The wall cut at 12 o'clock, the pinion-side end to the right."""
    outer, bore, end = bench.boss_diameter_mm / 2, bench.bore_diameter_mm / 2, bench.boss_length_mm
    window = (-6, -4, end + 30, outer + 30)
    view = pen.panel(ax, (0.64, 0.44, 0.36, 0.51), window, title="cut along the bore")
    pen.solid(view, box(0, bore, end, outer), "boss wall")
    pen.centre(view, (-4, 0), (end + 26, 0), "pinion's centre line")
    inward = end - _IN
    shapes = tools.ball_micrometer((inward, bore), (inward, outer), deep_mm=16)
    for gid, shape in zip(("frame", "screw"), shapes, strict=True):
        ink.fill(view, shape, gid, zorder=3, **pen.TOOL)
    pen.touch(view, (inward, bore), (inward, outer))
    pen.reading(view, (inward, bore), (inward, outer), "c", off=(-14, 0), beside=(-11, 0))
    pen.name(view, "ball", (inward - 10, bore - 9), (inward - 1, bore - 3))
    pen.name(view, "pilot bore", (8, 4))
    pen.name(view, "pinion-\nside end", (end + 20, bore - 13), (end, bore + 1))


def _flat_jaw(ax: Axes, bench: Bench) -> None:
    outer, bore = bench.boss_diameter_mm / 2, bench.bore_diameter_mm / 2
    view = pen.wrong(ax, pen.LOWER_RIGHT, (-17, bore - 8, 17, outer + 5), "flat jaw in a round bore: wall too thick")
    pen.solid(view, _end_face(bench), "boss")
    face = sqrt(bore**2 - _JAW**2)
    ink.fill(view, box(-_JAW, face - 4, _JAW, face), "inner jaw", zorder=3, **pen.TOOL)
    ink.fill(view, box(-_JAW, outer, _JAW, outer + 4), "outer jaw", zorder=3, **pen.TOOL)
    pen.touch(view, (-_JAW, face), (_JAW, face), (0, outer))


CARD = Method(
    name="wall",
    title="Wall of the boss toward the ring",
    tool="Ball caliper, or micrometer with a ball anvil.",
    touches="Ball in the pilot bore just past the chamfer of the pinion-side end, the other tip outside, straight"
    " through the wall on a line from the middle of the bore.",
    reading="Seen from the pinion-nut end. c: straight toward the ring gear, 12 o'clock. b and d: 30 degrees to"
    " each side, 11 and 1 o'clock. a and e: 60 degrees to each side, 10 and 2 o'clock. Keep all five; the"
    " least one counts.",
    mistake="A flat jaw in the round bore: it stands on its two edges and the wall reads thicker than it is.",
    accuracy="give or take 0.004 in by hand (published, web: one caliper, five tries)",
    draw=draw,
)
