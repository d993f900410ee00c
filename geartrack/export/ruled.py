"""Ruled tables as plain figures in millimetres: numbers in two units in a cell, or room to write."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from geartrack.export.figure import Curve, Figure, Label, Layer, box_curve, line

_TYPE_MM, _UNDER_MM = 3.4, 2.4


@dataclass(frozen=True)
class Cell:
    """What stands in a cell, in larger type and below it in smaller; shade: grey ground."""

    text: str = ""
    under: str = ""
    bold: bool = False
    shade: bool = False


def ruled(name: str, rows: Sequence[Sequence[Cell]], widths_mm: Sequence[float], row_mm: float) -> Figure:
    """A table, its first row the heads; widths of the columns and height of every row [mm]."""
    edges = np.concatenate([[0.0], np.cumsum(widths_mm)]).tolist()
    high = row_mm * len(rows)
    shades, labels = [], []
    for i, row in enumerate(rows):
        for left, right, cell in zip(edges[:-1], edges[1:], row, strict=True):
            top, bottom = high - row_mm * i, high - row_mm * (i + 1)
            if cell.shade:
                corners = [(left, bottom), (right, bottom), (right, top), (left, top)]
                shades.append(Curve(Layer.SHADE, np.array(corners), True))
            labels += _words(cell, ((left + right) / 2, bottom), row_mm, heavy=i == 0)
    lines = [line(Layer.MARKS, (0.0, high - row_mm * i), (edges[-1], high - row_mm * i)) for i in range(1, len(rows))]
    lines += [line(Layer.MARKS, (x, 0.0), (x, high)) for x in edges[1:-1]]
    frame = box_curve(Layer.PATCH, (0.0, 0.0, edges[-1], high))
    return Figure(name, (0.0, 0.0, edges[-1], high), (*shades, *lines, frame), tuple(labels))


def _words(cell: Cell, foot: tuple[float, float], row_mm: float, *, heavy: bool) -> list[Label]:
    x, bottom = foot
    if not cell.under:
        return [Label(cell.text, (x, bottom + row_mm / 2 - 1.1), _TYPE_MM, "middle", bold=heavy or cell.bold)]
    upper = Label(cell.text, (x, bottom + row_mm / 2 - 0.1), _TYPE_MM, "middle", bold=heavy or cell.bold)
    return [upper, Label(cell.under, (x, bottom + row_mm / 2 - 3.0), _UNDER_MM, "middle")]
