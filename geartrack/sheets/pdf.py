"""A sheet as PDF pages: the model laid out, nothing worked out or worded anew; pictures are laid in as vectors."""

from __future__ import annotations

import io
from collections.abc import Sequence
from typing import Any
from xml.sax.saxutils import escape

from geartrack.export.figure import printable
from geartrack.export.paper import SIZES_MM, Paper
from geartrack.sheets.look import BOLD, MARGIN_MM, POINT_MM, Spot, picture_spot, ready, style, western
from geartrack.sheets.model import Block, Cell, Head, Listing, Pair, Pairs, Picture, Section, Sheet, Table, Words

_HEAD_MM, _FOOT_MM = 7.0, 4.5
_ROOM_ROW_MM, _ROW_MM = 8.3, 4.7
_SCALES = (1.0, 0.96, 0.92, 0.88, 0.84)  # of the type, tried in this order
_LONG_VERDICT = 24  # letters that fit the largest type
_BOX = "\u2610"


def sheet_pdf(sheet: Sheet, paper: Paper) -> bytes:
    """The sheet as a PDF file; every page says whose it is and which page of how many."""
    ready()
    for scale in _SCALES:
        _, pages, _ = _laid(sheet, paper, 0, scale)
        if not sheet.most_pages or pages <= sheet.most_pages:
            break
    plain, _, spots = _laid(sheet, paper, pages, scale)
    return _with_pictures(plain, spots, scale)


def _laid(sheet: Sheet, paper: Paper, pages: int, scale: float) -> tuple[bytes, int, list[Spot]]:
    """The pages, larger than the paper by 1/scale, without their pictures; how many; where the pictures go."""
    from reportlab.platypus import BaseDocTemplate, Frame, PageTemplate

    wide, high = (side / POINT_MM / scale for side in SIZES_MM[paper])
    margin, above, below = (mm / POINT_MM for mm in (MARGIN_MM, _HEAD_MM, _FOOT_MM))
    room = wide - 2 * margin
    stream, spots = io.BytesIO(), list[Spot]()
    document = BaseDocTemplate(
        stream,
        pagesize=(wide, high),
        title=printable(f"{sheet.title}: {sheet.whose}"),
        author="geartrack",
        creator="geartrack",
        lang="en",
        invariant=1,
    )
    frame = Frame(margin, margin + below, room, high - 2 * margin - above - below, 0, 0, 0, 0)
    edges = _edges(sheet, (wide, high), pages)
    document.addPageTemplates([PageTemplate(frames=[frame], onPage=edges)])
    document.build(_story(sheet, room, spots))
    return stream.getvalue(), document.page, spots


def _edges(sheet: Sheet, size: tuple[float, float], pages: int) -> Any:
    """What stands above and below on every page."""
    margin = MARGIN_MM / POINT_MM

    def draw(canvas: Any, document: Any) -> None:
        top = size[1] - margin - 10
        canvas.setFont(BOLD, 11)
        canvas.drawString(margin, top, sheet.title)
        canvas.drawRightString(size[0] - margin, top, f"page {document.page} of {pages}")
        start = margin + canvas.stringWidth(f"{sheet.title}   ", BOLD, 11)
        room = size[0] - 2 * margin - canvas.stringWidth(f"{sheet.title}   page 9 of 9   ", BOLD, 11)
        _paragraph(sheet.whose, "edge", canvas, start, top - 1.5, room)
        canvas.setLineWidth(0.8)
        canvas.line(margin, top - 6, size[0] - margin, top - 6)
        _paragraph(sheet.foot, "foot", canvas, margin, margin, size[0] - 2 * margin)

    return draw


def _paragraph(text: str, name: str, canvas: Any, left: float, bottom: float, room: float) -> None:
    """One line of words on the page's edge, smaller where it would not fit."""
    words = printable(text)
    kind = style(name, wide=not western(words))
    size = float(kind.fontSize)
    wide = canvas.stringWidth(words, kind.fontName, size)
    size = max(5.0, min(size, size * room / wide)) if wide else size
    while words and canvas.stringWidth(words, kind.fontName, size) > room:
        words = f"{words[:-2].rstrip()}…"
    canvas.setFont(kind.fontName, size)
    canvas.drawString(left, bottom, words)


def _story(sheet: Sheet, room: float, spots: list[Spot]) -> list[Any]:
    from reportlab.platypus import PageBreak, Spacer

    story = [_fields(sheet.fields, room), Spacer(1, 3), _head(sheet.head, room)]
    for section in sheet.sections:
        if section.fresh:
            story.append(PageBreak())
        story += _section(section, room, spots)
    return story


def _section(section: Section, room: float, spots: list[Spot]) -> list[Any]:
    """A section; it stays on one page unless it lists names and values, and its heading never stays alone."""
    from reportlab.platypus import KeepTogether
    from reportlab.platypus import Table as Grid

    inner = room - 10 if section.framed else room
    title = _words(section.title, "heading")
    long = any(isinstance(block, Pairs) for block in section.blocks)
    title.keepWithNext = long
    parts = [title, *(part for block in section.blocks for part in _block(block, inner, spots))]
    if section.framed:
        frame = [("BOX", (0, 0), (-1, -1), 1.6, "black"), *_padding(5, 2)]
        return [KeepTogether([_gap(4), Grid([[parts]], [room], style=frame)])]
    return parts if long else [KeepTogether(parts)]


def _block(block: Block, room: float, spots: list[Spot]) -> list[Any]:
    if isinstance(block, Words):
        return [_words(line, "strong" if block.strong else "words") for line in block.lines]
    if isinstance(block, Listing):
        return [_listing(block, room)]
    if isinstance(block, Pairs):
        return _pairs(block, room)
    if isinstance(block, Picture):
        return [picture_spot(block, room, spots)]
    caption = [] if block.quiet else [_words(block.name, "caption")]
    return [*caption, _table(block, room), *([_words(block.note, "small")] if block.note else [])]


def _words(text: str, name: str) -> Any:
    from reportlab.platypus import Paragraph

    said = printable(text)
    return Paragraph(escape(said), style(name, wide=not western(said)))


def _gap(points: float) -> Any:
    from reportlab.platypus import Spacer

    return Spacer(1, points)


def _padding(across: float, up: float) -> list[tuple[Any, ...]]:
    whole = (0, 0), (-1, -1)
    sides = [("LEFTPADDING", across), ("RIGHTPADDING", across), ("TOPPADDING", up), ("BOTTOMPADDING", up)]
    return [*((name, *whole, size) for name, size in sides), ("VALIGN", *whole, "TOP")]


def _fields(pairs: Sequence[Pair], room: float) -> Any:
    """The head's fields, three in a row; those without a value are room to write in."""
    from reportlab.platypus import Table as Grid

    cells = [[_words(pair.name, "label"), _words(f"{pair.value} {pair.under}".strip(), "value")] for pair in pairs]
    rows = [cells[i : i + 3] for i in range(0, len(cells), 3)]
    rows[-1] += [[""]] * (3 - len(rows[-1]))
    look = [("GRID", (0, 0), (-1, -1), 0.5, "black"), *_padding(3, 1.5)]
    written = (all(pair.value for pair in pairs[i : i + 3]) for i in range(0, len(pairs), 3))
    heights = [None if each else _ROOM_ROW_MM / POINT_MM for each in written]
    return Grid(rows, [0.3 * room, 0.36 * room, 0.34 * room], heights, style=look)


def _head(head: Head, room: float) -> Any:
    from reportlab.platypus import Table as Grid

    figures = [[_words(p.name, "label"), _words(p.value, "figure"), _words(p.under, "under")] for p in head.figures]
    shares = [1.7 if " to " in pair.value else 1.0 for pair in head.figures]
    widths = [share / sum(shares) * (room - 12) for share in shares]
    row = Grid([figures], widths, style=[("LINEBEFORE", (1, 0), (-1, -1), 0.5, "black"), *_padding(4, 0)])
    large = "verdict" if len(head.words) <= _LONG_VERDICT else "verdict long"
    parts = [_words(head.words, large), row, _gap(3), *(_words(line, "words") for line in head.lines)]
    if head.reading:
        parts.append(_words(f"Read next: {head.reading}", "reading"))
    return Grid([[parts]], [room], style=[("BOX", (0, 0), (-1, -1), 2.5, "black"), *_padding(6, 4)])


def _listing(block: Listing, room: float) -> Any:
    from reportlab.platypus import Table as Grid

    boxes = block.sign == "box"
    lines = []
    for number, line in enumerate(block.lines, 1):
        sign = _BOX if boxes else f"{number}." if block.sign == "number" else "•"
        lines.append((_words(sign, "sign" if boxes else "words"), _words(line, "words")))
    deep = -(-len(lines) // block.columns)
    wide, first = room / block.columns, 15.0 if boxes else 11.0
    starts = range(0, len(lines), deep)
    columns = [Grid(lines[i : i + deep], [first, wide - first - 3], style=_padding(1, 0.7)) for i in starts]
    columns += [""] * (block.columns - len(columns))
    return Grid([columns], [wide] * block.columns, style=_padding(0, 0))


def _pairs(block: Pairs, room: float) -> list[Any]:
    """Two columns of names and values; the second is the wider, since later names are longer."""
    from reportlab.platypus import Table as Grid

    cells = [_pair(pair) for pair in block.pairs]
    deep = -(-len(cells) // 2)
    cells += [""] * (2 * deep - len(cells))
    look = [("LINEBELOW", (0, 0), (-1, -1), 0.25, "#767676"), *_padding(2, 0.1)]
    if block.marked:
        look += [("BACKGROUND", (0, 0), (-1, -1), "#e2e2e2"), ("BOX", (0, 0), (-1, -1), 0.8, "black")]
    caption = _words(block.name, "caption")
    caption.keepWithNext = True
    rows = list(zip(cells[:deep], cells[deep:], strict=True))
    return [caption, Grid(rows, [0.47 * room, 0.53 * room], style=look)]


def _pair(pair: Pair) -> Any:
    from reportlab.platypus import Paragraph

    name, value, under = (escape(printable(text)) for text in (pair.name, pair.value, pair.under))
    tail = f"; {under}" if under else ""
    wide = not western("".join((pair.name, pair.value, pair.under)))
    return Paragraph(f"{name}: <b>{value}</b>{tail}", style("small", wide=wide))


def _table(block: Table, room: float) -> Any:
    from reportlab.platypus import Table as Grid

    shares = block.widths or (1.0,) * len(block.heads)
    widths = [share / sum(shares) * room for share in shares]
    tall = (_ROOM_ROW_MM if block.tall else _ROW_MM) / POINT_MM
    look = [("GRID", (0, 0), (-1, -1), 0.5, "black"), ("BOX", (0, 0), (-1, -1), 1.2, "black"), *_padding(2.5, 1.2)]
    rows = list[list[Any]]()
    if block.groups:
        row: list[Any] = []
        for words, over in block.groups:
            look.append(("SPAN", (len(row), 0), (len(row) + over - 1, 0)))
            row += [_words(words, "column"), *([""] * (over - 1))]
        rows.append(row)
    if any(block.heads) and not block.groups:
        rows.append([_words(head, "column") for head in block.heads])
    look.append(("LINEBELOW", (0, len(rows) - 1), (-1, len(rows) - 1), 1.2, "black"))
    heights: list[float | None] = [None] * len(rows)
    for cells in block.rows:
        rows.append([_cell(cell) for cell in cells])
        heights.append(_high(cells, widths, tall))
    return Grid(rows, widths, heights, style=look, repeatRows=1)


def _cell(cell: Cell) -> list[Any]:
    kinds = ("label", "value") if cell.room else ("cell strong" if cell.strong else "cell", "cell under")
    return [_words(text, kind) for text, kind in zip((cell.text, cell.under), kinds, strict=True) if text]


def _high(cells: Sequence[Cell], widths: Sequence[float], least: float) -> float:
    """The height of a row: what its words need, and enough to write in."""
    needs = [sum(part.wrap(wide - 5, 1e6)[1] for part in _cell(cell)) for cell, wide in zip(cells, widths, strict=True)]
    return float(max(least, max(needs) + 3.5))


def _with_pictures(plain: bytes, spots: Sequence[Spot], scale: float) -> bytes:
    """The pages, brought down to the paper, with each picture's own PDF laid in place, so that lines stay lines."""
    from pypdf import PdfReader, PdfWriter, Transformation

    writer = PdfWriter(clone_from=PdfReader(io.BytesIO(plain)))
    for spot in spots:
        page = PdfReader(io.BytesIO(spot.picture.pdf)).pages[0]
        move = Transformation().scale(spot.scale).translate(spot.left, spot.bottom)
        writer.pages[spot.page - 1].merge_transformed_page(page, move)
    for page in writer.pages:
        if scale < 1:
            page.scale_by(scale)
        page.compress_content_streams()
    stream = io.BytesIO()
    writer.write(stream)
    return stream.getvalue()
