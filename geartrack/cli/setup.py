"""`geartrack setup`: the pinion support's log, and what to try next."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from geartrack.cli.options import AS_JSON, JOB, UNITS, with_options

if TYPE_CHECKING:
    from rich.console import Console

    from geartrack.setup_log import SetupAnswer
    from geartrack.units import Units


@click.command()
@JOB
@with_options(AS_JSON, UNITS)
def setup(job: Path, as_json: bool, units: str | None) -> None:
    """Pinion support: seal drag, torque against the maker's range, the shims or the pull to try next."""
    from geartrack.cli import present
    from geartrack.setup_log import setup_log

    answer = setup_log(present.changed(job, None, None, units))
    present.as_json(answer) if as_json else _show(answer)


def _show(answer: SetupAnswer) -> None:
    from geartrack.cli.present import console
    from geartrack.setup_log.says import crush_lines, makers_range, next_stack_lines

    out, units = console(), answer.job.units
    out.print(f"{answer.job.name}: pinion support (retainer)", style="bold")
    out.print(f"The maker's specification comes first; this is a help. {makers_range(answer, units)}")
    for doubt in answer.flagged:
        out.print(f"Look at this: {doubt}", style="bold")
    _readings(out, answer, units)
    _stacks(out, answer, units)
    out.print()
    for line in (*next_stack_lines(answer, units), *crush_lines(answer, units)):
        out.print(line)


def _readings(out: Console, answer: SetupAnswer, units: Units) -> None:
    from rich.table import Table

    from geartrack.setup_log.says import drag_line
    from geartrack.units import show_torque

    if not answer.readings:
        return
    table = Table("Turning torque", "seal", "bearings", "when", "bearings alone", "range", box=None, pad_edge=False)
    for each in answer.readings:
        read, alone = each.reading, each.alone_nm
        shown = show_torque(alone, units) if alone is not None else "-"
        said = show_torque(read.torque.value, units), read.seal, read.bearings, read.stage
        table.add_row(*said, shown, "-" if each.against == "cannot tell" else each.against)
    out.print()
    out.print(table)
    if answer.drag:
        out.print(drag_line(answer.drag, units))


def _stacks(out: Console, answer: SetupAnswer, units: Units) -> None:
    from rich.table import Table

    from geartrack.units import show_fine, show_torques

    if not answer.tried:
        return
    table = Table("Stack tried", "bearings alone", "play", box=None, pad_edge=False)
    for each in answer.tried:
        play = show_fine(each.play_mm, units) if each.play_mm is not None else "-"
        table.add_row(show_fine(each.thickness_mm, units), show_torques(each.torque_nm, units), play)
    out.print()
    out.print(table)
