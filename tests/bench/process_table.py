"""Print what a whole process costs: `python tests/bench/process_table.py`. Best of five, in one run on one machine."""

from __future__ import annotations

import subprocess
import sys
import time
from pathlib import Path

JOBS = Path(__file__).parents[2] / "data" / "jobs"
COMMANDS = {
    "python -c pass": ["-c", "pass"],
    "python -c 'import numpy'": ["-c", "import numpy"],
    "python -c 'import scipy.optimize'": ["-c", "import scipy.optimize"],
    "geartrack --help (reach: <= 0.3 s)": ["-m", "geartrack", "--help"],
    "geartrack check, clears (reach: <= 1 s)": ["-m", "geartrack", "check", str(JOBS / "clears.toml")],
    "geartrack check, grind (reach: <= 1 s)": ["-m", "geartrack", "check", str(JOBS / "grind.toml")],
    "geartrack check, boss by readings": ["-m", "geartrack", "check", str(JOBS / "grind-by-readings.toml")],
}
RUNS = 5


def seconds(arguments: list[str]) -> float:
    """Wall time of the quickest of a few runs of this interpreter [s]."""
    best = float("inf")
    for _ in range(RUNS):
        start = time.perf_counter()
        subprocess.run([sys.executable, *arguments], check=True, capture_output=True)
        best = min(best, time.perf_counter() - start)
    return best


def main() -> None:
    """The table, in markdown."""
    sys.stdout.write("| whole process | s | times python -c pass |\n|---|---|---|\n")
    base = 0.0
    for name, arguments in COMMANDS.items():
        took = seconds(arguments)
        base = base or took
        sys.stdout.write(f"| `{name}` | {took:.2f} | {took / base:.0f} |\n")


if __name__ == "__main__":
    main()
