"""Print how often low to high holds the truth: `python tests/bench/coverage.py [axles] [draws]`, by shop and over all.

95 % of low to high should hold it; of the axles called CLEARS, under 2.5 % may have less than the gap wanted.
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1]))

from invented_shops import SHOPS, Axle, Shop, invented

from geartrack.spread import Sampling
from geartrack.study import check
from geartrack.study.answer import Answer
from geartrack.verdict import Code


def judged(shop: Shop, number: int, draws: int) -> tuple[Axle, Answer]:
    """The number-th axle of a shop, checked."""
    axle = invented(shop, np.random.default_rng([SHOPS.index(shop), number]))
    return axle, check(axle.job, Sampling(draws, seed=number))


def main() -> None:
    """The table, in markdown."""
    axles, draws = (int(each) for each in (*sys.argv[1:], *("1000", "1024")[len(sys.argv) - 1 :]))
    sys.stdout.write(
        "| shop | axles | truth held | under | over | half range | CLEARS | wrong |\n"
        "|---|---|---|---|---|---|---|---|\n"
    )
    whole = []
    for shop in SHOPS:
        rows = [_row(*judged(shop, number, draws)) for number in range(axles // len(SHOPS))]
        _line(shop.name, rows)
        whole += rows
    _line("all", whole)


def _row(axle: Axle, answer: Answer) -> tuple[bool, bool, float, bool, bool]:
    band, truth = answer.band, axle.truth_mm
    clears = answer.verdict.code is Code.CLEARS
    return truth < band.low, truth > band.high, (band.high - band.low) / 2, clears, clears and truth < answer.target_mm


def _line(name: str, rows: list[tuple[bool, bool, float, bool, bool]]) -> None:
    under, over, half, clears, wrong = np.array(rows, float).T
    held = 100 * (1 - under.mean() - over.mean())
    share = f"{100 * wrong.sum() / clears.sum():.1f} %" if clears.sum() else "-"
    sys.stdout.write(
        f"| {name} | {len(rows)} | {held:.1f} % | {under.sum():.0f} | {over.sum():.0f} | {half.mean():.2f} mm "
        f"| {clears.sum():.0f} | {share} |\n"
    )
    sys.stdout.flush()


if __name__ == "__main__":
    main()
