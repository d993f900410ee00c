"""The linter, the formatter and the type checker have nothing to say, as DEVELOPERS.md tells people to run them."""

import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
CODE = ["geartrack", "tests", "notebooks"]


@pytest.mark.parametrize(
    "command",
    [["ruff", "check", *CODE], ["ruff", "format", "--check", *CODE], ["mypy"]],
    ids=["ruff check", "ruff format", "mypy"],
)
def test_nothing_to_say(command):
    done = subprocess.run([sys.executable, "-m", *command], cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout + done.stderr
