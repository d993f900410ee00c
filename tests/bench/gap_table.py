"""Print the gap's benchmark as a table: `python tests/bench/gap_table.py [2k 50k 1M]`. Ratios are taken in one run.

Every figure is the best of a few runs; memory is what preparation and one query add to a fresh process's peak (Linux).
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).parents[1]))

import numpy as np
from gap_contestants import (
    APART,
    CONTESTANTS,
    FCL,
    HYPOT,
    MANIFOLD,
    MANIFOLD_BOOLEAN,
    OURS,
    RATIOS,
    SIZES,
    TOUCHING,
    VERTICES,
    drawn,
    fcl_one_ring,
    fcl_own_rings,
    ours_at_once,
    rough_boss,
)

MEASURE = """
import sys
import numpy as np
from gap_contestants import APART, CONTESTANTS, rough_boss
def kilobytes(key):
    with open("/proc/self/status") as status:
        return int(next(line.split()[1] for line in status if line.startswith(key)))
each = CONTESTANTS[sys.argv[1]]
each.query(each.prepare(*rough_boss("2k")), APART)
vertices, triangles = np.load(sys.argv[2]), np.load(sys.argv[3])
before = kilobytes("VmRSS")
each.query(each.prepare(vertices, triangles), APART)
sys.stdout.write(str((kilobytes("VmHWM") - before) / 1024))
"""


def seconds(task: Callable[[], Any], least_runs: int = 2, budget: float = 1.0) -> float:
    times: list[float] = []
    while len(times) < least_runs or (sum(times) < budget and len(times) < 50):
        start = time.perf_counter()
        task()
        times.append(time.perf_counter() - start)
    return min(times)


def added_megabytes(name: str, boss: Any) -> float:
    with tempfile.TemporaryDirectory() as folder:
        files = [str(Path(folder) / f"{i}.npy") for i in range(2)]
        for file, array in zip(files, boss, strict=True):
            np.save(file, array)
        run = subprocess.run(
            [sys.executable, "-c", MEASURE, name, *files],
            env={"PYTHONPATH": str(Path(__file__).parents[1])},
            capture_output=True,
            text=True,
            check=True,
        )
    return float(run.stdout)


def milliseconds(value: float) -> str:
    return f"{value * 1e3:.3g}"


def table(sizes: Sequence[str]) -> list[str]:
    """One column a size, one row a figure, in Markdown."""
    columns = {size: column(size) for size in sizes}
    rows = [f"| {row} | " + " | ".join(columns[size][row] for size in sizes) + " |" for row in columns[sizes[0]]]
    return ["| ms, best of a few | " + " | ".join(sizes) + " |", "|---" * (len(sizes) + 1) + "|", *rows]


def column(size: str) -> dict[str, str]:
    boss = rough_boss(size)
    ready = OURS.prepare(*boss)
    query = seconds(lambda: OURS.query(ready, APART))
    once = seconds(lambda: HYPOT.query(boss[0], APART))
    both = {name: seconds(lambda c=c: c.query(c.prepare(*boss), APART)) for name, c in CONTESTANTS.items()}
    memory = {c.name: added_megabytes(c.name, boss) for c in (OURS, VERTICES, FCL, MANIFOLD, MANIFOLD_BOOLEAN)}
    twenty = {c.name: seconds(lambda c=c: ratios(c, boss), 1) for c in (OURS, FCL, MANIFOLD_BOOLEAN)}
    off = VERTICES.query(boss[0], APART) - OURS.query(ready, APART)
    return {
        "triangles": f"{len(boss[1]):,}",
        "geartrack, preparation": milliseconds(seconds(lambda: OURS.prepare(*boss))),
        "geartrack, query, apart": milliseconds(query),
        "geartrack, query, touching (depth)": milliseconds(seconds(lambda: OURS.query(ready, TOUCHING))),
        **{f"{name}, preparation and query": milliseconds(value) for name, value in both.items()},
        "vertices only: too large by [mm]": f"{off:.4f}",
        "**query / np.hypot**": f"{query / once:.1f}",
        "**fcl / geartrack**": f"{both[FCL.name] / both[OURS.name]:.1f}",
        "**manifold3d min_gap / geartrack**": f"{both[MANIFOLD.name] / both[OURS.name]:.1f}",
        "**manifold3d boolean / geartrack**": f"{both[MANIFOLD_BOOLEAN.name] / both[OURS.name]:.1f}",
        **{f"20 ratios, {name}": milliseconds(value) for name, value in twenty.items()},
        "**20 ratios, manifold3d boolean / geartrack**": f"{twenty[MANIFOLD_BOOLEAN.name] / twenty[OURS.name]:.1f}",
        **placements(boss),
        **{f"added memory, {name} [MB]": f"{value:.0f}" for name, value in memory.items()},
    }


def placements(boss: Any) -> dict[str, str]:
    """10,000 placements at once, beside a plain loop over fcl; the loop that builds rings is run on 50 and scaled."""
    corners, shifts = drawn()
    one = np.repeat(APART.points[None], len(shifts), axis=0)
    ours, same = (seconds(lambda c=c: ours_at_once(*boss, c, shifts), 1, 0) for c in (corners, one))
    loop = seconds(lambda: fcl_one_ring(*boss, shifts), 1, 0)
    building = seconds(lambda: fcl_own_rings(*boss, corners[:50], shifts[:50]), 1, 0) * len(shifts) / 50
    return {
        "10,000 placements, one ring, geartrack": milliseconds(same),
        "10,000 placements, one ring, fcl": milliseconds(loop),
        "**10,000 placements, one ring, fcl / geartrack**": f"{loop / same:.0f}",
        "10,000 placements, a ring each, geartrack": milliseconds(ours),
        "10,000 placements, a ring each, fcl (50 run)": milliseconds(building),
        "**10,000 placements, a ring each, fcl / geartrack**": f"{building / ours:.0f}",
    }


def ratios(contestant: Any, boss: Any) -> list[float]:
    ready = contestant.prepare(*boss)
    return [contestant.query(ready, ring) for ring in RATIOS]


if __name__ == "__main__":
    sys.stdout.write("\n".join(table(sys.argv[1:] or list(SIZES))) + "\n")
