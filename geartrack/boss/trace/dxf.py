"""Curves of a DXF drawing: the model space, blocks within blocks, each entity as exact pieces moved to the world."""

from __future__ import annotations

import io
import logging
import math
import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

import numpy as np

from geartrack.boss.trace.curves import Curve, Lines, Piece, Spline, Turn
from geartrack.boss.trace.drawing import DEEPEST, MOST_THINGS, Drawing, Looking
from geartrack.errors import InputError, refuse
from geartrack.frame import Array
from geartrack.units import parse_length

UNITS = MappingProxyType({1: "in", 2: "ft", 4: "mm", 5: "cm", 6: "m", 13: "µm"})
"""What $INSUNITS means, as far as anybody draws a boss in it."""

_STARTS = re.compile(rb"(?m)^[ \t]*0[ \t]*\r?$")  # the group code that starts each thing, and some zeros
_AS_TEXT = "the drawing saved as DXF in text form"
_FLAT = 1e-6  # of a curve's size: what lies out of the drawing's plane by more is no part of a flat drawing
_SPLINE_FRAME = 16  # flag of a polyline's vertex that is no point of it but controls a spline
_MESHES = 16 | 64  # flags of a polyline that is a mesh


@dataclass(frozen=True)
class _In:
    """Where entities stand: the matrix to the world, the layer that 0 stands for within a block, how deep."""

    matrix: Any
    layer: str | None = None
    depth: int = 0


def from_dxf(data: bytes, name: str) -> Drawing:
    """The drawing in a DXF file's bytes. Raises InputError; the file is recovered as far as it can be."""
    from ezdxf.math import Matrix44

    document = _document(data, name)
    looking = Looking(name)
    hidden = {layer.dxf.name.lower() for layer in document.layers if layer.is_off() or layer.is_frozen()}
    _walk(document.modelspace(), _In(Matrix44()), looking, hidden)
    unit = UNITS.get(document.header.get("$INSUNITS", 0), "")
    return Drawing(name, tuple(looking.curves), parse_length(f"1 {unit}") if unit else None, unit, looking.skipped)


def _document(data: bytes, name: str) -> Any:
    from ezdxf import recover

    if data.startswith(b"AutoCAD Binary DXF"):
        raise refuse(name, "is a binary DXF file", _AS_TEXT)
    if data[:4] == b"AC10":
        raise refuse(name, "is a DWG file", _AS_TEXT)
    if len(_STARTS.findall(data)) > 4 * MOST_THINGS:  # before a library makes something of each
        raise refuse(name, "far more in it than an outline has", "a drawing of the boss's outline alone")
    log = logging.getLogger("ezdxf")
    level = log.level
    log.setLevel(logging.CRITICAL)  # what it repairs is its own talk; what it cannot read is said below
    try:
        document, _ = recover.read(io.BytesIO(data))
    except Exception as fault:  # recovery of a broken file raises whatever it meets
        raise refuse(name, f"cannot be read as DXF: {_first_line(fault)}", _AS_TEXT) from None
    finally:
        log.setLevel(level)
    return document


def _first_line(fault: BaseException) -> str:
    return (str(fault).splitlines() or [type(fault).__name__])[0][:80]


def _walk(entities: Iterable[Any], place: _In, looking: Looking, hidden: set[str]) -> None:
    """Adds the curves of a layout or a block."""
    for entity in entities:
        looking.count()
        kind = entity.dxftype()
        if kind != "INSERT" and (kind not in _READ or (kind == "POLYLINE" and entity.dxf.flags & _MESHES)):
            looking.skip(kind)
            continue
        layer = entity.dxf.get("layer", "0")
        if layer == "0" and place.layer is not None:
            layer = place.layer
        if layer.lower() in hidden or entity.dxf.get("invisible", 0):
            looking.skip("hidden")
            continue
        try:
            if kind == "INSERT":
                _walk_block(entity, place, layer, looking, hidden)
            else:
                pieces = [_placed(*made, place.matrix) for made in _READ[kind](entity)]
                if pieces:
                    looking.add(Curve(tuple(pieces), layer, frozenset({layer.lower()}), kind))
        except InputError:
            raise
        except Exception as fault:  # a damaged entity raises whatever it meets
            what = f"{kind} on layer {layer} cannot be read: {_first_line(fault)}"
            raise refuse(looking.name, what, "that entity drawn anew") from None


def _walk_block(insert: Any, place: _In, layer: str, looking: Looking, hidden: set[str]) -> None:
    if place.depth >= DEEPEST:
        what = f"blocks within blocks more than {DEEPEST} deep, at {str(insert.dxf.get('name', ''))[:40]!r}"
        raise refuse(looking.name, what, "the blocks exploded")
    block = insert.block()
    if block is None:
        looking.skip("INSERT of a block that is not there")
        return
    repeated = insert.dxf.get("row_count", 1) > 1 or insert.dxf.get("column_count", 1) > 1
    for one in insert.multi_insert() if repeated else (insert,):
        looking.count()
        _walk(block, _In(one.matrix44() * place.matrix, layer, place.depth + 1), looking, hidden)


Made = tuple[Callable[[Array], Piece], Sequence[Any]]
"""How a piece is made of its points once these are moved, and the points in space."""


def _placed(make: Callable[[Array], Piece], points: Sequence[Any], matrix: Any) -> Piece:
    moved = np.array([(point.x, point.y, point.z) for point in matrix.transform_vertices(points)])
    size = np.ptp(moved, axis=0).max()
    if np.ptp(moved[:, 2]) > _FLAT * max(size, 1.0):
        what = (
            f"a curve leaves the drawing's plane: its height goes from {moved[:, 2].min():g} to {moved[:, 2].max():g}"
        )
        raise refuse("", what, "a flat drawing, as seen from above")
    return make(moved[:, :2])


def _line(entity: Any) -> list[Made]:
    return [(Lines, [entity.dxf.start, entity.dxf.end])]


def _arc(entity: Any) -> list[Made]:
    """A circle, or an arc counter-clockwise in its own plane."""
    radius, ocs, centre = entity.dxf.radius, entity.ocs(), entity.dxf.center
    start, sweep = 0.0, 2 * math.pi
    if entity.dxftype() == "ARC":
        start = math.radians(entity.dxf.start_angle)
        sweep = math.radians((entity.dxf.end_angle - entity.dxf.start_angle) % 360.0) or 2 * math.pi
    return [_turn([ocs.to_wcs(centre + step) for step in ((0, 0, 0), (radius, 0, 0), (0, radius, 0))], start, sweep)]


def _ellipse(entity: Any) -> list[Made]:
    centre, start = entity.dxf.center, entity.dxf.start_param
    sweep = (entity.dxf.end_param - start) % (2 * math.pi) or 2 * math.pi
    return [_turn([centre, centre + entity.dxf.major_axis, centre + entity.minor_axis], start, sweep)]


def _turn(points: Sequence[Any], start: float, sweep: float) -> Made:
    return (lambda moved: Turn(moved, start, sweep)), points


def _spline(entity: Any) -> list[Made]:
    curve = entity.construction_tool()
    weights = tuple(curve.weights()) or None
    return [(lambda moved: Spline(moved, curve.order, tuple(curve.knots()), weights), curve.control_points)]


def _lwpolyline(entity: Any) -> list[Made]:
    height = entity.dxf.get("elevation", 0.0)
    corners = [((x, y, height), bulge) for x, y, bulge in entity.get_points("xyb")]
    return _bulged(corners, entity.closed, entity.ocs())


def _polyline(entity: Any) -> list[Made]:
    kept = [vertex for vertex in entity.vertices if not vertex.dxf.get("flags", 0) & _SPLINE_FRAME]
    corners = [(tuple(vertex.dxf.location), vertex.dxf.get("bulge", 0.0)) for vertex in kept]
    return _bulged(corners, entity.is_closed, entity.ocs())


def _bulged(corners: Sequence[tuple[Any, float]], closed: bool, ocs: Any) -> list[Made]:
    """Lines and arcs from corner to corner; a bulge is the tangent of a quarter of the arc's sweep."""
    pairs = list(zip(corners, [*corners[1:], *(corners[:1] if closed else [])], strict=False))
    made: list[Made] = []
    for (start, bulge), (end, _) in pairs:
        if bulge == 0 or start[:2] == end[:2]:
            made.append((Lines, [ocs.to_wcs(start), ocs.to_wcs(end)]))
            continue
        (x, y, z), (to_x, to_y, _) = start, end
        lean = (1 - bulge**2) / (4 * bulge)  # of the centre from the chord's middle, in chords to its left
        centre = ((x + to_x) / 2 - lean * (to_y - y), (y + to_y) / 2 + lean * (to_x - x), z)
        out = (x - centre[0], y - centre[1])
        axes = ((centre[0] + out[0], centre[1] + out[1], z), (centre[0] - out[1], centre[1] + out[0], z))
        made.append(_turn([ocs.to_wcs(point) for point in (centre, *axes)], 0.0, 4 * math.atan(bulge)))
    return made


_READ: Mapping[str, Callable[[Any], list[Made]]] = MappingProxyType(
    {
        "LINE": _line,
        "CIRCLE": _arc,
        "ARC": _arc,
        "ELLIPSE": _ellipse,
        "SPLINE": _spline,
        "LWPOLYLINE": _lwpolyline,
        "POLYLINE": _polyline,
    }
)
