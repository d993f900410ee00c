"""What one entry of the old-gears card does not show alone: sizes that cannot belong to one axle and its two sets."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

import numpy as np

from geartrack.cards.toe import SET_INPUTS, Rings, rings
from geartrack.errors import Finding
from geartrack.gearset.measured import true_diameter
from geartrack.gearset.place import ADJUSTER_TRAVEL
from geartrack.gearset.teeth import ToothPair
from geartrack.units import Units, show_both

_TOE_OFF = 0.15  # of the usual inside diameter across the toe ends
_MESHES_MM = ADJUSTER_TRAVEL.high  # the adjusters take up no more between carrier and set


def usual(pair: ToothPair, ring_mm: float, offset_mm: float) -> Rings:
    """The one ring of a pair with usual values."""
    one = np.ones(1)
    return rings(pair, ring_diameter_mm=ring_mm * one, offset_mm=offset_mm * one, shares=np.empty((0, SET_INPUTS)))


def checks(said: Mapping[str, Any], size_mm: tuple[float, float] | None, units: Units) -> Iterator[Finding]:
    """Every fault between entries; size_mm: ring diameter and offset, None where the axle is not known [mm]."""
    yield from _flange(said, units)
    swapped = list(_lower(said, units))
    yield from swapped
    if size_mm is None or not {"old_teeth", "new_teeth"} <= said.keys():
        return
    old, new = (usual(said[name], *size_mm) for name in ("old_teeth", "new_teeth"))
    yield from _gap(said, float(old.tooth_mm[0]), units)
    yield from _across(said, (old, new), units)
    thin = list(_thin(said, (old, new), units))
    yield from thin
    if not (swapped or thin):
        yield from _rise(said, float(old.tip_mm[0] - new.tip_mm[0]), float(old.tooth_mm[0]), units)


def _flange(said: Mapping[str, Any], units: Units) -> Iterator[Finding]:
    """Another carrier's flange and the set made for it must be one amount, or the set cannot mesh."""
    carrier, thicker = said.get("carrier"), said.get("set")
    if carrier and thicker is not None and abs(carrier - thicker) > _MESHES_MM:
        off = carrier - thicker
        way = "too near" if off < 0 else "too far from"
        right = "a carrier ring flange further by what the set is thicker, within what the adjusters take up"
        yield Finding(
            "carrier", f"on it this set's teeth would run {show_both(abs(off), units)} {way} the pinion", right
        )


def _lower(said: Mapping[str, Any], units: Units) -> Iterator[Finding]:
    if not {"old_teeth", "new_teeth", "old_height", "new_height"} <= said.keys():
        return
    old, new = said["old_height"], said["new_height"]
    same = said.get("carrier") == 0 and said.get("set") == 0
    if same and said["new_teeth"].ratio > said["old_teeth"].ratio and new < old:
        what = f"{show_both(new, units)} is lower than the old ring's {show_both(old, units)}"
        right = (
            "on the same carrier the steeper set's ring is the higher: are the two swapped, or one read at the heel?"
        )
        yield Finding("new height", what, right)


def _gap(said: Mapping[str, Any], tooth_mm: float, units: Units) -> Iterator[Finding]:
    if "gap" in said and said["gap"][0] > tooth_mm:
        what = f"{show_both(said['gap'][0], units)} is larger than a tooth"
        right = f"these are {show_both(tooth_mm, units)} deep; inch typed as mm, or read away from the tightest spot?"
        yield Finding("gap", what, right)


def _across(said: Mapping[str, Any], found: tuple[Rings, Rings], units: Units) -> Iterator[Finding]:
    for i, name in enumerate(("old", "new")):
        read, about = said.get("toe_diameters"), 2 * float(found[i].toe[0, 1, 0])
        if read and abs(true_diameter(read[i], said[f"{name}_teeth"].ring) - about) > _TOE_OFF * about:
            what = f"{show_both(read[i], units)} across the {name} ring's toe ends is not likely"
            yield Finding(
                "toe diameters", what, f"about {show_both(about, units)} for this ring, from toe to toe inside"
            )


def _thin(said: Mapping[str, Any], found: tuple[Rings, Rings], units: Units) -> Iterator[Finding]:
    for i, name in enumerate(("old", "new")):
        read, least = said.get(f"{name}_height"), float(found[i].tooth_mm[0])
        if read is not None and read < least:
            right = f"more than a tooth is deep, {show_both(least, units)}: plate to straightedge, over the whole ring"
            yield Finding(f"{name} height", f"{show_both(read, units)} leaves no metal behind the teeth", right)


def _rise(said: Mapping[str, Any], about_mm: float, tooth_mm: float, units: Units) -> Iterator[Finding]:
    if not {"old_height", "new_height"} <= said.keys():
        return
    rise = said["new_height"] - said["old_height"] - said.get("carrier", 0.0)
    if abs(rise - about_mm) > tooth_mm:
        what = f"the two heights put the new teeth {_way(rise, units)} the pinion"
        right = f"by tooth counts about {_way(about_mm, units)} it; was one read over the wrong face?"
        yield Finding("new height", what, right)


def _way(rise_mm: float, units: Units) -> str:
    return f"{show_both(abs(rise_mm), units)} {'nearer' if rise_mm >= 0 else 'further from'}"
