"""Plain figures in millimetres, that every writer of paper and drawings takes: curves on layers, and labels."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Literal

import numpy as np

from geartrack.frame import Array

Spot = tuple[float, float]
Box = tuple[float, float, float, float]
Across = Literal["left", "middle", "right"]


class Layer(StrEnum):
    """What a curve is; a drawing's layers have these names."""

    CUT_LINE = "CUT_LINE"
    TAB = "TAB"
    BOSS = "BOSS"
    PATCH = "PATCH"
    STOP = "STOP"
    DEPTH = "DEPTH"
    DEPTH_MAJOR = "DEPTH_MAJOR"
    MARKS = "MARKS"
    CENTRE = "CENTRE"
    SHADE = "SHADE"
    BAR = "BAR"
    TEXT = "TEXT"


@dataclass(frozen=True)
class Ink:
    """How a layer is drawn.

    width_mm: of the line, 0 for none; dash_mm: dashes and gaps; grey: of the line, fill: of the area within, None for
    none; both [-], 0 black to 1 white. color: index in a drawing that knows indices only.
    """

    width_mm: float
    dash_mm: tuple[float, ...] = ()
    grey: float = 0.0
    fill: float | None = None
    color: int = 7


INKS = {
    Layer.CUT_LINE: Ink(0.18, color=1),
    Layer.TAB: Ink(0.13, (1.2, 0.8), 0.35, color=8),
    Layer.BOSS: Ink(0.18, grey=0.35, color=8),
    Layer.PATCH: Ink(0.3, color=5),
    Layer.STOP: Ink(0.2, (0.9, 0.5), color=6),
    Layer.DEPTH: Ink(0.05, color=3),
    Layer.DEPTH_MAJOR: Ink(0.13, color=3),
    Layer.MARKS: Ink(0.13, color=7),
    Layer.CENTRE: Ink(0.13, (3.0, 0.6, 0.6, 0.6), color=2),
    Layer.SHADE: Ink(0.0, fill=0.85, color=9),
    Layer.BAR: Ink(0.0, fill=0.0, color=7),
    Layer.TEXT: Ink(0.0, color=7),
}


@dataclass(frozen=True, eq=False)
class Curve:
    """points: (n, 2) across and up [mm]; closed: its end joins its start."""

    layer: Layer
    points: Array
    closed: bool = False


@dataclass(frozen=True)
class Label:
    """Words on one line. at: their foot [mm]; size_mm: of the type; turn: anticlockwise [deg]; ground: white behind."""

    text: str
    at: Spot
    size_mm: float = 2.2
    across: Across = "left"
    turn: float = 0.0
    ground: bool = False
    bold: bool = False


@dataclass(frozen=True, eq=False)
class Figure:
    """Curves and labels; box: left, bottom, right, top of all that is to be seen [mm]."""

    name: str
    box: Box
    curves: tuple[Curve, ...] = ()
    labels: tuple[Label, ...] = ()

    @property
    def width_mm(self) -> float:
        """Width of the box."""
        return self.box[2] - self.box[0]

    @property
    def height_mm(self) -> float:
        """Height of the box."""
        return self.box[3] - self.box[1]

    def with_(self, curves: Iterable[Curve] = (), labels: Iterable[Label] = ()) -> Figure:
        """The figure with more on it."""
        return replace(self, curves=(*self.curves, *curves), labels=(*self.labels, *labels))

    def mapped(self, move: Callable[[Array], Array]) -> Figure:
        """The figure with every point (n, 2) [mm] moved, the box's corners too; labels keep their size and turn."""
        left, bottom, right, top = self.box
        (x0, y0), (x1, y1) = move(np.array([[left, bottom], [right, top]])).tolist()
        curves = tuple(replace(curve, points=move(curve.points)) for curve in self.curves)
        spots = [move(np.array([label.at]))[0] for label in self.labels]
        labels = (replace(label, at=(float(x), float(y))) for label, (x, y) in zip(self.labels, spots, strict=True))
        return Figure(self.name, (x0, y0, x1, y1), curves, tuple(labels))


def line(layer: Layer, *spots: Spot, closed: bool = False) -> Curve:
    """A curve through spots [mm]."""
    return Curve(layer, np.array(spots, dtype=np.float64), closed)


def box_curve(layer: Layer, box: Box) -> Curve:
    """The outline of a box [mm]."""
    left, bottom, right, top = box
    return line(layer, (left, bottom), (right, bottom), (right, top), (left, top), closed=True)


def circle(layer: Layer, radius_mm: float, at: Spot = (0.0, 0.0), facets: int = 720) -> Curve:
    """A circle, as a polygon."""
    turn = np.linspace(0.0, 2 * np.pi, facets, endpoint=False)
    return Curve(layer, np.stack([at[0] + radius_mm * np.sin(turn), at[1] + radius_mm * np.cos(turn)], axis=1), True)


def printable(text: str) -> str:
    """A text that somebody typed, on one line, without signs that no page can show."""
    return "".join(sign if sign.isprintable() else " " for sign in " ".join(text.split()))
