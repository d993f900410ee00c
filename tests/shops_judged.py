"""An invented axle judged as `check` judges it, but for all that low to high does not hang on: see invented_shops."""

from __future__ import annotations

import time
from dataclasses import dataclass

import numpy as np
from invented_shops import SHOPS, Axle, invented

from geartrack.assembly import plan
from geartrack.frame import Hand
from geartrack.gearset.teeth import one_pair
from geartrack.spread import Sampling, drawn_band, placed_by_draws
from geartrack.spread.band import ENDS, chance, quantiles
from geartrack.spread.outcome import FEW_EFFECTIVE
from geartrack.study.check import nominal_gap
from geartrack.verdict import Code, Facts, decide


@dataclass(frozen=True)
class Row:
    """An axle judged: the true gap, low to high, both ends before anything careful is added to them, the share of the
    draws under the truth, equally weighted draws [-], the verdict, processor seconds; lengths [mm]."""

    shop: str
    number: int
    truth: float
    low: float
    high: float
    bare_low: float
    bare_high: float
    under: float
    effective: float
    clears: bool
    wrong: bool
    seconds: float

    @property
    def held(self) -> bool:
        """Whether low to high holds the truth."""
        return self.low <= self.truth <= self.high


def judged(kind: int, number: int, draws: int) -> Row:
    """The number-th axle of the kind-th shop, checked."""
    began = time.process_time()
    axle = invented(SHOPS[kind], np.random.default_rng([kind, number]))
    job, target = axle.job, axle.job.target.gap.value
    sampling = Sampling(draws, seed=number)
    chosen, found = placed_by_draws(plan(job, one_pair(job.gears.teeth), Hand.BELOW), sampling)
    band = drawn_band(chosen, nominal_gap(chosen)[1], target, found, sampling)
    middle = (found.low + found.high) / 2
    bare = quantiles(middle, found.weights, ENDS)
    unsettled = chosen.placement.disagreement or band.flagged or band.effective < FEW_EFFECTIVE
    clears = not unsettled and band.low >= target and _clears(axle, band.low, band.running_low, chosen.ring_placed)
    return Row(
        shop=SHOPS[kind].name,
        number=number,
        truth=axle.truth_mm,
        low=band.low,
        high=band.high,
        bare_low=float(bare[0]),
        bare_high=float(bare[2]),
        under=chance(middle < axle.truth_mm, found.weights),
        effective=band.effective,
        clears=clears,
        wrong=clears and axle.truth_mm < target,
        seconds=time.process_time() - began,
    )


def _clears(axle: Axle, low_mm: float, running_low_mm: float, ring_placed: bool) -> bool:
    """The verdict of a gap whose low end is no less than wanted: the wall has no part in it."""
    nan, target = float("nan"), axle.job.target.gap.value
    read = axle.shop.this_case or bool(axle.shop.gap)
    return decide(Facts(low_mm, nan, target, running_low_mm, nan, nan, nan, nan, ring_placed, read, None)).code is (
        Code.CLEARS
    )
