"""The old-gears card's readings as quantities: what was typed, by its tool, and what is usual where nothing was."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import hypot
from pathlib import Path
from typing import Any

from geartrack.cards.bare_sums import ring_diameter
from geartrack.cards.difference import Readings
from geartrack.cards.job_table import in_mm, table
from geartrack.cards.old_entries import TAKEN_BY, Size
from geartrack.cards.shift import usual_offset
from geartrack.cards.shop_list import ShopList, seen_from
from geartrack.errors import refuse
from geartrack.gearset.measured import true_diameter
from geartrack.gearset.place import ADJUSTER_TRAVEL
from geartrack.inputs import COMMON, MEMORY, RUNOUT
from geartrack.job import TOOLS
from geartrack.quantity import Origin, Quantity, give_or_take
from geartrack.units import parse_length

FINAL_BACKLASH = give_or_take(parse_length("0.008 in"), parse_length("0.002 in"), Origin.DEFAULT, COMMON)
BACKLASH_UNREAD_MM = parse_length("0.004 in")  # from memory
_CALIPER_MM, _DIAL_MM = TOOLS["caliper"].two_sigma_mm, TOOLS["dial"].two_sigma_mm
_WIDEST = max(TAKEN_BY, key=lambda tool: TOOLS[tool].two_sigma_mm)


@dataclass(frozen=True)
class Axle:
    """The axle as the card knows it, and its table in a job.

    offset_said: whether its offset is known. stub_mm: diameter of the pinion's stub, 0 where not known.
    """

    ring: Quantity
    offset: Quantity
    travel: Quantity
    job_table: Mapping[str, Any]
    offset_said: bool
    stub_mm: float = 0.0


def axle_of(said: str | Size, listed: ShopList, base: Path) -> Axle:
    """The axle that was meant: the shop's own file, or a size. Raises InputError where the list has no such axle.

    base: folder of the job to be written.
    """
    if isinstance(said, str):
        path = listed.axle(said)
        if path is None:
            names = ", ".join(listed.names()) or "there is none: name its folder with --axles"
            raise refuse("axle", f"{said!r} is not one axle of the shop's list", f"{names}; or a ring diameter")
        axle = listed.axle_job(path).axle
        play = axle.adjuster_travel
        travel = give_or_take(0.0, play.value, play.origin, play.source) if play else ADJUSTER_TRAVEL
        stub = axle.pinion_stub_diameter.value if axle.pinion_stub_diameter else 0.0
        return Axle(axle.ring_diameter, axle.offset, travel, {"file": seen_from(path, base)}, True, stub)
    ring = ring_diameter(said.ring_mm)
    if said.offset_mm is None:
        offset = usual_offset(said.ring_mm)
        return Axle(ring, offset, ADJUSTER_TRAVEL, {"ring_diameter": table(ring), "offset": table(offset)}, False)
    offset = give_or_take(said.offset_mm, _CALIPER_MM, Origin.TYPED, "caliper")
    return Axle(ring, offset, ADJUSTER_TRAVEL, {"ring_diameter": table(ring), "offset": in_mm(said.offset_mm)}, True)


def readings_of(said: Mapping[str, Any], axle: Axle) -> Readings:
    """What the difference method starts from."""
    gap, tool = said["gap"]
    return Readings(
        old=said["old_teeth"],
        new=said["new_teeth"],
        ring_diameter=axle.ring,
        offset=axle.offset,
        gap=give_or_take(gap, TOOLS[tool or _WIDEST].two_sigma_mm, Origin.MEASURED, tool),
        backlash=_later(said.get("backlash")),
        thicker=None if why_heights_do_not_count(said) else _thicker(said),
        travel=axle.travel,
        runout=RUNOUT,
        toe_diameters=_across(said),
    )


def why_heights_do_not_count(said: Mapping[str, Any]) -> str:
    """Why tooth counts alone say where the new teeth will run; "" where the ring heights say it too."""
    missing = [name for name in ("old_height", "new_height", "carrier", "set") if name not in said]
    if missing:
        names = ", ".join(name.replace("_", " ") for name in missing)
        return f"tooth counts alone say where the new teeth will run, and that is wide; not given: {names}"
    if said["set"] and not said["carrier"]:
        kind = "thick" if said["set"] > 0 else "thin"
        return (
            f"a {kind} set belongs on another carrier: on the same one ring heights say nothing, tooth counts stand in"
        )
    return ""


def _later(backlash_mm: float | None) -> Quantity:
    """Final backlash less that at which the gap was taken."""
    if backlash_mm is None:
        return give_or_take(0.0, BACKLASH_UNREAD_MM, Origin.DEFAULT, MEMORY)
    spread = hypot(FINAL_BACKLASH.spread, _DIAL_MM)
    return give_or_take(FINAL_BACKLASH.value - backlash_mm, spread, Origin.MEASURED, "dial")


def _thicker(said: Mapping[str, Any]) -> Quantity:
    """How much nearer the pinion heights and carrier put the new toe tips."""
    readings = 3 if said["carrier"] else 2
    rise = said["new_height"] - said["old_height"] - said["carrier"]
    return give_or_take(rise, _CALIPER_MM * readings**0.5, Origin.MEASURED, "caliper")


def _across(said: Mapping[str, Any]) -> tuple[Quantity, Quantity] | None:
    if "toe_diameters" not in said:
        return None
    old, new = (
        give_or_take(true_diameter(read, pair.ring), _CALIPER_MM, Origin.MEASURED, "caliper")
        for read, pair in zip(said["toe_diameters"], (said["old_teeth"], said["new_teeth"]), strict=True)
    )
    return old, new
