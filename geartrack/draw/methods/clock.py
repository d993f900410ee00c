"""The clock on the boss: what o'clock means, and two pictures to choose the axle's hand from."""

from __future__ import annotations

from matplotlib.axes import Axes
from shapely import LineString, Point, Polygon, affinity
from shapely.geometry.base import BaseGeometry

from geartrack.draw import ink
from geartrack.draw.methods import pen
from geartrack.draw.methods.bench import BENCH, Bench, Method
from geartrack.draw.methods.wall import at_clock

MARK_DEG = 30.0  # clock angle of the example's mark
_HANDS = (("A", 1, "pinion below", "away from", "low"), ("B", -1, "pinion above", "toward", "high"))
_TEETH = 34


def draw(ax: Axes, bench: Bench = BENCH) -> Axes:
    """The method on given axes, to scale from the bench's sizes."""
    half, low, high = bench.ring_diameter_mm / 2 + 6, -bench.boss_diameter_mm, bench.back_face_mm + 4
    for index, (letter, sign, hand, way, height) in enumerate(_HANDS):
        place = (0.51 * index, 0.55, 0.49, 0.4)
        view = pen.panel(ax, place, (-half, low, half, high), title=f"{letter}  {hand}")
        _axle(view, bench, sign, 0.0)
        _clock_face(view, bench, sign * bench.offset_mm)
        _mark(view, bench, sign * bench.offset_mm, MARK_DEG)
        pen.name(view, "ring's\ncentre line", (-sign * 48, low + 20), (0, low + 20))
        pen.name(view, "ring gear", (-sign * 60, high - 16))
        words = f"3 o'clock: {way} the ring's centre line"
        ax.text(place[0] + 0.245, 0.55, words, ha="center", fontsize=pen.WORDS, transform=ax.transAxes)
        view = pen.panel(
            ax, (0.32 * index, 0.0, 0.3, 0.36), (low, -half, high, half), title=f"{letter}: pinion {height}"
        )
        _axle(view, bench, sign, -90.0)
    heading: ink.Style = {"ha": "center", "fontsize": pen.WORDS, "fontweight": "bold", "transform": ax.transAxes}
    ax.text(0.31, 0.44, "the same, ring gear to your right", **heading)
    _from_the_caps(ax, bench)
    return ax


def _axle(view: Axes, bench: Bench, sign: int, turn_deg: float) -> None:
    """Ring gear and boss from the pinion-nut end; sign +1: the pinion's centre line to the right of the ring's.

    The ring is nearer to the eye than the boss and hides a part of it. turn_deg turns the whole picture.
    """
    toe, heel, back = bench.toe_inside_diameter_mm / 2, bench.ring_diameter_mm / 2, bench.back_face_mm
    tips = back - bench.toe_height_mm, back - bench.heel_height_mm
    root = tips[1] + bench.tooth_depth_mm
    edge = [(toe, tips[0]), (heel, tips[1]), (heel - 3, root), (heel - 3, back)]
    ring, teeth = (Polygon([*part, *((-x, z) for x, z in reversed(part))]) for part in (edge, edge[:3]))
    boss, bore = (
        Point(sign * bench.offset_mm, 0).buffer(size / 2, quad_segs=64)
        for size in (bench.boss_diameter_mm, bench.bore_diameter_mm)
    )

    def turned(shape: BaseGeometry) -> BaseGeometry:
        return affinity.rotate(shape, turn_deg, origin=(0, 0))

    for gid, shape in (("boss", boss), ("bore", bore), ("ring", ring), ("teeth", teeth)):
        ink.fill(view, turned(shape), gid, **pen.PART)
    ink.fill(view, turned(boss & ring), "boss behind", **pen.GHOST)
    for index in range(1, _TEETH):
        across = -heel + 3 + index * 2 * (heel - 3) / _TEETH
        slant = LineString([(across - 4, root), (across + 2, tips[0])]) & teeth
        start, end = turned(slant).coords
        pen.line(view, start, end, "tooth", linewidth=0.5, color=ink.SOFT, zorder=1.5)
    start, end = turned(LineString([(0, -0.95 * bench.boss_diameter_mm), (0, back + 3)])).coords
    pen.centre(view, start, end, "ring centre line")


def _clock_face(view: Axes, bench: Bench, middle: float) -> None:
    radius = bench.boss_diameter_mm / 2
    for hour in range(1, 13):
        (x0, y0), (x1, y1) = (at_clock(part * radius, 30 * hour) for part in (1.07, 1.17))
        pen.line(view, (middle + x0, y0), (middle + x1, y1), "tick", linewidth=1.4 if hour % 3 == 0 else 0.8, zorder=4)
        if hour % 3 == 0:
            x, y = at_clock(1.45 * radius, 30 * hour)
            pen.name(view, str(hour), (middle + x, y), fontweight="bold")


def _mark(view: Axes, bench: Bench, middle: float, clock_deg: float) -> None:
    x, y = at_clock((bench.boss_diameter_mm + bench.bore_diameter_mm) / 4, clock_deg)
    view.plot([middle + x], [y], "o", color=ink.INK, markersize=5.5, zorder=6, gid="mark")
    pen.name(view, "m", (middle, -3), (middle + x, y), fontsize=pen.LETTER, fontweight="bold")


def _from_the_caps(ax: Axes, bench: Bench) -> None:
    half = bench.boss_diameter_mm
    view = pen.wrong(
        ax,
        pen.LOWER_RIGHT,
        (-1.7 * half, -0.9 * half, 1.7 * half, 0.9 * half),
        "read from the caps' end: 1\u00a0o'clock turns into 11",
    )
    for gid, size in (("boss", bench.boss_diameter_mm), ("bore", bench.bore_diameter_mm)):
        ink.fill(view, Point(0, 0).buffer(size / 2, quad_segs=64), gid, **pen.PART)
    _clock_face(view, bench, 0.0)
    _mark(view, bench, 0.0, -MARK_DEG)


CARD = Method(
    name="clock",
    title="The clock on the boss",
    tool="Eyes and a marker.",
    touches="Case held with the pinion-nut end toward you, ring gear at the top: 12 o'clock is straight at the"
    " ring gear.",
    reading="A or B: with the ring gear at the top, the ring's centre line to the left of the boss is A, pinion"
    " below; to the right is B, pinion above. Turned so that the ring gear is on your right, the pinion"
    " sits low in A, high in B. m: a mark on the boss, by o'clock. In A, 3 o'clock looks away from the"
    " ring's centre line; in B, toward it.",
    mistake="Reading from the caps' end: 1 o'clock turns into 11, and A into B.",
    accuracy="to the half hour, 15 degrees (common practice, no source)",
    draw=draw,
)
