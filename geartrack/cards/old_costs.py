"""What each blank of the old-gears card costs: the card worked again with the blank read by its usual tool."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from functools import partial
from typing import Any

from geartrack.cards.difference import NewGap, new_gap
from geartrack.cards.entries import Cost, cost
from geartrack.cards.old_checks import usual
from geartrack.cards.old_entries import ENTRIES, TOGETHER
from geartrack.cards.old_sums import FINAL_BACKLASH, Axle, readings_of
from geartrack.quantity import give_or_take
from geartrack.units import Units, show_both

DRAWS = 64  # enough for the difference of two ranges over the same draws
USUAL_HEIGHT = 0.16  # of a ring over its diameter; from memory, only for what a height not read would be worth


def costs_of_blanks(said: Mapping[str, Any], axle: Axle, found: NewGap, units: Units) -> tuple[Cost, ...]:
    """What each blank adds to half of low to high: worked again with the usual value read by the usual tool."""
    usual_ones = _usual(said, axle, found)
    here = partial(_half_mm, axle)
    now = here(said)
    heights = {key: said.get(key, usual_ones[key]) for key in TOGETHER}
    costs = []
    for entry in ENTRIES:
        if entry.key == "axle" and not axle.offset_said:
            exact = replace(axle, offset=give_or_take(axle.offset.value, 0.0))
            costs.append(_also("axle", "hypoid offset", max(0.0, now - _half_mm(exact, said)), units, "taken as usual"))
        elif entry.key == "gap" and not said["gap"][1]:
            taken = {**said, "gap": (said["gap"][0], "feeler")}
            costs.append(_also("gap", "how the gap was taken", max(0.0, now - here(taken)), units, "counts as by clay"))
        elif entry.key in said:
            continue
        elif entry.key == "wall":
            costs.append(Cost("wall", None, f"wall: not measured: {entry.blank}"))
        else:
            full = {**said, **heights} if entry.key in TOGETHER else {**said, entry.key: usual_ones[entry.key]}
            costs.append(cost(entry, max(0.0, now - here(full)), units))
    return tuple(sorted(costs, key=lambda each: -(each.mm or 0.0)))


def _half_mm(axle: Axle, said: Mapping[str, Any]) -> float:
    return new_gap(readings_of(said, axle), draws=DRAWS).half_range_mm


def _also(key: str, name: str, cost_mm: float, units: Units, blank: str) -> Cost:
    return Cost(key, cost_mm, f"{name}: not said: adds {show_both(cost_mm, units, rounding='up')}; {blank}")


def _usual(said: Mapping[str, Any], axle: Axle, found: NewGap) -> dict[str, Any]:
    """What stands for a blank while its cost is worked out: the values that tooth counts give."""
    old, new = (usual(said[key], axle.ring.value, axle.offset.value) for key in ("old_teeth", "new_teeth"))
    rise = found.old_tip_mm - found.placement.evidence[0].toe_tip.value
    height = said.get("old_height", said.get("new_height", USUAL_HEIGHT * axle.ring.value + rise) - rise)
    return {
        "backlash": FINAL_BACKLASH.value,
        "old_height": height,
        "new_height": height + rise + said.get("carrier", 0.0),
        "toe_diameters": tuple(2 * float(each.toe[0, 1, 0]) for each in (old, new)),
        "carrier": said.get("set", 0.0),
        "set": said.get("carrier", 0.0),
    }
