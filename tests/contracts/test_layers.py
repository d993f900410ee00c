"""Imports run downward only, as [tool.importlinter] in pyproject.toml draws it; a planted one is found."""

import shutil
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
LINT = "from importlinter.cli import lint_imports_command; lint_imports_command()"


def lint(folder):
    """Import-linter's exit status and report on the package in the folder."""
    command = [sys.executable, "-c", LINT, "--no-cache", str(folder / "pyproject.toml")]
    done = subprocess.run(command, cwd=folder, capture_output=True, text=True, check=False, encoding="utf-8")
    return done.returncode, done.stdout + done.stderr


@pytest.fixture
def copy(tmp_path):
    """The package and its contract, to plant faults in."""
    shutil.copy(ROOT / "pyproject.toml", tmp_path)
    shutil.copytree(ROOT / "geartrack", tmp_path / "geartrack", ignore=shutil.ignore_patterns("__pycache__"))
    return tmp_path


def test_imports_run_downward_only():
    status, report = lint(ROOT)
    assert status == 0, report
    assert "1 kept, 0 broken" in report


@pytest.mark.parametrize(
    ("lower", "upper"),
    [
        ("errors", "cli"),
        ("relief", "spread"),
        ("sweep", "boss"),
        ("boss", "sweep"),
        ("quote", "verdict"),
        ("study", "draw"),
        ("gearset", "clearance"),
    ],
)
def test_a_planted_import_is_found(copy, lower, upper):
    package = copy / "geartrack"
    (module,) = (path for path in (package / f"{lower}.py", package / lower / "__init__.py") if path.exists())
    with module.open("a", encoding="utf-8") as source:
        source.write(f"\n\ndef planted() -> object:\n    import geartrack.{upper}\n\n    return geartrack.{upper}\n")
    status, report = lint(copy)
    assert status == 1, report
    assert f"geartrack.{lower} is not allowed to import geartrack.{upper}" in report


def test_a_module_outside_the_drawing_is_found(copy):
    (copy / "geartrack" / "oddments.py").write_text('"""Anything."""\n', encoding="utf-8")
    status, report = lint(copy)
    assert status == 1, report
    assert "oddments" in report
