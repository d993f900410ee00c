"""Jobs for the tests of what is printed: the invented demo grown, its boss turned conical, and text that means harm."""

from __future__ import annotations

import re
import shutil
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

from geartrack.datafiles import data_path
from geartrack.job import Job, read_job
from geartrack.study import Answer, check

HARM = '</svg><script>alert(1)</script>&amp;\\u0007 "%PDF" \\u0416'
"""A job's name as a TOML text: markup, a control sign, and a letter that plain type lacks."""


def demo_copy(folder: Path, name: str, *changes: tuple[str, str, str]) -> Path:
    """A demo job copied to a folder with changes (file, pattern, replacement), each of which must be found."""
    shutil.copytree(data_path("jobs").parent, folder, dirs_exist_ok=True)
    for file, pattern, replacement in changes:
        path = folder / file
        text, count = re.subn(pattern, replacement, path.read_text(encoding="utf-8"))
        assert count, (file, pattern)
        path.write_text(text, encoding="utf-8")
    return folder / f"jobs/{name}.toml"


def _read(name: str, *changes: tuple[str, str, str]) -> Job:
    with TemporaryDirectory() as folder:
        return read_job(demo_copy(Path(folder), name, *changes))


def _grown(text: re.Match[str], times: float) -> str:
    return f"{float(text[1]) * times:.6g} {text[2]}"


@cache
def grown_answer(times: float = 2.0) -> Answer:
    """The demo job that hits, with axle, gears and case so many times larger; its carrier is left out."""
    with TemporaryDirectory() as folder:
        path = demo_copy(Path(folder), "hits", ("jobs/hits.toml", r"(?s)\[\[turning\]\].*", ""))
        for file in (file for part in ("axles", "gears", "cases") for file in (Path(folder) / part).glob("*.toml")):
            text = file.read_text(encoding="utf-8")
            file.write_text(re.sub(r"([0-9.]+) (mm|in)\b", lambda m: _grown(m, times), text), encoding="utf-8")
        return check(read_job(path))


@cache
def cone_answer(steep_mm: float = 3.0) -> Answer:
    """The demo job that hits, its boss's outside growing by so much in diameter over its 22 mm."""
    cylinder = r'kind = "cylinder"\ndiameter = "54.4 mm"'
    cone = f'kind = "cone"\\ndiameter_from = "54.4 mm"\\ndiameter_to = "{54.4 + steep_mm:g} mm"'
    return check(_read("hits", ("cases/larch-nodular.toml", cylinder, cone)))


@cache
def harmful_answer() -> Answer:
    """The demo job to grind, under a name that means harm."""
    return check(_read("grind", ("jobs/grind.toml", r'name = "Hill-climb car, 5.14:1"', f'name = "{_escaped(HARM)}"')))


def _escaped(text: str) -> str:
    """A TOML string's inside as the replacement of a pattern."""
    return text.replace('"', '\\"').replace("\\", "\\\\")
