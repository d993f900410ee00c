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
    "material": ("Metal of the case: nodular, grey, aluminium or not known", "not known"),
    "measured": (
        "Were these boss sizes read on this very case (this case), or on another (another case)?",
        "this case",
    ),
}
CHOICES = {
    "hand": ("below", "above"),
    "material": ("nodular", "grey", "aluminium", "not known"),
    "measured": ("this case", "another case"),
}
NOT_LENGTHS = frozenset({"name", "teeth", *CHOICES})
KEYS = {"material": "case.material", "measured": "case.measured"}


def write_new(path: Path | None, answers: dict[str, str | None], force: bool) -> None:
    """Ask for what no flag gave, then write the job file; nothing is written before all of it is good."""
    path = path or Path(click.prompt("File to write", default="job.toml"))
    if path.exists() and not force:
        raise refuse(str(path), "is there already", "name another file, or say --force")
    flags = {key: typed for key, typed in answers.items() if typed is not None}
    given = {key: _checked(key, typed) for key, typed in flags.items()}
    while True:
        for key, (question, default) in QUESTIONS.items():
            if key not in flags:
                given[key] = _asked(key, question, given.get(key, default))
        try:
            text = new_job_text({KEYS.get(key, key): typed for key, typed in given.items()})
            break
        except GeartrackError as error:
            if flags.keys() >= QUESTIONS.keys():
                raise
            click.echo(f"{error}\nOnce more; Enter keeps what was typed.", err=True)
    write_text(path, text, overwrite=force)
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
    elif key in CHOICES and typed not in CHOICES[key]:
        raise refuse(_flag(key), f"{typed!r}", f"type {', '.join(CHOICES[key])}")
    elif key not in NOT_LENGTHS:
        parse_length(typed, where=_flag(key))
    return typed


def _flag(key: str) -> str:
    return f"--{key.replace('_', '-')}"
