"""Answers as tables on a terminal: inch and millimetre side by side, no figure computed here."""

from __future__ import annotations

import json
import os
import sys
from collections import Counter
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TypeVar

from rich import box
from rich.console import Console
from rich.panel import Panel
from rich.table import Table
from rich.text import Text

from geartrack import words
from geartrack.errors import refuse
from geartrack.gearset.teeth import ToothPair
from geartrack.job import Job, read_job, with_changes
from geartrack.quote import Quote
from geartrack.setup_log import SetupAnswer
from geartrack.study import PassPlan, QuoteTable, as_document, compare_ratios, with_teeth
from geartrack.study import check as study_check
from geartrack.study.answer import Answer, RatioTable
from geartrack.study.gears import GearSheet
from geartrack.study.sampling import asked_sampling, row_sampling
from geartrack.units import Rounding, Units, show_both, show_length

Result = TypeVar("Result")
OTHER: dict[Units, Units] = {"in": "mm", "mm": "in"}


def console() -> Console:
    """A console that obeys NO_COLOR, reads no markup in anybody's words, and is wide enough when piped."""
    wide = 110 if not sys.stdout.isatty() and "COLUMNS" not in os.environ else None
    return Console(highlight=False, markup=False, width=wide)


def changed(job: Path, teeth: str | None, target: str | None, units: str | None, confidence: str | None = None) -> Job:
    """The job in a file with what the command line says instead."""
    typed = {"target.gap": target, "units": units, "target.confidence": confidence}
    changes = {key: text for key, text in typed.items() if text is not None}
    read = read_job(job)
    read = with_changes(read, changes) if changes else read
    return with_teeth(read, teeth) if teeth else read


def answered(job: Job, *, fast: bool = False, draws: int | None = None, seed: int | None = None) -> Answer:
    """The answer to a job, its low to high drawn unless `fast` asks for the straight sum.

    How many draws: as given, else as GEARTRACK_DRAWS says in the environment, else the usual number.
    """
    return study_check(job, asked_sampling(fast, draws, seed))


def refuse_unused(*, fast: bool, confidence: str | None) -> None:
    """Refuse a chance where the straight sum of all limits, which has none, is asked for."""
    if fast and confidence is not None:
        raise refuse("--fast", "makes no draws, so no chance is known", "--fast alone, or --confidence without it")


def compared(job: Job, pairs: Sequence[ToothPair], *, fast: bool = False) -> RatioTable:
    """The comparison of tooth pairs, each drawn a few hundred times, with a bar where a person is watching."""
    return with_progress(lambda tick: compare_ratios(job, pairs, tick, row_sampling(fast)), len(pairs))


def as_json(result: Answer | RatioTable | PassPlan | SetupAnswer | Quote | QuoteTable | GearSheet) -> None:
    """A result as JSON on stdout."""
    sys.stdout.write(json.dumps(as_document(result), indent=2, allow_nan=False) + "\n")


def wrote(path: Path) -> None:
    """Say on stderr which file was written, so that stdout stays clean."""
    Console(stderr=True, highlight=False).print(f"Wrote {path}")


def save_check_figure(answer: Answer, path: Path) -> None:
    """The figure of a check, in a file."""
    from geartrack.draw import check_figure, save

    save(check_figure(answer, answer.job.units), path)


def save_sure_figure(answer: Answer, path: Path) -> None:
    """The figure of how sure an answer is, in a file."""
    from geartrack.draw import save, sure_figure

    save(sure_figure(answer, answer.job.units), path)


def save_ratio_figure(table: RatioTable, path: Path) -> None:
    """The figure of a comparison of ratios, in a file."""
    from geartrack.draw import ratio_figure, save

    save(ratio_figure(table, table.job.units), path)


def with_progress(run: Callable[[Callable[[], None]], Result], total: int) -> Result:
    """Run something that ticks `total` times, with a bar on stderr where a person is watching."""
    err = Console(stderr=True)
    if not err.is_terminal:
        return run(lambda: None)
    from rich.progress import Progress

    with Progress(console=err, transient=True) as progress:
        task = progress.add_task("Ratios", total=total)
        return run(lambda: progress.advance(task))


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def _grid(*columns: str) -> Table:
    table = Table(box=None, pad_edge=False, header_style="bold")
    for index, column in enumerate(columns):
        table.add_column(column, justify="left" if index == 0 else "right", overflow="fold")
    return table


def _row(
    table: Table, name: str, mm: float | None, units: Units, rounding: Rounding = "nearest", note: str = ""
) -> None:
    if mm is None:
        table.add_row(name, "-", "-", note)
    else:
        both = [show_length(mm, u, rounding=rounding) for u in (units, OTHER[units])]
        table.add_row(name, *both, note)


def check(answer: Answer, *, inputs: bool = False) -> None:
    """The verdict, the sentence, the numbers, what makes the range, the cautions; every input where it is asked for."""
    out, units = console(), answer.job.units
    title = f"{answer.job.name} · {answer.pair} = {answer.pair.ratio:.2f}:1"
    verdict = Text(answer.verdict.words, style="bold")
    out.print(Panel(Text(words.sentence(answer, units)), title=verdict, subtitle=Text(title), box=box.HEAVY))
    out.print(f"Why: {answer.verdict.reason.rstrip('?.')}.")
    if answer.verdict.next_reading:
        out.print(f"Next reading: {answer.verdict.next_reading}.")
    for note in answer.notes:
        out.print(f"Note: {note}")
    out.print()
    out.print(_numbers(answer, units))
    if answer.alternatives:
        out.print("\nWhat else is possible", style="bold")
        for other in answer.alternatives:
            out.print(f"  - {other.words}")
    out.print()
    out.print(_budget(answer, units))
    if answer.band.draws:
        out.print(words.drawn(answer.band, units))
    out.print()
    if inputs:
        out.print(_inputs(answer, units))
    else:
        origins = Counter(quantity.origin.value for quantity in answer.inputs.values())
        counted = ", ".join(f"{count} {origin}" for origin, count in origins.items())
        out.print(f"It rests on {len(answer.inputs)} inputs: {counted}. To see each one: --inputs.")
    out.print(f"\n{words.for_this_case(answer)}")
    for line in words.metal_lines(answer) if answer.verdict.grinds else ():
        out.print(line)
    for caution in words.CAUTIONS:
        out.print(f"  ! {caution}")


def _numbers(answer: Answer, units: Units) -> Table:
    table = _grid("What", *_heads(units), "")
    table.columns[3].justify = "left"
    zone = f"{answer.gap.zone} of the ring"
    _row(table, "Gap now", answer.gap.lower_mm, units, "down", zone)
    band = answer.band
    how = "39 of 40 are higher" if band.draws else "worst of every input's give or take"
    _row(table, "  low", band.low, units, "down", how)
    _row(table, "  high", band.high, units, "down", "39 of 40 are lower" if band.draws else "")
    if band.p_target is not None and band.p_contact is not None:
        table.add_row("Chance that the gap wanted is there", words.percent(band.p_target), "", "as set up")
        table.add_row("Chance that the teeth touch", words.percent(band.p_contact), "", "running")
    _row(table, "Wanted", answer.target_mm, units)
    _row(table, "Running gap, low", answer.running_low_mm, units, "down", "against zero, not against the wanted gap")
    _row(table, "Place, in from the pinion-side end", answer.place.station_mm, units)
    table.add_row("Place, o'clock", words.oclock(answer.place.clock) if answer.hand else "either side", "", "")
    if answer.axial_retreat_mm > 0:
        _row(table, "Ring would have to back off, just to clear", answer.axial_retreat_mm, units, "up")
    cuts = answer.cuts
    if cuts is not None and cuts.hold.depth_radial_max_mm > 0:
        _row(table, "Depth toward the pinion", cuts.nominal.depth_radial_max_mm, units, "up", "as calculated")
        _row(table, "  if the gap is at its high end", cuts.least.depth_radial_max_mm, units, "up")
        _row(table, "  to hold the gap wanted", cuts.hold.depth_radial_max_mm, units, "up", words.held(answer))
        _row(table, "Depth on the end face", cuts.nominal.depth_axial_max_mm, units, "up")
        if answer.verdict.grinds and cuts.at_stop is not None and cuts.stop is not None:
            why = "the minimum wall" if cuts.stop.limited_by == "wall" else "nothing gained deeper"
            _row(table, "STOP", cuts.at_stop.depth_radial_max_mm, units, "down", why)
        table.add_row(
            "To remove", words.mass(answer.work.mass_g[1]), f"{cuts.nominal.volume_mm3:.1f} mm3", words.metal(answer)
        )
    _row(table, "Wall now, thinnest over the bearing", answer.wall_before.before_mm, units, "down")
    if cuts is not None:
        _row(table, "Wall left", cuts.wall.left_mm, units, "down")
        _row(table, "  low", cuts.wall_low_mm, units, "down")
        _row(table, "  high", cuts.wall_high_mm, units, "down")
        if answer.verdict.grinds and cuts.stop is not None:
            _row(table, "  at STOP", cuts.stop.wall_left_mm, units, "down")
    minimum = answer.minimum_wall
    _row(
        table,
        "Minimum wall",
        minimum.value if minimum else None,
        units,
        "up",
        f"{minimum.origin}" if minimum else "not known",
    )
    _row(table, "Pinion toe end to boss", answer.pinion_gap.lower_mm, units, "down")
    for name, gap in answer.by_body.items():
        if name != "ring":
            cured = "not cured by grinding here" if gap.lower_mm < answer.target_mm else ""
            _row(table, f"{_capital(name)} to boss", gap.lower_mm, units, "down", cured)
    return table


def _heads(units: Units) -> tuple[str, str]:
    names = {"in": "inch", "mm": "millimetre"}
    return names[units], names[OTHER[units]]


def _budget(answer: Answer, units: Units) -> Table:
    table = _grid("What makes the low and the high", "down", "up", "share", "origin")
    parts = {part.name: f"{round(100 * part.share)} %" for part in answer.band.budget}
    for share in answer.band.shares[:8]:
        moves = show_both(share.down, units), show_both(share.up, units)
        table.add_row(words.input_name(share.name), *moves, parts.get(share.name, "-"), share.origin)
    return table


def steps_table() -> Table:
    """A table for answers to one job as it becomes surer."""
    table = _grid("Job", "verdict", "gap, low", "high", "depth to hold it", "next reading")
    for column in table.columns[1:5]:
        column.no_wrap = True
    return table


def step(table: Table, answer: Answer) -> None:
    """An answer as a line of it."""
    units, cuts = answer.job.units, answer.cuts
    low, high = (show_length(end, units, rounding="down") for end in (answer.band.low, answer.band.high))
    grinds = answer.verdict.grinds and cuts is not None
    depth = show_length(cuts.hold.depth_radial_max_mm, units, rounding="up") if grinds and cuts else "-"
    table.add_row(answer.job.name, answer.verdict.words, low, high, depth, answer.verdict.next_reading or "-")


def next_readings(answer: Answer) -> None:
    """The readings not yet taken, the one worth most per minute first."""
    out, units = console(), answer.job.units
    out.print(f"{answer.job.name}: {answer.verdict.words}. {answer.verdict.reason.rstrip('?.').capitalize()}.\n")
    if standing := words.standing(answer):
        out.print(f"{standing}\n")
    if not answer.next_readings:
        return
    table = _grid("Reading", "minutes", "give or take, now", "then", "wrong word, now", "then", "settles it")
    for each in answer.next_readings:
        worth = each.worth
        halves = show_both(worth.half_now, units), show_both(worth.half_after, units)
        now, then = (words.percent(chance) for chance in (worth.wrong_now, worth.wrong_after))
        table.add_row(each.name, f"{each.minutes:g}", *halves, now, then, words.settles(answer, each))
    out.print(table)
    out.print("\nWrong word: the chance that the word said now, or then, would not hold.")
    out.print("Settles it: the chance that after this reading no other is needed.")


def _inputs(answer: Answer, units: Units) -> Table:
    table = _grid("Input", "value", "give or take", "origin", "source")
    for name, quantity in answer.inputs.items():
        value, spread = words.shown(name, quantity, units)
        style = "dim italic" if quantity.origin == "default" else ""
        table.add_row(words.input_name(name), value, spread, quantity.origin, quantity.source, style=style)
    return table


def ratios(table: RatioTable) -> None:
    """A row a tooth pair, and where the gap falls through the target and through zero."""
    out, units = console(), table.job.units
    grid = _grid("Teeth", "ratio", "gap", "low", "high", "depth", "wall left", "remove")
    for row in table.rows:
        grid.add_row(
            str(row.pair),
            f"{row.pair.ratio:.3f}",
            show_both(row.gap.lower_mm, units, rounding="down"),
            show_length(row.band_low_mm, units, rounding="down"),
            show_length(row.band_high_mm, units, rounding="down"),
            show_both(row.depth_mm, units, rounding="up") if row.depth_mm > 0 else "-",
            show_length(row.wall_left_mm, units, rounding="down"),
            f"{row.volume_mm3:.1f} mm3" if row.volume_mm3 > 0 else "-",
        )
    out.print(f"{table.job.name}: gap wanted {show_both(table.target_mm, units)}; from tooth counts", style="bold")
    out.print(grid)
    out.print()
    for line in words.crossings(table, units):
        out.print(line)


def gears(sheet: GearSheet, wants_json: bool, units: str) -> None:
    """Every dimension of a gear set."""
    if wants_json:
        as_json(sheet)
        return
    out = console()
    first: Units = "mm" if units == "mm" else "in"
    grid = _grid("Dimension", *_heads(first))
    for line in sheet.lines:
        if line.is_length:
            grid.add_row(_capital(line.bench_name), *(show_length(line.value, u) for u in (first, OTHER[first])))
        else:
            grid.add_row(_capital(line.bench_name), f"{line.value:.3f} deg", "")
    out.print(f"{sheet.pair} = {sheet.pair.ratio:.3f}:1", style="bold")
    out.print(grid)
    for name, quantity in sheet.defaults.items():
        value, spread = words.shown(f"gears.{name}", quantity, first)
        out.print(f"Not typed: {words.input_name(f'gears.{name}')} {value}, give or take {spread} (default)")
    for note in sheet.notes:
        out.print(f"Note: {note}")
