"""Print what low to high costs: `python tests/bench/spread_table.py [draws]`. Processor seconds, one run, one core.

8,192 draws with the gears worked anew for each, certified gaps, on the demo's boss by parts and on its scan with a
million triangles; beside it a plain loop over a collision library (fcl), run on a few of the same draws and scaled. The
loop is given its ring sections; it builds 1440 facets and asks for the distance, which says nothing of depth.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1]))

import fcl
import trimesh
from demo import demo_job
from gap_contestants import FCL

from geartrack.assembly import Plan, many, plan
from geartrack.assembly.bodies import placed_boss, seat
from geartrack.clearance import prepare
from geartrack.gearset.teeth import one_pair
from geartrack.section import Section
from geartrack.spread import Sampling, drawn_band, placed_by_draws
from geartrack.study.check import nominal_gap

FEW, MILLION = 5, 1_000_000


def planned(name: str) -> Plan:
    """A demo job's plan."""
    job = demo_job(name)
    return plan(job, one_pair(job.gears.teeth), job.axle.hand)


def with_triangles(made: Plan, least: int) -> Plan:
    """The same with the scan's triangles cut until there are so many, each new corner off by 0.005 mm of noise."""
    readings: Any = made.readings
    mesh, rng = readings.mesh, np.random.default_rng(0)
    vertices, triangles = mesh.vertices, mesh.triangles
    while len(triangles) < least:
        area = trimesh.triangles.area(vertices[triangles])
        most = np.argsort(area)[-min(len(area), (least - len(triangles)) // 3 + 1) :]
        vertices, triangles = trimesh.remesh.subdivide(vertices, triangles, face_index=most)
    vertices[len(mesh.vertices) :] += rng.normal(0, 0.005, (len(vertices) - len(mesh.vertices), 3))
    return replace(made, readings=replace(readings, mesh=replace(mesh, vertices=vertices, triangles=triangles)))


def seconds(task: Callable[[], Any], runs: int = 2) -> tuple[float, Any]:
    """Best processor seconds of a few runs, and what it gave."""
    times = []
    for _ in range(runs):
        start = time.process_time()
        found = task()
        times.append(time.process_time() - start)
    return min(times), found


def loop(made: Plan, found: Any, draws: int) -> tuple[float, float]:
    """Seconds of a plain loop over fcl for all draws, from a few; how far its distance is off ours at most [mm]."""
    values = {name: each[:FEW] for name, each in found.values.items()}
    few = many(made, values, FEW)
    corners, shifts = few.sections(values["gears.toe_tip"]), few.shifts()
    closer = few.of("case.outside_size") + few.of("boss.readings")
    off = [0.0]
    start = time.process_time()
    for row in range(FEW):
        placed = placed_boss(made.job.boss, made.readings, float(few.of("boss.edge_break")[row]), seat(made, {}))
        boss = FCL.prepare(placed.vertices, placed.triangles)
        boss.setTransform(fcl.Transform(shifts[row]))
        points = corners[row][np.linalg.norm(corners[row] - np.roll(corners[row], 1, axis=0), axis=1) > 1e-9]
        theirs = FCL.query(boss, Section(points, ("edge",) * len(points))) - closer[row]
        ours = (found.low[row], found.high[row])
        if ours[0] + closer[row] > 0:
            off.append(max(ours[0] - theirs, theirs - ours[1]))
    return (time.process_time() - start) / FEW * draws, max(off)


def main() -> None:
    """The table, in markdown."""
    draws = int(sys.argv[1]) if len(sys.argv) > 1 else 8192
    scan = planned("grind-by-scan")
    cases = {
        "demo boss by parts, tooth counts alone": planned("measure"),
        f"its scan, {len(scan.readings.mesh.triangles):,} triangles": scan,
        "its scan, a million triangles": with_triangles(scan, MILLION),
    }
    sys.stdout.write(
        f"| {draws:,} draws, s of processor time | preparation | draws and gaps | low to high, all | fcl in a loop "
        "| fcl / geartrack | fcl beyond our bounds, at most |\n|---|---|---|---|---|---|---|\n"
    )
    for name, made in cases.items():
        sampling, target = Sampling(draws), made.job.target.gap.value
        placed = placed_boss(made.job.boss, made.readings, 0.0, seat(made, {}))
        ready, _ = seconds(lambda placed=placed: prepare(placed.vertices, placed.triangles), 1)
        _, gap = nominal_gap(made)
        drawn, (chosen, found) = seconds(lambda made=made, s=sampling: placed_by_draws(made, s))
        band, _ = seconds(lambda c=chosen, g=gap, t=target, f=found, s=sampling: drawn_band(c, g, t, f, s), 1)
        theirs, off = loop(made, found, draws)
        sys.stdout.write(
            f"| {name} | {ready:.2f} | {drawn:.2f} | {drawn + band:.2f} | {theirs:,.0f} ({FEW} run) "
            f"| {theirs / (drawn + band):,.0f} | {off:.4f} mm |\n"
        )
        sys.stdout.flush()


if __name__ == "__main__":
    main()
