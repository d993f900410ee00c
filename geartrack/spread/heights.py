"""Where the teeth run, given readings: heights of the toe tips drawn from what is known and read, draw by draw.

For each draw of all other inputs the heights of the toe tips (of this set, and of the old one where it was read) are
normal before any reading. Readings of a height are taken in exactly. Readings against the boss say what the gap is,
which bends with height: each draw's heights are drawn from the normal that fits them at their best place
(Gauss-Newton), and the weight of the draw makes up for what that normal misses and says how well the draw's other
inputs go with what was read (importance weights; Kong, Liu, Wong 1994, from memory).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from geartrack.frame import Array

GapAt = Callable[[Array], Array]
_ROUNDS, _STEP_MM = 3, 0.05
_WIDER = 1.2  # a proposal a little wider than the fit keeps weights bounded where the gap bends


@dataclass(frozen=True)
class Told:
    """A reading of heights: `along` (m,) times the heights is `value`, one standard deviation `sd` [mm]."""

    name: str
    along: tuple[float, ...]
    value: float
    sd: float


@dataclass(frozen=True)
class Seen:
    """A reading against the boss: set number `which` stood `back` from its height, and the gap was `gap`; sds [mm]."""

    name: str
    which: int
    gap: float
    gap_sd: float
    back: float
    back_sd: float


def draw_heights(
    mean: Array, sd: Array, scores: Array, *, told: Sequence[Told], seen: Sequence[Seen], gaps: Sequence[GapAt]
) -> tuple[Array, Array]:
    """Heights (n, m) [mm] of m sets' toe tips, and the logarithm of each draw's weight (n,) [-].

    mean: (n, m) heights before any reading [mm]; sd: (m,) [mm], one standard deviation; scores: (n, m) standard normal
    [-]. gaps: for each set, the gaps (n,) [mm] of all draws at heights (n,) [mm]. Weights are 0 in logarithm, all of
    them, where nothing was read.
    """
    centre, precision, log_weight = _told(mean, np.diag(1.0 / sd**2), told)
    if not seen:
        return centre + scores @ np.linalg.inv(np.linalg.cholesky(precision)), log_weight
    at = centre
    for _ in range(_ROUNDS):
        at, fitted = _fit(at, centre, precision, seen, gaps)
    root = np.linalg.cholesky(fitted / _WIDER**2)
    heights = at + np.linalg.solve(np.swapaxes(root, 1, 2), scores[:, :, None])[:, :, 0]
    off = heights - centre
    log_prior = 0.5 * np.linalg.slogdet(precision)[1] - 0.5 * np.einsum("ni,ij,nj->n", off, precision, off)
    log_proposal = np.log(np.diagonal(root, axis1=1, axis2=2)).sum(axis=1) - 0.5 * (scores**2).sum(axis=1)
    for each in seen:
        gap, slope = _gap_and_slope(each, heights, gaps)
        variance = each.gap_sd**2 + (slope * each.back_sd) ** 2
        log_prior = log_prior - 0.5 * np.log(variance) - 0.5 * (each.gap - gap) ** 2 / variance
    return heights, log_weight + log_prior - log_proposal


def toward_readings(scores: Array, tried: Array, expected: Array, read: Array, noise: Array) -> tuple[Array, Array]:
    """Scores (n, k) moved to where the readings put them, and each draw's log ratio of old to new density (n,) [-].

    scores: independent standard normal [-]; tried: (n, k) scores at which expected (n, j) is what the j readings would
    show [mm]; read: (j,) what they showed [mm]; noise: (j, j) their covariance [mm2]. What is expected is fitted
    straight on the scores tried, what the line leaves counts as noise, and the scores' normal given the readings (the
    Kalman update) is drawn from instead. Weights make up for the line, so the answer stays and needs fewer draws.
    """
    count, inputs = scores.shape
    design = np.column_stack([np.ones(count), tried])
    fit = np.linalg.solve(design.T @ design, design.T @ expected)
    left = expected - design @ fit
    middle, slopes = fit[0], fit[1:].T
    around = noise * _WIDER + left.T @ left / count
    gain = np.linalg.solve(slopes @ slopes.T + around, slopes).T
    root = np.linalg.cholesky(np.eye(inputs) - gain @ slopes)
    moved = gain @ (read - middle) + scores @ root.T
    log_ratio = 0.5 * (scores**2).sum(axis=1) + np.log(np.diag(root)).sum() - 0.5 * (moved**2).sum(axis=1)
    return moved, log_ratio


def normalised(log_weight: Array) -> Array:
    """Weights (n,) [-] of mean 1 from their logarithms."""
    weight = np.exp(log_weight - log_weight.max())
    found: Array = weight / weight.mean()
    return found


def _told(mean: Array, precision: Array, told: Sequence[Told]) -> tuple[Array, Array, Array]:
    """Mean (n, m), precision (m, m), log weight (n,) after readings that are linear in the heights: exact."""
    log_weight = np.zeros(len(mean))
    for each in told:
        along = np.array(each.along)
        covariance = np.linalg.inv(precision)
        variance = along @ covariance @ along + each.sd**2
        off = each.value - mean @ along
        log_weight -= 0.5 * np.log(variance) + 0.5 * off**2 / variance
        mean = mean + np.outer(off / variance, covariance @ along)
        precision = precision + np.outer(along, along) / each.sd**2
    return mean, precision, log_weight


def _fit(
    at: Array, centre: Array, precision: Array, seen: Sequence[Seen], gaps: Sequence[GapAt]
) -> tuple[Array, Array]:
    """One Gauss-Newton step: the best heights (n, m) and their precision (n, m, m) with the gap straight about `at`."""
    fitted = np.broadcast_to(precision, (len(at), *precision.shape)).copy()
    pull = np.zeros(at.shape)
    for each in seen:
        gap, slope = _gap_and_slope(each, at, gaps)
        weight = slope / (each.gap_sd**2 + (slope * each.back_sd) ** 2)
        fitted[:, each.which, each.which] += weight * slope
        pull[:, each.which] += weight * (each.gap - gap + slope * (at - centre)[:, each.which])
    return centre + np.linalg.solve(fitted, pull[:, :, None])[:, :, 0], fitted


def _gap_and_slope(each: Seen, heights: Array, gaps: Sequence[GapAt]) -> tuple[Array, Array]:
    """The gap as it would have been read, and its change with height, both (n,)."""
    height = heights[:, each.which] + each.back
    low, high = gaps[each.which](height - _STEP_MM / 2), gaps[each.which](height + _STEP_MM / 2)
    return (low + high) / 2, (high - low) / _STEP_MM
