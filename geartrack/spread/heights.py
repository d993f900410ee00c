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
_ROUNDS, _STEP_MM = 2, 0.1
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
    """A reading against the boss: set number `which` stood `back` [mm] from its height, and the gap was `gap` [mm].

    gap_sd, back_sd: one standard deviation of each [mm]. shown: which of the gaps it is; the set's own by default.
    """

    name: str
    which: int
    gap: float
    gap_sd: float
    back: float
    back_sd: float
    shown: int | None = None

    @property
    def of(self) -> int:
        """Which of the gaps it shows."""
        return self.which if self.shown is None else self.shown


def draw_heights(
    mean: Array, sd: Array, scores: Array, *, told: Sequence[Told], seen: Sequence[Seen], gaps: Sequence[GapAt]
) -> tuple[Array, Array]:
    """Heights (n, m) [mm] of m sets' toe tips, and the logarithm of each draw's weight (n,) [-].

    mean: (n, m) heights before any reading [mm]; sd: (m,) [mm], one standard deviation; scores: (n, m) standard normal
    [-]. gaps: for each set, and then for each place that was read, the gaps (n,) [mm] of all draws at heights (n,)
    [mm]. Weights are 0 in logarithm, all of them, where nothing was read.
    """
    centre, precision, log_weight = _told(mean, np.diag(1.0 / sd**2), told)
    if not seen:
        return centre + scores @ np.linalg.inv(np.linalg.cholesky(precision)), log_weight
    at = centre
    for _ in range(_ROUNDS):
        at, fitted, slopes = _fit(at, centre, precision, seen, gaps)
    root = np.linalg.cholesky(fitted / _WIDER**2)
    heights = at + np.linalg.solve(np.swapaxes(root, 1, 2), scores[:, :, None])[:, :, 0]
    off = heights - centre
    log_prior = 0.5 * np.linalg.slogdet(precision)[1] - 0.5 * np.einsum("ni,ij,nj->n", off, precision, off)
    log_proposal = np.log(np.diagonal(root, axis1=1, axis2=2)).sum(axis=1) - 0.5 * (scores**2).sum(axis=1)
    for each, slope in zip(seen, slopes, strict=True):
        gap = gaps[each.of](heights[:, each.which] + each.back)
        variance = each.gap_sd**2 + (slope * each.back_sd) ** 2
        log_prior = log_prior - 0.5 * np.log(variance) - 0.5 * (each.gap - gap) ** 2 / variance
    return heights, log_weight + log_prior - log_proposal


@dataclass(frozen=True, eq=False)
class Toward:
    """A normal for scores: mean (k,), and root (k, k) of its covariance [-]."""

    mean: Array
    root: Array

    def moved(self, scores: Array) -> tuple[Array, Array]:
        """Standard scores (n, k) as scores of this normal, and the log ratio of standard to this density (n,) [-]."""
        moved = self.mean + scores @ self.root.T
        log_ratio = 0.5 * (scores**2).sum(axis=1) + np.log(np.diag(self.root)).sum() - 0.5 * (moved**2).sum(axis=1)
        return moved, log_ratio


def toward_readings(tried: Array, expected: Array, read: Array, noise: Array) -> Toward:
    """Where readings put scores that are standard normal before them: their normal by a straight line.

    tried: (n, k) scores [-] at which expected (n, j) is what the j readings would show [mm]; read: (j,) what they
    showed [mm]; noise: (j, j) their covariance [mm2]. What is expected is fitted straight on the scores tried, what the
    line leaves counts as noise (the Kalman update). Drawn from this, and weighted by what `moved` says, the answer is
    the same and needs fewer draws.
    """
    design = np.column_stack([np.ones(len(tried)), tried])
    fit = np.linalg.solve(design.T @ design, design.T @ expected)
    left = expected - design @ fit
    middle, slopes = fit[0], fit[1:].T
    around = noise * _WIDER + left.T @ left / len(tried)
    gain = np.linalg.solve(slopes @ slopes.T + around, slopes).T
    return Toward(gain @ (read - middle), np.linalg.cholesky(np.eye(tried.shape[1]) - gain @ slopes))


def normalised(log_weight: Array) -> Array:
    """Weights (n,) [-] of mean 1 from log_weight (n,) [-]."""
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
) -> tuple[Array, Array, list[Array]]:
    """One Gauss-Newton step with the gap straight about `at`: the best heights (n, m), their precision (n, m, m), and
    the gap's change with height for each reading, (n,)."""
    fitted = np.broadcast_to(precision, (len(at), *precision.shape)).copy()
    pull = np.zeros(at.shape)
    slopes = []
    for each in seen:
        height = at[:, each.which] + each.back
        gap = gaps[each.of](height)
        slope = (gap - gaps[each.of](height - _STEP_MM)) / _STEP_MM
        slopes.append(slope)
        weight = slope / (each.gap_sd**2 + (slope * each.back_sd) ** 2)
        fitted[:, each.which, each.which] += weight * slope
        pull[:, each.which] += weight * (each.gap - gap + slope * (at - centre)[:, each.which])
    return centre + np.linalg.solve(fitted, pull[:, :, None])[:, :, 0], fitted, slopes
