"""The data is found from an installed wheel, from a source archive's wheel and in an editable install.

Each is built by the back end that pip calls and put by pip into an environment of its own, far from the checkout.
"""

import json
import os
import subprocess
import sys
import tarfile
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
BUILD_EDITABLE = "import sys, hatchling.build as build; build.build_editable(sys.argv[1])"
ASK = """
import json
from geartrack.datafiles import data_path, demo_jobs
print(json.dumps([str(data_path("README.md")), *map(str, demo_jobs())]))
"""


def run(*command, cwd):
    """What the command prints; its complaint is the assertion's message."""
    env = {k: v for k, v in os.environ.items() if not k.startswith(("PYTHON", "COV_"))}
    done = subprocess.run(list(map(str, command)), cwd=cwd, env=env, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr + done.stdout
    return done.stdout


def only(folder, pattern):
    (found,) = Path(folder).glob(pattern)
    return found


@pytest.fixture(scope="module")
def source(tmp_path_factory):
    """The source archive, unpacked: what someone gets who has no clone."""
    out = tmp_path_factory.mktemp("sdist")
    run(sys.executable, "-m", "hatchling", "build", "-t", "sdist", "-d", out, cwd=ROOT)
    with tarfile.open(only(out, "*.tar.gz")) as archive:
        archive.extractall(out, filter="data")
    return only(out, "geartrack-*/")


def build(how, source, out):
    if how == "editable":
        run(sys.executable, "-c", BUILD_EDITABLE, out, cwd=source)
    else:
        run(
            sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", out, cwd=ROOT if how == "wheel" else source
        )
    return only(out, "*.whl")


@pytest.mark.parametrize("how", ["wheel", "wheel of the source archive", "editable"])
def test_data_is_found(how, source, tmp_path):
    wheel = build(how, source, tmp_path / "built")
    run(sys.executable, "-m", "venv", "--without-pip", tmp_path / "env", cwd=tmp_path)
    run(
        *(sys.executable, "-m", "pip", "--python", tmp_path / "env", "install", "-q", "--no-index", "--no-deps", wheel),
        cwd=tmp_path,
    )
    python = tmp_path / "env" / ("Scripts/python.exe" if os.name == "nt" else "bin/python")
    answer = run(python, "-I", "-c", ASK, cwd=tmp_path)
    readme, *jobs = map(Path, json.loads(answer))
    home = source / "data" if how == "editable" else tmp_path / "env"
    assert readme.is_relative_to(home)
    assert readme.read_bytes() == (ROOT / "data" / "README.md").read_bytes()
    assert [job.name for job in jobs] == sorted(job.name for job in (ROOT / "data" / "jobs").glob("*.toml"))


def test_the_wheel_carries_all_the_data_and_nothing_of_the_tests(source, tmp_path):
    names = set(zipfile.ZipFile(build("wheel", source, tmp_path)).namelist())
    data = {
        f"geartrack/_data/{p.relative_to(ROOT / 'data').as_posix()}" for p in (ROOT / "data").rglob("*") if p.is_file()
    }
    assert data <= names
    assert all(name.startswith(("geartrack/", "geartrack-")) for name in names)
