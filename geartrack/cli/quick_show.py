"""A card's answer on a terminal; no figure computed here."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import click
from rich import box
from rich.console import Console
from rich.panel import Panel
from rich.table import Table
from rich.text import Text

from geartrack.cards.answer import CardAnswer, CardResult, PartsAnswer
from geartrack.cli.present import console
from geartrack.quote import Quote
from geartrack.units import Rounding, Units, show_both

NAMES = {"phone": "Phone card", "bare-case": "Bare-case card", "old-gears": "Old-gears card", "parts": "Parts check"}


def show(answer: CardResult, units: Units) -> None:
    """The verdict in its frame, then what it rests on and what to do next."""
    out = console()
    if isinstance(answer, PartsAnswer):
        _parts(out, answer)
    else:
        _card(out, answer, units)


def wrote(answer: CardResult, job: Path) -> None:
    """What was written and what to do with it, on stderr."""
    lacks = answer.job_lacks if isinstance(answer, CardAnswer) else ()
    after = f"still to come: {', '.join(lacks)}" if lacks else f"next: geartrack check {job}"
    click.echo(f"Wrote {job}; {after}", err=True)


def _framed(out: Console, sentence: str, title: str, card: str) -> None:
    name = Text(NAMES.get(card, card))
    out.print(Panel(Text(sentence), title=Text(title, style="bold"), subtitle=name, box=box.HEAVY))


def _card(out: Console, answer: CardAnswer, units: Units) -> None:
    _framed(out, answer.sentence, answer.words, answer.card)
    _listed(out, "Worked out", answer.sums)
    _numbers(out, answer, units)
    if answer.price:
        _price(out, answer.price, answer.price_for)
    _listed(out, "Left blank", [cost.words for cost in answer.costs])
    _listed(out, "Next, in order of worth", answer.next, numbered=True)
    _listed(out, "To know", answer.notes)


def _parts(out: Console, answer: PartsAnswer) -> None:
    _framed(out, answer.sentence, "CANNOT BUILD" if answer.cannot_build else "PARTS CHECK", answer.card)
    _listed(out, "Worked out", answer.sums)
    table = Table(box=None, pad_edge=False, header_style="bold")
    for column in ("Part", "said", "what to do"):
        table.add_column(column, overflow="fold")
    for line in answer.lines:
        table.add_row(line.part, line.said, f"STOP: {line.todo}" if line.stops else line.todo or "-")
    out.print()
    out.print(table)
    _listed(out, "To know", answer.notes)


def _listed(out: Console, head: str, lines: Sequence[str], *, numbered: bool = False) -> None:
    """Lines under their head, each hanging on its mark."""
    if not lines:
        return
    out.print(f"\n{head}", style="bold")
    grid = Table.grid(padding=(0, 1))
    grid.add_column(width=3, justify="right")
    grid.add_column(overflow="fold")
    for n, line in enumerate(lines, 1):
        grid.add_row(f"{n}." if numbered else "-", line)
    out.print(grid)


def _numbers(out: Console, answer: CardAnswer, units: Units) -> None:
    rows: list[tuple[str, float | None, Rounding]] = [
        ("Gap, low", answer.low_mm, "down"),
        ("Gap, high", answer.high_mm, "down"),
        ("Take off", answer.depth_mm, "up"),
        ("STOP", answer.stop_mm, "down"),
        ("Wall left", answer.wall_left_mm, "down"),
    ]
    known = [(name, mm, way) for name, mm, way in rows if mm is not None]
    if not known:
        return
    grid = Table.grid(padding=(0, 2))
    for name, mm, way in known:
        grid.add_row(name, show_both(mm, units, rounding=way))
    out.print()
    out.print(grid)


def _price(out: Console, price: Quote, made_for: str) -> None:
    low, likely, high = (f"{v:,.0f}" for v in (price.total.low, price.total.likely, price.total.high))
    hours = f"{price.hours.low:.1f} to {price.hours.high:.1f} h"
    out.print(f"\nIf found: {low} to {high} {price.currency}, likely {likely} ({hours})", style="bold")
    out.print(f"  For {made_for}. Rate: {price.figures.rate_origin}.")
