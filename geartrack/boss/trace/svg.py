"""Curves of an SVG drawing: shapes, paths, groups, transforms and uses of other elements, y turned up.

The file is never asked of anything outside it: entities are refused, no address is followed, scripts and pictures are
left alone. Only a path's own text goes through a library.
"""

from __future__ import annotations

import codecs
import math
import re
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from geartrack.boss.trace.curves import Curve, Lines, Piece, Turn
from geartrack.boss.trace.drawing import DEEPEST, Drawing, Looking
from geartrack.boss.trace.svgtext import STILL, Affine, lengths, numbers_in, path_pieces, transform_of, view_of
from geartrack.errors import refuse

_SVG = "{http://www.w3.org/2000/svg}"
_HREFS = ("href", "{http://www.w3.org/1999/xlink}href")
_LABEL = "{http://www.inkscape.org/namespaces/inkscape}label"
_GROUPS = {"g", "svg", "a", "switch", "symbol"}
_NOT_DRAWN = {"defs", "clipPath", "mask", "pattern", "marker", "symbol", "metadata", "title", "desc", "style", "script"}
_HIDDEN = re.compile(r"(display\s*:\s*none|visibility\s*:\s*(hidden|collapse))\b")
_MOVED_BY_STYLE = re.compile(r"(^|[;\s])(transform|translate|rotate|scale|offset-path)\s*:")
_DEEPEST_GROUP = 200


@dataclass(frozen=True, eq=False)
class _In:
    """Where elements stand: the map to the page, the group's name, all names round it, depth, uses round it."""

    affine: Affine
    layer: str = ""
    names: frozenset[str] = frozenset()
    depth: int = 0
    uses: int = 0


def from_svg(data: bytes, name: str) -> Drawing:
    """The drawing in an SVG file's bytes. Raises InputError."""
    root = _root(data, name)
    unit_mm, unit = view_of(root, name)
    looking = Looking(name)
    by_id = {element.get("id"): element for element in root.iter() if element.get("id")}
    for child in root:
        _walk(child, _In(STILL), looking, by_id)
    upright = np.array([[1.0, 0.0], [0.0, -1.0]])  # a page's y runs down, a drawing's up
    curves = tuple(curve.moved(upright, np.zeros(2)) for curve in looking.curves)
    return Drawing(name, curves, unit_mm, unit, looking.skipped)


def _root(data: bytes, name: str) -> Any:
    from lxml import etree

    if data[:2] == b"\x1f\x8b":
        raise refuse(name, "is compressed", "the drawing saved as plain SVG")
    try:
        wide = data.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE))
        text = data.decode("utf-16" if wide else "utf-8-sig")
    except UnicodeDecodeError:
        raise refuse(name, "is not UTF-8 text", "the drawing saved as plain SVG, UTF-8") from None
    if re.search(r"<!\s*(ENTITY|ELEMENT|ATTLIST)", text, re.IGNORECASE):
        raise refuse(name, "declares entities, which a drawing does not need", "the drawing saved as plain SVG")
    parser = etree.XMLParser(
        encoding="utf-8",
        resolve_entities=False,
        no_network=True,
        load_dtd=False,
        huge_tree=False,
        remove_comments=True,
        remove_pis=True,
    )
    try:
        root = etree.fromstring(text.encode("utf-8"), parser)
    except etree.XMLSyntaxError as fault:
        what = f"cannot be read as SVG: {(str(fault.msg).splitlines() or ['no XML'])[0][:80]}"
        raise refuse(name, what, "the drawing saved as plain SVG") from None
    if root.tag not in (f"{_SVG}svg", "svg"):
        raise refuse(name, f"its first element is {str(root.tag)[:40]!r}, not svg", "an SVG drawing")
    return root


def _walk(element: Any, place: _In, looking: Looking, by_id: dict[str, Any]) -> None:
    """Adds the curves of an element and of what is in it."""
    looking.count()
    tag = element.tag.removeprefix(_SVG) if isinstance(element.tag, str) else ""
    if tag.startswith("{") or tag in _NOT_DRAWN or not tag:
        return
    if _hidden(element):
        looking.skip("hidden")
        return
    inside = _named(element, tag, place, looking)
    if tag in _GROUPS:
        _open_group(element, tag, inside, looking)
        for child in element:
            _walk(child, inside, looking, by_id)
    elif tag == "use":
        _use(element, inside, looking, by_id)
    elif tag in _SHAPES:
        for pieces in _SHAPES[tag](element, looking.name):
            curve = Curve(pieces, inside.layer, inside.names, tag)
            with np.errstate(invalid="ignore", over="ignore"):  # what is not finite is refused by the next line
                curve = curve.moved(inside.affine.turn, inside.affine.shift)
            looking.add(curve)
    else:
        looking.skip(tag)


def _hidden(element: Any) -> bool:
    return (
        element.get("display") == "none"
        or element.get("visibility") in ("hidden", "collapse")
        or bool(_HIDDEN.search(element.get("style") or ""))
    )


def _named(element: Any, tag: str, place: _In, looking: Looking) -> _In:
    """The place within an element: its transform, and its names added to those round it."""
    own = [text.strip() for text in (element.get(_LABEL), element.get("id")) if text and text.strip()]
    if place.depth >= _DEEPEST_GROUP:
        raise refuse(looking.name, f"groups within groups more than {_DEEPEST_GROUP} deep", "the groups taken apart")
    if _MOVED_BY_STYLE.search(element.get("style") or ""):
        raise refuse(looking.name, f"{tag} is moved by its style", "transform as an attribute, or the paths flattened")
    affine = place.affine.then_inside(transform_of(element.get("transform"), looking.name))
    layer = own[0] if own and tag in ("g", "svg") else place.layer
    names = place.names | {text.lower() for text in own}
    return replace(place, affine=affine, layer=layer, names=names, depth=place.depth + 1)


def _open_group(element: Any, tag: str, inside: _In, looking: Looking) -> None:
    if tag in ("svg", "symbol") and element.get("viewBox"):
        raise refuse(looking.name, "a drawing with a view of its own lies in the drawing", "its parts ungrouped")


def _use(element: Any, place: _In, looking: Looking, by_id: dict[str, Any]) -> None:
    """What a use shows: the element it names, moved."""
    href = next((element.get(key) for key in _HREFS if element.get(key)), "")
    if not href.startswith("#"):
        raise refuse(looking.name, f"uses {href[:60]!r}, which lies outside the file", "all of it in one file")
    if place.uses >= DEEPEST:
        raise refuse(looking.name, f"uses of uses more than {DEEPEST} deep, at {href[:40]!r}", "the clones unlinked")
    shown = by_id.get(href[1:])
    if shown is None:
        looking.skip("use of what is not there")
        return
    x, y = lengths(element, ("x", "y"), looking.name)
    affine = place.affine.then_inside(Affine(np.eye(2), np.array([x, y])))
    inside = replace(place, affine=affine, uses=place.uses + 1)
    if shown.tag.removeprefix(_SVG) == "symbol":
        inside = _named(shown, "symbol", inside, looking)
        _open_group(shown, "symbol", inside, looking)
        for child in shown:
            _walk(child, inside, looking, by_id)
    else:
        _walk(shown, inside, looking, by_id)


Shown = list[tuple[Piece, ...]]


def _line(element: Any, name: str) -> Shown:
    x1, y1, x2, y2 = lengths(element, ("x1", "y1", "x2", "y2"), name)
    return [(Lines(np.array([[x1, y1], [x2, y2]])),)]


def _polyline(element: Any, name: str) -> Shown:
    numbers = numbers_in(element.get("points") or "", name)
    points = np.array(numbers[: len(numbers) // 2 * 2]).reshape(-1, 2)
    if len(points) < 2:
        return []
    closed = element.tag.removeprefix(_SVG) == "polygon"
    return [(Lines(np.concatenate([points, points[:1]]) if closed else points),)]


def _ellipse(element: Any, name: str) -> Shown:
    cx, cy, rx, ry = lengths(element, ("cx", "cy", "rx", "ry"), name)
    if element.get("r") is not None:
        rx = ry = lengths(element, ("r",), name)[0]
    if rx <= 0 or ry <= 0:
        return []
    return [(Turn(np.array([[cx, cy], [cx + rx, cy], [cx, cy + ry]]), 0.0, 2 * math.pi),)]


def _rect(element: Any, name: str) -> Shown:
    """A rectangle, its corners rounded by quarter ellipses where it says so."""
    x, y, width, height, rx, ry = lengths(element, ("x", "y", "width", "height", "rx", "ry"), name)
    if width <= 0 or height <= 0:
        return []
    rx, ry = (rx if element.get("rx") else ry), (ry if element.get("ry") else rx)
    rx, ry = min(rx, width / 2), min(ry, height / 2)
    if rx <= 0 or ry <= 0:
        corners = np.array([[0, 0], [1, 0], [1, 1], [0, 1], [0, 0]]) * [width, height] + [x, y]
        return [(Lines(corners),)]
    pieces: list[Piece] = []
    corners = np.array([[1, 0], [1, 1], [0, 1], [0, 0]])  # in turn, from the end of the upper side on
    last = np.array([x + rx, y])
    for number, (right, down) in enumerate(corners):
        centre = np.array([x + rx + right * (width - 2 * rx), y + ry + down * (height - 2 * ry)])
        axes = np.array([[0, 0], [rx, 0], [0, ry]])
        turn = Turn(centre + axes, (number - 1) * math.pi / 2, math.pi / 2)
        first, end = turn.flat(1.0)[[0, -1]]
        pieces += [Lines(np.array([last, first])), turn]
        last = end
    return [tuple(pieces)]


def _path(element: Any, name: str) -> Shown:
    return path_pieces(element.get("d") or "", name)


_SHAPES = {
    "line": _line,
    "polyline": _polyline,
    "polygon": _polyline,
    "circle": _ellipse,
    "ellipse": _ellipse,
    "rect": _rect,
    "path": _path,
}
