"""Ring and boss for many values of the inputs at once."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from geartrack.assembly.bodies import assemble, closer_by, design, ring_and_pinion
from geartrack.assembly.model import WEIGHED, Plan
from geartrack.clearance import boss_gap
from geartrack.frame import Array
from geartrack.tolerances import TOLERANCES


def toe_tips(plan: Plan, values: Mapping[str, Array]) -> Array:
    """Height of the toe tips by the pitch cones (n,) [mm]."""
    n = len(next(iter(values.values())))
    return np.array(
        [
            ring_and_pinion(design(plan, {k: float(v[i]) for k, v in values.items()})).ring.toe_tip_height_mm
            for i in range(n)
        ]
    )


def gaps(
    plan: Plan,
    values: Mapping[str, Array],
    heights: Array | None = None,
    *,
    tolerance_mm: float = TOLERANCES.gap_mm,
    count=None,
):
    n = count or len(next(iter(values.values())))
    if heights is not None:
        plan = replace(plan, inputs={**plan.inputs, WEIGHED: plan.placement.toe_tip})
        values = {**values, WEIGHED: heights}
    low, high = np.zeros(n), np.zeros(n)
    for i in range(n):
        v = {k: float(x[i]) for k, x in values.items()}
        now = assemble(plan, v)
        g = boss_gap(now.boss, now.section)
        low[i], high[i] = g.lower_mm - closer_by(plan, v), g.upper_mm - closer_by(plan, v)
    return low, high
