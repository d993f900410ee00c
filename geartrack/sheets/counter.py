"""The sheet for the counter: the gap each ratio would leave, pinion by pinion, and where it is lost."""

from __future__ import annotations

from itertools import groupby

from geartrack import words
from geartrack.sheets.common import HANDS, cautions, length_cell, length_pair, picture, range_of
from geartrack.sheets.model import Cell, Head, Pair, Section, Sheet, Table, Words
from geartrack.study.answer import Crossing, RatioRow, RatioTable
from geartrack.units import Units, show_both

_HEADS = ("Teeth", "ratio", "gap", "low to high", "cut for the gap wanted", "wall left", "by tooth counts")
_WIDTHS = (0.8, 0.7, 1.2, 1.9, 1.5, 1.2, 1.5)
_BLANKS = ("Customer, initials", "Tyre, use", "Asked for", "Date")


def counter_sheet(table: RatioTable) -> Sheet:
    """The sheet of a comparison of tooth pairs, in the units of its job."""
    job, units = table.job, table.job.units
    return Sheet(
        title="Counter sheet",
        whose=f"{job.name} · gap at the boss, by ratio",
        fields=(
            Pair("Axle", job.axle.name or job.name),
            length_pair("Ring", job.axle.ring_diameter.value, units),
            length_pair("Hypoid offset", job.axle.offset.value, units),
            Pair("Case mark", job.case.mark or "not given"),
            Pair("Hand", HANDS[job.axle.hand]),
            *(Pair(name, "") for name in _BLANKS),
        ),
        head=_head(table, units),
        sections=(*_curve(table, units), *_pinions(table, units), cautions()),
        foot=f"From tooth counts, for case {job.case.mark or 'without a mark'} as it was read. {words.NOT_LOOKED_AT}",
    )


def _head(table: RatioTable, units: Units) -> Head:
    target = table.target_interval
    lost = f"GAP LOST FROM {_ends(target)}" if target else _never(table)
    figures = [length_pair("Gap wanted", table.target_mm, units)]
    if target:
        figures.append(Pair("it is lost between", _ends(target, "and"), "over all tooth counts"))
    if table.contact_interval:
        figures.append(Pair("teeth first touch between", _ends(table.contact_interval, "and"), "over all tooth counts"))
    lines = (
        "Gears from their tooth counts alone, so low to high is wide: no row is a promise, and none is ground by.",
        "READ FIRST: the gap wanted lies between low and high. A ring height and the old gap settle most of these.",
    )
    return Head(lost, tuple(figures), lines)


def _ends(interval: tuple[float, float], joined: str = "TO") -> str:
    first, last = interval
    return f"{first:.2f} {joined} {last:.2f}:1" if first < last else f"{first:.2f}:1"


def _never(table: RatioTable) -> str:
    held = all(row.gap.lower_mm >= table.target_mm for row in table.rows)
    return "ALL THESE KEEP THE GAP WANTED" if held else "NONE OF THESE KEEPS THE GAP WANTED"


def _curve(table: RatioTable, units: Units) -> tuple[Section, ...]:
    from geartrack.draw.plates import ratio_plate

    rows = "; ".join(f"{row.pair}: {show_both(row.gap.lower_mm, units, rounding='down')}" for row in table.rows)
    says = f"Gap at the boss against the ratio, bars from low to high, a line for each pinion. {rows}."
    title = "The gap falls as the ratio rises"
    return (Section(title, (picture("Gap against ratio, low to high", ratio_plate(table, units, says)),)),)


def _pinions(table: RatioTable, units: Units) -> tuple[Section, ...]:
    ordered = sorted(table.rows, key=lambda row: (-row.pair.pinion, row.pair.ratio))
    sections = []
    for pinion, rows in groupby(ordered, key=lambda row: row.pair.pinion):
        name = f"{pinion} pinion teeth"
        grid = Table(name, _HEADS, tuple(_row(row, table, units) for row in rows), _WIDTHS, quiet=True)
        lost = tuple(_lost(each, units) for each in table.crossings if each.pinion == pinion and each.ratio)
        sections.append(Section(name, (grid, *((Words(lost, strong=True),) if lost else ()))))
    return tuple(sections)


def _lost(crossing: Crossing, units: Units) -> str:
    what = f"The {show_both(crossing.level_mm, units)} wanted is lost" if crossing.level_mm else "The teeth first touch"
    return f"{what} between {crossing.last_above} and {crossing.first_below}, near {crossing.ratio:.2f}:1."


def _row(row: RatioRow, table: RatioTable, units: Units) -> tuple[Cell, ...]:
    cut = row.depth_mm > 0
    return (
        Cell(str(row.pair), strong=True),
        Cell(f"{row.pair.ratio:.3f}"),
        length_cell(row.gap.lower_mm, units, "down", strong=True),
        Cell(*range_of(row.band_low_mm, row.band_high_mm, units)),
        length_cell(row.depth_mm, units, "up") if cut else Cell("-"),
        length_cell(row.wall_left_mm, units, "down"),
        Cell(_says(row, table.target_mm), strong=True),
    )


def _says(row: RatioRow, target_mm: float) -> str:
    if row.band_low_mm >= target_mm:
        return "NOT EXPECTED"
    if row.band_high_mm >= target_mm:
        return "READ FIRST"
    return "TOUCHES" if row.band_high_mm < 0 else "UNDER THE GAP WANTED"
