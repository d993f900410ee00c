"""A quote, and several side by side, on a terminal of 80 columns; no figure computed here."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from rich.console import Console
from rich.table import Table

from geartrack.cli.present import console
from geartrack.quote import Line, Quote, Sums, Three, money_words, range_words
from geartrack.study.quotes import QuoteTable
from geartrack.units import Rounding, Units, show_length


def show_quote(made: Quote) -> None:
    """Head, lines, totals, options, what is not known, terms."""
    out, head, figures = console(), made.head, made.figures
    out.print(f"{head.headline} · {head.job} · {head.teeth} = {head.ratio}:1", style="bold")
    for mark in head.marks:
        out.print(mark, style="bold")
    shop = f"{head.shop}. " if head.shop else ""
    out.print(f"{shop}{range_words(figures.rate, made.currency)} an hour ({figures.rate_origin}).\n")
    out.print(_lines(made))
    out.print()
    for sentence in _sentences(made):
        out.print(sentence)
    _options(out, made)
    page = made.page
    _listed(out, "What else is possible", page.instead)
    _listed(out, "Not known yet", page.unknowns)
    _listed(out, "Would firm the price", [f"{e.reading}: {e.minutes} min. {e.says}" for e in page.firmer])
    _listed(out, "Terms", [f"{term.title}. {term.text}" for term in page.terms])
    out.print(f"\n{page.terms_note}")
    for note in page.notes:
        out.print(f"Note: {note}")


def show_quotes(table: QuoteTable) -> None:
    """A row for each option, in the job's units."""
    out, units = console(), table.units
    grid = _grid(f"Option, {units}", "gap", "low to high", "cut", "wall", "total", "low to high")
    for row in table.rows:
        gap, low, high, wall = (_length(mm, units) for mm in (row.gap_mm, row.low_mm, row.high_mm, row.wall_mm))
        cut = "-" if row.depth_mm is None else _length(row.depth_mm, units, "up")
        head, total = row.quote.head, row.quote.total
        estimate = "" if head.headline == "QUOTE" else " (estimate)"
        name = f"{row.name}\n{head.verdict}{estimate}"
        grid.add_row(name, gap, f"{low} to {high}", cut, wall, f"{total.likely:,f}", _ends(total))
    out.print(f"{table.job}: gap wanted {show_length(table.target_mm, units)}; sums in {table.currency}", style="bold")
    out.print(grid)
    out.print("Cut: deepest, as calculated. Wall: what that cut leaves. (estimate): not both ring and boss were read.")
    for note in table.notes:
        out.print(f"Note: {note}")


def _length(mm: float, units: Units, rounding: Rounding = "down") -> str:
    return show_length(mm, units, rounding=rounding).removesuffix(f" {units}")


def _grid(*columns: str) -> Table:
    table = Table(box=None, pad_edge=False, header_style="bold", collapse_padding=True)
    for number, name in enumerate(columns):
        table.add_column(name, justify="right" if number else "left", overflow="fold")
    return table


def _lines(made: Quote) -> Table:
    grid = _grid("Line", "hours", "low", "likely", "high", "from")
    for line in made.lines:
        if line.counted:
            hours = _ends(line.hours) if line.hours else ""
            grid.add_row(_named(line, made), hours, *_three(line.money), line.origin)
    grid.add_section()
    for name, hours, money, style in _totals(made.sums, made):
        grid.add_row(name, hours, *_three(money), "", style=style)
    return grid


def _named(line: Line, made: Quote) -> str:
    name = f"{line.name} ({line.basis})" if line.basis and line.basis != "from memory" else line.name
    return f"If found: {name}" if line.group == "grinding" and made.figures.stands == "open" else name


def _totals(sums: Sums, made: Quote) -> Iterator[tuple[str, str, Three, str | None]]:
    figures = made.figures
    if sums.minimum.low:
        yield f"Up to the minimum charge, {figures.minimum_hours:f} h", "", sums.minimum, None
    yield "Net", _ends(sums.hours), sums.net, None
    if figures.tax_percent is not None:
        yield f"{figures.tax_name}, {figures.tax_percent.normalize():f} %", "", sums.tax, None
    if any(sums.rounding.values):
        yield "Rounded up", "", sums.rounding, None
    yield f"Total, {made.currency}", "", sums.total, "bold"


def _sentences(made: Quote) -> Iterator[str]:
    chances, ceiling = made.sums.chances, money_words(made.sums.not_to_exceed, made.currency)
    if made.with_grinding and made.figures.stands == "open":
        ways = range_words(made.without.total, made.currency), range_words(made.with_grinding.total, made.currency)
        yield f"Checks only: {ways[0]}. With grinding: {ways[1]}, needed in {made.figures.chance_words}."
    if chances.p10 < chances.p90:
        ends = f"10 come to {chances.p10:,f} or less, 50 to {chances.p50:,f}, 90 to {chances.p90:,f}"
        yield f"Of 100 such jobs {ends}. Low, likely and high add every line's own at once."
    yield f"Not to exceed: {ceiling} without asking first."
    yield f"If the case fails its checks: {range_words(made.owed, made.currency)} for checks and strip."


def _options(out: Console, made: Quote) -> None:
    if not made.options:
        return
    out.print("\nIf found, to be answered before anything is taken apart", style="bold")
    for option in made.options:
        held = "in the high of the total" if option.in_total else "not in the total"
        answer = option.answer or "______ (yes, no or call me)"
        sums = range_words(option.total, made.currency)
        out.print(f"  - {option.name}", style="bold")
        weighed = "" if option.expected is None else f", {money_words(option.expected, made.currency)} by that chance"
        out.print(f"    {sums}, {held}; chance {option.chance_words}{weighed}.")
        out.print(f"    {option.says}", style="dim")
        out.print(f"    Answer: {answer}")


def _listed(out: Console, head: str, lines: Sequence[str]) -> None:
    if lines:
        out.print(f"\n{head}", style="bold")
    for line in lines:
        out.print(f"  - {line}")


def _ends(value: Three) -> str:
    return f"{value.low:,f}" if value.low == value.high else f"{value.low:,f} to {value.high:,f}"


def _three(value: Three) -> list[str]:
    return [f"{v:,f}" for v in value.values]
