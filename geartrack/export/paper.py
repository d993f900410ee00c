"""Pages at true scale: paper sizes, type, scale bars to be measured, and plain figures on a page."""

from __future__ import annotations

import io
from collections.abc import Sequence
from typing import Any, Literal

import numpy as np

from geartrack.export.figure import INKS, Curve, Figure, Ink, Label, Layer, printable
from geartrack.units import Units, parse_length

Paper = Literal["letter", "a4"]
SIZES_MM: dict[Paper, tuple[float, float]] = {
    "letter": (parse_length("8.5 in"), parse_length("11 in")),
    "a4": (210.0, 297.0),
}
MARGIN_MM = 10.0
BAR_MM, BAR_IN_MM = 100.0, parse_length("4 in")
"""The two scale bars' lengths."""

MEASURE_BAR = (
    "MEASURE THIS BAR on the paper, with a caliper or steel rule, before use. If it is not 100 mm and 4 in, throw the",
    "sheet away and print again at 100 %, actual size: no fit to page, no shrink to page.",
)
_POINT_MM = parse_length("1 in") / 72
_EDGE_MM = 0.2  # half of any line drawn along a box
_TITLE_MM, TEXT_MM, LINE_MM = 5.2, 3.3, 4.4


def paper_for(named: str | None, units: Units) -> Paper:
    """The paper that was asked for; else Letter where people work in inches, A4 where in millimetres."""
    if named is None:
        return "letter" if units == "in" else "a4"
    return "a4" if named == "a4" else "letter"


class Sheets:
    """Pages of one paper size, filled from the top down; each has title, whose it is, and (bars) the bars to measure.

    `top_mm` is how high above the page's lower edge the free room ends.
    """

    def __init__(self, paper: Paper, *, title: str, whose: str, foot: str, about: str, bars: bool = True) -> None:
        from reportlab.pdfgen.canvas import Canvas

        self.width_mm, self.high_mm = SIZES_MM[paper]
        self.room_mm = self.width_mm - 2 * MARGIN_MM
        self._bars = bars
        self._title, self._whose, self._foot = title, printable(whose), printable(foot)
        self._stream, self._pages = io.BytesIO(), 0
        size = (self.width_mm / _POINT_MM, self.high_mm / _POINT_MM)
        self._canvas: Any = Canvas(self._stream, pagesize=size, invariant=1, pageCompression=1)
        self._canvas.setTitle(printable(f"{title}: {whose}"))
        self._canvas.setSubject(printable(about))
        self._canvas.setAuthor("geartrack")
        self._canvas.setCreator("geartrack")
        self._canvas.setViewerPreference("PrintScaling", "None")
        self.top_mm = 0.0
        self._begin()

    def room(self, high_mm: float) -> None:
        """Go on to a new page where less than this is left [mm]."""
        if self.top_mm - high_mm < self._floor_mm:
            self._end()
            self._begin()

    def figure(self, figure: Figure, left_mm: float, *, clip: bool = False) -> None:
        """A figure, its box's left and top edge `left_mm` from the margin and at the top of the free room [mm].

        clip: nothing to the left and right of the box is drawn.
        """
        box = figure.box
        self._canvas.saveState()
        self._canvas.translate(*self._points(MARGIN_MM + left_mm - box[0], self.top_mm - box[3]))
        if clip:
            path = self._canvas.beginPath()
            path.rect(
                *self._points(
                    box[0] - _EDGE_MM,
                    box[1] - _EDGE_MM,
                    figure.width_mm + 2 * _EDGE_MM,
                    figure.height_mm + 2 * _EDGE_MM,
                )
            )
            self._canvas.clipPath(path, stroke=0, fill=0)
        for curve in figure.curves:
            self.curve(curve)
        for label in figure.labels:
            self.label(label)
        self._canvas.restoreState()

    def curve(self, curve: Curve) -> None:
        """A curve, in the place that its own numbers say [mm]."""
        ink = INKS[curve.layer]
        path = self._canvas.beginPath()
        for index, spot in enumerate(curve.points / _POINT_MM):
            (path.lineTo if index else path.moveTo)(*spot.tolist())
        if curve.closed:
            path.close()
        self._set(ink)
        self._canvas.drawPath(path, stroke=int(ink.width_mm > 0), fill=int(ink.fill is not None))

    def label(self, label: Label) -> None:
        """A label, in the place that its own numbers say [mm]."""
        font, size = ("Helvetica-Bold" if label.bold else "Helvetica"), label.size_mm / _POINT_MM
        text = _western(printable(label.text))
        wide = self._canvas.stringWidth(text, font, size)
        start = {"left": 0.0, "middle": -wide / 2, "right": -wide}[label.across]
        self._canvas.saveState()
        self._canvas.translate(*self._points(*label.at))
        self._canvas.rotate(label.turn)
        if label.ground:
            self._canvas.setFillGray(1.0)
            self._canvas.rect(start - 0.2 * size, -0.1 * size, wide + 0.4 * size, 0.92 * size, stroke=0, fill=1)
        self._canvas.setFillGray(0.0)
        self._canvas.setFont(font, size)
        self._canvas.drawString(start, 0.0, text)
        self._canvas.restoreState()

    def say(
        self, lines: Sequence[str], *, left_mm: float = 0.0, wide_mm: float | None = None, size_mm: float = TEXT_MM
    ) -> None:
        """Lines of words below one another, folded to a width [mm] from `left_mm` off the margin; takes their room."""
        for text in lines:
            for part in self.folded(text, wide_mm or self.room_mm - left_mm, size_mm):
                self.top_mm -= LINE_MM * size_mm / TEXT_MM
                self.label(Label(part, (MARGIN_MM + left_mm, self.top_mm + 0.25 * size_mm), size_mm))

    def block(self, lines: Sequence[str], *, size_mm: float = TEXT_MM) -> None:
        """Lines of words that stay together on one page."""
        count = sum(len(self.folded(text, self.room_mm, size_mm)) for text in lines)
        self.room(count * LINE_MM * size_mm / TEXT_MM)
        self.say(lines, size_mm=size_mm)

    def heading(self, text: str, *, left_mm: float = 0.0) -> None:
        """A few words in bold; takes their room."""
        self.top_mm -= LINE_MM * 1.25
        self.label(Label(text, (MARGIN_MM + left_mm, self.top_mm + 0.8), TEXT_MM + 0.3, bold=True))

    def folded(self, text: str, wide_mm: float, size_mm: float = TEXT_MM) -> list[str]:
        """A text as lines no wider than this [mm]."""
        from reportlab.lib.utils import simpleSplit

        words = _western(printable(text))
        folded: list[str] = simpleSplit(words, "Helvetica", size_mm / _POINT_MM, wide_mm / _POINT_MM)
        return folded

    def bytes(self) -> bytes:
        """The whole as a PDF file."""
        self._end()
        self._canvas.save()
        return self._stream.getvalue()

    def _begin(self) -> None:
        self._pages += 1
        self.top_mm = self.high_mm - MARGIN_MM
        self._floor_mm = MARGIN_MM + LINE_MM * len(self.folded(self._foot, self.room_mm)) + 2.0
        self.top_mm -= _TITLE_MM
        self.label(Label(self._title, (MARGIN_MM, self.top_mm), _TITLE_MM, bold=True))
        if self._pages > 1:
            self.label(Label(f"page {self._pages}", (self.width_mm - MARGIN_MM, self.top_mm), TEXT_MM, "right"))
        self.top_mm -= 1.0
        self.say([self._whose])
        self.top_mm -= 2.5
        if self._bars:
            bars = scale_bars()
            self.figure(bars, 0.0)
            self.top_mm -= bars.height_mm
            self.say(MEASURE_BAR, size_mm=2.9)
            self.top_mm -= 2.0

    def _end(self) -> None:
        here, self.top_mm = self.top_mm, self._floor_mm - 2.0
        self.say([self._foot])
        self.top_mm = here
        self._canvas.showPage()

    def _points(self, *lengths_mm: float) -> list[float]:
        return [length / _POINT_MM for length in lengths_mm]

    def _set(self, ink: Ink) -> None:
        self._canvas.setLineWidth(ink.width_mm / _POINT_MM)
        self._canvas.setDash(self._points(*ink.dash_mm))
        self._canvas.setStrokeGray(ink.grey)
        self._canvas.setFillGray(ink.fill if ink.fill is not None else 1.0)


def scale_bars() -> Figure:
    """Two bars, 100 mm and 4 in, each exactly as long from its one end to its other, with ticks within it."""
    high, gap, curves, labels = 0.7, 5.5, [], []
    for y, length, parts, name in ((gap, BAR_MM, 10, "100 mm"), (0.0, BAR_IN_MM, 8, "4 in")):
        curves.append(_filled(0.0, y, length, y + high))
        for i in range(parts + 1):
            x, tall = i * (length - 0.2) / parts, 3.0 if i % (parts // 2) == 0 else 2.0
            curves.append(_filled(x, y, x + 0.2, y + tall))
        labels.append(Label(name, (length + 2.0, y), 3.2, bold=True))
    return Figure("Scale bars", (0.0, 0.0, BAR_IN_MM + 14.0, gap + 3.2), tuple(curves), tuple(labels))


def _filled(left: float, bottom: float, right: float, top: float) -> Curve:
    return Curve(Layer.BAR, np.array([(left, bottom), (right, bottom), (right, top), (left, top)]), True)


def _western(text: str) -> str:
    """A text in the signs that every PDF viewer has type for; others become question marks."""
    return text.encode("cp1252", "replace").decode("cp1252")
