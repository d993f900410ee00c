"""How the volume closes in on the truth: facets at second order, quadrature at its stated error."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from gap_shapes import box, section, sphere
from relief_shapes import RADIUS, RING, flat, tube

from geartrack.relief.patch import find_patch
from geartrack.relief.sweep_field import GrownSweep


def slope(sizes: list[float], errors: list[float]) -> float:
    return float(np.polyfit(np.log(sizes), np.log(errors), 1)[0])


def test_a_sphere_under_a_flat_ring_at_second_order() -> None:
    """A cap of height h of a sphere of radius R: pi h^2 (3 R - h) / 3, and 2 pi R h of its surface. The facets have
    their corners on the sphere, so both fall short, by a quarter each time the triangles are halved."""
    radius, height = 12.0, 3.0
    ring = GrownSweep(flat(20.0 + radius - height + 0.5), 0.5)
    cap, skin = np.pi * height**2 * (3 * radius - height) / 3, 2 * np.pi * radius * height
    lacking = []
    for subdivisions in (3, 4, 5, 6):
        vertices, triangles, _ = sphere((50.0, 60.0, 20.0), radius, subdivisions)
        found = find_patch(vertices, triangles, ring, share=1e-6)
        lacking.append((cap - found.volume_mm3, skin - found.area_mm2))
    volumes, areas = zip(*lacking, strict=True)
    assert min(volumes) > 0
    assert slope([8.0, 16.0, 32.0, 64.0], list(volumes)) == pytest.approx(-2, abs=0.1)
    assert max(abs(area) for area in areas[2:]) < 0.01 * skin


def test_a_cylinder_under_a_flat_ring_at_second_order() -> None:
    """Segment R^2 acos(h/R) - h sqrt(R^2 - h^2) times the length; n facets fall short by about 1/n^2."""
    height, counts = 22.0, [40, 80, 160, 320]
    angle = np.arccos(height / RADIUS)
    exact = (RADIUS**2 * angle - height * np.sqrt(RADIUS**2 - height**2)) * 22.0
    found = [tube(around=n) for n in counts]
    errors = [
        exact - find_patch(b.vertices, b.triangles, GrownSweep(flat(height), 0.0), share=1e-7).volume_mm3 for b in found
    ]
    assert min(errors) > 0
    assert slope([float(n) for n in counts], errors) == pytest.approx(-2, abs=0.15)


CONE = section((0, 10), (70, 80), (0, 80))  # apex at z = 10 on the ring axis, opening upward at 45 degrees


@pytest.mark.parametrize("share", [1e-2, 1e-4, 1e-6, 1e-8])
def test_a_cone_in_a_box_to_the_stated_error(share: float) -> None:
    """A quarter of a cone of height 30 up to the box's top at z = 40, (pi 30^3 / 3) / 4, from twelve triangles; its
    sides meet them along hyperbolas, and all the error is quadrature's."""
    vertices, triangles = box((0.0, 0.0, -20.0), (50.0, 50.0, 40.0))
    found = find_patch(vertices, triangles, GrownSweep(CONE, 0.0), share=share)
    exact = np.pi * 30**3 / 12
    assert abs(found.volume_mm3 - exact) <= found.error_mm3 <= share * exact


def test_the_stated_error_falls_with_the_share_asked_for() -> None:
    boss = tube(around=40)
    found = [find_patch(boss.vertices, boss.triangles, GrownSweep(RING, 1.0), share=10.0**-n) for n in (2, 4, 6, 8)]
    for rough, fine in pairwise(found):
        assert fine.error_mm3 < rough.error_mm3
        assert abs(rough.volume_mm3 - found[-1].volume_mm3) <= rough.error_mm3 + found[-1].error_mm3
