"""A template as one SVG drawing with millimetre sizes, for a plotter, a cutter or a drawing program."""

from __future__ import annotations

from xml.etree import ElementTree as ET

import numpy as np

from geartrack import words
from geartrack.export.figure import INKS, Curve, Figure, Label, Layer, printable
from geartrack.export.paper import MEASURE_BAR, scale_bars
from geartrack.export.template import says
from geartrack.export.template.outline import Template

_SVG = "http://www.w3.org/2000/svg"
_MARGIN_MM, _GAP_MM, _LINE_MM, _TYPE_MM = 8.0, 6.0, 4.2, 3.0
_LETTER = 0.55  # breadth of a letter or digit, in heights of the type
_ANCHORS = {"left": "start", "middle": "middle", "right": "end"}


def template_svg(made: Template) -> bytes:
    """All figures of a template below one another on a sheet as large as they need; one user unit is one millimetre."""
    answer = made.answer
    head = [says.TITLE, says.whose(answer)]
    figures = [scale_bars(), made.strip, *([made.end] if made.end else []), made.larger, says.picture(made)]
    lines = [
        *MEASURE_BAR,
        *says.key(made),
        *says.steps_to_put_on(made),
        *says.cautions(made),
        words.for_this_case(answer),
    ]
    wide = max(*(figure.width_mm for figure in figures), 210.0) + 2 * _MARGIN_MM
    folded = [part for text in lines for part in _folded(text, int((wide - 2 * _MARGIN_MM) / (_LETTER * _TYPE_MM)))]
    high = sum(figure.height_mm + _LINE_MM + _GAP_MM for figure in figures)
    high += (len(head) + len(folded)) * _LINE_MM + 3 * _MARGIN_MM
    ET.register_namespace("", _SVG)
    root = _element("svg", width=f"{wide:.3f}mm", height=f"{high:.3f}mm", viewBox=f"0 0 {wide:.3f} {high:.3f}")
    root.attrib |= {"role": "img", "font-family": "Helvetica, Arial, sans-serif"}
    ET.SubElement(root, f"{{{_SVG}}}title").text = printable(f"{says.TITLE}: {says.whose(answer)}")
    ET.SubElement(root, f"{{{_SVG}}}desc").text = printable(says.about(made))
    root.append(_element("rect", width=f"{wide:.3f}", height=f"{high:.3f}", fill="white"))
    y = _MARGIN_MM
    for index, text in enumerate(head):
        y += _LINE_MM
        root.append(_text(Label(text, (_MARGIN_MM, -y), _TYPE_MM + 1.0 * (index == 0), bold=index == 0)))
    for figure in figures:
        y += _GAP_MM + _LINE_MM
        root.append(_text(Label(figure.name, (_MARGIN_MM, -(y - 1.5)), _TYPE_MM, bold=True)))
        root.append(_group(figure, _MARGIN_MM - figure.box[0], y + figure.box[3]))
        y += figure.height_mm
    for text in folded:
        y += _LINE_MM
        root.append(_text(Label(text, (_MARGIN_MM, -y), _TYPE_MM)))
    ET.indent(root, " ")
    made_bytes: bytes = ET.tostring(root, encoding="utf-8", xml_declaration=True)
    return made_bytes


def _element(name: str, **attributes: str) -> ET.Element:
    return ET.Element(f"{{{_SVG}}}{name}", attributes)


def _group(figure: Figure, x: float, y: float) -> ET.Element:
    """A figure's curves by layer, and its labels, its origin at x and y down the sheet."""
    group = _element("g", transform=f"translate({x:.4f} {y:.4f})", id=figure.name.split(",")[0].replace(" ", "-"))
    for layer in (Layer.SHADE, *(each for each in Layer if each is not Layer.SHADE)):
        own = [curve for curve in figure.curves if curve.layer is layer]
        if own:
            part = ET.SubElement(group, f"{{{_SVG}}}g", {"class": layer.value, **_style(layer)})
            part.extend(_path(curve) for curve in own)
    group.extend(_text(label) for label in figure.labels)
    return group


def _style(layer: Layer) -> dict[str, str]:
    ink = INKS[layer]
    style = {"fill": _grey(ink.fill) if ink.fill is not None else "none"}
    style |= {"stroke": _grey(ink.grey), "stroke-width": f"{ink.width_mm}"} if ink.width_mm else {"stroke": "none"}
    return style | ({"stroke-dasharray": " ".join(f"{part}" for part in ink.dash_mm)} if ink.dash_mm else {})


def _grey(share: float) -> str:
    return "#" + f"{round(255 * share):02x}" * 3


def _path(curve: Curve) -> ET.Element:
    spots = " L".join(f"{x:.4f} {-y:.4f}" for x, y in np.asarray(curve.points).tolist())
    return _element("path", d=f"M{spots}{' Z' if curve.closed else ''}")


def _text(label: Label) -> ET.Element:
    x, y = label.at
    made = _element("text", **{"x": f"{x:.4f}", "y": f"{-y:.4f}", "font-size": f"{label.size_mm}", "fill": "black"})
    made.set("text-anchor", _ANCHORS[label.across])
    if label.bold:
        made.set("font-weight", "bold")
    if label.turn:
        made.set("transform", f"rotate({-label.turn} {x:.4f} {-y:.4f})")
    made.text = printable(label.text)
    if not label.ground:
        return made
    group, wide = _element("g"), _LETTER * label.size_mm * len(label.text)
    left = x - {"left": 0.0, "middle": wide / 2, "right": wide}[label.across]
    sides = {"x": left, "y": -y - 0.8 * label.size_mm, "width": wide, "height": 0.9 * label.size_mm}
    group.append(_element("rect", fill="white", **{side: f"{length:.4f}" for side, length in sides.items()}))
    group.append(made)
    return group


def _folded(text: str, letters: int) -> list[str]:
    from textwrap import wrap

    return wrap(printable(text), letters)
