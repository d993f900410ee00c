"""Speed of the gap, left out of the normal run: `pytest -m bench tests/bench/test_bench_gap.py`.

`python tests/bench/gap_table.py` prints the same as one table, with ratios and memory. Nothing here asserts a time:
what is asserted is that the contestants answer the same question.
"""

from __future__ import annotations

from functools import lru_cache
from typing import Any

import numpy as np
import pytest
from gap_contestants import (
    APART,
    CONTESTANTS,
    HYPOT,
    OURS,
    RATIOS,
    SIZES,
    TOUCHING,
    VERTICES,
    drawn,
    fcl_own_rings,
    ours_at_once,
    rough_boss,
)

from geartrack.clearance import gap, prepare

pytestmark = pytest.mark.bench
boss_of_size = lru_cache(rough_boss)


@pytest.mark.parametrize("size", SIZES)
def test_preparation(benchmark: Any, size: str) -> None:
    ready = benchmark(prepare, *boss_of_size(size))
    assert len(ready.triangles) == len(boss_of_size(size)[1])


@pytest.mark.parametrize("ring", [APART, TOUCHING], ids=["apart", "touching"])
@pytest.mark.parametrize("size", SIZES)
def test_query(benchmark: Any, size: str, ring: Any) -> None:
    found = benchmark(gap, prepare(*boss_of_size(size)), ring)
    assert found.upper_mm - found.lower_mm <= 0.001 + 1e-12


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("name", CONTESTANTS)
def test_preparation_and_query(benchmark: Any, name: str, size: str) -> None:
    each, boss = CONTESTANTS[name], boss_of_size(size)
    answer = benchmark.pedantic(lambda: each.query(each.prepare(*boss), APART), rounds=1)
    exact = gap(prepare(*boss), APART)
    if each is VERTICES:
        assert answer >= exact.lower_mm
    elif "boolean" in name:
        assert answer == 0
    elif each is not HYPOT:
        assert exact.lower_mm <= answer <= exact.upper_mm + 0.001  # their ring's facets lie inside the ring


@pytest.mark.parametrize("size", SIZES)
def test_twenty_ratios(benchmark: Any, size: str) -> None:
    boss = boss_of_size(size)

    def twenty() -> list[float]:
        ready = OURS.prepare(*boss)
        return [OURS.query(ready, ring) for ring in RATIOS]

    gaps = benchmark(twenty)
    assert gaps == sorted(gaps, reverse=True)


@pytest.mark.parametrize("size", SIZES)
def test_ten_thousand_placements(benchmark: Any, size: str) -> None:
    """Each with its own ring; fcl, one by one, says the same of a few that are apart."""
    boss, (corners, shifts) = boss_of_size(size), drawn()
    low, high = benchmark.pedantic(ours_at_once, args=(*boss, corners, shifts), rounds=1)
    assert (high - low <= 0.001).all()
    few = np.flatnonzero(low > 0)[:10]
    theirs = fcl_own_rings(*boss, corners[few], shifts[few])
    assert (low[few] - 1e-6 <= theirs).all()
    assert (theirs <= high[few] + 0.0005).all()  # their ring's facets lie inside the ring by up to 0.0003 mm
