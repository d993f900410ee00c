"""How the gap closes in on the truth: facets at second order, bounds at their tolerance, vertices alone from above."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from gap_shapes import FLAT, NOSE, RING, box, cylinder, placed, sampled_gap, section, sphere

from geartrack.clearance import boss_gap, gap, gap_map, prepare
from geartrack.tolerances import TOLERANCES, Tolerances


def slope(sizes: Any, errors: Any) -> float:
    return float(np.polyfit(np.log(sizes), np.log(errors), 1)[0])


def test_facets_of_a_cylinder_err_at_second_order_and_stay_inside_their_bound() -> None:
    """Closed form: 28 - 27 for the true cylinder; an inscribed facet straight at the ring errs by 27 (1 - cos(pi / n)),
    at most pi^2 27 / (2 n^2), always toward a larger gap; the bound takes off that much."""
    counts, errors = (16, 32, 64, 128, 256), []
    for n in counts:
        short = 27 * (1 - np.cos(np.pi / n))
        found = boss_gap(placed(cylinder(27, 28, 50, n, phase=np.pi / n), short_mm=short), FLAT)
        assert found.lower_mm <= 1 <= found.upper_mm
        errors.append(found.nominal_mm - 1)
    assert slope(counts, errors) == pytest.approx(-2, abs=0.05)


def test_designs_facet_count_holds_its_half_micrometre() -> None:
    """DESIGN 3: 517 facets at R = 27 mm for 0.0005 mm."""
    found = boss_gap(placed(cylinder(27, 28, 50, 517, phase=np.pi / 517)), FLAT)
    assert 1 < found.nominal_mm < 1 + 0.0005


@pytest.mark.parametrize("apart_mm", [2.0, -1.0])
def test_a_sphere_closes_in_on_its_exact_gap(apart_mm: float) -> None:
    """Sphere of radius 12 under the flat ring: the bounds hold the exact gap each time and narrow by 4."""
    widths = []
    for level in (1, 2, 3, 4):
        vertices, triangles, short = sphere((50, 60, 28 - 12 - apart_mm), 12.0, level)
        found = boss_gap(placed((vertices, triangles), short_mm=short), FLAT)
        assert found.lower_mm <= apart_mm <= found.upper_mm
        widths.append(found.upper_mm - found.lower_mm)
    assert slope(2.0 ** np.arange(4), widths) == pytest.approx(-2, abs=0.15)


def test_vertices_alone_are_optimistic_at_second_order() -> None:
    """Closed form: a narrow flat strip 0.3 under the ring's lowest edge (r = 80, z = 20), its corners at r = 80 -+ h/2:
    exactly 0.3; by its vertices sqrt(0.3^2 + (h/2)^2)."""
    steps, over = (0.2, 0.1, 0.05, 0.025), []
    for h in steps:
        corners = np.array([[r, y, 19.7] for r in (80 - h / 2, 80 + h / 2) for y in (0.0, 0.01)])
        strip = corners, np.array([[0, 2, 1], [2, 3, 1]])
        exact = gap(prepare(*strip), NOSE)
        assert exact.lower_mm <= 0.3 <= exact.upper_mm
        over.append(gap_map(placed(strip), NOSE).min() - 0.3)
    assert over == pytest.approx([np.hypot(0.3, h / 2) - 0.3 for h in steps], abs=1e-5)
    assert slope(steps, over) == pytest.approx(2, abs=0.1)


def test_vertices_alone_are_a_tenth_off_on_a_boss_of_2000_triangles() -> None:
    """DESIGN 3 tells of 0.1 mm in one trial; the certified bounds hold what 50,000 triangles give."""
    coarse, fine = cylinder(27, 28, 50, 40, 24), cylinder(27, 28, 50, 200, 124)
    short = 27 * (1 - np.cos(np.pi / 40))
    found = boss_gap(placed(coarse, short_mm=short), RING)
    assert gap_map(placed(coarse), RING).min() > found.upper_mm + 0.1
    assert found.lower_mm <= gap(prepare(*fine), RING).nominal_mm <= found.upper_mm


@pytest.mark.parametrize("ring", [RING, RING.moved(dz_mm=-3), NOSE.moved(dz_mm=2)], ids=["clear", "deep", "edge"])
def test_bounds_narrow_with_their_tolerance_and_hold_the_same_number(ring: Any) -> None:
    ready = prepare(*cylinder(27, 28, 50, 60))
    found = [gap(ready, ring, tolerances=Tolerances(gap_mm=width)) for width in (1.0, 0.1, 0.01, 0.001, 0.0001)]
    assert max(f.lower_mm for f in found) <= min(f.upper_mm for f in found)
    assert [f.upper_mm - f.lower_mm <= w for f, w in zip(found, (1.0, 0.1, 0.01, 0.001, 0.0001), strict=True)] == [
        True
    ] * 5


def test_samples_come_down_to_the_bounds() -> None:
    surface = box((28, 30, 0), (66, 78, 19.5))
    found = gap(prepare(*surface), NOSE)
    over = [sampled_gap(surface, NOSE, per_edge) - found.lower_mm for per_edge in (5, 20, 80)]
    assert over[0] >= over[1] >= over[2] >= 0
    assert over[2] <= 2 * TOLERANCES.gap_mm


def test_refined_meshes_of_one_cylinder_agree_within_their_bounds() -> None:
    """From 24 facets to 517, each with the facet bound of its own: all hold the gap of the true cylinder."""
    found = []
    for n, along in ((24, 1), (60, 3), (181, 7), (517, 1)):
        short = 27 * (1 - np.cos(np.pi / n))
        found.append(boss_gap(placed(cylinder(27, 28, 50, n, along, phase=0.1), short_mm=short), RING))
    assert max(f.lower_mm for f in found) <= min(f.upper_mm for f in found)
    widths = [f.upper_mm - f.lower_mm for f in found]
    assert widths == sorted(widths, reverse=True)


def test_a_rounded_section_closes_in_on_its_arc() -> None:
    """A ring edge rounded with radius 2 in k chords: a flat 0.5 under the arc; inscribed chords that meet straight down
    leave the gap exact, chords that lie flat there are 2 (1 - cos(step / 2)) short: second order."""
    errors = []
    counts = (3, 9, 27, 81)
    for k in counts:
        angles = np.linspace(np.pi, 2 * np.pi, k + 1)  # an odd number of chords: one lies flat at the bottom
        arc = np.stack([80 + 2 * np.cos(angles), 22 + 2 * np.sin(angles)], axis=1)
        rounded = section(*arc, (82, 40), (78, 40))
        surface = box((30, 40, 0), (70, 72, 19.5))
        errors.append(gap(prepare(*surface), rounded).nominal_mm - 0.5)
        assert errors[-1] == pytest.approx(2 * (1 - np.cos(np.pi / k / 2)), abs=TOLERANCES.gap_mm)
    assert slope(counts[:3], errors[:3]) == pytest.approx(-2, abs=0.1)
