"""A sheet as content alone: words and numbers, formatted once, that pdf.py and html.py lay out and never change."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Literal


@dataclass(frozen=True)
class Cell:
    """What stands in a cell, and smaller below it; room: a place to write in, `text` is then its small label."""

    text: str = ""
    under: str = ""
    strong: bool = False
    room: bool = False


@dataclass(frozen=True)
class Pair:
    """A name and its value, and more of it; without a value it is a place to write in."""

    name: str
    value: str
    under: str = ""


@dataclass(frozen=True)
class Head:
    """The verdict: its words, the few large figures, the sentence below them; reading: what to read next, or none."""

    words: str
    figures: tuple[Pair, ...]
    lines: tuple[str, ...]
    reading: str = ""


@dataclass(frozen=True)
class Words:
    """Paragraphs; strong: in heavy type."""

    lines: tuple[str, ...]
    strong: bool = False


@dataclass(frozen=True)
class Listing:
    """Short lines, each with a bullet, a box to tick or its number."""

    lines: tuple[str, ...]
    sign: Literal["bullet", "box", "number"] = "bullet"
    columns: int = 1


@dataclass(frozen=True)
class Pairs:
    """Names and values in two columns, under a name of their own; marked: on grey, not to be overlooked."""

    name: str
    pairs: tuple[Pair, ...]
    marked: bool = False


@dataclass(frozen=True)
class Table:
    """A ruled table; widths: of the columns against one another [-]; tall: room enough to write in every row.

    quiet: its name is not shown, only told to who cannot see the page.
    """

    name: str
    heads: tuple[str, ...]
    rows: tuple[tuple[Cell, ...], ...]
    widths: tuple[float, ...] = ()
    tall: bool = False
    note: str = ""
    quiet: bool = False
    groups: tuple[tuple[str, int], ...] = ()
    """Heads above the heads: words, and over how many columns."""


@dataclass(frozen=True)
class Picture:
    """A drawing as SVG and as PDF, both made from one figure, with the words of what it shows; sizes on paper [mm]."""

    name: str
    says: str
    svg: str = field(repr=False)
    pdf: bytes = field(repr=False)
    width_mm: float = 0.0
    height_mm: float = 0.0


Block = Words | Listing | Pairs | Table | Picture


@dataclass(frozen=True)
class Section:
    """A heading and what belongs under it; framed: drawn in a heavy box; fresh: begins a page."""

    title: str
    blocks: tuple[Block, ...]
    framed: bool = False
    fresh: bool = False


@dataclass(frozen=True)
class Sheet:
    """A whole sheet. whose: job, tooth pair and case in one line; foot: stands on every page.

    most_pages: on paper it is drawn smaller rather than go past these; 0 for as many as it takes.
    """

    title: str
    whose: str
    fields: tuple[Pair, ...]
    head: Head
    sections: tuple[Section, ...]
    foot: str
    most_pages: int = 0


def said(sheet: Sheet) -> Iterator[str]:
    """Every text of a sheet in the order in which it stands there, those of pictures left out."""
    yield from (sheet.title, sheet.whose)
    yield from _pairs(sheet.fields)
    yield sheet.head.words
    yield from _pairs(sheet.head.figures)
    yield from (*sheet.head.lines, sheet.head.reading)
    for section in sheet.sections:
        yield section.title
        for block in section.blocks:
            yield from _block(block)
    yield sheet.foot


def _pairs(pairs: tuple[Pair, ...]) -> Iterator[str]:
    for pair in pairs:
        yield from (pair.name, pair.value, pair.under)


def _block(block: Block) -> Iterator[str]:
    if isinstance(block, Words | Listing):
        yield from block.lines
    elif isinstance(block, Pairs):
        yield block.name
        yield from _pairs(block.pairs)
    elif isinstance(block, Table):
        yield from (block.name, *(words for words, _ in block.groups), *block.heads)
        for row in block.rows:
            for cell in row:
                yield from (cell.text, cell.under)
        yield block.note
