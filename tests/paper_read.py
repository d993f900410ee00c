"""What stands on printed pages, read back by poppler: pixels and words."""

from __future__ import annotations

import re
import shutil
import subprocess
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
import pytest
from numpy.typing import NDArray

needs_poppler = pytest.mark.skipif(
    not (shutil.which("pdftoppm") and shutil.which("pdftotext")), reason="poppler-utils is not installed"
)
DOTS_AN_INCH = 600
PIXEL_MM = 25.4 / DOTS_AN_INCH


def _ran(*command: str | Path) -> str:
    return subprocess.run([*map(str, command)], check=True, capture_output=True, text=True, encoding="utf-8").stdout


def pages(pdf: bytes) -> list[NDArray[np.bool_]]:
    """Every page as (rows, columns), True where there is ink."""
    with TemporaryDirectory() as folder:
        path = Path(folder) / "it.pdf"
        path.write_bytes(pdf)
        _ran("pdftoppm", "-r", str(DOTS_AN_INCH), "-gray", path, path.with_suffix(""))
        return [pgm(each.read_bytes()) < 128 for each in sorted(Path(folder).glob("*.pgm"))]


def pgm(raw: bytes) -> NDArray[np.uint8]:
    """The greys of a picture that poppler wrote."""
    head = re.match(rb"P5\s+(\d+)\s+(\d+)\s+255\s", raw)
    assert head
    wide, high = int(head[1]), int(head[2])
    return np.frombuffer(raw[head.end() :], np.uint8).reshape(high, wide)


def text_of(pdf: bytes) -> str:
    """The words of a PDF, in reading order, blanks joined."""
    with TemporaryDirectory() as folder:
        path = Path(folder) / "it.pdf"
        path.write_bytes(pdf)
        return " ".join(_ran("pdftotext", "-layout", path, "-").split())


def page_sizes_mm(pdf: bytes) -> list[tuple[float, float]]:
    """Width and height of every page [mm]."""
    with TemporaryDirectory() as folder:
        path = Path(folder) / "it.pdf"
        path.write_bytes(pdf)
        told = _ran("pdfinfo", "-f", "1", "-l", "99", path)
    found = re.findall(r"Page\s+\d+ size:\s+([\d.]+) x ([\d.]+) pts", told)
    return [(float(w) * 25.4 / 72, float(h) * 25.4 / 72) for w, h in found]


def runs(row: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """First pixel and first beyond of every run of ink in a row."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], row, [False]]).astype(int)))
    return [(int(a), int(b)) for a, b in edges.reshape(-1, 2)]


def solid_bars_mm(page: NDArray[np.bool_], *, least_mm: float) -> list[tuple[float, float]]:
    """Length and height [mm] of every filled bar on a page, at least so long and 0.33 mm high, from the top."""
    least, found = least_mm / PIXEL_MM, []
    long = np.flatnonzero(page.sum(axis=1) >= least)
    for group in np.split(long, np.flatnonzero(np.diff(long) > 1) + 1):
        lengths = [max((b - a for a, b in runs(page[row])), default=0) for row in group]
        longest = [n for n in lengths if n >= least]
        if len(longest) * PIXEL_MM > 0.33:
            found.append((float(np.median(longest)) * PIXEL_MM, len(longest) * PIXEL_MM))
    return found
