"""The gap after a cut: the cut is made to the ring as calculated, and the ring that comes need not stand there.

As cast, the ring comes nearest at one place. After a cut for a clearance the whole face of the cut stands at that
clearance from the ring as calculated, so that wherever the true ring is nearer, there is the least gap: what a chamfer
or a broken edge gives at one place is no help any more. So the margin that holds the gap wanted is found with the cut
made, not from the range of the gap as cast.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from math import ceil, log2

import numpy as np

from geartrack.assembly import WEIGHED, Assembly, Plan, closer_by, many
from geartrack.clearance import Gap, Prepared, prepare
from geartrack.frame import Array
from geartrack.relief.relieved import relieved
from geartrack.spread.band import percentiles
from geartrack.spread.outcome import Band, columns
from geartrack.spread.posterior import Posterior
from geartrack.spread.ranges import Range, worst_case_of_many

ROWS = 1024  # draws that the gap after a cut is worked for; more where a high chance is asked for
_BEYOND = 8  # draws that are to lie beyond its end


def after_cut(now: Assembly, clearance_mm: float) -> Prepared:
    """The boss as calculated after the cut for a clearance [mm], to hold rings against."""
    return prepare(*relieved(now.boss, now.section, clearance_mm))


def drawn_after(plan: Plan, found: Posterior, cut: Prepared, chance: float) -> tuple[float, Range]:
    """The gap after a cut that is there with a chance [-] of at least this, and its 2.5 and 97.5 % ends [mm].

    The error of each end, 2-sigma, is taken off or added.
    """
    count = min(len(found.weights), max(ROWS, 2 ** ceil(log2(_BEYOND / (1 - chance)))))
    rows = _picked(found.weights, count)
    drawn = {name: values[rows] for name, values in found.values.items()}
    low, high = many(plan, drawn, count).gaps_of(cut, drawn.get(WEIGHED))
    alike = np.full(count, 1 / count)
    wanted = percentiles(low, alike, low=1 - chance)
    bottom, top = percentiles(low, alike), percentiles(high, alike)
    ends = Range(bottom.low_end, top.high_end, ())
    return wanted.low_end, ends


def summed_after(plan: Plan, cut: Prepared) -> Range:
    """The straight sum of all limits of the gap after a cut [mm]."""

    def evaluate(cases: Sequence[Mapping[str, float]]) -> Sequence[float]:
        low, high = many(plan, columns(plan, cases), len(cases)).gaps_of(cut)
        return [float(each) for each in (low + high) / 2]

    return worst_case_of_many(evaluate, plan.moving, evaluate([{}])[0])


def with_the_cut(plan: Plan, now: Assembly, gap: Gap, band: Band, found: Posterior | None) -> Band:
    """The band with what the gap comes to once the cut is made; found: the draws, None for the straight sum.

    The cut worked is the one that the range of the gap as cast asks for; past it the gap rises as the clearance does.
    """
    target = plan.job.target.gap.value
    if min(band.low, gap.nominal_mm - band.margin) >= target:
        return band
    first = target + max(gap.nominal_mm - band.low, band.margin)
    cut = after_cut(now, first + closer_by(plan))
    if found is None:
        ends = summed_after(plan, cut)
        held = ends.low
    else:
        held, ends = drawn_after(plan, found, cut, plan.job.target.confidence / 100)
    margin, short = first - held, first - target
    after = Range(ends.low - short, ends.high - short, ())
    return replace(band, margin=margin, guard=max(margin, first - ends.low), after=after)


def _picked(weights: Array, count: int) -> Array:
    """Indices (count,) [-] of draws, as often as their weights say, in their order (systematic resampling)."""
    ends = np.cumsum(weights) / weights.sum()
    picked: Array = np.minimum(np.searchsorted(ends, (np.arange(count) + 0.5) / count), len(weights) - 1)
    return picked
