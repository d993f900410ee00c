"""What the two views of a traced boss show, in its own frame: the outline about the bore, the profile along it.

A drawing is looked at as it lies, x to the right and y up. This is the one place where it is laid into the boss frame
(geartrack.frame), and mirrored where it was seen from the other end.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

import numpy as np

from geartrack.boss.facets import LARGEST_MM, said
from geartrack.boss.mesh import Bore
from geartrack.boss.trace.chains import on_layer, one_chain, opened, without
from geartrack.boss.trace.curves import size_of
from geartrack.boss.trace.drawing import Drawing
from geartrack.boss.trace.measure import (
    AGREE,
    BELONG,
    bore_circle,
    outline_loops,
    outline_of,
    scale_of,
    signed_area,
    straight,
)
from geartrack.errors import refuse
from geartrack.frame import Array
from geartrack.job import Trace
from geartrack.job.trace import DIRECTIONS


@dataclass(frozen=True, eq=False)
class EndView:
    """The boss as seen along the bore: its outline (n, 2) as boss-frame (y, z) [mm], counter-clockwise in (y, z)."""

    outline: Array
    notes: tuple[str, ...]


@dataclass(frozen=True, eq=False)
class SideView:
    """The boss as seen across the bore.

    points (n, 2): station in from the pinion-side end, and distance from the bore axis, upward on the drawing [mm].
    closed: whether they go all round.
    """

    points: Array
    closed: bool
    notes: tuple[str, ...]

    @property
    def length_mm(self) -> float:
        """The boss's length."""
        return float(self.points[:, 0].max())


def end_view(drawing: Drawing, trace: Trace, bore: Bore, tolerance_mm: float) -> EndView:
    """The outline about the bore, within a tolerance [mm]. Raises InputError with one line for what is wrong."""
    known = trace.end_scale
    curves = without(drawing, known.layer if known else None)
    loops, open_ones = outline_loops(curves, drawing, trace)
    unit_mm = None if known else drawing.unit_mm
    circle = bore_circle(curves, loops, drawing, trace, bore.diameter_mm / unit_mm if unit_mm else None)
    scale, notes = scale_of(drawing, known, (circle.across, bore.diameter_mm), "end_scale")
    notes += _bore_agrees(drawing, circle.across * scale, bore)
    outline = outline_of(loops, circle, open_ones, drawing, trace)
    points = (outline.chain.flat(tolerance_mm / scale) - circle.centre) * scale
    _sized(float(np.ptp(points, axis=0).max()), drawing, "end_scale")
    _in_order(points, circle.centre, scale, drawing)
    if open_ones and trace.end_layer is None:
        notes.append(f"{drawing.name}: {len(open_ones)} lines that enclose nothing are not read")
    up = trace.twelve_oclock or 0.0
    notes[0] += f"; seen from the {trace.seen_from}, 12 o'clock {_toward(up)}"
    placed = _as_seen(points, up, trace.seen_from == "pinion-nut end")
    return EndView(placed if signed_area(placed) > 0 else placed[::-1], tuple(notes))


def _toward(up: float) -> str:
    """Where 12 o'clock lies on the drawing, in words."""
    words = [word for word, angle in DIRECTIONS.items() if math.isclose(up, angle)]
    return words[0] if words else f"at {math.degrees(up):.4g} deg clockwise from up"


def _as_seen(points: Array, up: float, from_nut_end: bool) -> Array:
    """Drawn points (n, 2) about the bore's centre as boss-frame (y, z): mirrored here, if at all, and nowhere else.

    From the pinion-nut end, looking toward -X with +Z up, +Y lies to the right (clock angles run clockwise).
    """
    right, height = (points @ np.array([[math.cos(up), math.sin(up)], [-math.sin(up), math.cos(up)]])).T
    return np.stack([right if from_nut_end else -right, height], axis=1)


def side_view(drawing: Drawing, trace: Trace, tolerance_mm: float) -> SideView:
    """The side view in stations and distances from the bore axis, within a tolerance [mm]. Raises InputError."""
    axis, pinion_side, known = str(trace.side_axis), str(trace.pinion_side), trace.side_scale
    ends = straight(one_chain(on_layer(drawing, axis), drawing, "side_axis", axis))
    if ends is None:
        raise refuse(drawing.name, f"layer {axis} holds no straight line", "the bore's centre line on it")
    curves = without(drawing, known.layer if known else None, axis)
    if trace.side_layer is not None:
        named = {id(curve) for curve in on_layer(drawing, trace.side_layer)}
        curves = tuple(curve for curve in curves if id(curve) in named)
    chain = one_chain(curves, drawing, "side_layer", trace.side_layer)
    if trace.side_shows == "outline" and not chain.closed:
        raise opened(chain, drawing)
    scale, notes = scale_of(drawing, known, None, "side_scale")
    _sized(size_of([curve for curve, _ in chain.parts]) * scale, drawing, "side_scale")
    points = chain.flat(tolerance_mm / scale)
    if trace.side_shows == "outline":
        _in_order(points * scale, np.zeros(2), scale, drawing)
    placed = (points - ends[0]) @ _axes(ends, pinion_side, drawing).T * scale
    placed[:, 0] -= placed[:, 0].min()
    notes[0] += f"; stations start at the pinion-side end, {_LIES[pinion_side]}"
    return SideView(placed, chain.closed, tuple(notes))


_LIES = {"left": "to the left", "right": "to the right", "up": "at the top", "down": "at the bottom"}
_INWARD = {"left": (1.0, 0.0), "right": (-1.0, 0.0), "up": (0.0, -1.0), "down": (0.0, 1.0)}


def _axes(ends: Array, pinion_side: str, drawing: Drawing) -> Array:
    """Unit vectors (2, 2): along the bore axis, in from the pinion-side end, and across it, up (right if upright)."""
    along = (ends[1] - ends[0]) / np.hypot(*(ends[1] - ends[0]))
    turn = float(along @ _INWARD[pinion_side])
    if abs(turn) < math.sqrt(0.5):
        lies, right = ("upright", "up or down") if abs(along[1]) > abs(along[0]) else ("level", "left or right")
        raise refuse(drawing.name, f"pinion_side is {pinion_side}, but the bore's centre line lies {lies}", right)
    along = along if turn > 0 else -along
    across = np.array([-along[1], along[0]])
    return np.stack([along, across if across[np.abs(across).argmax()] > 0 else -across])


def _bore_agrees(drawing: Drawing, drawn_mm: float, bore: Bore) -> list[str]:
    """A note where the bore as drawn is not quite the job's; a refusal where it is another size."""
    off = drawn_mm / bore.diameter_mm - 1
    what = f"the bore's circle is drawn {said(drawn_mm)} across, the job's bore is {said(bore.diameter_mm)}"
    if abs(off) > BELONG:
        right = 'the right circle named (end_bore), or the right scale, such as end_scale = "bore"'
        raise refuse(drawing.name, what, right)
    return [f"{drawing.name}: {what}"] if abs(off) > AGREE else []


def _sized(size_mm: float, drawing: Drawing, key: str) -> None:
    if not size_mm <= LARGEST_MM:
        what = f"the outline is {said(size_mm)} long at this scale"
        raise refuse(drawing.name, what, f'the scale stated, such as {key} = "SCALE = 50 mm"; was another unit meant?')


def _in_order(points: Array, centre: Array, scale: float, drawing: Drawing) -> None:
    """Refuses an outline (n, 2) [mm] that crosses itself, with the place in the drawing's own numbers."""
    from shapely import Polygon, is_valid_reason

    polygon = Polygon(points) if len(points) > 2 else None
    if polygon is not None and polygon.is_valid and polygon.area > 0:
        return
    found = re.search(r"\[(\S+) (\S+)\]", is_valid_reason(polygon)) if polygon is not None else None
    x, y = (np.array([float(n) for n in found.groups()]) / scale + centre) if found else centre
    raise refuse(drawing.name, f"the outline crosses itself at ({x:.4g}, {y:.4g})", "an outline that goes round once")
