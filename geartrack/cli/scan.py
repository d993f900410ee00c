"""`geartrack scan`: what a scan of the case shows, and the job it makes."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from geartrack.cli.options import AS_JSON, FIGURE, UNITS, with_options

if TYPE_CHECKING:
    from geartrack.job import Job
    from geartrack.study.scan import ScanSheet
    from geartrack.units import Units


@click.command()
@click.argument("file", type=click.Path(path_type=Path))
@click.option("--job", type=click.Path(path_type=Path), help="Job whose bore, hand and sizes the scan is held against.")
@click.option("--unit", type=click.Choice(["mm", "in", "m"]), help="Unit of the scan's numbers (default: by its size).")
@click.option(
    "--bore-diameter", help='Pilot bore as measured, such as "38 mm" (default: the job\'s, else searched for).'
)
@click.option("--hand", type=click.Choice(["below", "above"]), help="Pinion below or above the ring's centre line.")
@click.option("--picks", type=click.Path(path_type=Path), help="Points picked on the scan, CSV: what, x, y, z.")
@click.option(
    "--write", type=click.Path(path_type=Path), help="Write the job with this scan for its boss (needs --job)."
)
@click.option("--force", is_flag=True, help="Write over a file that is there.")
@with_options(FIGURE, AS_JSON, UNITS)
def scan(
    file: Path,
    job: Path | None,
    unit: str | None,
    bore_diameter: str | None,
    hand: str | None,
    picks: Path | None,
    write: Path | None,
    force: bool,
    figure: Path | None,
    as_json: bool,
    units: str | None,
) -> None:
    """What a scan of the case shows: bore, end face, ring axis, hand, and what is missing.

    STL, PLY, OBJ or 3MF. What --picks may name: bore, end face, side bore 1, side bore 2, support face (that the
    pinion support bolts to), ring side.
    """
    import json

    from geartrack.cli import present
    from geartrack.errors import refuse
    from geartrack.frame import Hand
    from geartrack.job import read_job, typed_length
    from geartrack.study.document_scan import document_of_scan
    from geartrack.study.scan import look_at_scan

    if write and job is None:
        raise refuse(
            "--write", "a job needs more than its boss", "--job with axle and gear set; geartrack new makes one"
        )
    known = read_job(job) if job else None
    bore = typed_length(bore_diameter, where="--bore-diameter", low_mm=15, high_mm=120) if bore_diameter else None
    sheet = look_at_scan(
        file,
        unit=unit,
        bore_diameter_mm=bore.value if bore else None,
        hand=Hand(hand) if hand else None,
        picks=picks,
        job=known,
    )
    if write and job and known:
        _refuse_the_other_hand(sheet, known, hand)
        _write(sheet, job, write, force)
    first: Units = "mm" if units == "mm" else "in" if units == "in" else known.units if known else "in"
    if figure:
        from geartrack.draw import save, scan_figure

        save(scan_figure(sheet, first, known), figure)
    if as_json:
        click.echo(json.dumps(document_of_scan(sheet), indent=2, allow_nan=False))
    else:
        _show(sheet, first)
    for path in (write, figure):
        if path:
            present.wrote(path)


def _refuse_the_other_hand(sheet: ScanSheet, job: Job, typed: str | None) -> None:
    """The hand of a job is never turned round unasked."""
    from geartrack.errors import refuse

    said = job.axle.hand
    if typed is None and said is not None and sheet.hand is not None and sheet.hand is not said:
        what = f"the scan shows a pinion {sheet.hand} the ring's centre line, the job says {said}"
        raise refuse("--write", what, f"--hand {sheet.hand} if the scan is right; else this is another axle's case")


def _write(sheet: ScanSheet, job: Path, path: Path, force: bool) -> None:
    """The job with the scan for its boss, its comments kept; the result is read as a file is before it is written."""
    import os

    import tomlkit

    from geartrack.job import job_from_dict, write_job
    from geartrack.study.scan import scan_changes, with_scan

    document = tomlkit.parse(job.read_text(encoding="utf-8-sig"))
    changes = scan_changes(sheet, path.parent)
    if "end_face" in changes["boss"]:
        braced = tomlkit.inline_table()
        braced.update(changes["boss"]["end_face"])
        changes["boss"]["end_face"] = braced
    with_scan(document, changes)
    for table in document.values():
        if isinstance(table, dict) and isinstance(table.get("file"), str):
            there = (job.parent / table["file"]).resolve()
            table["file"] = Path(os.path.relpath(there, path.parent.resolve())).as_posix()
    job_from_dict(document.unwrap(), path.parent, path.name)
    write_job(document, path, overwrite=force or path.resolve() == job.resolve())


def _show(sheet: ScanSheet, units: Units) -> None:
    from geartrack.cli.present import console
    from geartrack.scan_words import of_the_datums, of_the_file, of_the_health

    out = console()
    out.print(of_the_file(sheet), style="bold")
    for line in of_the_health(sheet, units):
        out.print(line)
    out.print()
    _table(sheet, units)
    out.print()
    for line in of_the_datums(sheet, units):
        out.print(line)
    for line in sheet.differs:
        out.print(f"Does not agree: {line}", style="bold")
    for line in sheet.missing:
        out.print(f"Missing: {line}", style="bold")
    for line in sheet.notes:
        out.print(f"Note: {line}")


def _table(sheet: ScanSheet, units: Units) -> None:
    from rich.table import Table

    from geartrack.cli.present import console
    from geartrack.units import show_both

    table = Table(box=None, pad_edge=False, header_style="bold")
    for head in ("Found", "rms", "points on it", "of its turn", "moves the gap by at most"):
        table.add_column(head, justify="left" if head == "Found" else "right")
    for each in sheet.datums:
        give = "-" if each.give_mm is None else show_both(each.give_mm, units, rounding="up")
        turn = "" if each.turn is None else f"{100 * each.turn:.0f} %"
        table.add_row(each.name, show_both(each.rms_mm, units), f"{100 * each.share:.0f} %", turn, give)
    console().print(table)
