"""Print how often low to high holds the truth, over invented shops: by shop and over all (issue 5).

    python tests/bench/coverage.py --axles 1000 --draws 1024 --out coverage.jsonl

95 % of low to high should hold it; of the axles called CLEARS, under 2.5 % may have less than the gap wanted. Two
processes at nice 19; every axle is a line of --out, so that a run that was stopped goes on where it was, and
`--axles 0` prints the table of what there is. Of a check only what the question needs is worked: no relief, no wall, no
figures.
"""

from __future__ import annotations

import argparse
import json
import os
import sys
from collections.abc import Iterable
from concurrent.futures import ProcessPoolExecutor, as_completed
from dataclasses import asdict
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1]))

from invented_shops import SHOPS
from shops_judged import Row, judged


def table(rows: Iterable[Row]) -> str:
    """By shop and over all, in markdown; low to high: the middle one of the shop's widths. careful part: of the width,
    what is added to the draws' own 2.5 and 97.5 % points, for their error, the search, facets and edge breaks."""
    rows = list(rows)
    lines = [
        "| shop | axles | held | 95 % interval | truth under low, over high | held by draws alone | CLEARS, wrong "
        "| low to high | careful part | s |",
        "|---|---|---|---|---|---|---|---|---|---|",
    ]
    for name in (*(shop.name for shop in SHOPS), "all"):
        chosen = [row for row in rows if name in (row.shop, "all")]
        if chosen:
            lines.append(_line(name, chosen))
    return "\n".join(lines) + "\n"


def _line(name: str, rows: list[Row]) -> str:
    count, held = len(rows), sum(row.held for row in rows)
    low, high = interval(held, count)
    under, over = (sum(each) for each in zip(*((r.truth < r.low, r.truth > r.high) for r in rows), strict=True))
    alone = np.mean([row.bare_low <= row.truth <= row.bare_high for row in rows])
    clears, wrong = sum(row.clears for row in rows), sum(row.wrong for row in rows)
    width = np.median([row.high - row.low for row in rows])
    careful = np.median([(r.bare_low - r.low + r.high - r.bare_high) / (r.high - r.low) for r in rows])
    seconds = np.mean([row.seconds for row in rows])
    return (
        f"| {name} | {count} | {100 * held / count:.1f} % | {100 * low:.1f} to {100 * high:.1f} % | {under}, {over} "
        f"| {100 * alone:.1f} % | {clears}, {wrong} | {width:.2f} mm | {100 * careful:.0f} % | {seconds:.1f} |"
    )


def interval(held: int, count: int) -> tuple[float, float]:
    """The 95 % interval of a share by Clopper and Pearson, exact for a binomial count."""
    from scipy.stats import beta

    low = beta.ppf(0.025, held, count - held + 1) if held else 0.0
    high = beta.ppf(0.975, held + 1, count - held) if held < count else 1.0
    return float(low), float(high)


def read_rows(path: Path) -> list[Row]:
    """The rows of a file written before."""
    return [Row(**json.loads(line)) for line in path.read_text().splitlines()] if path.exists() else []


def main() -> None:
    """Judge the axles that the file lacks, and print the table."""
    asked = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    asked.add_argument("--axles", type=int, default=1000, help="over all shops; 0: only print what the file has")
    asked.add_argument("--draws", type=int, default=1024)
    asked.add_argument("--out", type=Path, default=Path("coverage.jsonl"))
    asked.add_argument("--processes", type=int, default=2)
    asked.add_argument("--first", type=int, default=0, help="number of the first axle of a shop")
    asked.add_argument("--shops", type=int, nargs="*", default=range(len(SHOPS)), help="numbers from 0")
    given = asked.parse_args()
    done = {(row.shop, row.number) for row in read_rows(given.out)}
    wanted = [
        (kind, number) for number in range(given.first, given.first + given.axles // len(SHOPS)) for kind in given.shops
    ]
    todo = [(kind, number) for kind, number in wanted if (SHOPS[kind].name, number) not in done]
    with ProcessPoolExecutor(given.processes, initializer=os.nice, initargs=(19,)) as pool, given.out.open("a") as out:
        jobs = [pool.submit(judged, kind, number, given.draws) for kind, number in todo]
        for count, job in enumerate(as_completed(jobs), 1):
            out.write(json.dumps(asdict(job.result())) + "\n")
            out.flush()
            sys.stderr.write(f"\r{count} of {len(todo)} axles")
    sys.stdout.write(table(read_rows(given.out)))


if __name__ == "__main__":
    main()
