"""Drawings of bosses for tests, written by hand as text: DXF by its group codes, SVG by its elements."""

from __future__ import annotations

import math
from pathlib import Path

from geartrack.boss.mesh import Bore
from geartrack.boss.trace.drawing import Drawing, read_drawing
from geartrack.job import StationsFile, Trace

BORE = Bore(38.0, 20.0, 1.5, 18.0)


def codes(*pairs: tuple[int, object]) -> str:
    """Group codes and values, as DXF has them, one a line."""
    return "".join(f"{code}\n{value}\n" for code, value in pairs)


def dxf(*entities: str, unit: int | None = 4, blocks: str = "") -> str:
    """A whole DXF text; unit is $INSUNITS, None leaves it out."""
    said = codes((9, "$INSUNITS"), (70, unit)) if unit is not None else ""
    head = codes((0, "SECTION"), (2, "HEADER"), (9, "$ACADVER"), (1, "AC1015")) + said + codes((0, "ENDSEC"))
    middle = codes((0, "SECTION"), (2, "BLOCKS")) + blocks + codes((0, "ENDSEC")) if blocks else ""
    body = codes((0, "SECTION"), (2, "ENTITIES")) + "".join(entities) + codes((0, "ENDSEC"), (0, "EOF"))
    return head + middle + body


def block(name: str, *entities: str) -> str:
    """A block's definition."""
    first = codes((0, "BLOCK"), (8, "0"), (2, name), (70, 0), (10, 0.0), (20, 0.0), (30, 0.0), (3, name))
    return first + "".join(entities) + codes((0, "ENDBLK"), (8, "0"))


def insert(name: str, x: float = 0.0, y: float = 0.0, *, scale=(1.0, 1.0), turn: float = 0.0, layer: str = "0") -> str:
    """A use of a block; turn in degrees."""
    place = ((2, name), (10, x), (20, y), (30, 0.0), (41, scale[0]), (42, scale[1]), (43, 1.0), (50, turn))
    return codes((0, "INSERT"), (8, layer), *place)


def circle(radius: float, x: float = 0.0, y: float = 0.0, layer: str = "0") -> str:
    """A circle."""
    return codes((0, "CIRCLE"), (8, layer), (10, x), (20, y), (30, 0.0), (40, radius))


def line(x1: float, y1: float, x2: float, y2: float, layer: str = "0", z2: float = 0.0) -> str:
    """A line."""
    return codes((0, "LINE"), (8, layer), (10, x1), (20, y1), (30, 0.0), (11, x2), (21, y2), (31, z2))


def polyline(corners, layer: str = "0", closed: bool = True) -> str:
    """A polyline of (x, y) or (x, y, bulge)."""
    head = ((0, "LWPOLYLINE"), (100, "AcDbEntity"), (8, layer), (100, "AcDbPolyline"), (90, len(corners)))
    points = "".join(codes((10, x), (20, y), (42, bulge[0] if bulge else 0.0)) for x, y, *bulge in corners)
    return codes(*head, (70, int(closed))) + points


def svg(*elements: str, size: str = 'width="160mm" height="120mm" viewBox="0 0 160 120"', before: str = "") -> str:
    """A whole SVG text; by default its unit is a millimetre."""
    space = 'xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink"'
    return f"{before}<svg {space} {size}>{''.join(elements)}</svg>"


def saved(folder: Path, name: str, text: str | bytes) -> Path:
    """The text in a file of the folder."""
    path = folder / name
    path.write_bytes(text if isinstance(text, bytes) else text.encode("utf-8"))
    return path


def drawing(folder: Path, name: str, text: str | bytes) -> Drawing:
    """The drawing of a text, through a file."""
    return read_drawing(saved(folder, name, text))


def file(path: Path) -> StationsFile:
    """A file as a job holds it."""
    return StationsFile(path, path.name)


def end_trace(path: Path, **keys) -> Trace:
    """A job's trace with an end view alone, seen from the pinion-nut end, 12 o'clock up."""
    return Trace(**({"end_view": file(path), "seen_from": "pinion-nut end", "twelve_oclock": "up"} | keys))


def side_trace(path: Path, **keys) -> Trace:
    """A job's trace with a profile alone, its centre line in the group AXIS, the pinion-side end to the left."""
    given = {"side_view": file(path), "side_axis": "AXIS", "pinion_side": "left", "side_shows": "profile"}
    return Trace(**(given | keys))


def rib_outline(radius: float, clock_deg: float, width: float, reach: float) -> list[tuple[float, ...]]:
    """Corners and bulges of a circle with one rib, 12 o'clock up, seen from the pinion-nut end."""
    t, half = math.radians(clock_deg), width / 2
    along, across = (math.sin(t), math.cos(t)), (math.cos(t), -math.sin(t))

    def at(out: float, aside: float) -> tuple[float, float]:
        return out * along[0] + aside * across[0], out * along[1] + aside * across[1]

    root, lean = math.sqrt(radius**2 - half**2), math.asin(half / radius)
    bulge = -math.tan((math.pi - lean) / 4)  # clockwise, half of the way round
    far = at(-radius, 0.0)
    return [(*at(root, -half),), (*at(reach, -half),), (*at(reach, half),), (*at(root, half), bulge), (*far, bulge)]
