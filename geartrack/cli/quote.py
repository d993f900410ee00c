"""`geartrack quote`: hours and money for what a check found; several tooth pairs or castings side by side."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

import click

from geartrack.cli.options import AS_JSON, FAST, JOB, TARGET, TEETH, UNITS, with_options
from geartrack.errors import refuse

if TYPE_CHECKING:
    from geartrack.job import Job
    from geartrack.study import QuoteTable

IF_FOUND = ("grind", "late")
SHOP = click.option(
    "--shop", type=click.Path(path_type=Path), help="The shop file with rates, tax, rounding and terms."
)
RATE = click.option("--rate", help="An hour's labour, over the shop file's.")
TAX = click.option("--tax", help="Tax in percent.")
ANSWERED = click.option(
    "--if-found",
    multiple=True,
    metavar="LINE=ANSWER",
    help='The customer\'s answer to an "if found" line: grind=yes, late=no, grind="call me".',
)


@click.command("quote")
@JOB
@with_options(TEETH, TARGET, SHOP, RATE, TAX, ANSWERED)
@click.option("--compare", metavar="PAIRS", help='Other tooth pairs in this case, side by side: "7/35, 8/40".')
@click.option(
    "--other", multiple=True, type=click.Path(path_type=Path), help="Another job beside it, such as another casting."
)
@with_options(AS_JSON, UNITS, FAST)
def quote_command(
    job: Path,
    teeth: str | None,
    target: str | None,
    shop: Path | None,
    rate: str | None,
    tax: str | None,
    if_found: tuple[str, ...],
    compare: str | None,
    other: tuple[Path, ...],
    as_json: bool,
    units: str | None,
    fast: bool,
) -> None:
    """What the work comes to, low, likely and high: as a quote, or side by side with other pairs and castings."""
    from geartrack.cli import present, quote_show
    from geartrack.study import quote_for

    changes = shop_changes(shop, rate, tax, if_found)

    def read(path: Path, pair: str | None) -> Job:
        return priced_by(present.changed(path, pair, target, units), changes)

    if compare is None and not other:
        made = quote_for(present.answered(read(job, teeth), fast=fast), date.today())
        present.as_json(made) if as_json else quote_show.show_quote(made)
        return
    table = _side_by_side(read, job, teeth, compare, other, fast)
    present.as_json(table) if as_json else quote_show.show_quotes(table)


def _side_by_side(
    read: Callable[[Path, str | None], Job],
    job: Path,
    teeth: str | None,
    compare: str | None,
    other: tuple[Path, ...],
    fast: bool,
) -> QuoteTable:
    """Every option checked, with a bar where a person is watching; all are read before the first is checked."""
    from geartrack.cli import present
    from geartrack.gearset.teeth import one_pair
    from geartrack.study import check, compare_quotes, typed_pairs
    from geartrack.study.sampling import row_sampling

    first = read(job, teeth)
    asked = typed_pairs(compare, where="--compare") if compare is not None else ()
    pairs = [str(pair) for pair in asked if pair != one_pair(first.gears.teeth)]
    jobs = [(job, first), *((job, read(job, pair)) for pair in pairs), *((path, read(path, None)) for path in other)]

    def run(tick: Callable[[], None]) -> QuoteTable:
        found = []
        for number, (path, each) in enumerate(jobs):
            answer = check(each, row_sampling(fast))
            label = str(answer.pair) if number <= len(pairs) else f"{path.stem}, {answer.pair}"
            found.append((f"{label} = {answer.pair.ratio:.2f}", answer))
            tick()
        return compare_quotes(found, date.today())

    return present.with_progress(run, len(jobs))


def shop_changes(shop: Path | None, rate: str | None, tax: str | None, if_found: tuple[str, ...]) -> dict[str, str]:
    """What the command line says of the shop, as keys of a job."""
    typed = {"shop.file": str(shop.absolute()) if shop else None, "shop.rate": rate, "shop.tax_percent": tax}
    typed |= _answers(if_found)
    return {key: value for key, value in typed.items() if value is not None}


def priced_by(job: Job, changes: Mapping[str, str]) -> Job:
    """The job with what the command line says of the shop."""
    from geartrack.job import with_changes

    return with_changes(job, changes) if changes else job


def _answers(typed: tuple[str, ...]) -> dict[str, str]:
    """`grind=yes` as the key of a job."""
    found = {}
    for text in typed:
        line, sign, answer = (part.strip() for part in text.partition("="))
        if not sign or line not in IF_FOUND:
            raise refuse("--if-found", f"{text[:30]!r} names no line", f"one of {', '.join(IF_FOUND)}, such as late=no")
        found[f"shop.if_found.{line}"] = answer
    return found
