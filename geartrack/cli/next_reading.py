"""`geartrack next`: which reading to take next, and what it would change."""

from __future__ import annotations

from pathlib import Path

import click

from geartrack.cli.options import AS_JSON, DRAWS, FIGURE, JOB, SEED, TARGET, UNITS, with_options


@click.command("next")
@JOB
@click.option("--teeth", help="Another tooth pair or ratio than the job's.")
@with_options(TARGET, AS_JSON, FIGURE, UNITS, DRAWS, SEED)
def next_command(
    job: Path,
    teeth: str | None,
    target: str | None,
    as_json: bool,
    figure: Path | None,
    units: str | None,
    draws: int | None,
    seed: int | None,
) -> None:
    """Which reading to take next: what each still to take would change, the best per minute first."""
    from geartrack.cli import present

    answer = present.answered(present.changed(job, teeth, target, units), draws=draws, seed=seed)
    if figure:
        present.save_sure_figure(answer, figure)
    present.as_json(answer) if as_json else present.next_readings(answer)
    if figure:
        present.wrote(figure)
