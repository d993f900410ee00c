"""The small picture of which way is which: the boss from the side, and from the pinion-nut end; not to scale."""

from __future__ import annotations

import numpy as np

from geartrack.export.figure import Across, Curve, Figure, Label, Layer, Spot, box_curve, circle, line
from geartrack.frame import Array, Hand

_TYPE_MM = 2.5
_R, _BORE, _LONG, _STRIP = 10.0, 6.5, 26.0, 7.5
_END: Spot = (82.0, 0.0)


def which_way(
    hand: Hand | None, *, offset: bool, clocks: tuple[float, float] | None = None, strip: bool = False
) -> Figure:
    """Which end is the pinion's, which way 12 o'clock and the ring's centre line are.

    offset: whether there is one. clocks: between which clock angles the patch lies, if it is to be shown [rad]. strip:
    whether a strip of paper lies round the boss.
    """
    curves, labels = _side(strip)
    more, words = _end(clocks, hand if offset else None)
    name = "How the strip is put on" if strip else "Which way is which"
    return Figure(name, (0.0, -16.5, 112.0, 19.5), (*curves, *more), (*labels, *words))


def _side(strip: bool) -> tuple[list[Curve], list[Label]]:
    """Side view: pinion-side end on the left, ring gear above."""
    start, end = 22.0, 22.0 + _LONG
    paper = np.array([(start, -_R), (start + _STRIP, -_R), (start + _STRIP, _R), (start, _R)])
    curves = [
        *([Curve(Layer.SHADE, paper, True), Curve(Layer.MARKS, paper[1:3])] if strip else []),
        box_curve(Layer.PATCH, (start, -_R, end, _R)),
        line(Layer.TAB, (start, _BORE), (end - 6, _BORE), (end - 6, -_BORE), (start, -_BORE)),
        *arrow((start - 3.0, 0.0), (start - 13.0, 0.0)),
        *arrow((start + _STRIP / 2, _R + 1.0), (start + _STRIP / 2, _R + 5.5)),
    ]
    labels = [
        Label("to the pinion", (0.0, 2.0), _TYPE_MM),
        Label("12: to the ring gear", (start + _STRIP / 2 + 2.0, _R + 2.6), _TYPE_MM),
        Label("boss, side view", (start + _LONG / 2 + 4, -_R - 4.0), _TYPE_MM, "middle"),
        Label("edge flush" if strip else "pinion-side end", (start + 1.0, -_R - 4.0), _TYPE_MM, "right"),
        Label("case", (end + 1.0, -0.9), _TYPE_MM),
    ]
    if strip:
        labels.append(Label("strip", (start + _STRIP / 2, -0.9), _TYPE_MM, "middle", ground=True))
    return curves, labels


def _end(clocks: tuple[float, float] | None, hand: Hand | None) -> tuple[list[Curve], list[Label]]:
    """End view from the pinion-nut end, the patch where it is, and which way the ring's centre line lies."""
    x, y = _END
    curves = [circle(Layer.PATCH, _R, _END), circle(Layer.TAB, _BORE, _END)]
    if clocks:
        turn = np.linspace(*clocks, 24)
        rim = np.concatenate([_polar(_R - 1.2, turn), _polar(_R + 1.2, turn[::-1])])
        curves.append(Curve(Layer.BAR, rim + np.array(_END), True))
    labels = [
        Label(text, (x + _R + 2.0, up), _TYPE_MM)
        for text, up in (("end view, from", 13.0), ("the pinion-nut end", 10.0))
    ]
    for hour in (12, 3, 6, 9):
        spot = _polar(_R + 3.2, np.array(np.radians(30.0 * hour))) + np.array(_END)
        labels.append(Label(str(hour), (float(spot[0]), float(spot[1]) - 0.9), _TYPE_MM, "middle", bold=hour == 12))
    curves += arrow((x, y + _R + 6.0), (x, y + _R + 9.0))
    if hand:
        for side, words in ((hand.sign, "away from"), (-hand.sign, "toward")):
            edge = x + side * (_R + 5.5)
            curves += arrow((edge, -5.0), (edge + side * 5.0, -5.0))
            across: Across = "left" if side > 0 else "right"
            for row, text in enumerate((words, "the ring's", "centre line")):
                labels.append(Label(text, (edge, -8.4 - 2.9 * row), _TYPE_MM, across))
    return curves, labels


def _polar(radius: float, turn: Array) -> Array:
    return np.stack([radius * np.sin(turn), radius * np.cos(turn)], axis=-1)


def arrow(start: Spot, end: Spot) -> list[Curve]:
    """A line with a head at its end."""
    a, b = np.array(start), np.array(end)
    along = (b - a) / np.linalg.norm(b - a)
    side = np.array([-along[1], along[0]])
    head = np.array([b, b - 2.0 * along + 0.8 * side, b - 2.0 * along - 0.8 * side])
    return [Curve(Layer.MARKS, np.array([a, b])), Curve(Layer.BAR, head, True)]
