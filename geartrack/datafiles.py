"""The one way to the invented axles, gear sets, castings and jobs that come with the package.

A wheel carries the project's data/ as geartrack/_data; an editable install has no such folder and falls back to the
checkout's own data/.
"""

from __future__ import annotations

from pathlib import Path

from geartrack.errors import refuse

_PACKAGE = Path(__file__).resolve().parent


def _folder() -> Path:
    installed = _PACKAGE / "_data"
    return installed if installed.is_dir() else _PACKAGE.parent / "data"


def data_path(name: str) -> Path:
    """Path of one file or folder of the package's data.

    name : place inside the data folder, with forward slashes ("jobs/steep.toml")

    Raises InputError where the name leaves the data folder or nothing of that name is there.
    """
    folder = _folder().resolve()
    path = (folder / name).resolve()
    if path == folder or not path.is_relative_to(folder):
        raise refuse(f"data file {name}", "not a name inside the data folder", "give a name such as jobs/NAME.toml")
    if not path.exists():
        raise refuse(f"data file {name}", "no such file in the data folder", f"look in {folder}")
    return path


def demo_jobs() -> tuple[Path, ...]:
    """Paths of the demo's job files, in order of name; every one is invented and says so."""
    return tuple(sorted(data_path("jobs").glob("*.toml")))
