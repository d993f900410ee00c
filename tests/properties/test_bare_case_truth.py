"""The bare-case card against the full model: invented axles whose parting face, bars and walls are read off in space.

The truth is a boss whose outside is a cylinder off the bore's centre, placed by frame.Seat; every reading is worked
here from coordinates (closed forms beside them), rounded as a caliper rounds, and typed into the card.
"""

import math

import numpy as np
import pytest

from geartrack.assembly import assemble, plan
from geartrack.boss.mesh import Bore, PlacedBoss
from geartrack.boss.parts import Cylinder, boss_from_parts
from geartrack.cards.bare_case import job_document
from geartrack.cards.bare_entries import ENTRIES, checks
from geartrack.cards.bare_sums import WALL_CLOCKS_DEG
from geartrack.cards.case import CaseSaid
from geartrack.cards.entries import Setting, read_entries
from geartrack.clearance import boss_gap
from geartrack.frame import Hand, Seat
from geartrack.gearset.teeth import ToothPair
from geartrack.job import job_from_dict

READOUT_MM = 0.01  # of the caliper that these readings are rounded to
PAIRS = [(11, 40), (9, 35), (9, 41), (8, 39), (7, 36), (7, 38), (6, 35)]


def axle(seed):
    """One invented axle as it is [mm, rad]: sizes near the demo's, a casting whose outside is off its bore's centre."""
    pick = np.random.default_rng(seed)
    bore = pick.uniform(34, 44)
    return {
        "pair": ToothPair(*PAIRS[pick.integers(len(PAIRS))]),
        "ring": pick.uniform(215, 255),
        "offset": pick.uniform(38, 60),
        "hand": Hand.BELOW if pick.random() < 0.5 else Hand.ABOVE,
        "end_face": pick.uniform(40, 56),
        "length": pick.uniform(18, 28),
        "bore": bore,
        "outside": bore / 2 + pick.uniform(6.5, 11),
        "off_by": pick.uniform(0, 1.2),
        "off_to": pick.uniform(-math.pi, math.pi),  # clock angle of the shift, in the real part's hand
        "saddle_bore": pick.uniform(70, 86),
        "face_above": pick.uniform(-6, 14),  # ring's centre line below the parting face
        "saddle_bar": pick.uniform(25, 40),
    }


def walls(true):
    """Wall on the ray at each clock angle: from the bore's centre to the circle whose centre lies off_by toward off_to.

    Closed form: q = e cos(t - te) + sqrt(R^2 - e^2 sin^2(t - te)), less the bore's radius.
    """
    turn = np.radians(WALL_CLOCKS_DEG) - true["off_to"]
    e, radius = true["off_by"], true["outside"]
    return e * np.cos(turn) + np.sqrt(radius**2 - (e * np.sin(turn)) ** 2) - true["bore"] / 2


def typed(true):
    """What a builder reads off it, by coordinates along the pinion: x = 0 at the ring's centre line, toward the nut."""
    x_face, x_bottom = -true["face_above"], true["saddle_bore"] / 2
    x_near = true["end_face"] - true["length"]
    y_pinion, y_ring = true["offset"], 0.0
    over = (y_pinion + true["bore"] / 2) - (y_ring - true["saddle_bar"] / 2)
    read = {
        "ring_diameter": true["ring"],
        "saddle_depth": x_bottom - x_face,
        "saddle_bore": true["saddle_bore"],
        "boss_depth": x_near - x_face,
        "boss_length": true["length"],
        "over_bars": over,
        "saddle_bar": true["saddle_bar"],
        "pilot_bar": true["bore"],
        "pilot_bore": true["bore"],
    }
    said = {key: f"{round(mm / READOUT_MM) * READOUT_MM:.2f} mm" for key, mm in read.items()}
    said["walls"] = " ".join(f"{mm:.2f}" for mm in walls(true)) + " mm"
    hand = "A" if true["hand"] is Hand.BELOW else "B"
    return said | {
        "teeth": str(true["pair"]),
        "hand": hand,
        "square": "yes",
        "stands_out": "none",
        "bore_depth": "15 mm",
    }


def gaps(true):
    """Gap by the card's job and gap of the true boss, against the very same ring."""
    said = read_entries(ENTRIES, typed(true), None, (checks,))
    job = job_from_dict(job_document(said, CaseSaid(), true["pair"], Setting()), Setting().base, "card")
    now = assemble(plan(job, true["pair"], true["hand"]))
    mesh = boss_from_parts([Cylinder(2 * true["outside"], 0.0, true["length"])], Bore(20.0, 15.0, 1.0, 14.0))
    shift = true["off_by"] * np.array([math.sin(true["off_to"]), math.cos(true["off_to"])])
    seat = Seat(true["offset"], true["end_face"], true["hand"], *map(float, shift))
    return job, boss_gap(now.boss, now.section), boss_gap(PlacedBoss(mesh, seat), now.section)


@pytest.mark.parametrize("seed", range(24))
def test_the_cards_boss_stands_where_the_true_one_stands(seed):
    """End face and offset within five roundings to 0.005 mm, the gap within 0.12 mm.

    The 0.12 mm: walls that agree to 0.2 mm are taken as one (0.1), the roundings (0.02). Others err less: straight
    lines of wall between readings 30 degrees apart (off_by x (1 - cos 15 deg) = 0.04), flats of 5 degrees (0.03).
    """
    true = axle(seed)
    job, card, truth = gaps(true)
    assert job.boss.end_face.value == pytest.approx(true["end_face"], abs=0.025)
    assert job.axle.offset.value == pytest.approx(true["offset"], abs=0.025)
    assert card.nominal_mm == pytest.approx(truth.nominal_mm, abs=0.12)


def test_the_wrong_hand_or_a_saddle_taken_for_half_a_bore_would_show():
    """Over the same axles: the two mistakes that this card invites move the gap far beyond the tolerance above."""
    worst_hand, worst_saddle = 0.0, 0.0
    for seed in range(6):
        true = axle(seed)
        truth = gaps(true)[2].nominal_mm
        other = Hand.ABOVE if true["hand"] is Hand.BELOW else Hand.BELOW
        mirrored = dict(true, hand=other)  # walls as read on the real part, hand typed wrong
        said = read_entries(ENTRIES, typed(true) | {"hand": typed(mirrored)["hand"]}, None, (checks,))
        worst_hand = max(worst_hand, abs(gap_of(said, mirrored) - truth))
        said = read_entries(ENTRIES, typed(true), None, (checks,))
        said |= {"saddle_depth": said["saddle_bore"] / 2}  # as if the parting face were the ring's centre line
        worst_saddle = max(worst_saddle, abs(gap_of(said, true) - truth))
    assert worst_hand > 0.5
    assert worst_saddle > 0.5


def gap_of(said, true):
    job = job_from_dict(job_document(said, CaseSaid(), true["pair"], Setting()), Setting().base, "card")
    now = assemble(plan(job, true["pair"], true["hand"]))
    return boss_gap(now.boss, now.section).nominal_mm
