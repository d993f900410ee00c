"""The depth table, as a file."""

from __future__ import annotations

from pathlib import Path

import click

from geartrack.cli.options import JOB, PAPER, TARGET, TEETH, UNITS, with_options


@click.command()
@JOB
@click.argument("out", type=click.Path(path_type=Path))
@with_options(PAPER, TEETH, TARGET, UNITS)
def depths(job: Path, out: Path, paper: str | None, teeth: str | None, target: str | None, units: str | None) -> None:
    """How deep to grind at each place on the boss, STOP and wall left beside it (.csv, or .pdf as a page)."""
    from geartrack.cli import present
    from geartrack.export.depth_table import check_name, depth_file, depth_table
    from geartrack.export.paper import paper_for
    from geartrack.files import write_whole

    check_name(out)
    answer = present.answered(present.changed(job, teeth, target, units))
    write_whole(depth_file(depth_table(answer), out, paper_for(paper, answer.job.units)), out, overwrite=True)
    present.wrote(out)
