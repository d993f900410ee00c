"""Bosses from parts: closed forms, closed meshes, the clock, and every refusal."""

import math
from dataclasses import replace

import numpy as np
import pytest
from boss_truth import BORE, DEMO, area, distance, euler, is_closed, place, volume

from geartrack.boss.facets import facets_per_turn, sagitta_mm
from geartrack.boss.mesh import Bore, BossMesh
from geartrack.boss.parts import Cone, Cut, Cylinder, Fillet, Pad, Part, Rib, boss_from_parts
from geartrack.errors import InputError
from geartrack.tolerances import Tolerances

PLAIN = Cylinder(54.0, 0.0, 22.0)
COARSE = Tolerances(facet_mm=0.01)
ALL = {
    "cylinder": [PLAIN],
    "two cylinders": [Cylinder(54.0, 0.0, 10.0), Cylinder(48.0, 10.0, 22.0)],
    "cone": [Cone(54.0, 60.0, 0.0, 22.0)],
    "pad": [PLAIN, Pad(0.6, 31.0, 18.0, 3.0, 22.0)],
    "rib": [PLAIN, Rib(-2.0, 8.0, 40.0, 0.0, 22.0)],
    "fillet": [Cylinder(54.0, 0.0, 22.0), Cylinder(62.0, 12.0, 18.0), Fillet(3.0, 12.0, 54.0), Fillet(2.0, 18.0, 54.0)],
    "cut": [PLAIN, Cut(1.0, 24.0, 0.0, 8.0)],
    "demo": list(DEMO),
}


def refused(parts: list[Part], bore: Bore = BORE, edge_break_mm: float = 0.0) -> list[str]:
    with pytest.raises(InputError) as caught:
        boss_from_parts(parts, bore, edge_break_mm=edge_break_mm)
    lines = str(caught.value).splitlines()
    assert len(lines) == len(caught.value.findings)
    return lines


@pytest.mark.parametrize("name", ALL)
@pytest.mark.parametrize("edge_break_mm", [0.0, 1.0])
def test_one_closed_solid_wound_outward(name: str, edge_break_mm: float) -> None:
    """Closed, outward (positive volume), Euler 2 as a sphere (blind bore), every vertex used and finite."""
    boss = boss_from_parts(ALL[name], BORE, edge_break_mm=edge_break_mm)
    assert is_closed(boss)
    assert volume(boss) > 0
    assert euler(boss) == 2
    assert len(np.unique(boss.triangles)) == len(boss.vertices)
    assert np.isfinite(boss.vertices).all()
    assert boss.triangles.dtype == np.int32
    assert 0 < boss.short_mm <= 0.0005
    assert boss.proud_mm <= 0.0005
    assert (boss.proud_mm > 0) == any(isinstance(part, Fillet) for part in ALL[name])
    assert not boss.interpolated
    assert boss.interpolation_mm == 0


@pytest.mark.parametrize("depth_mm", [22.0, 40.0])
def test_a_bore_right_through_makes_a_ring(depth_mm: float) -> None:
    """A torus: Euler characteristic 0."""
    boss = boss_from_parts([PLAIN], Bore(38.0, depth_mm, 1.0, 20.0))
    assert is_closed(boss)
    assert euler(boss) == 0


def test_volume_of_a_plain_boss() -> None:
    """Prisms over regular n-gons, in closed form: outside inscribed in its circle, bore circumscribed about its own."""
    boss = boss_from_parts([PLAIN], BORE)
    n = facets_per_turn(27.0, 0.0005)
    outside = n / 2 * 27.0**2 * math.sin(2 * math.pi / n) * 22.0
    hole = n * 19.0**2 * math.tan(math.pi / n) * 20.0
    assert volume(boss) == pytest.approx(outside - hole, rel=1e-12)
    annulus = math.pi * (27.0**2 * 22.0 - 19.0**2 * 20.0)
    assert annulus - area(boss) * boss.short_mm < volume(boss) < annulus


def test_volume_of_a_cone() -> None:
    """Frustum: pi h (R^2 + R r + r^2)/3; the mesh is short of it by less than the facet error over its surface."""
    boss = boss_from_parts([Cone(54.0, 60.0, 0.0, 22.0)], BORE)
    true = math.pi * (22.0 / 3 * (27.0**2 + 27.0 * 30.0 + 30.0**2) - 19.0**2 * 20.0)
    assert true - area(boss) * boss.short_mm < volume(boss) < true


def test_volume_of_a_fillet() -> None:
    """Pappus: square less quarter disc, turned about the bore axis; its own metal, with and without the fillet."""
    step = [Cylinder(54.0, 0.0, 12.0), Cylinder(62.0, 12.0, 22.0)]
    rho, a = 3.0, 27.0
    true = 2 * math.pi * (rho**2 * (a + rho / 2) - math.pi / 4 * rho**2 * (a + rho - 4 * rho / (3 * math.pi)))
    with_it, without = (boss_from_parts(parts, BORE) for parts in ([*step, Fillet(rho, 12.0, 54.0)], step))
    added = volume(with_it) - volume(without)
    arc = math.pi / 2 * rho * 2 * math.pi * (a + rho)  # more than the hollow's area
    assert true - arc * with_it.short_mm < added < true + arc * with_it.proud_mm


def test_volume_of_an_edge_break() -> None:
    """Pappus: a right triangle of legs b, its centroid b/3 in from the edge."""
    b, radius = 1.5, 27.0
    lost = volume(boss_from_parts([PLAIN], BORE)) - volume(boss_from_parts([PLAIN], BORE, edge_break_mm=b))
    assert lost == pytest.approx(2 * math.pi * (radius - b / 3) * b**2 / 2, rel=1e-4)  # n-gon: 2.4e-5 short


def test_volume_of_a_cut() -> None:
    """A circular segment's prism: R^2 acos(d/R) - d sqrt(R^2 - d^2), over the cut's length."""
    lost = volume(boss_from_parts([PLAIN], BORE)) - volume(boss_from_parts([PLAIN, Cut(1.0, 24.0, 2.0, 8.0)], BORE))
    segment = 27.0**2 * math.acos(24 / 27) - 24.0 * math.sqrt(27.0**2 - 24.0**2)
    assert lost == pytest.approx(6.0 * segment, rel=5e-4)  # 0.0005 mm of a segment 2 mm high on average


@pytest.mark.parametrize(("clock_deg", "axis", "sign"), [(0, 2, 1), (90, 1, 1), (180, 2, -1), (-90, 1, -1)])
def test_a_pad_stands_where_its_clock_says(clock_deg: float, axis: int, sign: int) -> None:
    """DESIGN 1: 12 o'clock is +Z, 3 o'clock +Y as seen from the pinion-nut end; further in is -X."""
    boss = boss_from_parts([PLAIN, Pad(math.radians(clock_deg), 31.0, 18.0, 3.0, 20.0)], BORE)
    top = boss.vertices[np.isclose(boss.vertices[:, axis] * sign, 31.0)]
    assert top[:, 0].min() == pytest.approx(-20.0)
    assert top[:, 0].max() == pytest.approx(-3.0)
    assert np.abs(boss.vertices[:, 3 - axis]).max() == pytest.approx(27.0)
    assert (boss.vertices[:, axis] * sign).max() == pytest.approx(31.0)
    assert (boss.vertices[:, axis] * sign).min() == pytest.approx(-27.0)


def test_a_rib_keeps_its_corners() -> None:
    """The crest is flat: corners at hypot(reach, width/2) from the axis."""
    boss = boss_from_parts([PLAIN, Rib(0.0, 8.0, 40.0, 0.0, 22.0)], BORE)
    assert np.hypot(boss.vertices[:, 1], boss.vertices[:, 2]).max() == pytest.approx(math.hypot(40.0, 4.0))


def test_a_fillet_is_hollow_on_the_side_of_the_smaller_part() -> None:
    """Its arc has its centre in the air, `radius` off the cylinder and off the step, on either side of a collar."""
    boss = boss_from_parts(ALL["fillet"], BORE)
    for at, side, rho in ((12.0, -1, 3.0), (18.0, 1, 2.0)):
        for lean in (0.2, 0.8, 1.4):
            s = at + side * rho * (1 - math.sin(lean))
            point = place(s, 27.0 + rho * (1 - math.cos(lean)), 0.5)
            assert distance(boss, point) < boss.short_mm + boss.proud_mm


def test_the_mirror_image_of_the_parts_is_the_mirror_image_of_the_boss() -> None:
    """Clock turned to minus clock is y turned to -y, wherever the triangles run."""
    parts = [PLAIN, Pad(0.6, 31.0, 18.0, 3.0, 22.0), Rib(-2.0, 8.0, 40.0, 6.0, 22.0), Cut(2.2, 25.0, 0.0, 9.0)]
    mirrored = [replace(part, clock=-part.clock) if isinstance(part, Pad | Rib | Cut) else part for part in parts]
    one, other = (boss_from_parts(p, BORE, edge_break_mm=0.7, tolerances=COARSE) for p in (parts, mirrored))
    flipped = BossMesh(other.vertices * [1, -1, 1], other.triangles[:, ::-1], BORE)
    assert volume(flipped) == pytest.approx(volume(one), rel=1e-12)
    assert area(flipped) == pytest.approx(area(one), rel=1e-12)
    assert max(distance(flipped, point) for point in one.vertices) < 1e-9
    assert max(distance(one, point) for point in flipped.vertices) < 1e-9
    assert max(distance(other, point) for point in one.vertices) > 1.0  # the boss itself is not symmetrical


def test_order_and_double_mention_of_parts_do_not_matter() -> None:
    parts = ALL["demo"]
    one, other = (boss_from_parts(p, BORE, tolerances=COARSE) for p in (parts, [*parts[::-1], parts[0]]))
    assert volume(other) == pytest.approx(volume(one), rel=1e-12)


def test_cuts_come_last() -> None:
    """A flat milled across takes the pad's metal too, wherever it stands in the list."""
    pad, cut = Pad(0.0, 31.0, 18.0, 0.0, 22.0), Cut(0.0, 28.0, 0.0, 22.0)
    for parts in ([cut, PLAIN, pad], [PLAIN, pad, cut]):
        assert boss_from_parts(parts, BORE, tolerances=COARSE).vertices[:, 2].max() == pytest.approx(28.0)


def test_the_wall_is_never_drawn_thicker_than_it_is() -> None:
    """All points of the bore lie on or outside its circle, none further than the facet error."""
    boss = boss_from_parts([PLAIN], BORE)
    radius = np.hypot(boss.vertices[:, 1], boss.vertices[:, 2])
    bore = radius[(radius > 1) & (radius < 20)]
    assert bore.min() >= 19.0
    assert bore.max() <= 19.0 + boss.short_mm


def test_facets_follow_the_law_of_the_sagitta() -> None:
    """DESIGN 3: 517 sides at R = 27 mm and 0.0005 mm, here rounded up to a multiple of four."""
    assert math.ceil(math.pi / math.sqrt(2 * 0.0005 / 27.0)) == 517
    assert facets_per_turn(27.0, 0.0005) == 520
    assert sagitta_mm(27.0, 520) == pytest.approx(27.0 * (1 - math.cos(math.pi / 520)), rel=1e-9)


def test_refusals_of_single_values_come_all_at_once() -> None:
    lines = refused([Cylinder(0.0, 0.0, 22.0), Pad(4.0, 30.0, -1.0, -2.0, 22.0), Cone(50.0, 60.0, 9.0, 9.0)])
    assert len(lines) == 5
    assert "boss.parts 1: cylinder: diameter 0.000 in" in lines[0]
    assert "boss.parts 2: pad at a clock angle of 229.183 deg" in lines[1]
    assert "boss.parts 2: pad: width -0.039 in" in lines[2]
    assert "boss.parts 2: pad at -0.079 in (-2.00 mm), outside the pinion-side end face" in lines[3]
    assert "boss.parts 3: cone ends at 0.354 in (9.00 mm) but starts at 0.354 in (9.00 mm)" in lines[4]


@pytest.mark.parametrize(
    ("parts", "words"),
    [
        ([], "the list is empty"),
        ([Cylinder(54.0, 10.0, 5.0)], "cylinder ends at 0.197 in (5.00 mm) but starts at 0.394 in (10.00 mm)"),
        ([PLAIN, Cylinder(54.0, 30.0, 40.0)], "the parts do not all touch one another: 2 pieces"),
        ([PLAIN, Pad(0.0, 40.0, 10.0, 23.0, 30.0)], "1.181 in (30.00 mm) from the pinion-side end"),
        ([Cylinder(54.0, 2.0, 22.0)], "no part at station 0"),
        ([PLAIN, Cut(math.nextafter(-math.pi, -4), 25.0, 0.0, 5.0)], "above -180 deg and up to 180 deg"),
        ([PLAIN, Cut(-math.pi, 25.0, 0.0, 5.0)], "cut at a clock angle of -180 deg"),
        ([Cut(0.0, 25.0, 0.0, 5.0)], "nothing but cuts or fillets"),
        ([Cylinder(math.nan, 0.0, 22.0)], "cylinder: diameter nan mm"),
        ([Cylinder(54.0, 0.0, math.inf)], "cylinder: end inf mm"),
        ([Cylinder(1e9, 0.0, 22.0)], "at most 11.811 in (300.00 mm)"),
        ([PLAIN, Fillet(3.0, 10.0, 54.0)], "no corner for a fillet"),
        ([PLAIN, Cylinder(58.0, 10.0, 22.0), Fillet(3.0, 10.0, 54.0)], "no corner for a fillet"),
        ([PLAIN, Cylinder(70.0, 10.0, 22.0), Fillet(3.0, 10.0, 55.0)], "no corner for a fillet"),
        ([Cylinder(54.0, 8.0, 22.0), Cylinder(70.0, 10.0, 22.0), Fillet(3.0, 10.0, 54.0)], "no corner for a fillet"),
    ],
)
def test_refusals_of_the_list(parts: list[Part], words: str) -> None:
    lines = refused(parts)
    assert len(lines) == 1 + (parts == [Cylinder(54.0, 8.0, 22.0), Cylinder(70.0, 10.0, 22.0), Fillet(3.0, 10.0, 54.0)])
    assert words in lines[0]
    assert lines[0].startswith("boss.parts")


@pytest.mark.parametrize(
    ("bore", "where", "words"),
    [
        (Bore(60.0, 20.0, 1.0, 18.0), "boss.bore_diameter", "is not smaller than the boss, 2.126 in (54.00 mm) across"),
        (Bore(54.0, 20.0, 1.0, 18.0), "boss.bore_diameter", "is not smaller than the boss"),
        (Bore(53.9999, 20.0, 1.0, 18.0), "boss.bore_diameter", "no wall round the pilot bore 0.000 in (0.00 mm) to"),
        (Bore(53.9985, 20.0, 1.0, 18.0), "boss.bore_diameter", "no wall round the pilot bore 0.000 in (0.00 mm) to"),
        (Bore(0.0, 20.0, 1.0, 18.0), "boss.bore_diameter", "is no size for a bore"),
        (Bore(38.0, math.nan, 1.0, 18.0), "boss.bore_depth", "nan mm is no size for a bore"),
        (Bore(38.0, 20.0, 18.0, 1.0), "boss.seat_to", "the bearing seat runs from"),
        (Bore(38.0, 20.0, 1.0, 21.0), "boss.seat_to", "both between 0 and the bore's depth"),
        (Bore(38.0, 30.0, 1.0, 25.0), "boss.seat_to", "but the boss ends at 0.866 in (22.00 mm)"),
    ],
)
def test_refusals_of_the_bore(bore: Bore, where: str, words: str) -> None:
    (line,) = refused([PLAIN], bore)
    assert line.startswith(where)
    assert words in line


def test_a_cut_into_the_bore_says_where() -> None:
    """Two flats that open the bore, each at its own stations and clock; the third leaves 0.5 mm of wall."""
    cuts = [Cut(0.5, 18.0, 0.0, 5.0), Cut(-2.0, 17.0, 10.0, 15.0), Cut(3.0, 19.5, 0.0, 22.0)]
    lines = sorted(refused([PLAIN, *cuts]))
    assert len(lines) == 2
    assert "0.000 in (0.00 mm) to 0.197 in (5.00 mm) from the pinion-side end, at about 29 deg" in lines[0]
    assert "0.394 in (10.00 mm) to 0.591 in (15.00 mm) from the pinion-side end, at about -115 deg" in lines[1]


def test_parts_that_meet_in_a_line_do_not_touch() -> None:
    """Two half blocks, back to back at one station, share an edge on the bore axis and no face."""
    halves: list[Part] = [Pad(0.0, 30.0, 60.0, 0.0, 10.0), Pad(math.pi, 30.0, 60.0, 10.0, 20.0)]
    (line,) = refused(halves, Bore(20.0, 6.0, 0.0, 6.0))
    assert "2 pieces, 0.000 in (0.00 mm) to 0.394 in (10.00 mm) and 0.394 in (10.00 mm) to 0.787 in (20.00 mm)" in line


@pytest.mark.parametrize("edge_break_mm", [-0.1, math.nan, 27.5, 23.0])
def test_refusals_of_the_edge_break(edge_break_mm: float) -> None:
    (line,) = refused([PLAIN], edge_break_mm=edge_break_mm)
    assert "edge break" in line


def test_an_edge_break_into_the_bore_is_refused() -> None:
    (line,) = refused([PLAIN], edge_break_mm=8.5)
    assert "no wall round the pilot bore 0.000 in (0.00 mm) to 0.020 in (0.50 mm) from the pinion-side end" in line
    assert "all round" in line
