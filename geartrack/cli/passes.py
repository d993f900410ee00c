"""`geartrack passes`: the cut in passes, with a fit check after each."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from geartrack.cli.options import AS_JSON, JOB, TARGET, TEETH, UNITS, with_options

if TYPE_CHECKING:
    from rich.table import Table

    from geartrack.study import Pass, PassPlan
    from geartrack.units import Units


@click.command()
@JOB
@click.option("--depth-each", help='Deepest new cut of a pass, such as "0.005 in" (default: even, 0.010 in at most).')
@click.option("--now-at", multiple=True, help="Gap read at a fit check; again for each pass after it, in order.")
@click.option("--after", type=click.IntRange(0), help="Passes made when the first gap was read (default 1).")
@with_options(TEETH, TARGET, AS_JSON, UNITS)
def passes(
    job: Path,
    depth_each: str | None,
    now_at: tuple[str, ...],
    after: int | None,
    teeth: str | None,
    target: str | None,
    as_json: bool,
    units: str | None,
) -> None:
    """The cut in passes: how far each goes, what the gap should read after it, what a reading leaves to take."""
    from geartrack.cli import present
    from geartrack.job import typed_length
    from geartrack.study import pass_plan

    depth = typed_length(depth_each, where="--depth-each", low_mm=0.02, high_mm=2) if depth_each is not None else None
    readings = [typed_length(text, where="--now-at", low_mm=0, high_mm=25) for text in now_at]
    answer = present.answered(present.changed(job, teeth, target, units))
    plan = pass_plan(answer, depth_each_mm=depth.value if depth else None, readings=readings, after=after)
    present.as_json(plan) if as_json else _show(plan)


def _show(plan: PassPlan) -> None:
    from geartrack import words
    from geartrack.cli.present import console

    out, units = console(), plan.answer.job.units
    out.print(f"{plan.answer.job.name} · {plan.answer.pair}: {plan.answer.verdict.words}", style="bold")
    for doubt in plan.flagged:
        out.print(f"READ AGAIN before any more comes off. Does not go together: {doubt}", style="bold")
    for line in words.to_take(plan, units):
        out.print(line)
    if plan.made or plan.left:
        out.print()
        out.print(_table(plan, units))
    if plan.left:
        out.print(f"\n{plan.why.capitalize()}. Depths run toward the bore's axis.")
        out.print("\nFit check after every pass", style="bold")
        for line in words.FIT_CHECK:
            out.print(f"  - {line}")
    out.print(f"\n{words.for_this_case(plan.answer)}")
    for line in (*words.metal_lines(plan.answer), *(f"  ! {caution}" for caution in words.CAUTIONS)):
        out.print(line)


def _table(plan: PassPlan, units: Units) -> Table:
    from rich.table import Table

    table = Table(box=None, pad_edge=False, header_style="bold", collapse_padding=True)
    heads = ("Pass", "new cut", "deepest so far", "patch", "metal", "wall left", "gap should read", "read")
    for head in heads:
        table.add_column(head, justify="left" if head == "Pass" else "right", overflow="fold")
    for each in (*plan.made, *plan.left):
        table.add_row(*_cells(each, plan, units))
    return table


def _cells(each: Pass, plan: PassPlan, units: Units) -> tuple[str, ...]:
    from geartrack import words
    from geartrack.units import Rounding, show_length

    made = each in plan.made
    note = "made" if made else "if still short" if each.if_short else ""
    deepest: Rounding = "down" if each.clearance_mm >= plan.stop_mm else "up"  # as STOP is shown
    low, high = show_length(each.reads_low_mm, units, rounding="down"), show_length(each.reads_high_mm, units)
    low = low.removesuffix(f" {units}") if each.reads_low_mm > 0 else "touches"
    return (
        f"{each.number} {note}".strip(),
        show_length(each.new_depth_mm, units, rounding="up"),
        show_length(each.depth_mm, units, rounding=deepest),
        f"{each.area_mm2:.1f} mm2",
        words.mass(each.mass_g),
        show_length(each.wall_left_mm, units, rounding="down"),
        f"{low} to {high}" if each.reads_high_mm > 0 else "touches",
        show_length(each.read.value, units) if each.read else "not read" if made else "______",
    )
