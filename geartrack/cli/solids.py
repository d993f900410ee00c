"""The solids of a relief, as files in a folder."""

from __future__ import annotations

from pathlib import Path

import click

from geartrack.cli.options import JOB, TARGET, TEETH, with_options


@click.command()
@JOB
@click.argument("folder", type=click.Path(path_type=Path))
@with_options(TEETH, TARGET)
def solids(job: Path, folder: Path, teeth: str | None, target: str | None) -> None:
    """Metal to remove, boss before and after, and the ring as solids (.stl, .3mf, .glb), in a folder.

    STL and 3MF are in millimetres. GLB is in metres, as its standard has it, and coloured by depth.
    """
    from geartrack.cli import present
    from geartrack.export.solids import solid_files
    from geartrack.export.solids import solids as make
    from geartrack.files import write_folder

    answer = present.answered(present.changed(job, teeth, target, None))
    for path in write_folder(solid_files(make(answer)), folder):
        present.wrote(path)
