"""The difference method against the full model on invented axles, and against the sketch case of DESIGN 12.

200 axles are drawn (ring size, offset, both sets' designs, boss round or with a flat, backlash, runout, where the back
face runs, every reading's error) and worked with the full model; the card sees the readings alone. "Golden" figures
beside the asserts are recorded from ourselves.
"""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from old_gears_axles import Invented, invented

from geartrack.cards.difference import Readings, new_gap
from geartrack.cards.toe import Bosses, toe_gap
from geartrack.gearset.blank import GearDesign, blanks
from geartrack.gearset.place import ADJUSTER_TRAVEL
from geartrack.gearset.ring import ring_corners
from geartrack.gearset.teeth import ToothPair
from geartrack.inputs import RUNOUT
from geartrack.quantity import give_or_take

AXLES = 200


@cache
def axles() -> tuple[Invented, ...]:
    """The invented axles; the hypoid offset is said of every second one."""
    rng = np.random.default_rng(20)
    return tuple(invented(rng, offset_said=number % 2 == 0) for number in range(AXLES))


@cache
def answers():
    return tuple(new_gap(axle.readings()) for axle in axles())


def test_the_truth_lies_inside_the_quoted_range_in_at_least_95_of_100():
    inside = [a.low_mm <= axle.truth_mm <= a.high_mm for axle, a in zip(axles(), answers(), strict=True)]
    assert np.mean(inside) >= 0.95  # golden: 0.99 (0.990 and 0.995 with two other seeds)


def test_the_range_is_no_wider_than_recorded():
    """Golden: 2.9 mm (0.11 in) on average with the offset said, 3.6 mm (0.14 in) without; a tenth more is a fault."""
    wide = [a.high_mm - a.low_mm for a in answers()]
    assert np.mean(wide[::2]) < 3.2
    assert np.mean(wide[1::2]) < 4.0


def test_from_tooth_counts_alone_it_is_wider_and_still_inside():
    inside, wide = [], []
    for axle, answer in list(zip(axles(), answers(), strict=True))[:60]:
        said = {key: value for key, value in axle.said.items() if "height" not in key and key != "toe_diameters"}
        found = new_gap(replace(axle, said=said).readings())
        inside.append(found.low_mm <= axle.truth_mm <= found.high_mm)
        wide.append((found.high_mm - found.low_mm) / (answer.high_mm - answer.low_mm))
    assert np.mean(inside) >= 0.95  # golden: 0.98
    assert np.mean(wide) > 1.5


def test_the_change_of_gap_is_not_the_change_of_height():
    """The test can fail: old gap less the change of ring height, give or take the adjusters, holds one in three."""
    inside = []
    for axle in axles():
        read = axle.readings()
        assert read.thicker is not None
        one_to_one = read.gap.value - read.thicker.value
        inside.append(abs(axle.truth_mm - one_to_one) <= ADJUSTER_TRAVEL.high)
    assert np.mean(inside) < 0.6  # golden: 0.36


# The sketch case: ring 240 mm, offset 54, face 37, pinion spiral 50 deg, cutter radius 95; boss radius 27, end 50


def drawn(pair: str) -> np.ndarray:
    """The toe of the sketch's ring, its toe end drawn as a cylinder, as a chain for the kernel."""
    z1, z2 = map(int, pair.split("/"))
    design = GearDesign(ToothPair(z1, z2), 240.0, 54.0, 37.0, math.radians(50.0), 95.0)
    made = blanks(design)
    lean = math.pi / 2 - made.pitch.ring_angle
    corners = ring_corners(made.pitch, made.depth, ring_diameter_mm=240.0, face_width_mm=37.0, toe_end_angle=lean)
    return corners[None, (7, 0, 1, 2), :]


@cache
def sketched(pair: str) -> tuple[float, float]:
    """Gap to the sketch's boss and height of the toe tips [mm]."""
    round_boss = Bosses(np.array([50.0]), np.array([54.0]), np.zeros(1), np.array([math.inf]))
    toe = drawn(pair)
    return float(toe_gap(toe, round_boss, np.array([27.0]))[0]), float(toe[0, 2, 1])


def test_the_sketch_gap_falls_095_for_each_millimetre_of_toe_tip():
    """DESIGN 12: about 0.95 from 9/35 up to contact; contact comes by 7/36."""
    (old, old_tip), (new, new_tip) = sketched("9/35"), sketched("7/35")
    assert (old - new) / (old_tip - new_tip) == pytest.approx(0.95, abs=0.03)
    assert new > 0 > sketched("7/36")[0]


def across(pair: str) -> float:
    """Inside diameter across the toe ends of the sketch's ring [mm]."""
    return 2 * float(drawn(pair)[0, 1, 0])


def sketch_readings(new: str, **changes) -> Readings:
    """What the sketch's bench would read with 9/35 in it, every reading exact."""
    exact = {"ring_diameter": 240.0, "offset": 54.0, "gap": sketched("9/35")[0], "backlash": 0.0}
    rise = sketched("9/35")[1] - sketched(new)[1]
    z1, z2 = map(int, new.split("/"))
    read = Readings(
        ToothPair(9, 35),
        ToothPair(z1, z2),
        **{name: give_or_take(value, 0.0) for name, value in exact.items()},
        thicker=give_or_take(rise, 0.01),
        travel=give_or_take(0.0, 0.0),
        runout=RUNOUT,
        toe_diameters=(give_or_take(across("9/35"), 0.01), give_or_take(across(new), 0.01)),
    )
    return replace(read, **changes)


@pytest.mark.parametrize("new", ["8/39", "7/35", "7/36"])
def test_the_method_finds_the_sketch_gap(new):
    """The boss not known, the heights exact: the truth inside, and the round bosses' slope round 0.95."""
    read = sketch_readings(new)
    found = new_gap(read)
    assert found.low_mm <= sketched(new)[0] <= found.high_mm
    slopes = [(read.gap.value - m.gap_mm) / found.rise_mm for m in found.members if m.flat_mm is None]
    assert min(slopes) - 0.05 <= 0.95 <= max(slopes) + 0.05


def test_the_same_set_again_has_the_same_gap():
    """Closed form: nothing changed, so every boss that fits the old gap has it again; only the adjusters differ."""
    same = replace(sketch_readings("9/35"), thicker=give_or_take(0.0, 0.01))
    found = new_gap(same)
    assert [m.gap_mm for m in found.members] == pytest.approx([same.gap.value] * len(found.members), abs=0.01)


def test_a_thicker_ring_comes_nearer_and_more_backlash_further():
    base = new_gap(sketch_readings("8/39"))
    thicker = sketch_readings("8/39").thicker
    nearer = new_gap(sketch_readings("8/39", thicker=thicker.at(thicker.value + 0.2)))
    assert 0.1 < base.middle.gap_mm - nearer.middle.gap_mm < 0.2 + 0.01
    further = new_gap(sketch_readings("8/39", backlash=give_or_take(0.1, 0.0)))
    assert 0.05 < further.middle.gap_mm - base.middle.gap_mm < 0.2


def test_where_the_back_face_runs_has_its_spread_in_the_answer():
    steady, usual = new_gap(sketch_readings("8/39")), new_gap(sketch_readings("8/39", travel=ADJUSTER_TRAVEL))
    assert usual.half_range_mm > steady.half_range_mm + 0.1


def test_heights_and_tooth_counts_that_do_not_agree_are_said_and_both_taken_in():
    thicker = sketch_readings("8/39").thicker
    agreed, found = new_gap(sketch_readings("8/39")), new_gap(sketch_readings("8/39", thicker=thicker.at(-2.0)))
    assert agreed.placement.disagreement is None
    assert "ring heights" in str(found.placement.disagreement)
    assert found.low_mm < agreed.high_mm
    assert found.high_mm > sketched("9/35")[0]
