"""Curves of a drawing, exact until they are flattened: lines, turns, Bezier curves and splines, moved by their points.

Every piece is told by points that an affine map may move, so nested blocks and transforms lose nothing, unequal
scales included; only `flat` turns it into straight lines, within a tolerance. Lengths are in
the drawing's own unit, [any] below.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from geartrack.errors import refuse
from geartrack.frame import Array

MOST_POINTS = 200_000
"""Points that one curve may be flattened into; a boss needs some hundreds."""

_SPANS = 8  # looks at a spline in at least so many places between two knots


@dataclass(frozen=True, eq=False)
class Lines:
    """Straight lines through points (n, 2) [any]."""

    points: Array

    def flat(self, tolerance: float) -> Array:
        """Its points (n, 2); the tolerance [any] changes nothing."""
        return self.points


@dataclass(frozen=True, eq=False)
class Turn:
    """An arc of a circle or an ellipse: points c, c + a, c + b (3, 2), from c + a cos t + b sin t at t = start.

    points [any]; start, sweep [rad], a negative sweep the other way round.
    """

    points: Array
    start: float
    sweep: float

    def flat(self, tolerance: float) -> Array:
        """Points on it (n, 2), chords within a tolerance [any].

        An affine image of chords of the unit circle, which stray by 1 - cos(step/2), times the larger axis.
        """
        centre, first, second = self.points
        axes = np.stack([first - centre, second - centre])
        largest = float(np.linalg.norm(axes, 2))
        step = 2 * math.acos(1 - min(tolerance / largest, 0.5)) if largest > 0 else math.pi
        angles = self.start + self.sweep * np.linspace(0, 1, _count(abs(self.sweep) / step) + 1)
        return np.asarray(centre + np.stack([np.cos(angles), np.sin(angles)], axis=1) @ axes)


@dataclass(frozen=True, eq=False)
class Bezier:
    """A Bezier curve of second or third degree by its points (3 or 4, 2) [any]."""

    points: Array

    def flat(self, tolerance: float) -> Array:
        """Points on it (n, 2), chords within a tolerance [any].

        A chord over a step h of the parameter strays by at most h^2/8 times the largest second derivative, which is
        n (n - 1) times the largest second difference of the points.
        """
        degree = len(self.points) - 1
        bend = degree * (degree - 1) * np.linalg.norm(np.diff(self.points, n=2, axis=0), axis=1).max()
        t = np.linspace(0, 1, _count(math.sqrt(bend / (8 * tolerance))) + 1)[:, None]
        weights = [math.comb(degree, k) * (1 - t) ** (degree - k) * t**k for k in range(degree + 1)]
        return np.asarray(sum(weight * point for weight, point in zip(weights, self.points, strict=True)))


@dataclass(frozen=True, eq=False)
class Spline:
    """A B-spline by its control points (n, 2) [any], order, knots [-] and weights [-] (none: all the same)."""

    points: Array
    order: int
    knots: tuple[float, ...]
    weights: tuple[float, ...] | None

    def flat(self, tolerance: float) -> Array:
        """Points on it (n, 2), chords within a tolerance [any], looked at between all knots."""
        from ezdxf.math import BSpline

        curve = BSpline(self.points, self.order, self.knots, self.weights)
        made = []
        for point in curve.flattening(tolerance, segments=_SPANS):
            made.append((point.x, point.y))
            _count(len(made))
        return np.array(made)


Piece = Lines | Turn | Bezier | Spline


def _count(chords: float) -> int:
    """How many chords, at least one; more than a drawing of a boss can need are refused."""
    if not chords <= MOST_POINTS:  # also true for NaN
        raise refuse("", "a curve far too long or too fine for the outline of a boss", "the outline alone")
    return max(1, math.ceil(chords))


@dataclass(frozen=True, eq=False)
class Curve:
    """Pieces that follow on each other, drawn in one go.

    layer: the layer or group it lies on, "" for none. names: every name that it may be asked for by. kind: what the
    file calls it.
    """

    pieces: tuple[Piece, ...]
    layer: str
    names: frozenset[str]
    kind: str

    def moved(self, turn: Array, shift: Array) -> Curve:
        """Every point p as turn p + shift: turn (2, 2) [-], shift (2,) [any]."""
        return replace(self, pieces=tuple(replace(p, points=p.points @ turn.T + shift) for p in self.pieces))

    def flat(self, tolerance: float) -> Array:
        """Points (n, 2) along it, chords within a tolerance [any], no two in a row the same."""
        points = np.concatenate([piece.flat(tolerance) for piece in self.pieces])
        keep = np.ones(len(points), bool)
        keep[1:] = (np.diff(points, axis=0) != 0).any(axis=1)
        return points[keep]

    @cached_property
    def extent(self) -> float:
        """Greatest length of a box round what defines it [any]; no less than half its own."""
        return _extent([piece.points for piece in self.pieces])


def size_of(curves: Sequence[Curve]) -> float:
    """Greatest length of a box round curves [any]."""
    return _extent([piece.points for curve in curves for piece in curve.pieces])


def _extent(points: Sequence[Array]) -> float:
    box = np.array([(each.min(axis=0), each.max(axis=0)) for each in points])
    return float((box[:, 1].max(axis=0) - box[:, 0].min(axis=0)).max())
