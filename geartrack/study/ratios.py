"""compare_ratios(job, pairs): the same axle and boss with other tooth pairs, and where the gap falls through."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from itertools import groupby, pairwise

from geartrack.assembly import for_pair, plan
from geartrack.errors import refuse
from geartrack.frame import Hand
from geartrack.gearset.teeth import ToothPair, one_pair
from geartrack.job import Job
from geartrack.relief import relief, wall_left
from geartrack.spread import Sampling
from geartrack.study.answer import Crossing, RatioRow, RatioTable
from geartrack.study.check import ranged_gap

PINION_TEETH, RING_TEETH = range(5, 17), range(35, 42)  # usual counts in sets of this size; from memory


def pairs_between(lowest: float, highest: float) -> tuple[ToothPair, ...]:
    """The usual tooth pairs between two ratios, lowest and highest [-], by ratio."""
    if not 1.0 <= lowest < highest <= 12.0:
        raise refuse("--from, --to", f"{lowest:g} to {highest:g}", "two ratios between 1 and 12, the lower one first")
    pairs = [
        ToothPair(pinion, ring) for pinion in PINION_TEETH for ring in RING_TEETH if lowest <= ring / pinion <= highest
    ]
    return tuple(sorted(pairs, key=lambda pair: (pair.ratio, pair.pinion)))


def typed_pairs(text: str, where: str = "--teeth") -> tuple[ToothPair, ...]:
    """Tooth pairs typed with commas between, "9/35, 8/39, 7/36", by ratio."""
    pairs = {one_pair(part.strip(), where=where) for part in text.split(",") if part.strip()}
    if not pairs:
        raise refuse(where, "no tooth pair", "type pairs with commas between, such as 9/35, 8/39")
    return tuple(sorted(pairs, key=lambda pair: (pair.ratio, pair.pinion)))


def compare_ratios(
    job: Job, pairs: Sequence[ToothPair], tick: Callable[[], None] = lambda: None, sampling: Sampling | None = None
) -> RatioTable:
    """Gap, depth and wall left for each pair, from tooth counts and typed dimensions; `tick` is called after each.

    sampling: how low to high is drawn; None takes the straight sum of all limits.
    """
    rows = []
    for pair in pairs:
        rows.append(_row(job, pair, sampling))
        tick()
    target = job.target.gap.value
    levels = [c for pinion_rows in _by_pinion(rows) for level in (target, 0.0) for c in [_crossing(pinion_rows, level)]]
    return RatioTable(job, target, tuple(rows), tuple(levels), _interval(rows, target), _interval(rows, 0.0))


def _row(job: Job, pair: ToothPair, sampling: Sampling | None) -> RatioRow:
    hands = [job.axle.hand] if job.axle.hand else list(Hand)
    worked = [ranged_gap(plan(for_pair(job, pair), pair, hand), sampling) for hand in hands]
    now, gap, found = min(worked, key=lambda each: each[2].low)
    found = replace(found, low=min(w[2].low for w in worked), high=max(w[2].high for w in worked))
    target = job.target.gap.value
    cut = relief(now.boss, now.section, target)
    left = wall_left(now.boss, now.section, target).left_mm
    height = now.blanks.ring.toe_tip_height_mm
    return RatioRow(pair, gap, found.low, found.high, cut.depth_radial_max_mm, cut.volume_mm3, left, height)


def _by_pinion(rows: Iterable[RatioRow]) -> list[list[RatioRow]]:
    ordered = sorted(rows, key=lambda row: (row.pair.pinion, row.pair.ratio))
    return [list(group) for _, group in groupby(ordered, key=lambda row: row.pair.pinion)]


def _crossing(rows: list[RatioRow], level: float) -> Crossing:
    """Where the rows of one pinion tooth count, by rising ratio, fall through a level."""
    gaps = [row.gap.lower_mm for row in rows]
    for (above, high), (below, low) in pairwise(zip(rows, gaps, strict=True)):
        if high >= level > low:
            share = (high - level) / (high - low)
            ratio = above.pair.ratio + share * (below.pair.ratio - above.pair.ratio)
            return Crossing(rows[0].pair.pinion, level, above.pair, below.pair, ratio)
    if gaps[0] < level:
        return Crossing(rows[0].pair.pinion, level, None, rows[0].pair, None)
    return Crossing(rows[0].pair.pinion, level, rows[-1].pair, None, None)


def _interval(rows: Sequence[RatioRow], level: float) -> tuple[float, float] | None:
    """Between which ratios a level is lost, whatever the tooth counts: every pair up to the first ratio holds it, no
    pair from the second on does. None where all pairs hold it, or none."""
    above = [row.pair.ratio for row in rows if row.gap.lower_mm >= level]
    below = [row.pair.ratio for row in rows if row.gap.lower_mm < level]
    if not above or not below:
        return None
    held = [ratio for ratio in above if ratio < min(below)]
    lost = [ratio for ratio in below if ratio > max(above)]
    return (max(held, default=min(below)), min(lost, default=max(above)))
