"""Every command has help and is written down; start-up is light; only the run-time dependencies are needed."""

import re
import tomllib
from importlib.metadata import packages_distributions, requires
from pathlib import Path

import click
import pytest
from click.testing import CliRunner
from command_line import command_paths, run_geartrack
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

from geartrack.cli import main
from geartrack.datafiles import demo_jobs

ROOT = Path(__file__).parents[2]
HEAVY = ("numpy", "scipy", "shapely", "matplotlib", "manifold3d", "pydantic", "tomlkit")
REFUSE = """
import sys, importlib.abc
class Refuse(importlib.abc.MetaPathFinder):
    def find_spec(self, name, path=None, target=None):
        if name.partition(".")[0] in {blocked!r}:
            raise ModuleNotFoundError(f"No module named {{name!r}}", name=name)
sys.meta_path.insert(0, Refuse())
"""


def needed_at_run_time():
    """Names of the distributions that an install without extras brings, from pyproject.toml downward."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    todo, names = list(project["dependencies"]), {"geartrack"}
    while todo:
        requirement = Requirement(todo.pop())
        name = canonicalize_name(requirement.name)
        if name not in names and (not requirement.marker or requirement.marker.evaluate({"extra": ""})):
            names.add(name)
            todo += requires(name) or []
    return names


@pytest.fixture(scope="module")
def only_run_time():
    """Lines of Python that refuse to import whatever an install without extras does not bring."""
    needed = needed_at_run_time()
    blocked = {
        module
        for module, owners in packages_distributions().items()
        if not needed & {canonicalize_name(owner) for owner in owners}
    }
    assert {"hypothesis", "pint", "OCP", "fcl", "nbformat", "pytest", "mypy"} <= blocked
    assert not {"geartrack", "numpy", "click", "shapely"} & blocked
    return REFUSE.format(blocked=blocked)


def test_the_refusal_refuses(only_run_time, tmp_path):
    ran = run_geartrack(cwd=tmp_path, before=f"{only_run_time}\nimport fcl")
    assert ran.returncode == 1
    assert "No module named 'fcl'" in ran.stderr


def test_help_starts_with_run_time_dependencies_alone(only_run_time, tmp_path):
    ran = run_geartrack("--help", cwd=tmp_path, before=only_run_time)
    assert ran.returncode == 0, ran.stderr
    assert "check" in ran.stdout


def test_a_demo_job_is_checked_with_run_time_dependencies_alone(only_run_time, tmp_path):
    ran = run_geartrack("check", str(demo_jobs()[0]), cwd=tmp_path, before=only_run_time)
    assert ran.returncode == 0, ran.stderr
    assert ran.stdout.strip()


def test_help_imports_nothing_heavy(tmp_path):
    report = f"import atexit, sys; atexit.register(lambda: sys.stderr.write(' '.join(set({HEAVY}) & set(sys.modules))))"
    ran = run_geartrack("--help", cwd=tmp_path, before=report)
    assert ran.returncode == 0, ran.stderr
    assert ran.stderr == ""
    caught = run_geartrack("--help", cwd=tmp_path, before=f"{report}\nimport numpy")
    assert caught.stderr == "numpy"


def test_every_command_has_help_and_is_written_down():
    written = "".join((ROOT / name).read_text(encoding="utf-8") for name in ("README.md", "DEVELOPERS.md"))
    paths = [path for path in command_paths(main) if path]
    assert {("check",), ("gears",), ("ratios",), ("new",), ("demo",), ("quote",)} <= set(paths)
    for path in paths:
        ran = CliRunner().invoke(main, [*path, "--help"])
        assert ran.exit_code == 0, ran.output
        assert re.search(rf"\bgeartrack {' '.join(path)}\b", written), f"geartrack {' '.join(path)}: not written down"


def test_every_option_says_what_it_does():
    silent = []
    for path in command_paths(main):
        command, context = main, click.Context(main)
        for word in path:
            command = command.get_command(context, word)
        assert command.get_short_help_str(), path
        silent += [(*path, p.name) for p in command.params if isinstance(p, click.Option) and not p.help]
    assert silent == []
