"""A template as a DXF drawing in millimetres, one layer for each kind of line; only what is true to scale."""

from __future__ import annotations

import io

from geartrack import words
from geartrack.export.figure import INKS, Curve, Figure, Label, Layer, printable
from geartrack.export.paper import scale_bars
from geartrack.export.template import says
from geartrack.export.template.outline import Template

_MM, _METRIC = 4, 1
_GAP_MM, _TYPE_MM, _LINE_MM = 12.0, 2.5, 4.0
_CAP = 0.72  # a drawing's text height is that of its capitals
_LEFT, _MIDDLE, _RIGHT = 0, 1, 2


def template_dxf(made: Template) -> bytes:
    """Strip, end face and scale bars; the strip's pinion-side edge lies at y = 0, its 12 o'clock at x = 0."""
    from ezdxf.filemanagement import new

    drawing = new("R2010", setup=["linetypes"])
    drawing.header["$INSUNITS"], drawing.header["$MEASUREMENT"] = _MM, _METRIC
    for layer in Layer:
        if layer is not Layer.SHADE:
            dashed = "DASHED" if INKS[layer].dash_mm else "CONTINUOUS"
            drawing.layers.add(layer.value, color=INKS[layer].color, linetype=dashed)
    space = drawing.modelspace()

    def add(figure: Figure, x: float, y: float) -> None:
        for curve in figure.curves:
            _add_curve(space, curve, x, y)
        for label in figure.labels:
            _add_label(space, label, x, y)

    add(made.strip, 0.0, 0.0)
    left, below = made.strip.box[0], made.strip.box[1] - _GAP_MM
    if made.end is not None:
        add(made.end, left - made.end.box[0], below - made.end.box[3])
        below -= made.end.height_mm + _GAP_MM
    bars = scale_bars()
    add(bars, left, below - bars.box[3])
    below -= bars.height_mm + _GAP_MM
    lines = [says.TITLE, says.whose(made.answer), *says.key(made), words.for_this_case(made.answer)]
    for row, text in enumerate(lines):
        _add_label(space, Label(text, (0.0, 0.0), _TYPE_MM), left, below - row * _LINE_MM)
    stream = io.StringIO()
    drawing.write(stream)
    return stream.getvalue().encode("utf-8")


def _add_curve(space: object, curve: Curve, x: float, y: float) -> None:
    if curve.layer is not Layer.SHADE:
        spots = [(x + a, y + b) for a, b in curve.points.tolist()]
        space.add_lwpolyline(spots, close=curve.closed, dxfattribs={"layer": curve.layer.value})  # type: ignore[attr-defined]


def _add_label(space: object, label: Label, x: float, y: float) -> None:
    from ezdxf.enums import TextEntityAlignment as Where

    attributes = {"layer": Layer.TEXT.value, "height": _CAP * label.size_mm, "rotation": label.turn}
    text = space.add_text(printable(label.text), dxfattribs=attributes)  # type: ignore[attr-defined]
    where = {"left": Where.LEFT, "middle": Where.CENTER, "right": Where.RIGHT}[label.across]
    text.set_placement((x + label.at[0], y + label.at[1]), align=where)
