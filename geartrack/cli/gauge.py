"""The sweep gauges, as files in a folder."""

from __future__ import annotations

from pathlib import Path

import click

from geartrack.cli.options import JOB, TARGET, TEETH, UNITS, with_options


@click.command()
@JOB
@click.argument("folder", type=click.Path(path_type=Path))
@click.option("--fit", help='Play of the spigot all round in the bore (default "0.05 mm", practice of 3D printing).')
@click.option("--spigot", help="Diameter of the spigot, instead of the fit.")
@with_options(TEETH, TARGET, UNITS)
def gauge(
    job: Path,
    folder: Path,
    fit: str | None,
    spigot: str | None,
    teeth: str | None,
    target: str | None,
    units: str | None,
) -> None:
    """A GO and a STOP gauge to print (.stl, .3mf) and how to use them, in a folder.

    Each sits in the pilot bore and carries what the ring gear sweeps, grown by the gap, over the patch. A .glb shows
    the GO gauge in place, in metres as its standard has it.
    """
    from geartrack.cli import present
    from geartrack.export.gauge import gauge_files, gauges, typed_fit
    from geartrack.files import write_folder

    read = present.changed(job, teeth, target, units)
    fit_mm = typed_fit(read, fit, spigot)
    answer = present.answered(read)
    for path in write_folder(gauge_files(answer, gauges(answer, fit_mm)), folder):
        present.wrote(path)
