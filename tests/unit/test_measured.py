"""A measured ring: caliper chords in closed form, readings put back in, readings that cannot be."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from shapely.geometry import Polygon

from geartrack.errors import InputError
from geartrack.gearset.blank import GearDesign, blanks
from geartrack.gearset.measured import MeasuredRing, measured_section, true_diameter
from geartrack.gearset.teeth import ToothPair

ODD = blanks(GearDesign(ToothPair(8, 39), 240.0, 54.0, 37.0, math.radians(50.0), 95.0))
EVEN = blanks(GearDesign(ToothPair(11, 40), 240.0, 54.0, 37.0, math.radians(50.0), 95.0))


@pytest.mark.parametrize("teeth", [7, 8, 35, 39, 40, 41])
def test_the_caliper_reads_the_longest_chord_between_tips(teeth):
    """Independent of the formula: all tip-to-tip chords of a ring of diameter 200 are listed, the longest is what a
    caliper finds."""
    tips = 100.0 * np.exp(2j * np.pi * np.arange(teeth) / teeth)
    reading = np.abs(tips[:, None] - tips[None, :]).max()
    assert true_diameter(reading, teeth) == pytest.approx(200.0, rel=1e-12)
    assert reading <= 200.0 + 1e-9


def reading_of(diameter: float, teeth: int) -> float:
    tips = diameter / 2 * np.exp(2j * np.pi * np.arange(teeth) / teeth)
    return float(np.abs(tips[:, None] - tips[None, :]).max())


@pytest.mark.parametrize("built", [ODD, EVEN])
def test_reading_the_estimated_ring_gives_the_estimated_section_back(built):
    ring, teeth = built.ring, built.design.pair.ring
    measured = MeasuredRing(
        toe_height_mm=ring.back_face_height_mm - ring.toe_tip_height_mm,
        heel_height_mm=ring.back_face_height_mm - ring.heel_tip_height_mm,
        outside_diameter_mm=reading_of(2 * ring.heel_radius_mm, teeth),
        toe_inside_diameter_mm=reading_of(2 * ring.toe_radius_mm, teeth),
    )
    for given in (measured, MeasuredRing()):
        found = measured_section(built, given, toe_tip_height_mm=ring.toe_tip_height_mm)
        assert found.points == pytest.approx(ring.section.points)
        assert found.edges == ring.section.edges


@pytest.mark.parametrize("height", [20.0, 24.5])
@pytest.mark.parametrize(
    "measured",
    [
        MeasuredRing(34.0, 26.5, 241.0, 168.0, 140.0),
        MeasuredRing(toe_height_mm=33.0),
        MeasuredRing(heel_height_mm=24.0),
        MeasuredRing(outside_diameter_mm=238.0),
        MeasuredRing(toe_inside_diameter_mm=171.0),
        MeasuredRing(34.0, 26.5, 241.0, 168.0, toe_chamfer_mm=1.0),
    ],
)
def test_every_reading_can_be_read_off_the_section_again(measured, height):
    section = measured_section(ODD, measured, toe_tip_height_mm=height)
    assert Polygon(section.points).is_valid
    points, edges = section.points, section.edges
    tips = edges.index("tooth tips")
    toe_tip, heel_tip = points[tips], points[(tips + 1) % len(points)]
    back = points[:, 1].max()
    assert points[:, 1].min() == toe_tip[1] == pytest.approx(height)
    if measured.toe_height_mm is not None:
        assert back - toe_tip[1] == pytest.approx(measured.toe_height_mm)
    if measured.heel_height_mm is not None:
        assert back - heel_tip[1] == pytest.approx(measured.heel_height_mm)
    if measured.outside_diameter_mm is not None:
        assert reading_of(2 * heel_tip[0], 39) == pytest.approx(measured.outside_diameter_mm)
    if measured.toe_inside_diameter_mm is not None:
        toe_end = points[edges.index("toe chamfer")] if "toe chamfer" in edges else toe_tip
        assert reading_of(2 * toe_end[0], 39) == pytest.approx(measured.toe_inside_diameter_mm)
    if measured.bore_diameter_mm is not None:
        bore = edges.index("bore")
        assert points[bore : bore + 2, 0] == pytest.approx(measured.bore_diameter_mm / 2)
        assert points[edges.index("back face"), 0] == points[edges.index("outside"), 0] > 100.0


def test_no_chamfer_read_is_no_chamfer():
    """The careful reading: what was not measured is not cut away."""
    section = measured_section(ODD, MeasuredRing(34.0, 26.5), toe_tip_height_mm=24.0)
    assert "toe chamfer" not in section.edges
    chamfered = measured_section(ODD, MeasuredRing(34.0, 26.5, toe_chamfer_mm=1.0), toe_tip_height_mm=24.0)
    assert "toe chamfer" in chamfered.edges


def test_the_place_is_the_height_alone():
    low, high = (measured_section(ODD, MeasuredRing(34.0, 26.5), toe_tip_height_mm=h) for h in (22.0, 23.5))
    assert high.points - low.points == pytest.approx(np.tile([0.0, 1.5], (len(low.points), 1)))


@pytest.mark.parametrize(
    ("measured", "where"),
    [
        (MeasuredRing(26.0, 34.0), "gears.measured.heel_height"),
        (MeasuredRing(outside_diameter_mm=9.5), "gears.measured.outside_diameter"),
        (MeasuredRing(toe_inside_diameter_mm=100.0), "gears.measured.toe_inside_diameter"),
        (MeasuredRing(toe_height_mm=3.4), "gears.measured.toe_height"),
        (MeasuredRing(heel_height_mm=300.0), "gears.measured.heel_height"),
        (MeasuredRing(toe_height_mm=15.0), "gears.measured"),
    ],
)
def test_readings_that_cannot_be_are_refused_by_name(measured, where):
    with pytest.raises(InputError) as caught:
        measured_section(ODD, measured, toe_tip_height_mm=24.0)
    assert caught.value.findings[0].where == where


@pytest.mark.parametrize("name", ["toe_height_mm", "outside_diameter_mm", "toe_inside_diameter_mm", "bore_diameter_mm"])
def test_no_nan_gets_through(name):
    with pytest.raises(InputError):
        measured_section(ODD, MeasuredRing(**{name: float("nan")}), toe_tip_height_mm=24.0)


def test_tips_that_would_cross_are_refused():
    narrow = blanks(replace(ODD.design, face_width_mm=15.0))
    with pytest.raises(InputError, match=r"read it again|read both diameters again"):
        measured_section(
            narrow, MeasuredRing(outside_diameter_mm=217.0, toe_inside_diameter_mm=235.0), toe_tip_height_mm=24.0
        )


def test_diameters_that_leave_no_room_for_the_face_width_are_refused():
    """One digit misread in the toe's inside diameter, 10 mm more, is no ring of this face width."""
    found = blanks(ODD.design)
    over, inside = 2 * found.ring.heel_radius_mm, 2 * found.ring.toe_radius_mm
    for wrong in (inside + 10.0, inside - 10.0):
        readings = MeasuredRing(outside_diameter_mm=over, toe_inside_diameter_mm=wrong)
        with pytest.raises(InputError, match="read both diameters again"):
            measured_section(found, readings, toe_tip_height_mm=24.0)
