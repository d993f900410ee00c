"""The bare-case card's geometry: depths from the parting face, bars, walls -> end face, offset, boss (DESIGN 1).

In words, seen along the ring's centre line, the case lying with the pinion-nut end down and its caps off:

        ______              ______     parting face of the caps; h and k are depths below it, toward the pinion nut
              \\    .       /           ring's centre line, the origin O, h - D/2 below the parting face
               \\__________/            saddle bottom, h below the parting face and D/2 below O
                  ______
                 | boss |              near end of the boss, k below the parting face, so k - (h - D/2) below O
                 |______|              pinion-side end of the boss, its length L further down: X_e below O
                  pinion

Assumed: X points down this page, toward the pinion nut, and the parting face is square to it. A saddle cut deeper than
half its bore (h > D/2) puts O below the parting face; nothing says that h is D/2. The boss's near end is the one a rod
through the open caps meets first, away from the pinion's head; its pinion-side end is where stations start.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from geartrack.job import TOOLS
from geartrack.quantity import Origin, Quantity, give_or_take
from geartrack.units import Units, parse_length, show_length

CALIPER_MM, DEPTH_MM = TOOLS["caliper"].two_sigma_mm, TOOLS["depth micrometer"].two_sigma_mm
BALL_CALIPER_MM = parse_length("0.004 in")  # a wall, by hand: published, web, one caliper, five tries
SHAKE_MM = parse_length("0.002 in")  # of a bar that was turned to fit; from memory
BAR_NOT_READ_MM = parse_length("0.1 mm")  # a bar taken as large as its bore; from memory
OVER_TIPS = (
    0.008  # of a ring's diameter, by which it is larger over the tips than at its outer pitch circle; from memory
)
TILT = math.radians(0.5)  # of a parting face that nobody held a square to [rad]; from memory
WALL_CLOCKS_DEG = (-60.0, -30.0, 0.0, 30.0, 60.0)
USUAL_WALL = tuple(parse_length(text) for text in ("0.25 in", "0.35 in", "0.45 in"))  # low confidence, from memory
UNSEEN_MM = 2.0  # how far a rib or lip that nobody looked for may stand out; from memory
ROUND_MM = 0.2  # walls that differ by less make a round boss
_FLAT_DEG = 5.0  # between the flats that stand for an unsymmetrical boss: proud by less than 0.03 mm


@dataclass(frozen=True)
class Place:
    """Where ring, boss and pinion lie: end face to the ring's centre line, hypoid offset [mm]; the sums, shown."""

    end_face: Quantity
    offset: Quantity
    sums: tuple[str, ...]


def ring_below_mm(saddle_depth_mm: float, saddle_bore_mm: float) -> float:
    """How far the ring's centre line lies below the parting face: h - D/2.

    >>> ring_below_mm(47.0, 78.0)
    8.0
    """
    return saddle_depth_mm - saddle_bore_mm / 2


def place(said: Mapping[str, Any], units: Units) -> Place:
    """End face and offset from the entries that are there; see the module for the sketch.

    said: saddle_depth h, saddle_bore D, boss_depth k, boss_length L, over_bars c, pilot_bore [mm]; saddle_bar s and
    pilot_bar p are taken as large as their bores where they were not read; square: "yes", or not said.
    """
    h, bore, k, length = (said[key] for key in ("saddle_depth", "saddle_bore", "boss_depth", "boss_length"))
    saddle_bar, pilot_bar = said.get("saddle_bar", bore), said.get("pilot_bar", said["pilot_bore"])
    below = ring_below_mm(h, bore)
    near = k - below
    offset = max(0.0, said["over_bars"] - saddle_bar / 2 - pilot_bar / 2)
    bars = [CALIPER_MM if key in said else BAR_NOT_READ_MM for key in ("saddle_bar", "pilot_bar")]
    tilt = 0.0 if said.get("square") else offset * math.tan(TILT)
    show = [show_length(v, units) for v in (h, bore, below, k, near, length, near + length)]
    c, s, p, e = (show_length(v, units) for v in (said["over_bars"], saddle_bar, pilot_bar, offset))
    sums = (
        f"h - D/2 = {show[0]} - {show[1]}/2 = {show[2]}: the ring's centre line lies this far below the parting face",
        f"k - (h - D/2) = {show[3]} - {show[2]} = {show[4]}: the boss's near end below the ring's centre line",
        f"+ L = {show[4]} + {show[5]} = {show[6]}: the boss's pinion-side end to the ring's centre line",
        f"c - s/2 - p/2 = {c} - {s}/2 - {p}/2 = {e}: the hypoid offset",
    )
    end_spread = math.hypot(DEPTH_MM, DEPTH_MM, CALIPER_MM / 2, CALIPER_MM, tilt)
    offset_spread = math.hypot(CALIPER_MM, SHAKE_MM, *(bar / 2 for bar in bars))
    return Place(
        give_or_take(near + length, end_spread, Origin.MEASURED, "saddle depth: k - (h - D/2) + L"),
        give_or_take(offset, offset_spread, Origin.MEASURED, "bar over bar: c - s/2 - p/2"),
        sums,
    )


def ring_diameter(typed_mm: float) -> Quantity:
    """The ring's outer pitch diameter from what was typed [mm]: a maker's, or over the tips, a little more."""
    source = "a maker's figure, or over the tips: from memory"
    return Quantity(typed_mm, (1 - OVER_TIPS) * typed_mm, typed_mm, Origin.TYPED, source)


def outside(walls: Sequence[float] | None, stands_out_mm: float | None) -> Quantity:
    """How far the boss's outside may be over what its parts say [mm].

    walls: as read [mm], None: taken as usual. stands_out_mm: what stands out on the ring's side, 0 for nothing, None
    where nobody looked.
    """
    low, usual, high = USUAL_WALL
    spread = (usual - low, high - usual)
    if walls is not None:
        uneven = (max(walls) - min(walls)) / 2 if is_round(walls) else 0.0
        spread = (uneven + BALL_CALIPER_MM,) * 2
    lump = UNSEEN_MM if stands_out_mm is None else stands_out_mm
    read = walls is not None and stands_out_mm is not None
    origin, source = (Origin.MEASURED, "ball caliper") if read else (Origin.DEFAULT, "from memory")
    return Quantity(0.0, -spread[0], spread[1] + lump, origin, source)


def boss_parts(pilot_bore_mm: float, walls: Sequence[float] | None, length_mm: float) -> list[dict[str, Any]]:
    """The boss as parts of a job, from the bore and the walls at 10, 11, 12, 1 and 2 o'clock [mm].

    Walls that agree make one cylinder of their mean. Others make a cylinder of the least wall, and on it flats every 5
    degrees from 10 to 2 o'clock, through the readings and straight lines of wall between them: never less metal than
    was read there. Along the boss all of it runs as read at the pinion-side end.
    """
    read = [USUAL_WALL[1]] if walls is None else list(walls)
    ends = {"from": "0 mm", "to": f"{length_mm:.3f} mm"}
    if is_round(read):
        diameter = pilot_bore_mm + 2 * sum(read) / len(read)
        return [{"kind": "cylinder", "diameter": f"{diameter:.3f} mm", **ends}]
    thin = pilot_bore_mm + 2 * min(read)
    return [{"kind": "cylinder", "diameter": f"{thin:.3f} mm", **ends}, *_flats(pilot_bore_mm / 2, read, ends)]


def is_round(walls: Sequence[float]) -> bool:
    """Whether walls [mm] agree well enough for a round boss about its bore."""
    return max(walls) - min(walls) <= ROUND_MM


def _flats(bore_radius_mm: float, walls: Sequence[float], ends: Mapping[str, str]) -> list[dict[str, Any]]:
    first, step = WALL_CLOCKS_DEG[0], WALL_CLOCKS_DEG[1] - WALL_CLOCKS_DEG[0]
    half = math.tan(math.radians(_FLAT_DEG / 2))
    flats = []
    for n in range(round((WALL_CLOCKS_DEG[-1] - first) / _FLAT_DEG) + 1):
        clock = first + n * _FLAT_DEG
        place, share = divmod((clock - first) / step, 1.0)
        i = min(int(place), len(walls) - 2)
        share += place - i
        radius = bore_radius_mm + walls[i] + share * (walls[i + 1] - walls[i])
        shape = {"clock": f"{clock:g} deg", "distance": f"{radius:.3f} mm", "width": f"{2 * radius * half:.3f} mm"}
        flats.append({"kind": "pad", **shape, **ends})
    return flats
