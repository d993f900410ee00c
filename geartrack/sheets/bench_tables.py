"""The bench sheet's tables of what to take off: by place on the boss, and pass by pass."""

from __future__ import annotations

import numpy as np

from geartrack import words
from geartrack.export.depth_table import DepthTable, clock_time, depth_table
from geartrack.sheets.common import OTHER, bracketed, length_cell, range_of
from geartrack.sheets.model import Cell, Section, Table, Words
from geartrack.study.answer import Answer
from geartrack.study.grindable import cuts_to_grind, stop_of
from geartrack.study.passes import Pass, PassPlan
from geartrack.units import Rounding, Units, show_both, show_length

_SAID: dict[Units, str] = {"in": "inch (mm)", "mm": "mm (inch)"}
_MOST_STATIONS, _MOST_PASSES = 5, 6


def depths(answer: Answer, units: Units) -> Section:
    """Depth to take off and STOP at each place that either touches."""
    title = "Depth to grind, by place on the boss"
    if answer.hand is None:
        why = "No table and no template: the hand of the axle is not given, so the patch may lie on either side."
        return Section(title, (Words((why, "Dye shows the side. Put the hand into the job, then print again.")),))
    cuts, made = cuts_to_grind(answer), depth_table(answer)
    stop = stop_of(cuts)
    square = show_both(cuts.nominal.depth_max_mm, units, rounding="up")
    along = show_both(cuts.nominal.depth_radial_max_mm, units, rounding="up")
    limit = show_both(stop.depth_radial_max_mm, units, rounding="down")
    face = show_both(cuts.nominal.depth_axial_max_mm, units, rounding="up")
    lines = (
        f"Depth is normal to the surface as it is today: {square} at the deepest; on the end face, along the bore,"
        f" {face}. The table gives it toward the bore's axis: {along} at the deepest, STOP at {limit}.",
        "Measure from metal that is untouched, never from the last pass. The gap decides: read it as you go.",
    )
    return Section(title, (_by_place(made, units), Words(lines)))


def _by_place(made: DepthTable, units: Units) -> Table:
    rows_cut, columns_cut = (np.flatnonzero(made.stop_mm.any(axis=axis)) for axis in (1, 0))
    apart = -(-len(rows_cut) // _MOST_STATIONS)
    heads = ("in from the end", "", *(clock_time(float(made.clocks[j])) for j in columns_cut))
    rows = []
    for i in rows_cut[::apart]:
        station = length_cell(float(made.stations_mm[i]), units)
        off = [_depth(float(made.depth_mm[i, j]), units, "up") for j in columns_cut]
        never = [_depth(float(made.stop_mm[i, j]), units, "down") for j in columns_cut]
        rows.append(
            (Cell(station.text, strong=True), Cell("take off", strong=True), *(Cell(t, strong=True) for t in off))
        )
        rows.append((Cell(station.under), Cell("STOP"), *(Cell(text) for text in never)))
    widths = (1.25, 0.85, *([1.0] * len(columns_cut)))
    note = f"Columns: o'clock seen from the pinion-nut end, 12 straight at the ring gear. Depths: {_SAID[units]}."
    if apart > 1:
        note += " Between these: geartrack depths JOB OUT."
    return Table("Take off, and STOP: never deeper", heads, tuple(rows), widths, note=note)


def _depth(mm: float, units: Units, rounding: Rounding) -> str:
    if mm <= 0:
        return "-"
    main = show_length(mm, units, rounding=rounding).removesuffix(f" {units}")
    other = show_length(mm, OTHER[units], rounding=rounding).removesuffix(f" {OTHER[units]}")
    return f"{main} ({other})"


def plan_of_passes(plan: PassPlan, units: Units) -> Section:
    """The passes, what the gap should read after each, and room for what it does."""
    heads = ("Pass", "new cut", "deepest so far", "wall left", "gap should read", "gap read", "dye: rub?", "by")
    shown = (*plan.made[-2:], *plan.left[:_MOST_PASSES])
    rows = tuple(_row(each, plan, units) for each in shown)
    lines = [*words.to_take(plan, units)]
    lines += [f"Does not go together: {doubt}." for doubt in plan.flagged]
    if len(plan.left) > _MOST_PASSES:
        lines.append(f"Passes follow after pass {shown[-1].number}: enter the gap that was read, then print again.")
    if plan.left:
        lines.append(f"{plan.why[:1].upper()}{plan.why[1:]}.")
    widths = (1.1, 1.0, 1.15, 1.05, 1.6, 1.5, 1.0, 0.7)
    blocks = [Words(tuple(lines))]
    table = Table("Passes: depths toward the bore's axis, a fit check after each", heads, rows, widths, tall=True)
    return Section("Plan of passes", (table, *blocks) if rows else tuple(blocks))


def _row(each: Pass, plan: PassPlan, units: Units) -> tuple[Cell, ...]:
    made = each in plan.made
    note = "made" if made else "if still short" if each.if_short else ""
    deepest: Rounding = "down" if each.clearance_mm >= plan.stop_mm else "up"  # as STOP is shown
    reads, other = _reads(each, units)
    read = (
        length_cell(each.read.value, units, strong=True) if each.read else Cell("not read" if made else "", room=True)
    )
    return (
        Cell(str(each.number), note, strong=True),
        length_cell(each.new_depth_mm, units, "up"),
        length_cell(each.depth_mm, units, deepest),
        length_cell(each.wall_left_mm, units, "down"),
        Cell(reads, other, strong=True),
        read,
        Cell("yes / no", room=True),
        Cell(room=True),
    )


def _reads(each: Pass, units: Units) -> tuple[str, str]:
    if each.reads_high_mm <= 0:
        return "touches", ""
    if each.reads_low_mm > 0:
        return range_of(each.reads_low_mm, each.reads_high_mm, units)
    high = each.reads_high_mm
    return f"touches to {show_length(high, units, rounding='down')}", f"(to {bracketed(high, units, 'down')[1:]}"
