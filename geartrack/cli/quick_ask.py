"""Asking a card's questions: each checked as it is typed, kept in a small file until the card is answered."""

from __future__ import annotations

import tomllib
from pathlib import Path
from shutil import get_terminal_size
from typing import TYPE_CHECKING

import click

from geartrack.errors import GeartrackError
from geartrack.job import write_text
from geartrack.units import Units

if TYPE_CHECKING:
    from geartrack.cards.entries import Card, Entry

_WIDEST, _ANSWER = 100, 14  # letters of a line, and room kept on it for what is typed


def memory(card: Card, folder: Path) -> Path:
    """The file that keeps a card's answers while it is being asked, beside the job to be written."""
    return folder / f".geartrack-quick-{card.name}.toml"


def ask(card: Card, given: dict[str, str], kept: Path, units: Units | None) -> dict[str, str]:
    """Ask for what no flag gave, in the card's order; what was kept of an interrupted card is offered again.

    Every answer is written to `kept` before the next question. Questions go to stderr, so that stdout holds the answer
    alone.
    """
    missing = [entry for entry in card.entries if entry.key not in given]
    if not missing:
        return given
    before = _kept(kept)
    unit = f"; numbers without a unit are {units}" if units else ""
    click.echo(f"{len(missing)} questions. Enter alone skips one, ? shows how to read it{unit}.", err=True)
    if before:
        click.echo("Answers in brackets are from last time: Enter keeps one, - takes it away.", err=True)
    typed = dict(given)
    try:
        for number, entry in enumerate(missing, 1):
            typed[entry.key] = _asked(entry, f"{number}/{len(missing)} {entry.question}", before, units)
            _keep(kept, before | typed)
    except click.Abort:
        click.echo(f"\nStopped; what was typed is kept in {kept} and offered the next time.", err=True)
        raise
    return typed


def _asked(entry: Entry, question: str, before: dict[str, str], units: Units | None) -> str:
    earlier = before.get(entry.key, "")
    while True:
        asked = click.wrap_text(question, width=_wide(), subsequent_indent="    ")
        text = str(click.prompt(asked, default=earlier, show_default=bool(earlier), err=True)).strip()
        if text == "?":
            _explain(entry)
            continue
        if text in ("", "-"):
            return ""
        try:
            entry.value(text, units)
        except GeartrackError as error:
            for line in str(error).splitlines():
                click.echo(f"  {line}", err=True)
            continue
        return text


def _wide() -> int:
    return min(get_terminal_size().columns, _WIDEST) - _ANSWER


def _explain(entry: Entry) -> None:
    """How the entry is read, what a blank means, and the words of its drawing."""
    lines = [entry.how, f"Blank: {entry.blank}."]
    if entry.method:
        from geartrack.draw.methods import describe_method

        lines += describe_method(entry.method).splitlines()
    for line in lines:
        click.echo(click.wrap_text(line, width=_wide(), initial_indent="  ", subsequent_indent="    "), err=True)


def _kept(path: Path) -> dict[str, str]:
    """What an interrupted card left; nothing where there is no such file, or it cannot be read."""
    try:
        document = tomllib.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return {}
    return {key: text for key, text in document.items() if isinstance(text, str) and text}


def _keep(path: Path, typed: dict[str, str]) -> None:
    import tomlkit

    write_text(path, tomlkit.dumps({key: text for key, text in typed.items() if text}), overwrite=True)
