"""Two processes at once, and writers killed at any moment; a thousand kills: python tests/bench/kill_trials.py."""

import os
import subprocess
import sys
from pathlib import Path

import pytest
from book_kills import run

from geartrack.shopbook import Book
from geartrack.shopbook.rescue import faults_of

WRITER = """
import sys
from pathlib import Path
from book_entries import gap_body, inputs_body
from geartrack.shopbook import Book
for n in range(25):
    with Book(Path(sys.argv[1]), create=True) as book, book.writing():
        numbers = book.numbers()
        inputs = book.add("inputs", inputs_body(f"{sys.argv[2]} {n}"))
        book.add("measurement", gap_body(len(numbers)), job=inputs.job)
"""


def test_two_processes_at_once_lose_nothing_and_see_each_other(tmp_path):
    """Each job notes how many jobs there were before it: every number from 0 to 49 once, so each saw all before it."""
    path = tmp_path / "book.sqlite"
    tests = Path(__file__).parents[1]
    environment = os.environ | {"PYTHONPATH": os.pathsep.join([str(tests), str(tests.parent)])}
    writers = [
        subprocess.Popen(
            [sys.executable, "-c", WRITER, str(path), name], env=environment, stderr=subprocess.PIPE, text=True
        )
        for name in ("one", "two")
    ]
    said = [writer.communicate(timeout=60)[1] for writer in writers]
    assert [writer.returncode for writer in writers] == [0, 0], said
    with Book(path) as book:
        records = list(book.records())
        assert faults_of(book) == []
    names = [record.newest("inputs").document["name"] for record in records]
    assert sorted(names) == sorted(f"{name} {n}" for name in ("one", "two") for n in range(25))
    assert [record.newest("measurement").document["value_mm"] for record in records] == list(range(50))


@pytest.mark.skipif(not hasattr(os, "fork"), reason="kills forked writers")
def test_nothing_told_is_lost_when_writers_are_killed(tmp_path):
    found = run(15, tmp_path, seed=7, to_a_book=5)
    assert found.kills >= 15
    assert found.told > 0
    assert (found.lost, found.half, found.faults) == (0, 0, [])


@pytest.mark.skipif(not hasattr(os, "fork"), reason="kills forked writers")
def test_a_writer_that_speaks_too_soon_is_found(tmp_path):
    """The same trials on writers that tell before the commit, so that trials which find nothing are noticed."""
    assert run(15, tmp_path, seed=7, to_a_book=5, early=True).lost > 0
