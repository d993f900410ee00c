"""Scans read: that the contestants agree, and ratios in one run against the bare libraries. No time is asserted."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest
from scan_contestants import FILES, READERS, wavy, write

from geartrack.boss.scan.files import merged, read_scan

pytestmark = pytest.mark.bench
COUNT = 220  # about 100,000 triangles


@pytest.fixture(scope="module")
def files(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    folder = tmp_path_factory.mktemp("scans")
    made = wavy(COUNT)
    for name in FILES:
        write(folder / name, *made)
    return {name: folder / name for name in FILES}


@pytest.mark.parametrize("name", FILES)
@pytest.mark.parametrize("reader", ["geartrack", "alone", "meshio"])
def test_reading(benchmark: Any, files: dict[str, Path], name: str, reader: str) -> None:
    if (name, reader) == ("a.3mf", "meshio"):
        pytest.skip("it reads no 3MF")
    benchmark.group = f"read {name}, 100k triangles"
    assert benchmark.pedantic(READERS[reader], (str(files[name]),), rounds=3, warmup_rounds=1) == 2 * COUNT * (
        COUNT - 1
    )


WAYS = ("ours", "three keys", "np.unique of bytes", "np.unique of rows")


@pytest.mark.parametrize("way", WAYS)
def test_making_equal_points_one(benchmark: Any, way: str) -> None:
    vertices, triangles = wavy(COUNT)
    soup = vertices[triangles].reshape(-1, 3)

    def by_keys() -> int:
        order = np.lexsort(soup.T)
        return 1 + int((soup[order][1:] != soup[order][:-1]).any(axis=1).sum())

    task = {
        "ours": lambda: len(merged(soup)[0]),
        "three keys": by_keys,
        "np.unique of bytes": lambda: len(np.unique(soup.view("V12").ravel(), return_inverse=True)[0]),
        "np.unique of rows": lambda: len(np.unique(soup, axis=0, return_inverse=True)[0]),
    }[way]
    benchmark.group = "equal points of 100k triangles made one"
    assert benchmark.pedantic(task, rounds=3, warmup_rounds=1) == len(set(map(tuple, soup.tolist())))


def test_all_files_hold_the_same(files: dict[str, Path]) -> None:
    areas = []
    for path in files.values():
        scan = read_scan(path, unit="mm")
        a, b, c = (scan.vertices[scan.triangles[:, i]] for i in range(3))
        areas.append(np.linalg.norm(np.cross(b - a, c - a), axis=1).sum() / 2)
    assert areas == pytest.approx([areas[0]] * len(areas), rel=1e-5)
