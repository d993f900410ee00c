"""A quote on a terminal of 80 columns; no figure computed here."""

from __future__ import annotations

from collections.abc import Sequence

from rich.table import Table
from rich.text import Text

from geartrack.cli.present import console
from geartrack.quote import Quote, Sums, Three


def show_quote(made: Quote) -> None:
    """Head, lines, totals, options, what is not known, terms."""
    out, head, figures = console(), made.head, made.figures
    out.print(f"{head.headline} · {head.job} · {head.teeth} = {head.ratio}:1", style="bold")
    for mark in head.marks:
        out.print(mark, style="bold")
    shop = f"{head.shop}. " if head.shop else ""
    out.print(f"{shop}Rate {_one(figures.rate)} {figures.currency} an hour ({figures.rate_origin}).")
    out.print(_lines(made))
    _options(made)
    chances = made.sums.chances
    out.print(f"Of 100 such jobs 10 come to {chances.p10:,f} or less, 50 to {chances.p50:,f}, 90 to {chances.p90:,f}.")
    out.print(f"Not to exceed {made.sums.not_to_exceed:,f} {made.currency} without asking.", style="bold")
    page = made.page
    _listed("Not known yet", page.unknowns)
    _listed("Would firm the price", [f"{e.reading} ({e.minutes} min). {e.says}" for e in page.firmer])
    _listed("Terms", [f"{term.title}: {term.text}" for term in page.terms])
    out.print(page.terms_note)
    for note in page.notes:
        out.print(f"Note: {note}")


def _lines(made: Quote) -> Table:
    grid = Table(box=None, pad_edge=False, header_style="bold", collapse_padding=True)
    for name in ("Line", "hours", "low", "likely", "high"):
        grid.add_column(name, justify="left" if name == "Line" else "right", overflow="fold")
    for line in made.lines:
        if line.group == "option" or (line.group == "grinding" and not line.counted):
            continue
        named = Text(line.name).append(f" · {line.origin}", style="dim")
        grid.add_row(named, _hours(line.hours) if line.hours else "", *_three(line.money))
    grid.add_section()
    _totals(grid, made.sums, made)
    return grid


def _totals(grid: Table, sums: Sums, made: Quote) -> None:
    figures = made.figures
    if sums.minimum.low:
        grid.add_row(f"Up to the minimum charge, {figures.minimum_hours:f} h", "", *_three(sums.minimum))
    grid.add_row("Net", _hours(sums.hours), *_three(sums.net))
    if figures.tax_percent is not None:
        grid.add_row(f"{figures.tax_name}, {figures.tax_percent.normalize():f} %", "", *_three(sums.tax))
    if sums.rounding.high or sums.rounding.low:
        grid.add_row("Rounded up", "", *_three(sums.rounding))
    grid.add_row(f"Total, {made.currency}", "", *_three(sums.total), style="bold")


def _options(made: Quote) -> None:
    for option in made.options:
        answer = option.answer or "yes / no / call me"
        held = "in the high of the total" if option.in_total else "not in the total"
        console().print(
            f"{option.name}: {_one(option.total)} {made.currency}, {held}; chance {option.chance_words}. [{answer}]"
        )


def _listed(head: str, lines: Sequence[str]) -> None:
    if lines:
        console().print(head, style="bold")
    for line in lines:
        console().print(f"  - {line}")


def _hours(value: Three) -> str:
    return _one(value)


def _one(value: Three) -> str:
    return f"{value.low:,f}" if value.low == value.high else f"{value.low:,f} to {value.high:,f}"


def _three(value: Three) -> list[str]:
    return [f"{v:,f}" for v in value.values]
