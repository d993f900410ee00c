"""Speed of the gap, left out of the normal run: `pytest -m bench tests/bench/test_bench_gap.py`.

`python tests/bench/gap_table.py` prints the same as one table, with ratios and memory. Nothing here asserts a time:
what is asserted is that the contestants answer the same question.
"""

from __future__ import annotations

from functools import lru_cache
from typing import Any

import pytest
from gap_contestants import APART, CONTESTANTS, HYPOT, OURS, RATIOS, SIZES, TOUCHING, VERTICES, rough_boss

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
