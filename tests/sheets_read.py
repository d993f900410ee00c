"""Sheets as tests see them: made once, and read back from their model, their PDF and their HTML."""

from __future__ import annotations

import re
import subprocess
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

from drawn_jobs import answer, table
from lxml import html

from geartrack.sheets.bench import bench_sheet
from geartrack.sheets.counter import counter_sheet
from geartrack.sheets.customer import customer_sheet
from geartrack.sheets.model import Picture, Sheet, said
from geartrack.study import quote_for

DAY = date(2026, 3, 2)
NUMBER = re.compile(r"(?<![\w.,])-?\d[\d,]*(?:\.\d+)?")


@cache
def bench(name: str = "grind") -> Sheet:
    return bench_sheet(answer(name))


@cache
def counter() -> Sheet:
    return counter_sheet(table())


@cache
def customer(name: str = "grind") -> Sheet:
    return customer_sheet(quote_for(answer(name), DAY))


SHEETS = {
    "bench": bench,
    "bench, measure": lambda: bench("measure"),
    "bench, clears": lambda: bench("clears"),
    "bench, don't use": lambda: bench("dont-use"),
    "counter": counter,
    "customer": customer,
    "customer, estimate": lambda: customer("measure"),
}


def words(sheet: Sheet) -> str:
    """All that a sheet says, with what its pictures say."""
    return "\n".join([*said(sheet), *(picture.says for picture in pictures(sheet))])


def pictures(sheet: Sheet) -> list[Picture]:
    return [block for section in sheet.sections for block in section.blocks if isinstance(block, Picture)]


def without_pictures(sheet: Sheet) -> Sheet:
    sections = (
        replace(section, blocks=tuple(b for b in section.blocks if not isinstance(b, Picture)))
        for section in sheet.sections
    )
    return replace(sheet, sections=tuple(sections))


def numbers(text: str) -> list[str]:
    return NUMBER.findall(text)


def tight(text: str) -> str:
    """Without blanks, so that where lines are folded does not count."""
    return "".join(text.split())


def html_text(page: bytes) -> str:
    """The words of the body, drawings left out."""
    tree = html.document_fromstring(page.decode())
    for drawing in tree.xpath("//svg"):
        drawing.drop_tree()
    return "\n".join(text for text in tree.body.itertext() if text.strip())


def _poppler(pdf: bytes, *command: str) -> str:
    with TemporaryDirectory() as folder:
        path = Path(folder) / "it.pdf"
        path.write_bytes(pdf)
        return subprocess.run([*command, path, "-"], check=True, capture_output=True, encoding="utf-8").stdout


def pdf_text(pdf: bytes) -> str:
    """The words of a PDF in the order in which they were laid down: a cell after the other."""
    return _poppler(pdf, "pdftotext", "-raw")


@dataclass(frozen=True)
class Word:
    """A word on a page, from the page's upper left corner [pt]."""

    text: str
    left: float
    top: float
    right: float
    bottom: float


def pages_of_words(pdf: bytes) -> list[list[Word]]:
    return [list(_placed(page)) for page in _poppler(pdf, "pdftotext", "-bbox").split("<page ")[1:]]


def _placed(page: str) -> Iterator[Word]:
    found = re.findall(r'<word xMin="(.+?)" yMin="(.+?)" xMax="(.+?)" yMax="(.+?)">(.*?)</word>', page)
    for *box, text in found:
        left, top, right, bottom = map(float, box)
        yield Word(text, left, top, right, bottom)
