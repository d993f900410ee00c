"""Ring height: the ring on a flat plate, a straightedge across its teeth, a depth rod to plate and heel tip."""

from __future__ import annotations

from matplotlib.axes import Axes
from shapely import Polygon, affinity, box, union_all

from geartrack.draw import ink
from geartrack.draw.methods import pen, tools
from geartrack.draw.methods.bench import BENCH, Bench, Method, ring_half

_PLATE, _ROD_OUT, _STAND = 12.0, 22.0, 34.0


def draw(ax: Axes, bench: Bench = BENCH) -> Axes:
    """The method on given axes, to scale from the bench's sizes; heights are from the plate."""
    toe, heel, edge = bench.toe_inside_diameter_mm / 2, bench.ring_diameter_mm / 2, bench.straightedge_mm
    out, top = heel + _ROD_OUT, bench.toe_height_mm + edge
    end = out + 10
    view = pen.panel(ax, (0.0, 0.42, 1.0, 0.58), (-end - 22, -_PLATE - 2, end + 22, top + _STAND + 4))
    ink.fill(view, box(-end - 20, -_PLATE, end + 20, 0.0), "plate", **pen.TOOL)
    right, teeth = ring_half(bench)
    far = bench.toe_height_mm - bench.tooth_depth_mm
    pen.line(view, (-toe, far), (toe, far), "ring behind", color=ink.SOFT, linewidth=0.8)
    for sign in (1, -1):
        pen.ring(view, *(affinity.scale(shape, sign, 1, origin=(0, 0)) for shape in (right, teeth)))
    tools.straightedge(view, (-end, bench.toe_height_mm), 2 * end, edge)
    tip = heel - 1.3
    tools.depth_rod(view, (-out, top), (-out, 0.0), tall_mm=_STAND)
    tools.depth_rod(view, (tip, top), (tip, bench.heel_height_mm), tall_mm=_STAND)
    pen.touch(view, (-toe, bench.toe_height_mm), (toe, bench.toe_height_mm), (-out, 0.0), (tip, bench.heel_height_mm))
    pen.reading(view, (-out, 0.0), (-out, top), "a", off=(-22, 0))
    pen.reading(view, (tip, bench.heel_height_mm), (tip, top), "b", off=(21, 0))
    pen.reading(view, (0, bench.toe_height_mm), (0, top), "w", off=(30, 0), beside=(11, 0))
    pen.name(view, "straightedge", (-30, top - edge / 2), on=pen.TOOL["facecolor"])
    pen.name(view, "ring, teeth up", (0.0, 13.0))
    pen.name(view, "flat plate", (0, -_PLATE / 2), on=pen.TOOL["facecolor"])
    pen.name(view, "caliper's depth rod", (-64, top + 22), (-out + 12, top + 14))
    pen.name(view, "toe tip", (52, 22), (toe, bench.toe_height_mm))
    pen.name(view, "heel tip", (end + 6, 10), (tip, bench.heel_height_mm))
    pen.sums(ax, (0.02, 0.31), "height at toe tip = a \u2212 w", "height at heel tip = a \u2212 b")
    _between_teeth(ax, bench)
    return ax


def _between_teeth(ax: Axes, bench: Bench) -> None:
    """Seen from the heel: the rod down in the space between two teeth."""
    deep, pitch, top = bench.tooth_depth_mm, 1.7 * bench.tooth_depth_mm, bench.toe_height_mm + 6
    view = pen.wrong(ax, pen.LOWER_RIGHT, (-30, 12, 30, top + 6), "rod between two teeth: b too long, heel too low")
    heel, root = bench.heel_height_mm, bench.heel_height_mm - deep
    row = []
    for start in (-2 * pitch, -pitch, 0.0, pitch):
        flank = [(0.14, root), (0.36, heel), (0.64, heel), (0.86, root), (1.14, root)]
        row += [(start + part * pitch, height) for part, height in flank]
    ink.fill(view, Polygon([(-60, 0), *row, (60, 0)]), "teeth", **pen.PART)
    ink.fill(view, union_all([box(-1.3, root, 1.3, top), box(-8, top, 8, top + 20)]), "rod", zorder=3, **pen.TOOL)
    pen.touch(view, (0, root))


CARD = Method(
    name="ring-height",
    title="Ring height on a flat plate",
    tool="Flat plate, straightedge longer than the ring, caliper with depth rod.",
    touches="Ring clean, on its back face, teeth up. Straightedge across the middle, on the toe tips of both"
    " sides. Caliper square on top of the straightedge, its rod first on the plate, then on the heel tip"
    " of a tooth.",
    reading="a: top of the straightedge to the plate. b: top of the straightedge to the heel tip. w: height of"
    " the straightedge itself. Height at toe tip = a - w; height at heel tip = a - b.",
    mistake="Rod down in the space between two teeth: b comes out too long and the heel too low. Or w not taken off.",
    accuracy="each reading give or take 0.002 in (published, web), so a height give or take 0.003 in",
    draw=draw,
)
