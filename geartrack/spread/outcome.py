"""What the draws come to: the gap's low to high, chances, budget, and the worst-case sum beside them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from math import ceil, log2

import numpy as np

from geartrack.assembly import WEIGHED, Plan, many, placed_by, running_load
from geartrack.clearance import Gap
from geartrack.errors import refuse
from geartrack.frame import Array
from geartrack.gearset.place import Evidence
from geartrack.job import locate
from geartrack.quantity import Origin, Quantity
from geartrack.spread.band import ENDS, chance, percentiles, quantiles
from geartrack.spread.budget import Part, budget
from geartrack.spread.draws import draw
from geartrack.spread.posterior import Posterior, Sampling, posterior
from geartrack.spread.ranges import Range, worst_case, worst_case_of_many

_BEYOND_AN_END = 2  # draws that must lie beyond an end for it to be known at all
FEW_EFFECTIVE = 100  # under this, ends are too rough to hold a verdict against


@dataclass(frozen=True)
class Band(Range):
    """A gap's low to high, and how it was found.

    low, high: 2.5 and 97.5 % points, certified bounds and their own sampling error (2-sigma) included; with `worst`
    itself where no draws were made [mm]. middle: the 50 % point [mm]. worst: the straight sum of all limits [mm].
    shares: how far each input alone moves the gap [mm]. budget: shares of variance [-]. running_low: low end of the
    running gap [mm]. p_target, p_clear, p_contact: chance that the set-up gap is no less than the target, no less than
    zero, and that the running gap is less than zero [-]; None without draws. low_error, high_error: standard errors of
    the ends [mm]. draws, effective: how many, and how many equally weighted ones they are worth [-]. flagged: readings
    that do not go with the rest. margin: how far past the gap wanted a cut goes that holds it with the job's chance,
    guard: with 97.5 %, the deeper of both [mm]. after: ends of the gap after the cut as calculated for the gap wanted
    [mm]; None where nothing is to be cut.
    """

    middle: float
    worst: Range
    running_low: float
    margin: float
    guard: float
    after: Range | None = None
    budget: tuple[Part, ...] = ()
    p_target: float | None = None
    p_clear: float | None = None
    p_contact: float | None = None
    low_error: float = 0.0
    high_error: float = 0.0
    draws: int = 0
    effective: float = 0.0
    flagged: tuple[str, ...] = ()


def straight_sum(plan: Plan, nominal_mm: float) -> Range:
    """The worst-case sum of the set-up gap from the limits of every input [mm], nominal_mm its gap as calculated."""

    def evaluate(cases: Sequence[Mapping[str, float]]) -> Sequence[float]:
        low, high = many(plan, columns(plan, cases), len(cases)).gaps()
        return [float(each) for each in (low + high) / 2]

    return worst_case_of_many(evaluate, plan.moving, nominal_mm)


def columns(plan: Plan, cases: Sequence[Mapping[str, float]]) -> dict[str, Array]:
    """Values of inputs as arrays (n,) by input [mm, rad, plain].

    cases: n of them, each with the inputs that change [any]; others stay as they are.
    """
    names = {name for case in cases for name in case}
    return {name: np.array([case.get(name, plan.inputs[name].value) for case in cases]) for name in names}


def simple_band(plan: Plan, gap: Gap) -> Band:
    """The band of the straight sum alone, the bounds of the gap as calculated added at its ends."""
    worst = _widened(straight_sum(plan, gap.nominal_mm), gap)
    load = worst_case(lambda toward: -sum(toward.values()), running_load(plan), 0.0)
    margin = gap.nominal_mm - worst.low
    return Band(
        worst.low,
        worst.high,
        worst.shares,
        gap.nominal_mm,
        worst,
        worst.low + load.low,
        margin,
        margin,
        flagged=plan.flagged,
    )


def placed_by_draws(plan: Plan, sampling: Sampling) -> tuple[Plan, Posterior]:
    """A plan with its draws; where the old set was read, its toe tips run where the gap is the middle one of them."""
    found = posterior(plan, sampling)
    if plan.old is None or not plan.old.against:
        return plan, found
    low, middle, high = quantiles(found.values[WEIGHED], found.weights, ENDS)
    gap = float(quantiles((found.low + found.high) / 2, found.weights, ENDS)[1])
    value = _height_of(plan, gap, float(middle))
    tips = Quantity(value, min(float(low), value), max(float(high), value), Origin.MEASURED, "through the old set")
    evidence = (*plan.placement.evidence, Evidence("the old set", tips))
    return placed_by(plan, replace(plan.placement, toe_tip=tips, evidence=evidence)), found


def drawn_band(plan: Plan, gap: Gap, target_mm: float, found: Posterior, sampling: Sampling) -> Band:
    """The band over draws already made; gap: as calculated; target_mm: wanted set-up gap [mm]."""
    low, high = percentiles(found.low, found.weights), percentiles(found.high, found.weights)
    hold = percentiles(found.low, found.weights, low=1 - _chance_wanted(plan, sampling))
    margin, guard = (gap.nominal_mm - end.low_end for end in (hold, low))
    running = found.low - _toward(running_load(plan), sampling)
    worst = _widened(straight_sum(plan, gap.nominal_mm), gap)
    own = {name: values for name, values in found.values.items() if name in plan.inputs}
    return Band(
        low=low.low_end,
        high=high.high_end,
        shares=worst.shares,
        middle=(low.middle + high.middle) / 2,
        worst=worst,
        running_low=float(quantiles(running, found.weights, ENDS)[0]),
        margin=margin,
        guard=max(margin, guard),
        budget=budget(own, (found.low + found.high) / 2, found.weights),
        p_target=chance(found.low >= target_mm, found.weights),
        p_clear=chance(found.low >= 0, found.weights),
        p_contact=chance(running < 0, found.weights),
        low_error=low.low_error,
        high_error=high.high_error,
        draws=sampling.count,
        effective=found.effective,
        flagged=plan.flagged + found.flagged,
    )


def _chance_wanted(plan: Plan, sampling: Sampling) -> float:
    """The chance that the cut is to hold the gap wanted with [-]; InputError where so few draws say nothing of it."""
    wanted = plan.job.target.confidence / 100
    needed = _BEYOND_AN_END / (1 - wanted)
    if sampling.count < needed:
        right = f"{2 ** ceil(log2(needed))} draws or more, or a lower chance"
        raise refuse(
            locate(plan.job, "target.confidence"), f"{sampling.count} draws say nothing of {wanted:.1%}", right
        )
    return wanted


def _widened(found: Range, gap: Gap) -> Range:
    below, above = gap.nominal_mm - gap.lower_mm, gap.upper_mm - gap.nominal_mm
    return Range(found.low - below, found.high + above, found.shares)


def _height_of(plan: Plan, gap_mm: float, near_mm: float) -> float:
    """The height of the toe tips at which the gap as calculated is the one given [mm]."""
    from scipy.optimize import brentq

    one = many(plan, {}, 1)

    def over(height: float) -> float:
        low, high = one.gaps(np.array([height]))
        return float(low[0] + high[0]) / 2 - gap_mm

    step = 0.5
    while over(near_mm - step) > 0 or over(near_mm + step) < 0:
        step *= 2
    return float(brentq(over, near_mm - step, near_mm + step, xtol=1e-4))


def _toward(load: Mapping[str, Quantity], sampling: Sampling) -> Array:
    """How far load, heat and settling bring the ring toward the boss, (n,) [mm]."""
    moving = draw(load, count=sampling.count, seed=sampling.seed + 1)
    exact = sum(quantity.value for name, quantity in load.items() if name not in moving)
    total: Array = sum(moving.values(), np.full(sampling.count, exact))
    return total
