"""`geartrack new`: a few questions, each checked as it is typed, into a commented job file."""

from __future__ import annotations

from pathlib import Path

import click

from geartrack.errors import GeartrackError, refuse
from geartrack.gearset.teeth import one_pair
from geartrack.job import new_job_text, write_text
from geartrack.units import parse_length

QUESTIONS = {
    "name": ("What is the job called?", "My job"),
    "ring_diameter": ("Ring gear diameter (such as 9 1/2 in)", None),
    "offset": ("Hypoid offset, ring's centre line to pinion's (0 in for none)", None),
    "hand": (
        "Pinion below or above the ring's centre line, seen from the tooth side with the pinion to the right?",
        "below",
    ),
    "teeth": ("Pinion and ring teeth (such as 8/39)", None),
    "end_face": ("Boss's pinion-side end face to the ring's centre line, along the pinion", None),
    "boss_diameter": ("Outside diameter of the boss", None),
    "boss_length": ("Length of the boss", None),
    "bore_diameter": ("Pilot bore diameter", None),
    "bore_depth": ("Depth of the pilot bore", None),
}
NOT_LENGTHS = frozenset({"name", "hand", "teeth"})


def write_new(path: Path | None, answers: dict[str, str | None], force: bool) -> None:
    """Ask for what no flag gave, then write the job file; nothing is written before all of it is good."""
    path = path or Path(click.prompt("File to write", default="job.toml"))
    if path.exists() and not force:
        raise refuse(str(path), "is there already", "name another file, or say --force")
    given: dict[str, str] = {}
    for key, (question, default) in QUESTIONS.items():
        typed = answers.get(key)
        given[key] = _checked(key, typed) if typed is not None else _asked(key, question, default)
    write_text(path, new_job_text(given), overwrite=force)
    click.echo(f"Wrote {path}; next: geartrack check {path}")


def _asked(key: str, question: str, default: str | None) -> str:
    while True:
        typed = click.prompt(question, default=default, type=str)
        try:
            return _checked(key, typed)
        except GeartrackError as error:
            click.echo(f"  {error}", err=True)


def _checked(key: str, typed: str) -> str:
    if key == "teeth":
        one_pair(typed, where="--teeth")
    elif key == "hand" and typed not in ("below", "above"):
        raise refuse("--hand", f"{typed!r}", "type below or above")
    elif key not in NOT_LENGTHS:
        parse_length(typed, where=f"--{key.replace('_', '-')}")
    return typed
