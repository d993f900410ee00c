"""What SVG writes as text within attributes: transforms, lengths, lists of numbers, paths, the page and its view."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from geartrack.boss.trace.curves import Bezier, Lines, Piece, Turn
from geartrack.errors import refuse
from geartrack.frame import Array
from geartrack.units import parse_length

MOST_NUMBERS = 200_000
"""Numbers and commands in one path, counted before it is read."""

PIXELS_PER_IN = 96
"""CSS Values and Units 3, section 5.2 (from memory): a pixel is the 96th part of an inch."""

_NUMBER = r"[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?"
_LENGTH = re.compile(rf"\s*({_NUMBER})\s*(px|mm|cm|in|pt|pc|q)?\s*", re.IGNORECASE)
_STEP = re.compile(
    rf"\s*,?\s*(matrix|translate|scale|rotate|skewX|skewY)\s*\(([\s,]*{_NUMBER}(?:[\s,]*{_NUMBER})*)\s*\)"
)
_IN_PATH = re.compile(r"[MmZzLlHhVvCcSsQqTtAa0-9eE+\-.,\s]*")
_PHYSICAL = {"mm": "1 mm", "cm": "1 cm", "in": "1 in"}


@dataclass(frozen=True, eq=False)
class Affine:
    """The map p -> turn p + shift: turn (2, 2) [-], shift (2,) [any]."""

    turn: Array
    shift: Array

    def then_inside(self, inner: Affine) -> Affine:
        """The map of what stands inside, where the inner one comes first."""
        return Affine(self.turn @ inner.turn, self.turn @ inner.shift + self.shift)


STILL = Affine(np.eye(2), np.zeros(2))


def transform_of(text: str | None, name: str) -> Affine:
    """The map that a transform attribute says; `name` is the file's, for the refusal of what is no transform."""
    if not text or text.strip() in ("", "none"):
        return STILL
    affine, at = STILL, 0
    while at < len(text.rstrip()):
        match = _STEP.match(text, at)
        made = _one(match[1], [float(n) for n in re.findall(_NUMBER, match[2])]) if match else None
        if match is None or made is None:
            raise refuse(name, f"transform {text[:60]!r} is not understood", 'such as "translate(3 4) rotate(30)"')
        affine, at = affine.then_inside(made), match.end()
    return affine


def _one(kind: str, n: Sequence[float]) -> Affine | None:
    """One step of a transform, None for a wrong count of numbers."""
    count = len(n)
    if kind == "matrix" and count == 6:
        return Affine(np.array([[n[0], n[2]], [n[1], n[3]]]), np.array([n[4], n[5]]))
    if kind == "translate" and count in (1, 2):
        return Affine(np.eye(2), np.array([n[0], n[1] if count == 2 else 0.0]))
    if kind == "scale" and count in (1, 2):
        return Affine(np.diag([n[0], n[-1]]), np.zeros(2))
    if kind == "rotate" and count in (1, 3):
        cos, sin = math.cos(math.radians(n[0])), math.sin(math.radians(n[0]))
        turn, about = np.array([[cos, -sin], [sin, cos]]), np.array(n[1:3] if count == 3 else [0.0, 0.0])
        return Affine(turn, about - turn @ about)
    if kind in ("skewX", "skewY") and count == 1:
        lean = math.tan(math.radians(n[0]))
        return Affine(
            np.array([[1.0, lean], [0.0, 1.0]] if kind == "skewX" else [[1.0, 0.0], [lean, 1.0]]), np.zeros(2)
        )
    return None


def lengths(element: Any, keys: Sequence[str], name: str) -> list[float]:
    """Lengths of attributes in the drawing's unit, 0 where not given; a real length counts 96 units to the inch."""
    found = []
    for key in keys:
        text = element.get(key)
        if text is None or text.strip() == "auto":
            found.append(0.0)
            continue
        match = _LENGTH.fullmatch(text)
        if match is None:
            raise refuse(name, f"{key} {text[:40]!r} is no length here", "a number, or a number with mm or in")
        found.append(float(match[1]) * _pixels((match[2] or "px").lower()))
    return found


def _pixels(unit: str) -> float:
    """How many pixels a unit has."""
    inch = parse_length("1 in")
    if unit in _PHYSICAL:
        return parse_length(_PHYSICAL[unit]) / inch * PIXELS_PER_IN
    return {"px": 1.0, "pt": PIXELS_PER_IN / 72, "pc": PIXELS_PER_IN / 6, "q": PIXELS_PER_IN * 0.25 / inch}[unit]


def numbers_in(text: str, name: str) -> list[float]:
    """The numbers of a list between blanks and commas."""
    found = re.findall(_NUMBER, text)
    if re.sub(rf"{_NUMBER}|[\s,]", "", text):
        raise refuse(name, f"points {text[:40]!r} are no list of numbers", "x,y x,y ...")
    return [float(number) for number in found]


def view_of(root: Any, name: str) -> tuple[float | None, str]:
    """How long a unit of the page is [mm], None where it does not say, and in which unit it says so.

    A width or height in mm, cm or in gives the unit; without a viewBox a unit is then a pixel, 96 to the inch.
    """
    sizes = [_real_size(root.get(key)) for key in ("width", "height")]
    box = numbers_in(root.get("viewBox") or "", name)
    if not box:
        real = [unit for size, unit in sizes if size is not None]
        return (parse_length("1 in") / PIXELS_PER_IN if real else None), real[0] if real else ""
    if len(box) != 4 or box[2] <= 0 or box[3] <= 0:
        raise refuse(name, f"viewBox {root.get('viewBox')[:40]!r}", "four numbers, the last two more than 0")
    scales = [(size / across, unit) for (size, unit), across in zip(sizes, box[2:], strict=True) if size is not None]
    if not scales:
        return None, ""
    fit = (root.get("preserveAspectRatio") or "").split()
    values = [scale for scale, _ in scales]
    if fit[:1] == ["none"] and max(values) > min(values) * 1.001:
        raise refuse(
            name, "its page stretches the drawing more one way than the other", "a page as tall as its viewBox"
        )
    return max(values) if "slice" in fit else min(values), scales[0][1]


def _real_size(text: str | None) -> tuple[float | None, str]:
    """A page's width or height [mm] where it is given in mm, cm or in, and that unit."""
    match = _LENGTH.fullmatch(text or "")
    unit = (match[2] or "").lower() if match else ""
    if match is None or unit not in _PHYSICAL or float(match[1]) <= 0:
        return None, ""
    return float(match[1]) * parse_length(_PHYSICAL[unit]), unit


def path_pieces(text: str, name: str) -> list[tuple[Piece, ...]]:
    """The pieces of each part of a path that is drawn in one go."""
    from svgelements import Path

    if len(re.findall(r"[A-DF-Za-df-z]|[-+]?[0-9.]+", text)) > MOST_NUMBERS:
        raise refuse(name, f"a path of more than {MOST_NUMBERS} numbers", "the boss's outline alone")
    if not _IN_PATH.fullmatch(text) or text.lstrip()[:1] not in ("M", "m", ""):
        raise refuse(name, f"path {text.strip()[:40]!r} is not understood", "a path that starts with M and a place")
    try:
        segments = list(Path(text))
    except Exception:  # a damaged path raises whatever it meets
        raise refuse(
            name, f"path {text.strip()[:40]!r} ends early or holds a wrong flag", "the path drawn anew"
        ) from None
    found: list[list[Piece]] = []
    for segment in segments:
        kind = type(segment).__name__
        if kind == "Move" or not found:
            found.append([])
        if kind != "Move":
            found[-1].append(_piece(segment, kind))
        if kind == "Close":
            found.append([])
    return [tuple(pieces) for pieces in found if pieces]


def _piece(segment: Any, kind: str) -> Piece:
    def at(point: Any) -> tuple[float, float]:
        return float(point.x), float(point.y)

    if kind in ("Line", "Close"):
        return Lines(np.array([at(segment.start), at(segment.end)]))
    if kind == "Arc":
        start, sweep = float(segment.get_start_t()), float(segment.sweep)
        return Turn(np.array([at(segment.center), at(segment.prx), at(segment.pry)]), start, sweep)
    controls = [segment.control] if kind == "QuadraticBezier" else [segment.control1, segment.control2]
    return Bezier(np.array([at(segment.start), *map(at, controls), at(segment.end)]))
