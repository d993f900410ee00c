"""Prints how often the gap from a random scan holds the true one: `python tests/bench/scan_coverage.py [cases]`."""

from __future__ import annotations

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

import numpy as np
import scan_cases

SIZE_MM = 0.8  # longest side of a triangle: some 250,000 triangles on a boss


def main() -> None:
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 200
    cases = [scan_cases.case(seed, SIZE_MM) for seed in range(count)]
    kinds = ("whole", "20 % strays", "half missing", "half missing, 20 % strays")
    for kind, name in enumerate(kinds):
        these = cases[kind :: len(kinds)]
        error, give = (np.median([abs(each) for each in values]) for values in zip(*map(_sizes, these), strict=True))
        held, unseen = sum(case.held for case in these), sum(case.unseen for case in these)
        sys.stdout.write(f"| {name} | {held} of {len(these)} | {unseen} | {error:.3f} | {give:.3f} |\n")
    sys.stdout.write(f"| all | {sum(case.held for case in cases)} of {count} | {sum(c.unseen for c in cases)} | | |\n")


def _sizes(case: scan_cases.Held) -> tuple[float, float]:
    return case.error_mm, case.give_mm


if __name__ == "__main__":
    main()
