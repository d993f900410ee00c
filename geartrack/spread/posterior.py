"""The set-up gap over what is not known, given everything that was read: weighted draws (DESIGN 5)."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from difflib import get_close_matches
from functools import cached_property

import numpy as np

from geartrack.assembly import WEIGHED, Many, Plan, at_place, many
from geartrack.assembly.model import MODEL
from geartrack.errors import refuse
from geartrack.frame import Array
from geartrack.inputs import MODEL as MODEL_TERM
from geartrack.quantity import Quantity, give_or_take
from geartrack.spread.band import effective, quantiles
from geartrack.spread.draws import DRAWS, SEED, SIGMAS, Correlation, drawn, standard_scores, values_of
from geartrack.spread.heights import GapAt, Seen, Told, Toward, draw_heights, normalised, toward_readings

OLD = "old."
RUNOUT = "running.runout"
_SCORE, _OLD_SCORE = "score of the toe tips", "score of the old toe tips"
_APPROACHES, _SCOUTS = 2, 256  # times that draws are moved toward the readings, and how many draws look where to
_STEP_MM = 0.2  # how far heights move for a slope
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
    model = _Model(plan)
    scores = standard_scores(model.inputs, count=sampling.count, seed=sampling.seed)
    log_ratio = np.zeros(sampling.count)
    if not plan.placement.disagreement and (plan.heights or plan.against or (plan.old and plan.old.against)):
        scores, log_ratio = _toward(model, sampling).moved(scores)
    worked = model.worked(scores)
    heights, log_weight, flagged = worked.heights()
    low, high = worked.sets[0].gaps(heights[:, 0])
    old = worked.sets[1].rough_gaps(heights[:, 1]) if plan.old else None
    made = np.all([each.made for each in worked.sets], axis=0)
    weights = normalised(np.where(made, log_weight + log_ratio, -np.inf))
    return Posterior(worked.own | {WEIGHED: heights[:, 0]}, weights, low, high, old, flagged)


def _toward(model: _Model, sampling: Sampling) -> Toward:
    """Where the readings put the scores, found with few draws: the more that are near, the better the line fits."""
    standard = standard_scores(model.inputs, count=min(sampling.count, _SCOUTS), seed=sampling.seed)
    tried = standard
    for _ in range(_APPROACHES):
        found = toward_readings(tried, *model.worked(tried).for_update())
        tried = found.moved(standard)[0]
    return found


@dataclass(frozen=True, eq=False)
class _Worked:
    """Sets of gears worked for scores: own values of this set's plan, both sets, the heights' own scores (n, m), and
    the sets as seen at the places that were read."""

    plan: Plan
    own: dict[str, Array]
    sets: tuple[Many, ...]
    height_scores: Array
    told: tuple[Told, ...]
    seen: tuple[Seen, ...]
    places: tuple[Many, ...]

    @cached_property
    def mean(self) -> Array:
        return np.stack([each.toe_tips for each in self.sets], axis=1)

    @property
    def sd(self) -> Array:
        return np.full(len(self.sets), MODEL_TERM.spread / SIGMAS)

    @cached_property
    def work(self) -> list[GapAt]:
        return [each.rough_gaps for each in (*self.sets, *self.places)]

    def heights(self) -> tuple[Array, Array, tuple[str, ...]]:
        """Heights (n, m) [mm], log weights (n,), and readings that do not fit."""
        if self.plan.placement.disagreement:
            return _stretched(self.plan, self.height_scores), np.zeros(len(self.mean)), ()
        heights, log_weight = draw_heights(
            self.mean, self.sd, self.height_scores, told=self.told, seen=self.seen, gaps=self.work
        )
        return heights, log_weight, _flagged(self)

    def for_update(self) -> tuple[Array, Array, Array]:
        """What all readings would show with the toe tips where the pitch cones put them (n, k), what they showed (k,)
        [mm], and the covariance (k, k) of what lies between for tool, setting and the toe tips' own heights [mm2]."""
        columns, read, own, moves = [], [], [], []
        for told in self.told:
            columns.append(self.mean @ told.along)
            moves.append(np.array(told.along))
            read.append(told.value)
            own.append(told.sd**2)
        for seen in self.seen:
            height, one = self.mean[:, seen.which] + seen.back, np.eye(len(self.sets))[seen.which]
            gap, nearer = (self.work[seen.of](height - down) for down in (0.0, _STEP_MM))
            slope = float((gap - nearer).mean()) / _STEP_MM
            columns.append(gap)
            moves.append(slope * one)
            read.append(seen.gap)
            own.append(seen.gap_sd**2 + (slope * seen.back_sd) ** 2)
        heights = np.array(moves) * self.sd
        return np.stack(columns, axis=1), np.array(read), np.diag(own) + heights @ heights.T


@dataclass(frozen=True, eq=False)
class _Model:
    """A plan's inputs that are drawn, the old set's and the heights' own scores among them."""

    plan: Plan

    @cached_property
    def correlations(self) -> tuple[Correlation, ...]:
        """Inputs that err together; InputError for a name that is none."""
        for name in (name for each in self.plan.job.correlated for name in (each.first, each.second)):
            if name not in self.plan.inputs:
                near = get_close_matches(name, self.plan.inputs, n=1)
                right = f"was {near[0]} meant?" if near else "a name as check --inputs --json lists it"
                raise refuse("correlated", f"there is no input {name[:40]!r} in this job", right)
        return tuple(Correlation(each.first, each.second, each.by) for each in self.plan.correlated)

    @cached_property
    def inputs(self) -> dict[str, Quantity]:
        """Every input that is drawn, by name; what the old set's gears have, and how true they ran, is named `old.`."""
        score = give_or_take(0.0, SIGMAS)
        own = {name: each for name, each in self.plan.inputs.items() if name not in (WEIGHED, MODEL)}
        old = self.plan.old.inputs if self.plan.old else {}
        mounted = [name for name in old if name.startswith("gears.") and name != MODEL] + [RUNOUT] * bool(old)
        gears = {OLD + name: old[name] for name in mounted}
        return own | gears | {_SCORE: score} | ({_OLD_SCORE: score} if old else {})

    def worked(self, scores: Array) -> _Worked:
        """The sets for independent scores (n, k) [-]."""
        plan, old = self.plan, self.plan.old
        values = values_of(self.inputs, scores, self.correlations)
        height_scores = np.stack([values.pop(name) for name in (_SCORE, _OLD_SCORE) if name in values], axis=1)
        own = {name: each for name, each in values.items() if not name.startswith(OLD)}
        sets = [many(plan, own, len(scores))] + ([many(old, _of_old(values), len(scores))] if old else [])
        read = [(which, each) for which, of in enumerate(sets) for each in of.plan.against]
        places = tuple(at_place(sets[which], each.place) for which, each in read if each.place)
        shown = iter(range(len(sets), len(sets) + len(places)))
        seen = tuple(
            Seen(
                *(each.name, which, each.gap.value, _sd(each.gap), each.back.value, _sd(each.back)),
                shown=next(shown) if each.place else None,
            )
            for which, each in read
        )
        return _Worked(plan, own, tuple(sets), height_scores, tuple(_told(plan)), seen, places)


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


def _flagged(worked: _Worked) -> tuple[str, ...]:
    """Names of readings against the boss that lie beyond what everything else, other readings too, leads to expect."""
    names, scores = [], worked.height_scores
    for i, each in enumerate(worked.seen):
        others = worked.seen[:i] + worked.seen[i + 1 :]
        heights, log_weight = draw_heights(
            worked.mean, worked.sd, scores, told=worked.told, seen=others, gaps=worked.work
        )
        gap = worked.work[each.of](heights[:, each.which] + each.back)
        noise = np.hypot(each.gap_sd, each.back_sd) * scores[::-1, 0]
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
