"""The customer's page: what it comes to, what is in it, what is not known yet, what to answer, what to sign."""

from __future__ import annotations

from collections.abc import Iterator

from geartrack.quote import Line, Option, Quote, Sums, Three, money_words, range_words
from geartrack.sheets.common import cautions, rooms
from geartrack.sheets.model import Cell, Head, Listing, Pair, Section, Sheet, Table, Words

_BLANKS = ("Customer, initials", "To be reached at", "Car, axle")
_SUMS = ("", "low", "likely", "high")
_CHOICES = "\u2610 yes   \u2610 no   \u2610 call me"
_COMES = "What it comes to"


def customer_sheet(quote: Quote) -> Sheet:
    """The page of a quote; every sum and every sentence is the quote's own."""
    head, page = quote.head, quote.page
    return Sheet(
        title="Quote" if head.headline == "QUOTE" else "Estimate",
        whose=f"{head.shop or 'shop not named'} · {head.job}",
        fields=(
            Pair("Shop", head.shop or "not named"),
            Pair("Gear set", f"{head.teeth} = {head.ratio}:1"),
            Pair("Case mark", head.case_mark or "not given"),
            *(Pair(name, "") for name in _BLANKS),
        ),
        head=_head(quote),
        sections=(
            Section("What it is about", (Words((page.about,)),)),
            Section(_COMES, (_sums(quote), Words(tuple(_asides(quote))))),
            Section("What is included", (_lines(quote),)),
            *_listed("What is not included", page.not_included),
            *_listed("What is not known yet", page.unknowns),
            *_firmer(quote),
            *_options(quote),
            Section("Terms", (Listing(tuple(f"{t.title}. {t.text}" for t in page.terms), "number", 2), _note(quote))),
            _to_sign(quote),
            cautions(),
        ),
        foot=f"Case {head.case_mark or 'without a mark'} only. The maker's specification comes first.",
    )


def _head(quote: Quote) -> Head:
    head, money = quote.head, quote.currency
    held = head.valid_until.isoformat() if head.valid_until else f"{head.valid_days} days"
    total = quote.total
    figures = (
        Pair("Likely", money_words(total.likely, money), "tax included"),
        Pair(*_usual_range(quote), "tax included"),
        Pair("Not above, without asking", money_words(quote.sums.not_to_exceed, money), "tax included"),
        Pair("Holds to", held, f"{head.valid_days} days"),
    )
    return Head(head.headline, figures, head.marks)


def _usual_range(quote: Quote) -> tuple[str, str]:
    """What most such jobs come to; the ends of every line at once where nothing is known of how they spread."""
    chances, money = quote.sums.chances, quote.currency
    if chances.p10 < chances.p90:
        return "8 of 10 such jobs", f"{chances.p10:,f} to {money_words(chances.p90, money)}"
    return "low to high", range_words(quote.sums.total, money)


def _sums(quote: Quote) -> Table:
    rows = []
    if quote.with_grinding and quote.figures.stands == "open":
        rows += [_money("If the boss need not be ground", quote.without.total)]
        rows += [_money("If it has to be ground", quote.with_grinding.total)]
    figures, sums = quote.figures, quote.sums
    if any(_values(sums.minimum)):
        rows.append(_money("Up to the least that is charged", sums.minimum))
    rows.append(_money("Work and materials", sums.net))
    if figures.tax_percent is not None:
        rows.append(_money(f"{figures.tax_name}, {figures.tax_percent.normalize():f} %", sums.tax))
    if any(_values(sums.rounding)):
        rows.append(_money("Rounded up", sums.rounding))
    rows.append(_money(f"Total, {quote.currency}", sums.total, strong=True))
    return Table(_COMES, _SUMS, tuple(rows), (2.6, 1.0, 1.0, 1.0), quiet=True)


def _money(name: str, value: Three, *, strong: bool = False) -> tuple[Cell, ...]:
    return (Cell(name, strong=True), *(Cell(f"{each:,f}", strong=strong) for each in _values(value)))


def _values(value: Three) -> tuple[object, ...]:
    return value.low, value.likely, value.high


def _asides(quote: Quote) -> Iterator[str]:
    """How the sums spread, and what is owed if the case fails."""
    figures, money = quote.figures, quote.currency
    if quote.with_grinding and figures.stands == "open":
        yield f"Whether the boss has to be ground is not known yet; it has to be in {figures.chance_words} such axles."
    yield from _of_a_hundred(quote.sums, money)
    yield f"If the case fails its checks, {range_words(quote.owed, money)} is owed, and nothing more."


def _of_a_hundred(sums: Sums, money: str) -> Iterator[str]:
    chances = sums.chances
    if chances.p10 < chances.p90:
        half = f"half stay within {money_words(chances.p50, money)}"
        yield f"Of 100 such jobs 10 stay within {chances.p10:,f}, {half}, 90 within {money_words(chances.p90, money)}."
        most = money_words(sums.not_to_exceed, money)
        yield f"Low, likely and high add every line's own at once. You are asked before more than {most} is charged."


def _lines(quote: Quote) -> Table:
    rows = tuple(_line(line, quote) for line in quote.lines if line.counted)
    heads = ("Work", "likely", "low to high")
    note = f"Before tax, in {quote.currency}."
    return Table("What is included", heads, rows, (3.2, 0.8, 1.4), note=note, quiet=True)


def _line(line: Line, quote: Quote) -> tuple[Cell, ...]:
    asides = ["if the boss has to be ground"] if line.group == "grinding" and quote.figures.stands == "open" else []
    asides += ["a usual figure, not this shop's own"] if "default" in line.origin else []
    money = line.money
    ends = f"{money.low:,f} to {money.high:,f}" if money.low != money.high else f"{money.low:,f}"
    return Cell(line.name, "; ".join(asides)), Cell(f"{money.likely:,f}"), Cell(ends)


def _listed(title: str, lines: tuple[str, ...]) -> tuple[Section, ...]:
    return (Section(title, (Listing(lines),)),) if lines else ()


def _firmer(quote: Quote) -> tuple[Section, ...]:
    """The readings that would firm the price."""
    rows = tuple(
        (
            Cell(each.reading, strong=True),
            Cell(f"{each.minutes} {'minute' if each.minutes == 1 else 'minutes'}"),
            Cell(money_words(each.money, quote.currency)),
            Cell(each.says),
        )
        for each in quote.page.firmer
    )
    if not rows:
        return ()
    title = "What measurement would firm the price"
    table = Table(title, ("Reading", "takes", "comes to", "tells"), rows, (2.2, 0.9, 1.0, 2.4), quiet=True)
    return (Section(title, (table,)),)


def _options(quote: Quote) -> tuple[Section, ...]:
    if not quote.options:
        return ()
    rows = tuple(_option(option, quote) for option in quote.options)
    title = "If found: your answer, before anything is taken apart"
    table = Table(
        title, ("What", "comes to, tax included", "chance", "your answer"), rows, (2.6, 1.3, 1.1, 1.9), quiet=True
    )
    return (Section(title, (table,), framed=True),)


def _option(option: Option, quote: Quote) -> tuple[Cell, ...]:
    held = "in the high of the total" if option.in_total else "not in the total"
    answer = Cell(option.answer, strong=True) if option.answer else Cell(_CHOICES)
    money = Cell(range_words(option.total, quote.currency), held)
    return Cell(option.name, option.says, strong=True), money, Cell(option.chance_words), answer


def _note(quote: Quote) -> Words:
    return Words((quote.page.terms_note,))


def _to_sign(quote: Quote) -> Section:
    """What is signed before the first cut; where nothing is ground, the quote itself."""
    texts = tuple(term.text for term in quote.page.terms if term.signature)
    title = "To be signed before the first cut" if texts else "To be signed"
    signs = rooms("Signed", "Customer, name", "Customer, signature", "Date", "For the shop")
    return Section(title, (*((Words(texts, strong=True),) if texts else ()), signs), framed=True)
