"""A template as PDF pages, Letter or A4, at true scale; a strip too long for the page in pieces to be joined."""

from __future__ import annotations

import numpy as np

from geartrack import words
from geartrack.export.figure import Curve, Figure, Label, Layer, line
from geartrack.export.paper import MARGIN_MM, Paper, Sheets
from geartrack.export.template import says
from geartrack.export.template.outline import Template

OVERLAP_MM = 14.0
JOIN = "The strip is in pieces: cut them out, lay join line on join line of the same letter, edges in line, and tape."
_GAP_MM, _SMALL_MM, _LEAST_MM = 4.0, 2.9, 2.6


def template_pdf(made: Template, paper: Paper) -> bytes:
    """The pages of a template; each carries the scale bars, whose it is, and that it is for one case only."""
    sheets = Sheets(
        paper,
        title=says.TITLE,
        whose=says.whose(made.answer),
        foot=words.for_this_case(made.answer),
        about=says.about(made),
    )
    around = np.concatenate([curve.points for curve in made.patch.curves])[:, 0]
    found = pieces(made.strip, sheets.room_mm, keep_mm=(float(around.min()) - 12.0, float(around.max()) + 2.0))
    for piece in found:
        sheets.room(piece.height_mm + 2 * _GAP_MM)
        sheets.top_mm -= _GAP_MM / 2
        sheets.figure(piece, 0.0, clip=len(found) > 1)
        sheets.top_mm -= piece.height_mm + _GAP_MM / 2
    sheets.say([*([JOIN] if len(found) > 1 else []), *says.key(made)], size_mm=_SMALL_MM)
    sheets.top_mm -= _GAP_MM
    _figures(sheets, made)
    picture = says.picture(made)
    steps = says.steps_to_put_on(made)
    sheets.room(picture.height_mm + 30.0)
    sheets.heading("How it is put on")
    sheets.figure(picture, (sheets.room_mm - picture.width_mm) / 2)
    sheets.top_mm -= picture.height_mm
    sheets.say(steps, size_mm=_SMALL_MM)
    sheets.top_mm -= _GAP_MM / 2
    sheets.block(says.cautions(made), size_mm=_LEAST_MM)
    return sheets.bytes()


def _figures(sheets: Sheets, made: Template) -> None:
    """The end face and the larger patch, side by side where they fit."""
    end = made.end if made.end is not None and made.end.width_mm <= sheets.room_mm else None
    if made.end is not None and end is None:
        sheets.say(["The end face is larger than this paper: take it from the .svg or .dxf of the template."])
    beside = end is not None and end.width_mm + made.larger.width_mm + _GAP_MM <= sheets.room_mm
    rows: list[list[Figure]] = (
        [[made.larger]] if end is None else [[end, made.larger]] if beside else [[end], [made.larger]]
    )
    for row in rows:
        high = max(figure.height_mm for figure in row)
        sheets.room(high + 8.0)
        top, left = sheets.top_mm - 6.0, 0.0
        for figure in row:
            sheets.top_mm = top
            sheets.label(Label(figure.name, (MARGIN_MM + left, top + 1.8), _SMALL_MM, bold=True))
            sheets.figure(figure, left)
            left = sheets.room_mm - row[-1].width_mm
        sheets.top_mm = top - high - _GAP_MM / 2


def pieces(strip: Figure, room_mm: float, *, keep_mm: tuple[float, float]) -> list[Figure]:
    """A strip as pieces no wider than the room [mm], each overlapping the next, with lines where they join.

    keep_mm: from, to; no join falls in there if the room allows [mm].
    """
    left, bottom, right, top = strip.box
    starts = [left]
    while starts[-1] + room_mm < right:
        join = starts[-1] + room_mm - OVERLAP_MM / 2
        if keep_mm[0] < join + OVERLAP_MM / 2 and join - OVERLAP_MM / 2 < keep_mm[1]:
            earlier = keep_mm[0] - OVERLAP_MM / 2
            join = earlier if earlier > starts[-1] + OVERLAP_MM else join
        starts.append(join - OVERLAP_MM / 2)
    if len(starts) == 1:
        return [strip]
    whole = strip.with_(*_joins([start + OVERLAP_MM / 2 for start in starts[1:]], bottom, top))
    ends = [*(start + OVERLAP_MM for start in starts[1:]), right]
    return [
        Figure(f"{strip.name}, piece {i}", (start, bottom, end, top), whole.curves, whole.labels)
        for i, (start, end) in enumerate(zip(starts, ends, strict=True), start=1)
    ]


def _joins(places: list[float], bottom: float, top: float) -> tuple[list[Curve], list[Label]]:
    """A line across the strip at each join, on both of its pieces, and where the upper piece is cut."""
    curves, labels = [], []
    for letter, x in zip("ABCDEFGHIJKLMNOP", places, strict=False):
        curves.append(line(Layer.CENTRE, (x, bottom), (x, top)))
        curves += [
            line(Layer.CUT_LINE, (x + side, bottom), (x + side, top)) for side in (-OVERLAP_MM / 2, OVERLAP_MM / 2)
        ]
        labels += [Label(f"join {letter}", (x + 1.8, bottom + 1.0), 2.1, turn=90.0)]
    return curves, labels
