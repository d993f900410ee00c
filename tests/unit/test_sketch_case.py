"""The made-up sketch case of DESIGN 12, by a brute-force sampler of its own: gap, place and tip heights as the trade
says.

Ring 240 mm, offset 54, face 37, pinion spiral 50 deg, cutter radius 95; boss a plain cylinder of radius 27 about the
pinion axis from x = 28 to 50 mm; toe end drawn as a cylinder through the inner end of the pitch cone. The figures of
the sketch were themselves sampled to about 0.02 mm with depth factors from memory, so a few tenths are expected; held
to 0.2 mm.
"""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
import shapely
from shapely.geometry import Polygon

from geartrack.gearset.blank import GearBlanks, GearDesign, blanks
from geartrack.gearset.teeth import ToothPair

SKETCH = GearDesign(ToothPair(8, 39), 240.0, 54.0, 37.0, math.radians(50.0), 95.0)
PAIRS = ["11/40", "9/35", "10/41", "9/41", "8/39", "7/35", "7/36", "7/38", "6/35"]
GAP = dict(zip(PAIRS, [7.8, 6.1, 4.7, 2.2, 0.8, 0.35, -0.1, -0.7, -1.5], strict=True))
TIP = dict(zip(PAIRS, [31.4, 29.5, 28.0, 25.4, 23.9, 23.4, 22.8, 21.6, 20.3], strict=True))
GAP_48 = dict(zip(PAIRS, [6.9, 5.2, 3.9, 1.5, 0.2, -0.1, -0.5, -1.1, -1.8], strict=True))
GAP_52 = dict(zip(PAIRS, [8.8, 7.0, 5.5, 3.0, 1.5, 1.1, 0.5, -0.3, -1.1], strict=True))
WITHIN = 0.2


@cache
def drawn(pair: str, spiral_deg: float = 50.0, cylinder: bool = True) -> GearBlanks:
    z1, z2 = map(int, pair.split("/"))
    design = replace(SKETCH, pair=ToothPair(z1, z2), pinion_spiral=math.radians(spiral_deg))
    built = blanks(design)
    return blanks(replace(design, toe_end_angle=math.pi / 2 - built.pitch.ring_angle)) if cylinder else built


@cache
def sampled(pair: str, spiral_deg: float = 50.0, cylinder: bool = True) -> tuple[float, float, float]:
    """Signed gap [mm] with its station x [mm] and clock angle [deg], over 0.25 deg x 0.5 mm of the boss's outside."""
    section = Polygon(drawn(pair, spiral_deg, cylinder).ring.section.points)
    x, clock = np.meshgrid(np.arange(28.0, 50.01, 0.5), np.radians(np.arange(-40.0, 80.0, 0.25)))
    r, z = np.hypot(x, 54.0 + 27.0 * np.sin(clock)), 27.0 * np.cos(clock)
    points = shapely.points(r.ravel(), z.ravel())
    inside = shapely.contains(section, points)
    gap = np.where(inside, -shapely.distance(section.exterior, points), shapely.distance(section, points))
    i = int(gap.argmin())
    return float(gap[i]), float(x.ravel()[i]), float(np.degrees(clock.ravel()[i]))


@pytest.mark.parametrize("pair", PAIRS)
def test_gap_place_and_tip_height(pair):
    gap, x, clock = sampled(pair)
    assert gap == pytest.approx(GAP[pair], abs=WITHIN)
    assert drawn(pair).ring.toe_tip_height_mm == pytest.approx(TIP[pair], abs=WITHIN)
    assert x == 50.0  # the edge at the pinion-side end
    assert 24.0 <= clock <= 36.0  # about 1 o'clock


@pytest.mark.parametrize("pair", PAIRS)
def test_two_degrees_of_spiral_angle(pair):
    assert sampled(pair, 48.0)[0] == pytest.approx(GAP_48[pair], abs=WITHIN)
    assert sampled(pair, 52.0)[0] == pytest.approx(GAP_52[pair], abs=WITHIN)


@pytest.mark.parametrize(("pair", "change"), [("9/35", 0.4), ("7/35", 0.2), ("6/35", -0.2)])
def test_the_toe_end_normal_to_the_pitch_cone_instead(pair, change):
    assert sampled(pair, cylinder=False)[0] - sampled(pair)[0] == pytest.approx(change, abs=0.1)


def test_the_gap_falls_with_the_toe_tip():
    """0.95 mm for each millimetre from 9/35 up to contact, 0.83 by 5.83 (DESIGN 12, the difference method)."""

    def slope(a: str, b: str) -> float:
        return (sampled(a)[0] - sampled(b)[0]) / (drawn(a).ring.toe_tip_height_mm - drawn(b).ring.toe_tip_height_mm)

    assert slope("9/35", "7/35") == pytest.approx(0.95, abs=0.03)
    assert 0.5 < slope("7/38", "6/35") < 0.95


def test_the_target_is_lost_where_common_practice_starts_to_ask():
    """Common practice, no source: 0.020 in (0.508 mm) holds at 4.88 and is lost by 5.00; contact comes by 5.14."""
    assert sampled("8/39")[0] > 0.508 > sampled("7/35")[0]
    assert sampled("7/35")[0] > 0 > sampled("7/36")[0]
