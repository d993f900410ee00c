"""The worksheet for caliper readings, and the table that they are typed into."""

from __future__ import annotations

from pathlib import Path

import click

from geartrack.cli.options import PAPER, UNITS, with_options


@click.command()
@click.argument("out", type=click.Path(path_type=Path))
@click.argument("job", type=click.Path(path_type=Path), required=False)
@click.option("--bore-diameter", help="Pilot bore diameter, where there is no job yet.")
@click.option("--csv", "table", type=click.Path(path_type=Path), help="Write the empty table of readings here, too.")
@with_options(PAPER, UNITS)
def worksheet(
    out: Path, job: Path | None, bore_diameter: str | None, table: Path | None, paper: str | None, units: str | None
) -> None:
    """A true-scale sheet to note caliper readings of the boss on (.pdf), and the table a job takes them from (.csv)."""
    from geartrack.cli import present
    from geartrack.export.paper import paper_for
    from geartrack.export.worksheet import check_names, plan, worksheet_csv, worksheet_pdf
    from geartrack.files import write_whole

    check_names(out, table)
    if job is None and units is None and paper == "a4":
        units = "mm"
    made = plan(job, bore_diameter, units)
    files = [(out, worksheet_pdf(made, paper_for(paper, made.units)))]
    if table:
        files.append((table, worksheet_csv(made)))
    for path, content in files:
        write_whole(content, path, overwrite=True)
    for path, _ in files:
        present.wrote(path)
