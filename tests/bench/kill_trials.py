"""Kills writers of a shop's book a thousand times: python tests/bench/kill_trials.py [TRIALS [SEED]]; POSIX only."""

from __future__ import annotations

import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from book_kills import run


def main(trials: int = 1000, seed: int = 1) -> int:
    """Run and print the figures; 0 where nothing told was lost."""
    start = time.monotonic()
    with tempfile.TemporaryDirectory() as folder:
        found = run(trials, Path(folder), seed)
    said = [f"{trials} trials, {found.kills} writers killed, {time.monotonic() - start:.0f} s"]
    said += [f"deeds told as written: {found.told}, lost: {found.lost}; deeds half done: {found.half}"]
    said += [f"killed before there was a book: {found.before_the_book}; faults: {found.faults or 'none'}"]
    sys.stdout.write("\n".join(said) + "\n")
    return 1 if found.lost or found.half or found.faults else 0


if __name__ == "__main__":
    raise SystemExit(main(*map(int, sys.argv[1:3])))
