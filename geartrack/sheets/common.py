"""What every sheet has: whose it is, lengths in both units, pictures from figures, reasons and cautions."""

from __future__ import annotations

from typing import Any

from geartrack import words
from geartrack.frame import Hand
from geartrack.quantity import Origin
from geartrack.sheets.model import Cell, Listing, Pair, Pairs, Picture, Section, Table
from geartrack.study.answer import Answer
from geartrack.units import Rounding, Units, show_both, show_length

OTHER: dict[Units, Units] = {"in": "mm", "mm": "in"}
HANDS: dict[Hand | None, str] = {
    Hand.BELOW: "pinion below the ring's centre line",
    Hand.ABOVE: "pinion above the ring's centre line",
    None: "hand not given: clock marks may lie on either side",
}
ORIGINS = {
    Origin.MEASURED: "Measured",
    Origin.PUBLISHED: "Published",
    Origin.TYPED: "Typed in the job",
    Origin.DEFAULT: "DEFAULT: nobody measured these on this axle",
}


def length_cell(mm: float, units: Units, rounding: Rounding = "nearest", *, strong: bool = False) -> Cell:
    """A length in a cell, the other unit in brackets below it."""
    return Cell(show_length(mm, units, rounding=rounding), bracketed(mm, units, rounding), strong)


def length_pair(name: str, mm: float, units: Units, rounding: Rounding = "nearest") -> Pair:
    """A length by its name, the other unit in brackets below it."""
    return Pair(name, show_length(mm, units, rounding=rounding), bracketed(mm, units, rounding))


def bracketed(mm: float, units: Units, rounding: Rounding = "nearest") -> str:
    """A length in the other unit, in brackets."""
    return f"({show_length(mm, OTHER[units], rounding=rounding)})"


def range_of(low_mm: float, high_mm: float, units: Units, *, up: bool = False) -> tuple[str, str]:
    """Low to high in the units asked for, and in the other in brackets; up: rounded up, as a cut is."""
    way: Rounding = "up" if up else "down"
    ends = [
        f"{show_length(low_mm, u, rounding=way).removesuffix(f' {u}')} to {show_length(high_mm, u, rounding=way)}"
        for u in (units, OTHER[units])
    ]
    return ends[0], f"({ends[1]})"


def minimum(answer: Answer, units: Units) -> str:
    """The minimum wall in both units, and whether it is the shop's or a labelled starting value."""
    wall = answer.minimum_wall
    if wall is None:
        return "minimum not known"
    mark = ", default" if wall.origin is Origin.DEFAULT else ""
    return f"minimum {show_both(wall.value, units, rounding='up')}{mark}"


def picture(name: str, figure: Any) -> Picture:
    """A figure of geartrack.draw as a picture of a sheet, at its own size; its label is what it says."""
    from geartrack.draw.save import pdf_bytes, size_mm, svg_text

    wide, high = size_mm(figure)
    return Picture(name, str(figure.get_label()), svg_text(figure), pdf_bytes(figure), wide, high)


def whose(answer: Answer) -> str:
    """Job, tooth pair and case mark in one line."""
    mark = answer.job.case.mark or "no mark given"
    return f"{answer.job.name} · {answer.pair} = {answer.pair.ratio:.2f}:1 · case {mark}"


def about(answer: Answer, units: Units) -> tuple[Pair, ...]:
    """The head's fields: case, metal, hand, gears, axle; and who works on it, to be written in."""
    job = answer.job
    diameter, offset = (length_pair("", each.value, units) for each in (job.axle.ring_diameter, job.axle.offset))
    return (
        Pair("Case mark", job.case.mark or "not given"),
        Pair("Case metal", words.metal(answer) if job.case.material != "not known" else "not known"),
        Pair("Hand", HANDS[answer.hand]),
        Pair("Gear set", job.gears.name or str(answer.pair)),
        Pair("Ring", diameter.value, diameter.under),
        Pair("Hypoid offset", offset.value, offset.under),
    )


def cautions() -> Section:
    """The cautions that stand on every sheet."""
    return Section("Cautions", (Listing(words.CAUTIONS, columns=2),), framed=True)


def rooms(name: str, *heads: str) -> Table:
    """One row of places to write in."""
    return Table(name, heads, (tuple(Cell(room=True) for _ in heads),), tall=True, quiet=True)


def inputs(answer: Answer, units: Units) -> Section:
    """Every input with its give or take, by where it comes from; defaults say so one by one."""
    groups = []
    for origin, name in ORIGINS.items():
        pairs = [
            Pair(words.input_name(key), *words.shown(key, quantity, units))
            for key, quantity in answer.inputs.items()
            if quantity.origin is origin
        ]
        if pairs:
            groups.append(Pairs(name, tuple(pairs), marked=origin is Origin.DEFAULT))
    return Section("What it rests on: value, then give or take", tuple(groups))
