"""The strip: what is cut out, how it is laid round the boss, and the patch on it; true scale."""

from __future__ import annotations

import numpy as np

from geartrack.export.figure import Curve, Figure, Label, Layer, circle, line
from geartrack.export.template.developed import Developed
from geartrack.export.template.levels import Steps
from geartrack.export.template.unroll import Unrolled
from geartrack.study.answer import Answer
from geartrack.units import in_units, parse_length, show_length

TAB_MM = 9.0
_HALF_HOUR = np.radians(15.0)
_HAIR = 1e-9
_TYPE_MM, _LINE_MM, _WORDS_MM = 2.1, 2.6, 28.0


def strip(patch: Developed, steps: Steps, answer: Answer) -> Figure:
    """The strip of a patch, its pinion-side edge below, clock angles rising to the right."""
    edge, folds = _edge(patch.flat, patch.width_mm)
    rules, names = _ruler(patch, steps)
    (left, bottom), (right, top) = edge.points.min(axis=0).tolist(), edge.points.max(axis=0).tolist()
    return Figure(
        "Strip for the outside of the boss, true scale",
        (left, bottom, right, top),
        (*patch.curves, edge, *folds, *_clock_marks(patch.flat, patch.width_mm), *rules, *_centre(patch)),
        (*_hours(patch.flat, patch.width_mm), *names, *_words(patch, answer)),
    )


def _edge(flat: Unrolled, wide: float) -> tuple[Curve, list[Curve]]:
    """The line to cut along, and the lines where the tabs begin; a strip that closes has one tab, to glue under."""
    ends = [flat.on_paper(np.array([0.0, wide]), clock) for clock in flat.clocks[[0, -1]]]
    tabs = []
    for sign, end in zip((-1.0, 1.0), ends, strict=True):
        up = (end[1] - end[0]) / np.linalg.norm(end[1] - end[0])
        has_tab = sign > 0 or not flat.whole
        tabs.append(end + sign * TAB_MM * has_tab * np.array([up[1], -up[0]]))
    bottom, top = flat.on_paper(0.0, flat.clocks), flat.on_paper(wide, flat.clocks)
    around = np.concatenate([bottom, tabs[1], top[::-1], tabs[0][::-1]])
    return Curve(Layer.CUT_LINE, around, True), [Curve(Layer.TAB, end) for end in ends]


def _marks(flat: Unrolled) -> list[tuple[int, float]]:
    """The half hours on the strip: their number from 12 o'clock, and their clock angle [rad]."""
    first, last = np.ceil(flat.clocks[0] / _HALF_HOUR - _HAIR), np.floor(flat.clocks[-1] / _HALF_HOUR + _HAIR)
    return [(int(half), float(half * _HALF_HOUR)) for half in np.arange(first, last + 1)]


def _clock_marks(flat: Unrolled, wide: float) -> list[Curve]:
    """Marks along both edges, longer at the hours; 12 o'clock right across."""
    curves = []
    for half, clock in _marks(flat):
        tall = 3.0 if half % 2 == 0 else 1.5
        spans = [(0.0, wide)] if half % 24 == 0 else [(0.0, tall / 2), (wide - tall, wide)]
        curves += [Curve(Layer.MARKS, flat.on_paper(np.array(span), clock)) for span in spans]
    return curves


def _hours(flat: Unrolled, wide: float) -> list[Label]:
    labels = []
    for half, clock in _marks(flat):
        if half % 2 == 0 and clock < flat.clocks[-1] - _HALF_HOUR / 4:
            x, y = flat.on_paper(wide - 2.9, clock).tolist()
            labels.append(Label(str(half // 2 % 12 or 12), (x + 0.6, y), 2.8, bold=half % 24 == 0))
    return labels


def _ruler(patch: Developed, steps: Steps) -> tuple[list[Curve], list[Label]]:
    """How far in from the pinion-side end, just before the patch."""
    length, named = (parse_length("0.05 in"), 2) if steps.units == "in" else (1.0, 5)
    step = length * patch.flat.slant
    x, y = patch.flat.on_paper(0.0, patch.low).tolist()
    x -= 3.0
    count = int((patch.width_mm - 4.5) / step)
    curves, labels = [line(Layer.MARKS, (x, y), (x, y + count * step))], []
    for i in range(count + 1):
        curves.append(line(Layer.MARKS, (x - (1.5 if i % named == 0 else 0.9), y + i * step), (x, y + i * step)))
        if i and i % named == 0:
            name = f"{in_units(i * length, steps.units):.{2 if steps.units == 'in' else 0}f}"
            unit = f" {steps.units}" if i + named > count else ""
            labels.append(Label(name + unit, (x - 1.9, y + i * step - 0.6), 1.8, "right"))
    return curves, labels


def _centre(patch: Developed) -> list[Curve]:
    """The line through the patch's middle, its centre, and its deepest place."""
    x, y = patch.centre
    return [
        Curve(Layer.CENTRE, patch.flat.on_paper(np.array([0.0, patch.width_mm - 3.2]), patch.middle)),
        line(Layer.MARKS, (x - 1.0, y), (x + 1.0, y)),
        circle(Layer.MARKS, 0.4, patch.deepest, 36),
    ]


def _words(patch: Developed, answer: Answer) -> list[Label]:
    """What the marks mean, and how the strip lies, where there is room beside the patch."""
    units = answer.job.units
    deepest = show_length(patch.deepest_mm, units, rounding="up")
    limit = show_length(patch.stop_mm, units, rounding="down")
    marks = (f"{answer.pair}, case {answer.job.case.mark or '?'}", f"dashes: STOP at {limit}", f"o: deepest {deepest}")
    lies = ("PINION-SIDE END: flush", "with the end face,", "printed side outward")
    first, second = sorted(_free(patch), key=lambda zone: zone[0] - zone[1])[:2]
    if second[1] - second[0] < _WORDS_MM:  # both in the wider one
        first, second = (first[0], sum(first) / 2), (sum(first) / 2, first[1])
    return [
        Label(text, (left + 1.2, 1.9 + _LINE_MM * row), _TYPE_MM * min(1.0, (right - left) / _WORDS_MM))
        for (left, right), lines in (((first), marks), ((second), lies))
        for row, text in enumerate(reversed(lines))
    ]


def _free(patch: Developed) -> list[tuple[float, float]]:
    """Where nothing is drawn across the strip but the marks along its edges: from, to [mm]."""
    flat = patch.flat
    start, end, low, high = flat.on_paper(0.0, np.array([*flat.clocks[[0, -1]], patch.low, patch.high]))[:, 0].tolist()
    taken = [(low - 10.0, high + 0.8)]
    for half, clock in _marks(flat):
        if half % 24 == 0:
            x = float(flat.on_paper(0.0, clock)[0])
            taken.append((x, x))
    edges = [start, *(edge for pair in sorted(taken) for edge in pair), end]
    return [(a, max(a, b)) for a, b in zip(edges[::2], edges[1::2], strict=True)]
