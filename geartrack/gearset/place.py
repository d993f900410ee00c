"""Where the teeth run: every piece of evidence on the height of the toe tips, combined by weight (DESIGN 2.3).

Heights are z, above the pinion's centre line toward the ring [mm]: a smaller height is nearer the pinion and the boss.
Spreads are 2-sigma.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations
from math import cos, hypot, sin
from typing import Literal

from geartrack.errors import refuse
from geartrack.gearset.blank import GearBlanks
from geartrack.gearset.measured import MeasuredRing, measured_section, true_diameter
from geartrack.quantity import Origin, Quantity, give_or_take
from geartrack.units import show_both

__all__ = [
    "ADJUSTER_TRAVEL",
    "Evidence",
    "MeasuredRing",
    "Placement",
    "flange_mismatch",
    "from_back_face",
    "from_pinion_roots",
    "from_pitch_cones",
    "measured_section",
    "old_set_back_face",
    "weigh",
]

MODEL_SPREAD_MM = 0.5  # pitch-cone estimate against real gears; from memory (DESIGN 5)
# Clearance factor 0.125 or 0.150 shifts what a root diameter says by 0.22 mm, other unknowns by up to 0.1 (measured
# over trial designs, tests/unit/test_place.py).
ROOT_SPREAD_MM = 0.3
ADJUSTER_TRAVEL = Quantity(0.0, -0.762, 0.762, Origin.DEFAULT, "0.030 in, from memory")
NONE = Quantity(0.0, 0.0, 0.0, Origin.DEFAULT)
ASK_SET = "thick or thin set, or another flange?"
_LEAST_SPREAD_MM = 1e-6  # of a reading said to be exact, so that its weight stays finite


@dataclass(frozen=True)
class Evidence:
    """One estimate of the height of the toe tips, and what it rests on ("pitch cones", "back face", "pinion roots")."""

    name: str
    toe_tip: Quantity


@dataclass(frozen=True)
class Placement:
    """The height of the toe tips from all evidence by weight, that evidence, and what in it does not agree, if any."""

    toe_tip: Quantity
    evidence: tuple[Evidence, ...]
    disagreement: str | None


def from_pitch_cones(
    toe_tip_height_mm: float, *, inputs_spread_mm: float = 0.0, model_spread_mm: float = MODEL_SPREAD_MM
) -> Evidence:
    """What the pitch cones say: the estimate of the blanks, give or take its inputs' spread and the model's own."""
    spread = hypot(inputs_spread_mm, model_spread_mm)
    quantity = give_or_take(toe_tip_height_mm, spread, Origin.DEFAULT, "pitch cones, model term from memory")
    return Evidence("pitch cones", quantity)


def from_back_face(back_face: Quantity, toe_height: Quantity) -> Evidence:
    """What the back face says: its height above the pinion's centre line less the ring's height at the toe.

    back_face: measured with this set at final backlash, or taken over by `old_set_back_face`; toe_height: back face
    to toe tip on a flat plate. A thicker ring puts the teeth nearer the pinion by as much.
    """
    height = give_or_take(
        back_face.value - toe_height.value,
        hypot(back_face.reach, toe_height.reach),
        back_face.origin,
        back_face.source,
    )
    return Evidence("back face", height)


def old_set_back_face(
    old_back_face: Quantity,
    *,
    flange_change: Quantity = NONE,
    spacer_change: Quantity = NONE,
    adjuster_travel: Quantity = ADJUSTER_TRAVEL,
) -> Quantity:
    """Where the new ring's back face will run, from the old set's in the same case.

    Good only where both sets are made for one flange height; the caller leaves this evidence out otherwise.
    flange_change: the new carrier's flange height (from the pinion's centre line) less the old one's: higher moves the
        ring away from the pinion. spacer_change: new ring spacer less old: thicker moves it nearer the pinion.
    adjuster_travel: how far adjusters or shims may come to stand otherwise.
    """
    height = old_back_face.value + flange_change.value - spacer_change.value + adjuster_travel.value
    spread = hypot(old_back_face.reach, flange_change.reach, spacer_change.reach, adjuster_travel.reach)
    return give_or_take(height, spread, old_back_face.origin, "old set's back face, give or take the adjusters")


def from_pinion_roots(
    blanks: GearBlanks,
    root_diameter: Quantity,
    *,
    end: Literal["toe", "heel"] = "toe",
    spread_mm: float = ROOT_SPREAD_MM,
) -> Evidence:
    """What the pinion's root diameter at one end says of the ring's tips at the same end, whatever the flange.

    root_diameter: caliper reading across the tooth roots at that end face (an odd tooth count is put right here).
    The ring's tips run the clearance c clear of the pinion's root cone (DESIGN 2.3), so a pinion thicker by dR at the
    roots puts the tips higher by dR cos df1 / sin da2. The heel says nothing of the toe: its evidence bears the name
    "pinion roots, heel" and is for the heel tips.
    """
    pinion, ring, teeth = blanks.pinion, blanks.ring, blanks.design.pair.pinion
    own, tips = {
        "toe": (pinion.toe_root_radius_mm, ring.toe_tip_height_mm),
        "heel": (pinion.heel_root_radius_mm, ring.heel_tip_height_mm),
    }[end]
    per_radius = cos(pinion.root_angle) / sin(ring.tip_angle)
    height = tips + per_radius * (true_diameter(root_diameter.value, teeth) / 2 - own)
    spread = hypot(per_radius * true_diameter(root_diameter.reach, teeth) / 2, spread_mm)
    name = "pinion roots" if end == "toe" else "pinion roots, heel"
    return Evidence(name, give_or_take(height, spread, root_diameter.origin, root_diameter.source))


def weigh(estimates: Sequence[Evidence], *, ask: str = ASK_SET) -> Placement:
    """All evidence combined by weight (inverse variance), never by override.

    Where two pieces differ by more than their joint spread (2-sigma: twice the joint standard deviation), the text says
    which and which way, and asks what would explain it; the limits are stretched to take in all the evidence: MEASURE
    FIRST.
    Raises InputError without any evidence.
    """
    if not estimates:
        raise refuse("gears", "nothing says where the teeth run", "give the tooth counts or the back face's place")
    weights = [1 / max(e.toe_tip.spread, _LEAST_SPREAD_MM) ** 2 for e in estimates]
    total = sum(weights)
    value = sum(w * e.toe_tip.value for w, e in zip(weights, estimates, strict=True)) / total
    spread = total**-0.5
    heaviest = estimates[weights.index(max(weights))].toe_tip
    source = " and ".join(e.name for e in estimates)
    disagreement = _disagreement(estimates, ask)
    if disagreement is None:
        height = give_or_take(value, spread, heaviest.origin, source)
    else:
        low = min(value - spread, *(e.toe_tip.low for e in estimates))
        high = max(value + spread, *(e.toe_tip.high for e in estimates))
        height = Quantity(value, low, high, heaviest.origin, source)
    return Placement(height, tuple(estimates), disagreement)


def _disagreement(estimates: Sequence[Evidence], ask: str) -> str | None:
    apart = [
        (abs(a.toe_tip.value - b.toe_tip.value) / hypot(a.toe_tip.spread, b.toe_tip.spread, _LEAST_SPREAD_MM), a, b)
        for a, b in combinations(estimates, 2)
    ]
    worst = max(apart, key=lambda pair: pair[0], default=None)
    if worst is None or worst[0] <= 1:
        return None
    near, far = sorted(worst[1:], key=lambda e: e.toe_tip.value)
    by = show_both(far.toe_tip.value - near.toe_tip.value, "in")
    return f"{near.name} put the teeth {by} nearer the pinion than {far.name}: {ask}"


def flange_mismatch(
    *,
    flange_height: Quantity,
    made_for: Quantity,
    ring_spacer: Quantity = NONE,
    set_extra: Quantity = NONE,
    adjuster_travel: Quantity = ADJUSTER_TRAVEL,
) -> None:
    """Refuse, before any gap, a set that cannot mesh on this carrier.

    flange_height, made_for: carrier ring flange from the pinion's centre line, as it is and as the set is made for;
    ring_spacer: between flange and ring; set_extra: how much thicker this set is than the one `made_for` belongs to
    (a thin one negative). Spacer and extra both bring the teeth nearer the pinion.

    Raises InputError where the teeth would run off by more than the adjusters, and the spreads, can take up.
    """
    off = flange_height.value - ring_spacer.value - set_extra.value - made_for.value
    play = max(adjuster_travel.high, -adjuster_travel.low)
    play += hypot(flange_height.reach, made_for.reach, ring_spacer.reach, set_extra.reach)
    if abs(off) <= play:
        return
    way = "too near" if off < 0 else "too far from"
    raise refuse(
        "axle.carrier_flange_height",
        f"this set is made for a carrier ring flange {show_both(made_for.value, 'in')} from the pinion's centre line; "
        f"on this one its teeth would run {show_both(abs(off), 'in')} {way} the pinion",
        "the carrier or the thick or thin set that belongs to it, or a ring spacer of that size",
    )
