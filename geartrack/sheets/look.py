"""The look of the PDF sheets: type for every script the font has, sizes, and where pictures are laid."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import Any

from geartrack.sheets.model import Picture
from geartrack.units import parse_length

PLAIN, BOLD = "Helvetica", "Helvetica-Bold"
WIDE, WIDE_BOLD = "Wide", "Wide-Bold"
MARGIN_MM = 8.5
POINT_MM = parse_length("1 in") / 72
_SIZES: dict[str, tuple[str, float, float, float]] = {  # font, size, leading, room above [pt]
    "verdict": (BOLD, 34, 38, 0),
    "verdict long": (BOLD, 24, 28, 0),
    "figure": (BOLD, 15, 17.5, 0),
    "under": (PLAIN, 9, 11, 0),
    "reading": (BOLD, 14, 18, 3),
    "heading": (BOLD, 10.5, 12.5, 4),
    "caption": (BOLD, 7.4, 9, 1),
    "column": (BOLD, 7.6, 9, 0),
    "words": (PLAIN, 8.5, 10.2, 0),
    "strong": (BOLD, 8.6, 10.4, 2),
    "sign": (WIDE, 12, 12, 0),
    "small": (PLAIN, 6.6, 7.8, 0),
    "label": (PLAIN, 6.8, 8, 0),
    "value": (BOLD, 9, 11, 0),
    "cell": (PLAIN, 8.4, 9.8, 0),
    "cell strong": (BOLD, 8.4, 9.8, 0),
    "cell under": (PLAIN, 7.2, 8.6, 0),
    "edge": (PLAIN, 8.5, 10, 0),
    "foot": (PLAIN, 6.8, 8, 0),
}


@dataclass(frozen=True)
class Spot:
    """Where a picture is laid: page from 1; left, bottom: its lower left corner [pt]; scale: of its own size [-]."""

    picture: Picture
    page: int
    left: float
    bottom: float
    scale: float


@cache
def ready() -> None:
    """Register, once, the type that figures are lettered in: for signs that every viewer's own type lacks."""
    from reportlab.pdfbase import pdfmetrics
    from reportlab.pdfbase.ttfonts import TTFont

    from geartrack.draw.save import type_files

    for name, path in zip((WIDE, WIDE_BOLD), type_files(), strict=True):
        pdfmetrics.registerFont(TTFont(name, str(path)))
    pdfmetrics.registerFontFamily(WIDE, normal=WIDE, bold=WIDE_BOLD, italic=WIDE, boldItalic=WIDE_BOLD)


def western(text: str) -> bool:
    """Whether every sign of a text is in the type that PDF viewers have of their own."""
    return text == text.encode("cp1252", "ignore").decode("cp1252")


@cache
def style(name: str, *, wide: bool = False) -> Any:
    """The paragraph style of that name; wide: in the type with many more signs."""
    from reportlab.lib.styles import ParagraphStyle

    font, size, leading, above = _SIZES[name]
    if wide:
        font = {PLAIN: WIDE, BOLD: WIDE_BOLD}.get(font, font)
    return ParagraphStyle(name, fontName=font, fontSize=size, leading=leading, spaceBefore=above, splitLongWords=1)


def picture_spot(picture: Picture, room: float, spots: list[Spot]) -> Any:
    """Room on the page for a picture, no wider than `room` [pt]; where it comes to lie is added to `spots`."""
    from reportlab.platypus.flowables import Flowable

    wide, high = picture.width_mm / POINT_MM, picture.height_mm / POINT_MM
    scale = min(1.0, room / wide)

    class Place(Flowable):  # type: ignore[misc]
        def __init__(self) -> None:
            super().__init__()
            self.width, self.height = wide * scale, high * scale

        def draw(self) -> None:
            left, bottom = self.canv.absolutePosition(0, 0)
            spots.append(Spot(picture, self.canv.getPageNumber(), left, bottom, scale))

    return Place()
