"""`geartrack quote`: hours and money for what a check found."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

import click

from geartrack.cli.options import AS_JSON, FAST, JOB, TARGET, TEETH, UNITS, with_options

if TYPE_CHECKING:
    from geartrack.quote import Quote


@click.command("quote")
@JOB
@with_options(TEETH, TARGET, AS_JSON, UNITS, FAST)
def quote_command(
    job: Path, teeth: str | None, target: str | None, as_json: bool, units: str | None, fast: bool
) -> None:
    """Hours and money for what the check found: low, likely, high."""
    from geartrack.cli import present
    from geartrack.study import quote_for

    answer = present.answered(present.changed(job, teeth, target, units), fast=fast)
    made = quote_for(answer, date.today())
    present.as_json(made) if as_json else show(made)


def show(made: Quote) -> None:
    """The quote on a terminal."""
    from geartrack.cli.quote_show import show_quote

    show_quote(made)
