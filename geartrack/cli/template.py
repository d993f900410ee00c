"""The true-scale template, as a file."""

from __future__ import annotations

from pathlib import Path

import click

from geartrack.cli.options import JOB, PAPER, TARGET, TEETH, UNITS, with_options


@click.command()
@JOB
@click.argument("out", type=click.Path(path_type=Path))
@with_options(PAPER, TEETH, TARGET, UNITS)
def template(job: Path, out: Path, paper: str | None, teeth: str | None, target: str | None, units: str | None) -> None:
    """A true-scale strip to wrap round the boss: where to grind, how deep, where to stop (.pdf, .svg or .dxf)."""
    from geartrack.cli import present
    from geartrack.export.paper import paper_for
    from geartrack.export.template import check_name, template_file
    from geartrack.export.template import template as make
    from geartrack.files import write_whole

    check_name(out)
    answer = present.answered(present.changed(job, teeth, target, units))
    write_whole(template_file(make(answer), out, paper_for(paper, answer.job.units)), out, overwrite=True)
    present.wrote(out)
