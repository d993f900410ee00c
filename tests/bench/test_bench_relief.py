"""Speed of the relief, left out of the normal run: `pytest -m bench tests/bench/test_bench_relief.py`.

Ratios to manifold3d's boolean are taken in one run and put beside the times (extra_info); nothing asserts a time. What
is asserted is that both answer the same question. manifold3d gets the easier one: a ring of six sides that needs no
growth, so no round edges. Both start from arrays of vertices and triangles.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from functools import lru_cache
from typing import Any

import pytest
from gap_contestants import MANIFOLD, MANIFOLD_BOOLEAN, RATIOS, SIZES, TOUCHING, rough_boss
from relief_shapes import RING, tube

from geartrack.clearance import gap, prepare
from geartrack.relief import cut, relief, stop_clearance, wall, wall_left
from geartrack.relief.patch import find_patch
from geartrack.relief.sweep_field import GrownSweep

pytestmark = pytest.mark.bench
boss_of_size = lru_cache(rough_boss)


def ours(size: str) -> float:
    return find_patch(*boss_of_size(size), GrownSweep(TOUCHING, 0.0)).volume_mm3


def theirs(size: str) -> float:
    return MANIFOLD_BOOLEAN.query(MANIFOLD_BOOLEAN.prepare(*boss_of_size(size)), TOUCHING)


def best(task: Callable[[], Any], runs: int = 5) -> float:
    """Least time of a few runs [s]."""
    times = []
    for _ in range(runs):
        start = time.perf_counter()
        task()
        times.append(time.perf_counter() - start)
    return min(times)


@pytest.mark.parametrize("size", SIZES)
def test_volume(benchmark: Any, size: str) -> None:
    volume = benchmark(ours, size)
    assert volume == pytest.approx(theirs(size), rel=2e-3)  # their ring's facets lie inside the ring by 3e-4 mm
    benchmark.extra_info["manifold3d / geartrack"] = best(lambda: theirs(size)) / best(lambda: ours(size))


@pytest.mark.parametrize("size", SIZES)
def test_volume_by_manifold3d(benchmark: Any, size: str) -> None:
    assert benchmark.pedantic(theirs, args=(size,), rounds=3) > 0


@pytest.mark.parametrize("size", SIZES)
def test_twenty_ratios_gap_and_volume(benchmark: Any, size: str) -> None:
    vertices, triangles = boss_of_size(size)

    def twenty() -> float:
        ready = prepare(vertices, triangles)
        for ring in RATIOS:
            gap(ready, ring)
        return sum(find_patch(vertices, triangles, GrownSweep(ring, 0.0)).volume_mm3 for ring in RATIOS)

    def twenty_by_manifold() -> float:
        ready = MANIFOLD_BOOLEAN.prepare(vertices, triangles)
        for ring in RATIOS:
            MANIFOLD.query(ready, ring)
        return sum(MANIFOLD_BOOLEAN.query(ready, ring) for ring in RATIOS)

    total = benchmark.pedantic(twenty, rounds=3)
    assert total == pytest.approx(twenty_by_manifold(), rel=2e-3)
    benchmark.extra_info["manifold3d / geartrack"] = best(twenty_by_manifold, 1) / best(twenty, 1)


TASKS: dict[str, Callable[[Any], Any]] = {
    "relief": lambda boss: relief(boss, RING, 1.0),
    "wall left": lambda boss: wall_left(boss, RING, 1.0),
    "stop": lambda boss: stop_clearance(boss, RING, clearance_mm=1.0, allowance_mm=0.127, minimum_wall_mm=8.0),
}


@pytest.mark.parametrize("task", TASKS)
def test_whole(benchmark: Any, task: str) -> None:
    """On a plain boss of 4,160 triangles, nothing kept from one run to the next."""
    boss = tube()

    def forgotten() -> None:
        cut.least_cut.cache_clear()
        wall.wall_before.cache_clear()

    assert benchmark.pedantic(TASKS[task], args=(boss,), setup=forgotten, rounds=10)
