"""`geartrack sheet`: pages to print, for the bench, for the counter, for the customer."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from geartrack.cli.options import FAST, JOB, PAPER, TARGET, TEETH, UNITS, with_options
from geartrack.cli.quote import ANSWERED, RATE, SHOP, TAX, priced_by, shop_changes

if TYPE_CHECKING:
    from geartrack.sheets.model import Sheet
    from geartrack.units import Units

OUT = click.argument("out", type=click.Path(path_type=Path))


@click.group()
def sheet() -> None:
    """A sheet to print: for the bench, the counter or the customer (.pdf, or .html to read and print)."""


@sheet.command()
@JOB
@OUT
@click.option("--now-at", multiple=True, help="Gap read at a fit check; again for each pass after it, in order.")
@click.option("--after", type=click.IntRange(0), help="Passes made when the first gap was read (default 1).")
@with_options(PAPER, TEETH, TARGET, UNITS, FAST)
def bench(
    job: Path,
    out: Path,
    now_at: tuple[str, ...],
    after: int | None,
    paper: str | None,
    teeth: str | None,
    target: str | None,
    units: str | None,
    fast: bool,
) -> None:
    """The bench sheet: verdict, what to take off, where to stop, room for every reading; three pages at most."""
    from geartrack.cli import present
    from geartrack.job import typed_length
    from geartrack.sheets.bench import bench_sheet
    from geartrack.sheets.file import check_name
    from geartrack.study import pass_plan

    check_name(out)
    readings = [typed_length(text, where="--now-at", low_mm=0, high_mm=25) for text in now_at]
    answer = present.answered(present.changed(job, teeth, target, units), fast=fast)
    plan = pass_plan(answer, readings=readings, after=after) if readings or after is not None else None
    _write(bench_sheet(answer, plan), out, paper, answer.job.units)


@sheet.command()
@JOB
@OUT
@click.option("--from", "lowest", type=float, default=4.0, show_default=True, help="Lowest ratio.")
@click.option("--to", "highest", type=float, default=6.2, show_default=True, help="Highest ratio.")
@click.option("--teeth", help='Only these tooth pairs: "9/35, 8/39, 7/36".')
@with_options(PAPER, TARGET, UNITS, FAST)
def counter(
    job: Path,
    out: Path,
    lowest: float,
    highest: float,
    teeth: str | None,
    paper: str | None,
    target: str | None,
    units: str | None,
    fast: bool,
) -> None:
    """The counter sheet: the gap that each ratio would leave, pinion by pinion, and where it is lost."""
    from geartrack.cli import present
    from geartrack.sheets.counter import counter_sheet
    from geartrack.sheets.file import check_name
    from geartrack.study import pairs_between, typed_pairs

    check_name(out)
    chosen = present.changed(job, None, target, units)
    pairs = typed_pairs(teeth) if teeth is not None else pairs_between(lowest, highest)
    table = present.compared(chosen, pairs, fast=fast)
    _write(counter_sheet(table), out, paper, chosen.units)


@sheet.command()
@JOB
@OUT
@with_options(PAPER, TEETH, TARGET, SHOP, RATE, TAX, ANSWERED, UNITS, FAST)
def customer(
    job: Path,
    out: Path,
    paper: str | None,
    teeth: str | None,
    target: str | None,
    shop: Path | None,
    rate: str | None,
    tax: str | None,
    if_found: tuple[str, ...],
    units: str | None,
    fast: bool,
) -> None:
    """The customer's page: what it comes to, what is in it, what is not known yet, what to answer and to sign."""
    from datetime import date

    from geartrack.cli import present
    from geartrack.sheets.customer import customer_sheet
    from geartrack.sheets.file import check_name
    from geartrack.study import quote_for

    check_name(out)
    priced = priced_by(present.changed(job, teeth, target, units), shop_changes(shop, rate, tax, if_found))
    answer = present.answered(priced, fast=fast)
    _write(customer_sheet(quote_for(answer, date.today())), out, paper, answer.job.units)


def _write(made: Sheet, out: Path, paper: str | None, units: Units) -> None:
    from geartrack.cli import present
    from geartrack.export.paper import paper_for
    from geartrack.files import write_whole
    from geartrack.sheets.file import sheet_file

    write_whole(sheet_file(made, out, paper_for(paper, units)), out, overwrite=True)
    present.wrote(out)
