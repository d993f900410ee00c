"""The set-up gap over what is not known, given everything that was read: weighted draws (DESIGN 5)."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from geartrack.assembly import WEIGHED, Many, Plan, many
from geartrack.assembly.model import MODEL
from geartrack.frame import Array
from geartrack.inputs import MODEL as MODEL_TERM
from geartrack.quantity import Quantity, give_or_take
from geartrack.spread.band import effective, quantiles
from geartrack.spread.draws import DRAWS, SEED, SIGMAS, Correlation, draw, drawn
from geartrack.spread.heights import GapAt, Seen, Told, draw_heights, normalised

OLD = "old."
_SCORE, _OLD_SCORE = "score of the toe tips", "score of the old toe tips"
_ROUGH_MM = 0.02  # how closely gaps are worked while heights are looked for
_BEYOND = 0.0005  # a reading with less than this of the draws to one side of it does not go with the rest


@dataclass(frozen=True)
class Sampling:
    """How many draws, and the seed they come from [-]."""

    count: int = DRAWS
    seed: int = SEED


USUAL = Sampling()


@dataclass(frozen=True, eq=False)
class Posterior:
    """Weighted draws of all inputs and of the gap.

    values: (n,) of each input that is not exact, the toe tips' height among them [mm, rad, plain]. weights: (n,) [-].
    low, high: (n,) certified bounds of the set-up gap [mm]. old_low: (n,) of the old set's gap as it stood, if it is
    known [mm]. flagged: readings that do not go with the rest, by name.
    """

    values: dict[str, Array]
    weights: Array
    low: Array
    high: Array
    old_low: Array | None = None
    flagged: tuple[str, ...] = ()

    @property
    def effective(self) -> float:
        """How many equally weighted draws these are worth."""
        return effective(self.weights)


def posterior(plan: Plan, sampling: Sampling = USUAL) -> Posterior:
    """Draws of a plan's inputs, of the toe tips' height given all that was read, and of the gap they make.

    Inputs of the boss and case are shared by both sets of gears, inputs of the gears are not. Raises InputError for
    correlations that cannot be, or that name no input.
    """
    inputs = {name: quantity for name, quantity in plan.inputs.items() if name not in (WEIGHED, MODEL)}
    scores = {_SCORE: give_or_take(0.0, SIGMAS)}
    old = plan.old
    if old:
        gears = {name: quantity for name, quantity in old.inputs.items() if name.startswith("gears.") and name != MODEL}
        scores |= {_OLD_SCORE: give_or_take(0.0, SIGMAS)} | {OLD + name: each for name, each in gears.items()}
    correlated = tuple(Correlation(each.first, each.second, each.by) for each in plan.job.correlated)
    values = draw(inputs | scores, count=sampling.count, seed=sampling.seed, correlations=correlated)
    score = np.stack([values.pop(name) for name in (_SCORE, _OLD_SCORE) if name in values], axis=1)
    own = {name: each for name, each in values.items() if not name.startswith(OLD)}
    sets = [many(plan, own, sampling.count)] + ([many(old, _of_old(values), sampling.count)] if old else [])
    if plan.placement.disagreement:
        heights, log_weight = _stretched(plan, score), np.zeros(sampling.count)
        flagged: tuple[str, ...] = ()
    else:
        heights, log_weight, flagged = _given(plan, sets, score)
    made = np.all([each.made for each in sets], axis=0)
    low, high = sets[0].gaps(heights[:, 0])
    old_low = sets[1].gaps(heights[:, 1], as_read=True, tolerance_mm=_ROUGH_MM)[0] if old else None
    weights = normalised(np.where(made, log_weight, -np.inf))
    return Posterior(own | {WEIGHED: heights[:, 0]}, weights, low, high, old_low, flagged)


def _given(plan: Plan, sets: Sequence[Many], score: Array) -> tuple[Array, Array, tuple[str, ...]]:
    """Heights (n, m) of this set's and the old set's toe tips [mm], log weights (n,), and readings that do not fit."""
    mean = np.stack([each.toe_tips for each in sets], axis=1)
    sd = np.full(len(sets), MODEL_TERM.spread / SIGMAS)
    told = _told(plan)
    seen = [
        Seen(read.name, which, read.gap.value, _sd(read.gap), read.back.value, _sd(read.back))
        for which, each in enumerate(sets)
        for read in each.plan.against
    ]
    work = [_gap_at(each) for each in sets]
    heights, log_weight = draw_heights(mean, sd, score, told=told, seen=seen, gaps=work)
    return heights, log_weight, _flagged(mean, sd, score, told, seen, work)


def _told(plan: Plan) -> list[Told]:
    """What was read of heights; an old set's back face reaches this set through both rings' heights, if both are."""
    old, link = plan.old, plan.from_old
    along = ((1.0, 0.0), (0.0, 1.0)) if old else ((1.0,), ())
    through_old = link is not None and plan.job.gears.measured.back_face_from == "old set"
    own = [each for each in plan.heights if not (through_old and each.name == "back face")]
    told = [Told(each.name, along[0], each.toe_tip.value, _sd(each.toe_tip)) for each in own]
    if old:
        told += [Told(each.name, along[1], each.toe_tip.value, _sd(each.toe_tip)) for each in old.heights]
    return [*told, Told("both rings' heights", (1.0, -1.0), link.value, _sd(link))] if link else told


def _gap_at(sets: Many) -> GapAt:
    """The gaps of all draws at given heights, as they would be read."""

    def gap(heights: Array) -> Array:
        low, high = sets.gaps(heights, as_read=True, tolerance_mm=_ROUGH_MM)
        middle: Array = (low + high) / 2
        return middle

    return gap


def _flagged(
    mean: Array, sd: Array, score: Array, told: list[Told], seen: list[Seen], work: list[GapAt]
) -> tuple[str, ...]:
    """Names of readings against the boss that lie beyond what everything else, other readings too, leads to expect."""
    names = []
    for i, each in enumerate(seen):
        others = seen[:i] + seen[i + 1 :]
        heights, log_weight = draw_heights(mean, sd, score, told=told, seen=others, gaps=work)
        gap = work[each.which](heights[:, each.which] + each.back)
        noise = np.hypot(each.gap_sd, each.back_sd) * score[::-1, 0]
        ends = quantiles(gap + noise, normalised(log_weight), np.array([_BEYOND, 1 - _BEYOND]))
        if not ends[0] <= each.gap <= ends[1]:
            names.append(each.name)
    return tuple(names)


def _stretched(plan: Plan, score: Array) -> Array:
    """Heights as far apart as evidence that disagrees puts them; the old set's do not matter then."""
    own = drawn(plan.inputs[WEIGHED], score[:, 0])
    return np.stack([own, own], axis=1) if plan.old else own[:, None]


def _of_old(values: Mapping[str, Array]) -> dict[str, Array]:
    """The old set's values: its own gears, the same boss and case."""
    shared = {name: each for name, each in values.items() if not name.startswith(("gears.", OLD))}
    return shared | {name.removeprefix(OLD): each for name, each in values.items() if name.startswith(OLD)}


def _sd(quantity: Quantity) -> float:
    return max(quantity.reach / SIGMAS, 1e-6)
