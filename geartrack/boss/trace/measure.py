"""What is measured in a drawing before it has a scale: closed outlines, the bore's circle, a line of known length."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from geartrack.boss.trace.chains import JOINED, Chain, chains, layers_of, on_layer, one_chain, opened
from geartrack.boss.trace.curves import Curve, size_of
from geartrack.boss.trace.drawing import Drawing
from geartrack.errors import refuse
from geartrack.frame import Array
from geartrack.job import Known, Trace

AGREE, BELONG = 0.005, 0.03
"""Two scales that differ by less than the first part agree; a bore off by more than the second is another one."""

ROUND = 0.02
"""A circle may be this part of its radius out of round, as a hand draws it."""

_FINE = 1e-6  # of a curve's size, for measuring it
_STRAIGHT = 1e-3  # of its length: a line may be this far from straight


@dataclass(frozen=True, eq=False)
class Loop:
    """A closed chain: points (n, 2) along it, centre (2,), and how large a circle of its area is across, all [any].

    out_of_round: how far it strays from that circle, as a part of its radius [-].
    """

    chain: Chain
    points: Array
    centre: Array
    across: float
    out_of_round: float

    def holds(self, place: Array) -> bool:
        """Whether it goes round a place (2,) [any]."""
        out = self.points - place
        angle = np.arctan2(out[:, 1], out[:, 0])
        turned = np.remainder(np.roll(angle, -1) - angle + math.pi, 2 * math.pi) - math.pi
        return bool(abs(turned.sum()) > math.pi)


def signed_area(points: Array) -> float:
    """Area of a polygon (n, 2) in the square of its points' unit [any], negative if clockwise."""
    x, y = (points - points[0]).T
    return float((x * np.roll(y, -1) - np.roll(x, -1) * y).sum() / 2)


def loop_of(chain: Chain) -> Loop:
    """A closed chain measured: its centre of area, and the circle of its area."""
    points = chain.flat(_FINE * size_of([curve for curve, _ in chain.parts]))
    x, y = (points - points[0]).T
    cross = x * np.roll(y, -1) - np.roll(x, -1) * y
    area = float(cross.sum() / 2)
    if area == 0:
        return Loop(chain, points, points[0], 0.0, math.inf)
    centre = points[0] + np.array([((each + np.roll(each, -1)) * cross).sum() for each in (x, y)]) / (6 * area)
    radius = math.sqrt(abs(area) / math.pi)
    return Loop(chain, points, centre, 2 * radius, float(np.abs(np.hypot(*(points - centre).T) / radius - 1).max()))


def straight(chain: Chain) -> Array | None:
    """The two ends (2, 2) of an open chain that is one straight line [any]; None for any other."""
    if chain.closed:
        return None
    points = chain.flat(_FINE * size_of([curve for curve, _ in chain.parts]))
    ends = points[[0, -1]]
    run = ends[1] - ends[0]
    length = float(np.hypot(*run))
    off = np.abs((points - ends[0]) @ np.array([-run[1], run[0]])) / length
    return ends if off.max() <= _STRAIGHT * length else None


def outline_loops(curves: Sequence[Curve], drawing: Drawing, trace: Trace) -> tuple[list[Loop], list[Chain]]:
    """The closed outlines and the open lines among the curves that may be an end view's outline."""
    bores = {id(curve) for curve in on_layer(drawing, trace.end_bore)} if trace.end_bore else set()
    named = {id(curve) for curve in on_layer(drawing, trace.end_layer)} if trace.end_layer else None
    may_be = [c for c in curves if (id(c) in named if named is not None else id(c) not in bores)]
    found = chains(may_be, drawing.name)
    return [loop_of(chain) for chain in found if chain.closed], [chain for chain in found if not chain.closed]


def bore_circle(
    curves: Sequence[Curve], loops: Sequence[Loop], drawing: Drawing, trace: Trace, expected: float | None
) -> Loop:
    """The pilot bore's circle: on its layer, or the one circle within an outline.

    expected: its diameter, if known [any]. Raises InputError where there is none, or more than one.
    """
    if trace.end_bore is not None:
        circle = loop_of(one_chain(on_layer(drawing, trace.end_bore), drawing, "end_bore", trace.end_bore))
        if not circle.chain.closed or circle.out_of_round > ROUND:
            what = f"what is drawn on layer {trace.end_bore} is no circle"
            raise refuse(drawing.name, what, "the pilot bore's circle alone on it")
        return circle
    singles = [Chain(((curve, False),), True) for curve in curves if _closes(curve)]
    found = [loop for loop in map(loop_of, singles) if loop.out_of_round <= ROUND]
    found += [loop for loop in loops if len(loop.chain.parts) > 1 and loop.out_of_round <= ROUND]
    found = [c for c in found if any(loop.across > c.across and loop.holds(c.centre) for loop in loops)]
    found = _apart(found)
    if len(found) > 1 and expected is not None:
        found = [circle for circle in found if abs(circle.across / expected - 1) <= BELONG] or found
    if len(found) != 1:
        layers = layers_of(curve for circle in found for curve, _ in circle.chain.parts)
        none = "no circle for the pilot bore within an outline"
        what = f"{len(found)} circles that may be the pilot bore, on the layers {layers}" if found else none
        raise refuse(drawing.name, what, 'the pilot bore drawn as a circle, and end_bore = "..." naming its layer')
    return found[0]


def _closes(curve: Curve) -> bool:
    ends = curve.flat(1e-3 * curve.extent)[[0, -1]]
    return bool(np.hypot(*(ends[1] - ends[0])) <= JOINED * curve.extent)


def _apart(circles: Sequence[Loop]) -> list[Loop]:
    """The circles without those drawn on top of another."""
    kept: list[Loop] = []
    for circle in circles:
        near = JOINED * circle.across
        if not any(
            abs(other.across - circle.across) <= near and np.hypot(*(other.centre - circle.centre)) <= near
            for other in kept
        ):
            kept.append(circle)
    return kept


def outline_of(loops: Sequence[Loop], circle: Loop, open_ones: Sequence[Chain], drawing: Drawing, trace: Trace) -> Loop:
    """The one outline round the bore. Raises InputError where there is none, or more than one."""
    round_it = [loop for loop in loops if loop.across > circle.across * (1 + JOINED) and loop.holds(circle.centre)]
    if len(round_it) == 1:
        return round_it[0]
    if round_it:
        layers = layers_of(curve for loop in round_it for curve, _ in loop.chain.parts)
        what = f"{len(round_it)} closed outlines round the bore, on the layers {layers}: which is the boss?"
        raise refuse(drawing.name, what, 'end_layer = "..." naming its layer, the outline alone on it')
    if open_ones:
        raise opened(max(open_ones, key=lambda chain: size_of([curve for curve, _ in chain.parts])), drawing)
    named = f"on layer {trace.end_layer}" if trace.end_layer else "in it"
    raise refuse(drawing.name, f"no closed outline round the bore {named}", "the boss's outline, closed")


def scale_of(
    drawing: Drawing, known: Known | None, bore: tuple[float, float] | None, key: str
) -> tuple[float, list[str]]:
    """How long a unit of the drawing is [mm], and the note that says so and by what; `key` may state it otherwise.

    bore: its diameter as drawn [any] and as the job has it [mm].
    """
    if known is None:
        if drawing.unit_mm is None:
            right = f'what is known in it: {key} = "SCALE = 50 mm"' + (' or "bore"' if bore else "")
            raise refuse(drawing.name, "says no unit of length", right)
        return drawing.unit_mm, [
            f"{drawing.name}: one unit is {drawing.unit_mm:.5g} mm, by its own unit ({drawing.unit})"
        ]
    if known.length_mm is None:
        drawn, length = bore if bore is not None else (1.0, 1.0)
        by = f"the bore's circle, {length:.5g} mm across"
    else:
        drawn, length = _drawn(known, drawing, key), known.length_mm
        by = f"what is drawn on layer {known.layer}, {length:.5g} mm long"
    scale = length / drawn
    notes = [f"{drawing.name}: one unit is {scale:.5g} mm, by {by}"]
    if drawing.unit_mm is not None and abs(scale / drawing.unit_mm - 1) > AGREE:
        other = f"its own unit ({drawing.unit}) says {drawing.unit_mm:.5g} mm"
        notes.append(f"{drawing.name}: {other}, which does not agree; what was stated is taken")
    return scale, notes


def _drawn(known: Known, drawing: Drawing, key: str) -> float:
    """Length of the one straight line, or diameter of the one circle, on a layer [any]."""
    chain = one_chain(on_layer(drawing, known.layer), drawing, key, known.layer)
    if chain.closed:
        loop = loop_of(chain)
        if loop.out_of_round <= ROUND:
            return loop.across
    ends = straight(chain)
    if ends is None:
        what = f"what is drawn on layer {known.layer} is neither a straight line nor a circle"
        raise refuse(drawing.name, what, "one line or circle of known length alone on it")
    return float(np.hypot(*(ends[1] - ends[0])))
