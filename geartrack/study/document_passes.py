"""The pass plan as a plain document; see geartrack.study.document."""

from __future__ import annotations

from dataclasses import fields
from math import degrees

from geartrack.study.document import Document, as_document, head
from geartrack.study.passes import Pass, PassPlan


@as_document.register
def document_of_passes(plan: PassPlan) -> Document:
    """The document of a pass plan."""
    answer = plan.answer
    return head("passes") | {
        "job": answer.job.name,
        "teeth": str(answer.pair),
        "target_mm": answer.target_mm,
        "why": plan.why,
        "state": plan.state,
        "made": [_pass(each, plan) for each in plan.made],
        "left": [_pass(each, plan) for each in plan.left],
        "cut_for_mm": plan.cut_mm,
        "nearer_mm": plan.nearer_mm,
        "nearer_give_or_take_mm": plan.nearer_spread_mm,
        "to_mm": plan.to_mm,
        "hold_mm": plan.hold_mm,
        "left_depth_radial_mm": plan.left_depth_mm,
        "left_volume_mm3": plan.left_volume_mm3,
        "left_mass_g": plan.left_mass_g,
        "stop": {
            "clearance_mm": plan.stop_mm,
            "depth_radial_max_mm": plan.stop_depth_mm,
            "gap_mm": plan.gap_at_stop_mm,
            "comes_first": plan.stop_first,
        },
        "flagged": list(plan.flagged),
    }


def _pass(each: Pass, plan: PassPlan) -> Document:
    row = {f.name: getattr(each, f.name) for f in fields(each) if f.name not in ("clock", "read")}
    clock = degrees(each.clock)
    return row | {
        "clock_deg": clock if plan.answer.hand else None,
        "either_side_clock_deg": None if plan.answer.hand else abs(clock),
        "read_mm": each.read.value if each.read else None,
    }
