"""The job that the old-gears card's entries make."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from geartrack.cards.difference import NewGap
from geartrack.cards.entries import Setting
from geartrack.cards.job_table import in_mm, table
from geartrack.cards.old_cut import LENGTH_OVER_RING, bore_diameter_mm
from geartrack.cards.old_sums import Axle
from geartrack.quantity import Origin, give_or_take


def job_document(said: Mapping[str, Any], axle: Axle, found: NewGap, setting: Setting) -> dict[str, Any]:
    """The job that the entries make: the family's middle boss, placed by the old gap, and the new set's readings.

    The old gap holds the boss to the old ring, so where both run does not matter and has no give or take here; what the
    family differs by stands as the boss's outside, give or take.
    """
    member, gaps = found.middle, [each.gap_mm for each in found.members]
    length = LENGTH_OVER_RING * axle.ring.value
    family = max(gaps[-1] - member.gap_mm, member.gap_mm - gaps[0])
    unplaced = found.readings.thicker is None
    outside = give_or_take(
        0.0, family + (found.model_spread_mm if unplaced else 0.0), Origin.DEFAULT, "bosses that fit the old gap"
    )
    fixed = {"value": "0 mm", "give_or_take": "0 mm", "how": "held by the old gap"}
    typed = {key: value for key, value in said.items() if key not in ("old_teeth", "new_teeth", "axle")}
    return {
        "format": 1,
        "name": f"Old-gears card, {found.readings.new} in place of {found.readings.old}",
        "note": f"From the old-gears card, in mm: {_listed(typed)}. Boss: worked out from the old gap, not measured.",
        "units": setting.units,
        "axle": dict(axle.job_table),
        "gears": {"teeth": str(found.readings.new)} | _measured(said, found),
        "case": {
            "measured": "this case",
            "outside_size": table(outside),
            "outside_off_centre": fixed,
            "bore_off_axis": fixed,
        },
        "boss": {
            "end_face": in_mm(member.end_face_mm),
            "bore_diameter": in_mm(bore_diameter_mm(member, said.get("wall"), axle.stub_mm)),
            "bore_depth": in_mm(length),
            "edge_break": "0 mm",
            "parts": [
                {"kind": "cylinder", "diameter": in_mm(2 * member.radius_mm), "from": "0 mm", "to": in_mm(length)}
            ],
        },
    }


def _measured(said: Mapping[str, Any], found: NewGap) -> dict[str, Any]:
    """What was read of the new ring, and where the old one's back face runs, backlash and carrier put right."""
    measured: dict[str, Any] = {}
    if "toe_diameters" in said:
        measured["toe_inside_diameter"] = {"value": in_mm(said["toe_diameters"][1]), "how": "caliper"}
    if found.readings.thicker:
        later = found.new_tip_mm - found.placement.toe_tip.value
        back = found.old_tip_mm + said["old_height"] + said["carrier"] + later
        measured["toe_height"] = {"value": in_mm(said["new_height"]), "how": "caliper"}
        measured["back_face"] = {"value": in_mm(back), "how": "caliper"}
        measured["back_face_from"] = "old set"
    return {"measured": measured} if measured else {}


def _listed(typed: Mapping[str, Any]) -> str:
    def text(value: Any) -> str:
        if isinstance(value, tuple):
            return " ".join(text(each) for each in value if each != "")
        return f"{value:.3f}" if isinstance(value, float) else str(value)

    return ", ".join(f"{key.replace('_', ' ')} {text(value)}" for key, value in typed.items())
