"""Answers of the invented demo jobs for the tests of figures, each worked once."""

from __future__ import annotations

from functools import cache

from geartrack.datafiles import data_path, demo_jobs
from geartrack.job import Job, read_job, with_changes
from geartrack.study import Answer, RatioTable, check, compare_ratios, typed_pairs

NAMES = tuple(path.stem for path in demo_jobs())
PAIRS = "9/41, 8/39, 8/40, 7/35, 7/36, 6/35"


def job(name: str) -> Job:
    return read_job(data_path(f"jobs/{name}.toml"))


@cache
def answer(name: str, hand: str = "below") -> Answer:
    return check(with_changes(job(name), {"axle.hand": hand}))


@cache
def table(name: str = "grind") -> RatioTable:
    return compare_ratios(job(name), typed_pairs(PAIRS))
