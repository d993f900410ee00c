"""Imports run downward only, as [tool.importlinter] in pyproject.toml draws it; a planted one is found."""

import shutil
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
LINT = "import sys; from importlinter.cli import lint_imports_command; lint_imports_command()"


def lint(folder):
    """Import-linter's exit status and report on the package in the folder."""
    command = [sys.executable, "-c", LINT, "--no-cache", folder / "pyproject.toml"]
    done = subprocess.run(list(map(str, command)), cwd=folder, capture_output=True, text=True, check=False)
    return done.returncode, done.stdout + done.stderr


def test_imports_run_downward_only():
    status, report = lint(ROOT)
    assert status == 0, report
    assert "1 kept, 0 broken" in report


@pytest.mark.parametrize(
    ("module", "planted"),
    [
        ("errors.py", "geartrack.cli"),
        ("relief/__init__.py", "geartrack.spread"),
        ("sweep.py", "geartrack.boss"),
        ("boss/__init__.py", "geartrack.sweep"),
        ("quote.py", "geartrack.verdict"),
        ("study/__init__.py", "geartrack.draw"),
    ],
)
def test_a_planted_import_is_found(tmp_path, module, planted):
    shutil.copy(ROOT / "pyproject.toml", tmp_path)
    shutil.copytree(ROOT / "geartrack", tmp_path / "geartrack", ignore=shutil.ignore_patterns("__pycache__"))
    where = tmp_path / "geartrack" / module
    where = where if where.exists() else where.with_name("__init__.py")
    with where.open("a", encoding="utf-8") as source:
        source.write(f"\n\ndef planted() -> object:\n    import {planted}\n\n    return {planted}\n")
    status, report = lint(tmp_path)
    assert status == 1, report
    assert planted in report


def test_a_module_outside_the_drawing_is_found(tmp_path):
    shutil.copy(ROOT / "pyproject.toml", tmp_path)
    shutil.copytree(ROOT / "geartrack", tmp_path / "geartrack", ignore=shutil.ignore_patterns("__pycache__"))
    (tmp_path / "geartrack" / "oddments.py").write_text('"""Anything."""\n', encoding="utf-8")
    status, report = lint(tmp_path)
    assert status == 1, report
    assert "oddments" in report
