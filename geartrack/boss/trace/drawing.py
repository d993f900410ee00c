"""A drawing as its curves, from a DXF or an SVG file, with the unit that the file says; y up, as it is looked at."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np

from geartrack.boss.trace.curves import Curve
from geartrack.errors import InputError, refuse

MOST_BYTES = 5_000_000
"""Bytes that a drawing may have; a traced outline has some thousands."""

MOST_THINGS = 50_000
"""Things in a drawing that are looked at, each use of a block counted."""

DEEPEST = 16
"""Blocks within blocks, or uses of uses."""

_HUGE = 1e7  # no drawing's number is larger


@dataclass(frozen=True, eq=False)
class Drawing:
    """What a file draws.

    curves: all that it shows. unit_mm: how long one of its units is, None where the file does not say [mm].
    unit: the unit in words. skipped: what is not read, by kind, and how often.
    """

    name: str
    curves: tuple[Curve, ...]
    unit_mm: float | None
    unit: str
    skipped: dict[str, int]


@dataclass
class Looking:
    """What was found so far in a drawing, and how much may still be looked at."""

    name: str
    curves: list[Curve] = field(default_factory=list)
    skipped: dict[str, int] = field(default_factory=dict)
    left: int = MOST_THINGS

    def count(self, things: int = 1) -> None:
        """Takes things off what may still be looked at; refuses when nothing is left."""
        self.left -= things
        if self.left < 0:
            what = f"more than {MOST_THINGS} lines, curves and blocks, blocks counted each time they are used"
            raise refuse(self.name, what, "a drawing of the boss's outline alone")

    def skip(self, kind: str) -> None:
        """Notes something that is not read."""
        kind = kind[:30]
        self.skipped[kind] = self.skipped.get(kind, 0) + 1

    def add(self, curve: Curve) -> None:
        """A curve that the drawing shows; one with a number that is no number is refused, an empty one left out."""
        points = np.concatenate([piece.points for piece in curve.pieces])
        if not (np.abs(points) < _HUGE).all():  # also true for NaN
            what = f"{curve.kind} with a coordinate that is not a number, or beyond 10 million"
            raise refuse(self.name, what, "a drawing near its own origin")
        self.count(len(points))
        if (points != points[0]).any():
            self.curves.append(curve)


def read_drawing(path: Path) -> Drawing:
    """The drawing in a file, by its name's ending; InputError with one line for whatever is no drawing of a boss."""
    name = path.name
    try:
        with path.open("rb") as file:
            data = file.read(MOST_BYTES + 1)
    except OSError as fault:
        raise refuse(name, f"cannot be read: {(fault.strerror or 'no reason given').lower()}", "a file") from None
    if len(data) > MOST_BYTES:
        raise refuse(name, f"larger than {MOST_BYTES // 1_000_000} MB", "a drawing of the boss's outline alone")
    if not data.strip():
        raise refuse(name, "is empty", "a DXF or SVG drawing of the boss's outline")
    ending = path.suffix.lower()
    if ending == ".dxf":
        from geartrack.boss.trace.dxf import from_dxf as read
    elif ending == ".svg":
        from geartrack.boss.trace.svg import from_svg as read
    else:
        raise refuse(name, "is neither a DXF nor an SVG file by its name", "a name that ends in .dxf or .svg")
    try:
        drawing = read(data, name)
    except InputError as fault:
        raise InputError(*(replace(each, where=each.where or name) for each in fault.findings)) from None
    if not drawing.curves:
        seen = ", ".join(f"{count} {kind}" for kind, count in sorted(drawing.skipped.items())[:4])
        what = "holds no lines or curves" + (f", only {seen}" if seen else "")
        raise refuse(name, what, "the boss's outline drawn as lines, arcs, polylines, splines or paths")
    return drawing
