"""`geartrack quick`: the short cards. Each card brings its entries, which become flags and questions, and its work."""

from __future__ import annotations

import json
import sys
from collections.abc import Mapping
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from geartrack.errors import refuse

if TYPE_CHECKING:
    from geartrack.cards.answer import CardResult
    from geartrack.cards.entries import Card

CARDS: dict[str, tuple[str, str]] = {
    "phone": ("geartrack.cards.phone", "Four answers on the phone: is the boss likely to be in the way?"),
    "old-gears": (
        "geartrack.cards.old_gears",
        "Old gears still in the case: a gap, two ring heights, no drawing; up to 11 entries.",
    ),
    "bare-case": ("geartrack.cards.bare_case", "A bare case on the bench, no gears, no drawing: up to 16 readings."),
    "parts": (
        "geartrack.cards.parts_check",
        "Before the order: do ring, pinion, bearing, case and carrier belong together?",
    ),
}
"""Name of each card -> the module whose CARD it is, and its help."""

AXLES = click.Option(
    ["--axles"], type=click.Path(path_type=Path), help="Folder of the shop's own axle files (default: near the job)."
)


class Cards(click.Group):
    """One command a card, made from its entries when it is called for, so that other commands start quickly."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """The cards' names, in the order of the job, and how to measure."""
        return [*CARDS, how.name or ""]

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """The card's command; None for another name."""
        if cmd_name == how.name:
            return how
        if cmd_name not in CARDS:
            return None
        module, help_text = CARDS[cmd_name]
        return _command(import_module(module).CARD, help_text)


@click.command()
@click.argument("method", required=False)
@click.option("--figure", type=click.Path(path_type=Path), help="Write the drawing here: .svg, .png or .pdf.")
def how(method: str | None, figure: Path | None) -> None:
    """How to take a reading: the list, or one in words and as a drawing."""
    from geartrack.draw import save
    from geartrack.draw.methods import METHODS, describe_method, method_figure

    if method is None:
        for name, each in METHODS.items():
            click.echo(f"{name:14}{each.title}")
        return
    click.echo(describe_method(method))
    if figure:
        save(method_figure(method), figure)
        click.echo(f"Wrote {figure}", err=True)


@click.command(cls=Cards)
def quick() -> None:
    """Ten minutes at the bench or on the phone: a few questions, each may be left blank."""


def _command(card: Card, help_text: str) -> click.Command:
    """The card as a command: a flag to each entry, questions for what no flag gives."""
    params: list[click.Parameter] = [
        click.Option([f"--{entry.key.replace('_', '-')}", entry.key], help=entry.question) for entry in card.entries
    ]
    params += [AXLES] if card.asks_for_axles else []
    params += [
        click.Option(["--job"], type=click.Path(path_type=Path), help="Write what was entered to this job file."),
        click.Option(["--force"], is_flag=True, help="Write over a job file that is there."),
        click.Option(["--no-questions"], is_flag=True, help="Ask nothing: what no flag gives is left blank."),
        click.Option(["--json", "as_json"], is_flag=True, help="Print the answer as JSON, in millimetres."),
        click.Option(
            ["--units"], type=click.Choice(["in", "mm"]), help="Unit shown first, and of numbers typed without one."
        ),
    ]

    def run(**flags: Any) -> None:
        _run(card, flags)

    return click.Command(card.name, params=params, callback=run, help=help_text)


def _run(card: Card, flags: dict[str, Any]) -> None:
    from geartrack.cards.entries import Setting
    from geartrack.cli import quick_ask, quick_show

    job, units = flags["job"], flags["units"]
    if job and job.exists() and not flags["force"]:
        raise refuse(str(job), "is there already", "name another file, or say --force")
    folder = job.parent if job else Path()
    given = {entry.key: flags[entry.key] for entry in card.entries if flags[entry.key] is not None}
    kept = quick_ask.memory(card, folder)
    typed = given if flags["no_questions"] else quick_ask.ask(card, given, kept, units)
    answer = card.work(
        {key: text for key, text in typed.items() if text.strip()},
        Setting(units or "in", units, folder, flags.get("axles")),
    )
    if job:
        _write(answer, job, flags["force"])
    if flags["as_json"]:
        from geartrack.cards.answer import card_document

        sys.stdout.write(json.dumps(card_document(answer), indent=2, allow_nan=False) + "\n")
    else:
        quick_show.show(answer, units or "in")
    if job:
        quick_show.wrote(answer, job)
    kept.unlink(missing_ok=True)


def _write(answer: CardResult, job: Path, force: bool) -> None:
    """The job file: commented where it is whole, as far as it goes where something is still to come."""
    from geartrack.cards.answer import CardAnswer
    from geartrack.job import new_job_text, write_job, write_text

    if not isinstance(answer, CardAnswer) or answer.job is None:
        raise refuse("--job", "this card has nothing for a job file", "leave --job out")
    if answer.job_lacks:
        write_job(answer.job, job, force)
    else:
        write_text(job, new_job_text(_dotted(answer.job), job.parent), force)


def _dotted(table: Mapping[str, Any], above: str = "") -> dict[str, Any]:
    """The document's values by dotted key; a table that stands for one value stays whole."""
    found: dict[str, Any] = {}
    for key, value in table.items():
        if isinstance(value, Mapping) and "value" not in value:
            found |= _dotted(value, f"{above}{key}.")
        else:
            found[f"{above}{key}"] = value
    return found
