"""Print the scan's benchmark as a table: `python tests/bench/scan_table.py [1M 5M]`. Each figure is of a fresh process.

Seconds of processor time and added peak memory (Linux) of reading one file: by geartrack, which holds what a library
reads against the file and makes equal vertices one; by that library alone, which does neither; and by a library of
another hand, where it reads the format. The last two are left out at 5M, where they take more than the machine has.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).parents[1]))

from scan_contestants import FILES, SIZES, wavy, write

MEASURE = """
import sys, time
from scan_contestants import READERS
def mebibytes(key):
    with open("/proc/self/status") as status:
        return int(next(line.split()[1] for line in status if line.startswith(key))) / 1024
before, start = mebibytes("VmRSS"), time.process_time()
triangles = READERS[sys.argv[1]](sys.argv[2])
sys.stdout.write(f"{time.process_time() - start} {mebibytes('VmHWM') - before} {triangles}")
"""


def measured(reader: str, path: Path) -> tuple[float, float, int]:
    """Seconds and added MiB with the imports that it takes, and triangles read."""
    command = [sys.executable, "-c", MEASURE, reader, str(path)]
    done = subprocess.run(command, capture_output=True, text=True, check=True, cwd=Path(__file__).parents[1])
    seconds, added, triangles = done.stdout.split()
    return float(seconds), float(added), int(triangles)


def row(what: str, *cells: Any) -> None:
    sys.stdout.write("| " + " | ".join([what, *(str(cell) for cell in cells)]) + " |\n")


def main(sizes: list[str]) -> None:
    row("s, MiB added", *(f"geartrack, {size} | the library alone, {size} | meshio, {size}" for size in sizes))
    row("---", *["---"] * 3 * len(sizes))
    with tempfile.TemporaryDirectory() as folder:
        for name in FILES:
            cells = []
            for size in sizes:
                path = Path(folder) / name
                write(path, *wavy(SIZES[size]))
                ours = measured("geartrack", path)
                cells.append(f"{ours[0]:.2f}, {ours[1]:.0f}")
                for other in ("alone", "meshio"):
                    left_out = size == "5M" or (name, other) == ("a.3mf", "meshio")
                    done = None if left_out else measured(other, path)
                    cells.append(f"{done[0]:.2f}, {done[1]:.0f}" if done else "-")
                    assert done is None or done[2] == ours[2]
                path.unlink()
            row(name, *cells)
        path = Path(folder) / "binary.stl"
        for what in ("health", "solid"):
            cells = []
            for size in sizes:
                write(path, *wavy(SIZES[size]))
                done = measured(what, path)
                cells += [f"{done[0]:.2f}, {done[1]:.0f}", "-", "-"]
            row(f"binary.stl, read and {what}", *cells)


if __name__ == "__main__":
    main(sys.argv[1:] or list(SIZES))
