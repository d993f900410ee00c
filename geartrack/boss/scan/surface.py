"""The boss's outside as a scan shows it: how far out it is at every station and clock angle about the bore.

What lies first outside the bore's wall counts, whichever way its triangles are wound. Each node's value comes from a
plane fitted to the scan about it, points that do not belong weighed down by Tukey's biweight (from memory); where a
neighbour's plane fits its own points far better, the node is at an edge and takes that, so that edges stay sharp.
"""

from __future__ import annotations

import math

import numpy as np

from geartrack.boss.mesh import Triangles
from geartrack.boss.scan.field import TURN, Grid, filled, first_layer, fitted_planes, grid_of, middle
from geartrack.boss.scan.finish import (
    Mask,
    Outside,
    edges_kept,
    front_refined,
    holes_closed,
    not_below,
    outward,
    rough_mm,
    within_neighbours,
)
from geartrack.boss.scan.points import CLOSE_MM, drawn, usual_side_mm
from geartrack.errors import InputError, refuse
from geartrack.frame import Array, from_polar, polar

SKIN_MM = 1.0
"""Nothing so near the bore's own wall is the outside."""

_STEP_MM = (0.25, 0.35)  # between nodes: along the bore, and round the outside
_COARSE_MM, _PER_CELL, _COARSE_CUTS_MM = (1.0, 3.0), 10.0, (1.0, 0.6, 0.4)
_CUTS_MM = (0.4, 0.25, 0.15)  # from a node's plane, round by round, beyond which a point does not count
_TRUE_MM = 0.3  # a vertex no further off a plane about it is on the outside
_DRAWN_OUT, _MANY = 2.0, 0.06  # a stray's triangles, on the outside and off it, are so much longer than usual
_POINTS, _CLOSE = 260_000, 2  # a node is seen where the window of so many nodes to each side holds points enough
_ALONE = 0.75  # the share of a stray's neighbours that lie on the outside
_GOOD = 2.5  # a good fit's rms over the usual one


def outside(
    vertices: Array,
    triangles: Triangles,
    *,
    bore_radius_mm: float,
    length_mm: float,
    out_mm: float,
    face_mm: float = 0.02,
) -> Outside:
    """The outside of a boss from a scan's vertices (n, 3) in the boss frame [mm] and its triangles.

    length_mm: from the pinion-side end face in; out_mm: nothing further out than this is the boss; face_mm: nearer than
    this to the end face's plane a point may be the face's own.
    Raises InputError where nothing of it is seen.
    """
    station, radius, clock = polar(vertices)
    shell = (radius > bore_radius_mm + SKIN_MM) & (radius < out_mm)
    shell &= (station > -_COARSE_MM[0]) & (station < length_mm + _COARSE_MM[0])
    triangles = triangles[shell[triangles].any(axis=1)]
    if not len(triangles):
        raise _unseen()
    mean = float(np.median(radius[shell]))
    places = np.stack([station, np.remainder(clock, TURN) * mean], axis=1)
    usual, strays = usual_side_mm(vertices, triangles, np.random.default_rng(0)), False
    if usual < CLOSE_MM:
        kept, tried = shell & (station > face_mm), shell & (station > -2 * face_mm)
        near = _on_outside(places, radius, kept, tried, length_mm=length_mm, mean_mm=mean)
        vertices, near = _lone_strays_put_back(vertices, triangles, near, np.abs(station) < 2 * face_mm)
        station, radius, clock = polar(vertices)
        places = np.stack([station, np.remainder(clock, TURN) * mean], axis=1)
        triangles, strays = _without_strays(vertices, triangles, near, usual)
    points, out = _drawn(vertices, triangles, places, mean)
    on = (out > bore_radius_mm + SKIN_MM) & (out < out_mm) & (points[:, 0] > face_mm) & (points[:, 0] < length_mm)
    return _resolved(points[on], out[on], length_mm, mean, least_mm=bore_radius_mm + SKIN_MM, median=strays)


def _lone_strays_put_back(vertices: Array, triangles: Triangles, near: Mask, face: Mask) -> tuple[Array, Mask]:
    """A vertex off the outside and the end face, whose neighbours nearly all lie on them, is put amid those: of coarse
    triangles one stray would make a pit or a peak several millimetres wide. One off the edge is put amid the edge's.
    """
    count, true = len(vertices), near | face
    triangles = triangles[~true[triangles].all(axis=1)]
    of = triangles.ravel()
    others = np.stack([np.roll(true[triangles], by, axis=1) for by in (1, 2)]).sum(axis=0).ravel()
    beside = np.bincount(of, weights=others, minlength=count) / np.maximum(2 * np.bincount(of, minlength=count), 1)
    lone = ~true & (beside > _ALONE)
    if not lone.any():
        return vertices, near
    some = triangles[lone[triangles].any(axis=1)]
    of, by = (np.concatenate([some[:, each].ravel() for each in order]) for order in ([0, 1, 2], [1, 2, 0]))
    of, by = np.concatenate([of, by]), np.concatenate([by, of])
    of, by = of[lone[of] & true[by]], by[lone[of] & true[by]]
    kinds = [np.bincount(of, weights=kind[by], minlength=count) > 0 for kind in (near & ~face, face & ~near)]
    on_edge = np.bincount(of, weights=(near & face)[by], minlength=count) > 0
    kept = ~(on_edge & kinds[0] & kinds[1])[of] | (near & face)[by]
    of, by = of[kept], by[kept]
    station, radius, _ = polar(vertices)
    at, many = np.unique(of, return_counts=True)
    rows = (station, radius, vertices[:, 1], vertices[:, 2])
    middle = [np.bincount(of, weights=row[by], minlength=count)[at] / many for row in rows]
    vertices, near = vertices.copy(), near.copy()
    vertices[at] = from_polar(middle[0], middle[1], np.arctan2(middle[2], middle[3]))
    near[at] = np.bincount(of, weights=near[by], minlength=count)[at] > 0
    return vertices, near


def _without_strays(vertices: Array, triangles: Triangles, near: Mask, usual_mm: float) -> tuple[Triangles, bool]:
    """Triangles fit to be drawn from, and whether so many vertices stray that only those on the outside are."""
    many = near[triangles].sum(axis=1)
    drawn_out = (many > 0) & (many < 3)
    corners = vertices[triangles[drawn_out]]
    longest = np.linalg.norm(corners - np.roll(corners, 1, axis=1), axis=2).max(axis=1)
    drawn_out[drawn_out] = longest > _DRAWN_OUT * usual_mm
    if drawn_out.mean() > _MANY:
        return triangles[many == 3], True
    return triangles[~drawn_out], False


def _unseen() -> InputError:
    return refuse("scan", "shows nothing of the boss's outside", "a scan of the boss from outside too")


def _on_outside(places: Array, radius: Array, shell: Mask, tried: Mask, *, length_mm: float, mean_mm: float) -> Mask:
    """Which of the vertices tried lie on the first surface out from the bore, (n,): neither strays nor what is beyond.

    shell: those that say where it is.
    """
    area = length_mm * TURN * mean_mm
    step = float(np.clip(np.sqrt(_PER_CELL * area / max(int(shell.sum()), 1)), *_COARSE_MM))
    coarse = grid_of(step, step, length_mm, mean_mm)
    first = filled(first_layer(places[shell], radius[shell], coarse), coarse)
    plane = fitted_planes(places[shell], radius[shell], coarse, first, _COARSE_CUTS_MM)[0]
    true = np.zeros(len(radius), bool)
    true[tried] = _near_planes(places[tried], radius[tried], coarse, plane)
    return true


def _near_planes(places: Array, radius: Array, grid: Grid, plane: Array) -> Mask:
    """Which points lie near the plane of their own node or of one beside it, (n,)."""
    number, off = grid.nodes(places)
    row, column = np.divmod(number, grid.shape[1])
    near: Mask = np.zeros(len(radius), bool)
    for i in (-1, 0, 1):
        for j in (-1, 0, 1):
            rows = row + i
            inside = (rows >= 0) & (rows < grid.shape[0])
            level = plane[np.where(inside, rows, 0) * grid.shape[1] + (column + j) % grid.shape[1]]
            x, y = off[:, 0] - i * grid.step[0], off[:, 1] - j * grid.step[1]
            steep = np.sqrt(1 + level[:, 1] ** 2 + level[:, 2] ** 2)
            with np.errstate(invalid="ignore"):
                apart = np.abs(radius - level[:, 0] - level[:, 1] * x - level[:, 2] * y) / steep
                near |= inside & (apart < _TRUE_MM)
    return near


def _drawn(vertices: Array, triangles: Triangles, places: Array, mean_mm: float) -> tuple[Array, Array]:
    """Places (n, 2) and radii (n,) [mm] drawn evenly over the outside from its triangles."""
    if not len(triangles):
        raise _unseen()
    corners = places[triangles]
    turn = TURN * mean_mm
    u, v = corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]
    for side in (u, v):
        side[:, 1] -= turn * np.rint(side[:, 1] / turn)
    seen = np.abs(u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0])
    points = drawn(vertices, triangles, seen, _POINTS, np.random.default_rng(len(triangles)))
    station, out, clock = polar(points)
    return np.stack([station, np.remainder(clock, TURN) * mean_mm], axis=1), out


def _resolved(
    places: Array, radius: Array, length_mm: float, mean_mm: float, *, least_mm: float, median: bool
) -> Outside:
    """The outside on its grid; `median`: the points are the outside's own, else its first layer is looked for."""
    grid = grid_of(*_STEP_MM, length_mm, mean_mm)
    first = (middle if median else first_layer)(places, radius, grid)
    plane, rms, window = fitted_planes(places, radius, grid, filled(first, grid), _CUTS_MM)
    usual = float(np.median(rms[np.isfinite(rms)])) if np.isfinite(rms).any() else math.inf
    if not math.isfinite(usual):
        raise _unseen()
    value, slope = edges_kept(plane, rms, usual, grid)
    value = np.where(value < least_mm, np.nan, not_below(value, first.reshape(grid.shape)))
    seen = (window.reshape(grid.shape) <= _CLOSE) & np.isfinite(value)
    if not seen.any():
        raise _unseen()
    value = outward(within_neighbours(value, rms.reshape(grid.shape) < _GOOD * usual, seen))
    clock: Array = np.arange(grid.shape[1], dtype=float) * (TURN / grid.shape[1])
    closed, shown = holes_closed(value, seen, grid.step[0])
    station: Array = np.arange(grid.shape[0], dtype=float) * grid.step[0]
    return front_refined(Outside(station, clock, closed, shown, math.hypot(usual, rough_mm(closed))), slope)
