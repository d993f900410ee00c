"""Seeded quasi-random draws of uncertain inputs: scrambled Sobol points, several independent sets of them (DESIGN 5).

Each set is scrambled on its own, so the scatter of a result between sets is the error of the result over all of them.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from geartrack.errors import refuse
from geartrack.frame import Array
from geartrack.quantity import Quantity, Shape

DRAWS, SETS, SEED = 8192, 8, 20_261_125
FEWEST, MOST = 256, 2**20
SIGMAS = 2.0  # a normal quantity's limits lie this many standard deviations from its value


@dataclass(frozen=True)
class Correlation:
    """Two inputs that err together: names as in a job's inputs, by from -1 to 1 [-] (of their normal scores)."""

    first: str
    second: str
    by: float


def draw(
    inputs: Mapping[str, Quantity],
    *,
    count: int = DRAWS,
    seed: int = SEED,
    correlations: tuple[Correlation, ...] = (),
) -> dict[str, Array]:
    """Draws (count,) of every input that is not exact, by name, in the inputs' own units [any].

    Rows i * count / SETS and on belong to the i-th independent set. Raises InputError for a count that is no power of
    two or out of range, a negative seed, or correlations that cannot be together.
    """
    return values_of(inputs, standard_scores(inputs, count=count, seed=seed), correlations)


def standard_scores(inputs: Mapping[str, Quantity], *, count: int, seed: int) -> Array:
    """Independent standard normal scores (count, k) [-], a column for each of the k inputs that are not exact."""
    check_count(count, seed)
    return _scores(len(_drawn_names(inputs)), count, seed)


def values_of(
    inputs: Mapping[str, Quantity], scores: Array, correlations: tuple[Correlation, ...] = ()
) -> dict[str, Array]:
    """Values (n,) of each input that is not exact [any], from scores (n, k) [-] such as `standard_scores` has."""
    names = _drawn_names(inputs)
    mixed = scores @ _mixing(names, correlations).T
    return {name: drawn(inputs[name], mixed[:, i]) for i, name in enumerate(names)}


def _drawn_names(inputs: Mapping[str, Quantity]) -> list[str]:
    return [name for name, quantity in inputs.items() if quantity.high > quantity.low]


def check_count(count: int, seed: int) -> None:
    """Refuse a number of draws that is not a power of two from FEWEST to MOST, and a negative seed."""
    if not FEWEST <= count <= MOST or count & (count - 1):
        raise refuse("draws", f"{count} draws", f"a power of two from {FEWEST} to {MOST}, such as {DRAWS}")
    if seed < 0:
        raise refuse("seed", f"a seed of {seed}", "a whole number from 0")


def drawn(quantity: Quantity, scores: Array) -> Array:
    """Values (n,) [any] of a quantity at standard normal scores (n,) [-].

    A normal one whose limits lie unevenly about its value is one half normal to either side, each as likely as it is
    wide; a one-sided one is a half normal whose limit holds 95 %. A uniform one lies evenly between its limits.

    >>> from geartrack.quantity import give_or_take
    >>> [float(v) for v in drawn(give_or_take(5.0, 1.0), np.array([-2.0, 0.0, 2.0]))]
    [4.0, 5.0, 6.0]
    """
    from scipy.special import ndtr, ndtri

    low, value, high = quantity.low, quantity.value, quantity.high
    if quantity.shape is Shape.UNIFORM:
        uniform: Array = low + (high - low) * ndtr(scores)
        return uniform
    below, above = (value - low) / SIGMAS, (high - value) / SIGMAS
    if below == above:
        return value + below * scores
    share = below / (below + above)
    chance = ndtr(scores)
    lower = below * ndtri(np.clip(chance / (2 * share), 1e-300, 0.5)) if share else np.zeros_like(scores)
    upper = -above * ndtri(np.clip((1 - chance) / (2 * (1 - share)), 1e-300, 0.5)) if share < 1 else lower
    split: Array = value + np.where(chance < share, lower, upper)
    return split


def _scores(inputs: int, count: int, seed: int) -> Array:
    """Standard normal scores (count, inputs), SETS independently scrambled Sobol sets one after another."""
    from scipy.special import ndtri
    from scipy.stats import qmc

    if not inputs:
        return np.zeros((count, 0))
    each = int(np.log2(count // SETS))
    sets = [qmc.Sobol(inputs, rng=np.random.default_rng([seed, i])).random_base2(each) for i in range(SETS)]
    inside = np.finfo(float).eps
    scores: Array = ndtri(np.clip(np.concatenate(sets), inside, 1 - inside))
    return scores


def _mixing(names: list[str], correlations: tuple[Correlation, ...]) -> Array:
    """The matrix that makes independent scores err together. Inputs that are exact have nothing to share."""
    matrix = np.eye(len(names))
    for each in correlations:
        if not -1 <= each.by <= 1:
            raise refuse("correlated", f"{each.first} and {each.second} by {each.by:g}", "a number from -1 to 1")
        if each.first in names and each.second in names:
            i, j = names.index(each.first), names.index(each.second)
            matrix[i, j] = matrix[j, i] = each.by
    values, vectors = np.linalg.eigh(matrix)
    if values.min(initial=1.0) < -1e-9:
        these = ", ".join(f"{c.first} with {c.second} by {c.by:g}" for c in correlations)
        raise refuse("correlated", f"these cannot all hold together: {these}", "smaller numbers, or fewer pairs")
    mixing: Array = vectors * np.sqrt(np.clip(values, 0.0, None)) @ vectors.T
    return mixing
