"""The quote as a plain document, money and hours as exact text; see geartrack.study.document."""

from __future__ import annotations

from dataclasses import fields, is_dataclass
from datetime import date
from decimal import Decimal
from typing import Any

from geartrack.quote import Quote
from geartrack.study.document import Document, as_document, head
from geartrack.study.quotes import QuoteRow, QuoteTable

_TOTALS = ("hours", "lines", "minimum", "net", "tax", "rounding", "total", "chances", "not_to_exceed")


@as_document.register
def document_of_quote(quote: Quote) -> Document:
    """The document of a quote: head and figures as keys of their own, then lines, sums, options, the page."""
    sums = _plain(quote.sums)
    totals = {"money" if name == "lines" else name: sums[name] for name in _TOTALS}
    return head("quote") | {
        **_plain(quote.head),
        **_plain(quote.figures),
        "lines": _plain(quote.lines),
        "options": _plain(quote.options),
        **totals,
        "without_grinding": _way(quote.without),
        "with_grinding": _way(quote.with_grinding),
        "owed_if_case_fails": _plain(quote.owed),
        **_plain(quote.page),
    }


@as_document.register
def document_of_quotes(table: QuoteTable) -> Document:
    """The document of quotes side by side."""
    return head("quotes") | {
        "job": table.job,
        "currency": table.currency,
        "target_mm": table.target_mm,
        "rows": [_row(row) for row in table.rows],
        "notes": list(table.notes),
    }


def _row(row: QuoteRow) -> Document:
    made = row.quote
    return {
        "name": row.name,
        "teeth": made.head.teeth,
        "verdict": made.head.verdict,
        "gap_mm": row.gap_mm,
        "low_mm": row.low_mm,
        "high_mm": row.high_mm,
        "depth_radial_max_mm": row.depth_mm,
        "wall_left_mm": row.wall_mm,
        "quote": document_of_quote(made),
    }


def _way(sums: object) -> Any:
    plain = _plain(sums)
    return plain and {"money" if name == "lines" else name: value for name, value in plain.items()}


def _plain(value: Any) -> Any:
    """Decimals and days as text (money is exact), dataclasses as objects."""
    if isinstance(value, Decimal):
        return f"{value:f}"
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, tuple):
        return [_plain(each) for each in value]
    if is_dataclass(value):
        return {field.name: _plain(getattr(value, field.name)) for field in fields(value)}
    return value
