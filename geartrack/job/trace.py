"""A boss as traced or drawn: an end view about the bore, a side view along it, or both."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from types import MappingProxyType
from typing import Annotated, Literal

from pydantic import PlainSerializer, PlainValidator

from geartrack.errors import refuse
from geartrack.job.fields import Plain
from geartrack.job.files import BossFile
from geartrack.job.parts import Clock, Table
from geartrack.job.tools import TOOLS
from geartrack.units import parse_length

DIRECTIONS = MappingProxyType({"up": 0.0, "right": math.pi / 2, "down": math.pi, "left": -math.pi / 2})
"""Directions on a drawing as angles clockwise from up [rad]."""

BORE = "bore"


@dataclass(frozen=True)
class Known:
    """A length known in a drawing [mm]: of the one straight line, or across the one circle, on a layer.

    layer "" and no length: the pilot bore's own circle.
    """

    layer: str = ""
    length_mm: float | None = None


def _known(raw: object) -> Known:
    if isinstance(raw, Known):
        return raw
    right = 'such as "SCALE = 50 mm" (a layer, and how long its line is), or "bore" for the pilot bore\'s circle'
    if not isinstance(raw, str):
        raise refuse("", "is no scale", right)
    layer, sign, length = (part.strip() for part in raw.rpartition("="))
    if not sign and length == BORE:
        return Known()
    if not layer or not length:
        raise refuse("", f"{raw[:40]!r} is no scale", right)
    size = parse_length(length)
    if not 1 <= size <= 2000:
        raise refuse("", f"{length} is out of range", "a length from 1 mm to 2 m")
    return Known(layer, size)


def _written(known: Known) -> str:
    return BORE if known.length_mm is None else f"{known.layer} = {known.length_mm!r} mm"


def _direction(raw: object) -> float:
    if isinstance(raw, str) and raw in DIRECTIONS:
        return DIRECTIONS[raw]
    try:
        return Plain("angle", -180, 180).read(raw)
    except ValueError:
        right = f'{", ".join(DIRECTIONS)}, or an angle clockwise from up, such as "30 deg"'
        raise refuse("", f"{str(raw)[:40]!r} is no direction on the drawing", right) from None


Scale = Annotated[Known, PlainValidator(_known), PlainSerializer(_written)]
Direction = Annotated[float, PlainValidator(_direction), PlainSerializer(Plain("angle", -180, 180).write)]


class Trace(Table):
    """Drawings of the boss, DXF or SVG.

    twelve_oclock: where 12 o'clock lies on the end view, clockwise from up [rad]. side_up: the clock angle [rad] of
    the metal above the bore's centre line on the side view (to the right of it, where it stands upright). give_or_take:
    how well the lines were traced, 2-sigma [mm].
    """

    end_view: BossFile | None = None
    end_layer: str | None = None
    end_bore: str | None = None
    end_scale: Scale | None = None
    seen_from: Literal["pinion-nut end", "other end"] | None = None
    twelve_oclock: Direction | None = None
    side_view: BossFile | None = None
    side_layer: str | None = None
    side_axis: str | None = None
    side_scale: Scale | None = None
    pinion_side: Literal["left", "right", "up", "down"] | None = None
    side_shows: Literal["profile", "outline"] | None = None
    side_up: Clock | None = None
    give_or_take: Annotated[float, Plain("length", 0.01, 5)] | None = None

    @property
    def give_mm(self) -> float:
        """How well its lines were traced, 2-sigma [mm]."""
        return TOOLS["trace"].two_sigma_mm if self.give_or_take is None else self.give_or_take

    @property
    def most_metal(self) -> bool:
        """Whether it shows no more than the most metal that there can be: outlines, with no profile along the bore."""
        return self.side_shows != "profile"


_NEEDED = {
    "end_view": ("seen_from", "twelve_oclock"),
    "side_view": ("side_axis", "pinion_side", "side_shows"),
}
_OF_VIEW = {
    "end_view": ("end_layer", "end_bore", "end_scale", "seen_from", "twelve_oclock"),
    "side_view": ("side_layer", "side_axis", "side_scale", "pinion_side", "side_shows", "side_up"),
}


def trace_faults(trace: Trace) -> Iterator[tuple[str, str, str]]:
    """What its keys need of each other: (key, what is wrong, what would be right)."""
    from geartrack.job.keys import TRACE_KEYS

    if trace.end_view is None and trace.side_view is None:
        yield "end_view", "neither an end view nor a side view", "end_view, side_view or both"
    for view, keys in _OF_VIEW.items():
        for key in keys:
            given, about = getattr(trace, key) is not None, TRACE_KEYS[key]
            if given and getattr(trace, view) is None:
                yield key, f"given, but no {view} is", f"{view} = {TRACE_KEYS[view].example}"
            elif not given and getattr(trace, view) is not None and key in _NEEDED[view]:
                yield key, "not given, and the drawing does not say it", f"{key} = {about.example}: {about.means}"
    if trace.side_scale == Known():
        yield "side_scale", "a side view shows no bore circle", f"side_scale = {TRACE_KEYS['side_scale'].example}"
    if trace.side_shows == "outline":
        if trace.end_view is None:
            yield "side_shows", "an outline from the side alone says nothing of the other sides", "end_view as well"
        if trace.side_up is None:
            about = TRACE_KEYS["side_up"]
            yield "side_up", "not given, and the drawing does not say it", f"side_up = {about.example}: {about.means}"
    elif trace.side_up is not None:
        yield "side_up", "given, but the side view is a profile that holds all round", "leave it out"
