"""What a least cut must keep to whatever the shapes: its field, its bounds, its order, its symmetries, its stop."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from gap_shapes import CONCAVE, FLAT, NOSE, SOLID, WAISTED, box
from hypothesis import given, settings
from hypothesis import strategies as st
from relief_shapes import RING, placed, tube

from geartrack.boss.mesh import Bore, PlacedBoss
from geartrack.clearance import boss_gap
from geartrack.frame import Hand, Seat, from_polar, meridian
from geartrack.relief import relief, stop_clearance, wall_before, wall_left
from geartrack.relief.patch import find_patch
from geartrack.relief.sweep_field import GrownSweep
from geartrack.section import Section
from geartrack.sweep import signed_distance

COARSE = tube(around=40)  # corners show: the mesh is what is cut, not the cylinder behind it


@st.composite
def star(draw: st.DrawFn) -> Section:
    """A star-shaped polygon with reflex corners, beside or over the boss's edge."""
    reach = np.array(draw(st.lists(st.floats(3, 25), min_size=4, max_size=9)))
    angles = np.arange(len(reach)) * 2 * np.pi / len(reach) + draw(st.floats(0, 6))
    points = np.stack([95 + reach * np.cos(angles), 38 + reach * np.sin(angles)], axis=1)
    return Section(points, tuple(f"side {i}" for i in range(len(reach))))


def rings() -> st.SearchStrategy[Section]:
    return st.sampled_from([RING, CONCAVE, NOSE]) | star()


def lacking(boss: PlacedBoss, shape: Section, least: float, most: float) -> st.SearchStrategy[float]:
    """Clearances that a boss falls short of by so much."""
    gap = boss_gap(boss, shape).nominal_mm
    return st.floats(gap + least, gap + most)


@given(
    st.sampled_from([RING, CONCAVE, FLAT, NOSE, SOLID, WAISTED]) | star(), st.floats(-6, 6), st.integers(0, 2**32 - 1)
)
def test_rings_of_the_growth_are_where_distance_is_at_most_the_growth(shape: Section, grow: float, seed: int) -> None:
    """A point lies in a ring that its level plane cuts from the growth exactly if its distance says so."""
    low, high = shape.points.min(axis=0) - 8, shape.points.max(axis=0) + 8
    points = np.abs(np.random.default_rng(seed).uniform(low, high, (400, 2)))
    distance = signed_distance(shape, points) - grow
    points, distance = points[np.abs(distance) > 1e-9], distance[np.abs(distance) > 1e-9]
    rings_there = GrownSweep(shape, grow).rings(points[:, 1])
    count = sum(sign * ((start < points[:, 0]) & (points[:, 0] < end)) for sign, start, end in rings_there)
    assert (count == (distance < 0)).all()


@settings(max_examples=25)
@given(rings(), st.data())
def test_each_ray_is_cut_from_its_first_place_within_the_clearance(shape: Section, data: Any) -> None:
    """Sampled every 0.01 mm from bore to outside, the first place within C is where the cut begins, if any is."""
    clearance = data.draw(lacking(COARSE, shape, 0.05, 4.0))
    cut = relief(COARSE, shape, clearance)
    seed = data.draw(st.integers(0, 2**32 - 1))
    i, j = (np.random.default_rng(seed).integers(0, n, 60) for n in cut.depth_radial_mm.shape)
    steps = np.linspace(0, 1, 1001)
    radius = 18.0 + steps[:, None] * (cut.cast_radius_mm[i, j] - 18.0)
    places = COARSE.seat.to_axle(from_polar(cut.stations_mm[i], radius, cut.clocks[j]))
    away = signed_distance(shape, meridian(places)) - clearance
    for within, at, begins, least in zip(
        (away <= 0).T, radius.T, cut.cut_radius_mm[i, j], away.min(axis=0), strict=True
    ):
        step = at[1] - at[0]
        if within.any():
            first = at[within.argmax()]
            assert first - step - 1e-6 <= begins <= first + 1e-6
        else:
            assert begins == at[-1] or least <= step / 2 + 1e-4  # it may graze the sweep between two samples


@settings(max_examples=25)
@given(rings(), st.data())
def test_a_larger_clearance_takes_and_leaves_no_more(shape: Section, data: Any) -> None:
    smaller, larger = sorted(data.draw(lacking(COARSE, shape, -0.5, 4.0)) for _ in range(2))
    less, more = relief(COARSE, shape, smaller), relief(COARSE, shape, larger)
    assert less.volume_mm3 <= more.volume_mm3 + less.volume_error_mm3 + more.volume_error_mm3
    assert less.depth_max_mm <= more.depth_max_mm + more.depth_max_error_mm
    assert less.depth_radial_max_mm <= more.depth_radial_max_mm + 0.02
    assert wall_left(COARSE, shape, smaller).left_mm >= wall_left(COARSE, shape, larger).left_mm - 0.005
    assert wall_left(COARSE, shape, larger).left_mm <= wall_before(COARSE).before_mm


@settings(max_examples=40)
@given(rings(), st.data())
def test_something_goes_exactly_if_the_gap_falls_short(shape: Section, data: Any) -> None:
    gap = boss_gap(COARSE, shape)
    short = data.draw(st.floats(1e-5, 1.0))
    assert relief(COARSE, shape, gap.lower_mm).empty
    cut = relief(COARSE, shape, gap.upper_mm + short)
    assert not cut.empty
    assert cut.depth_radial_max_mm > 0
    assert 0 < cut.depth_max_mm <= cut.depth_radial_max_mm + 1e-9
    assert cut.outline


@settings(max_examples=25)
@given(rings(), st.data())
def test_volume_is_what_the_rays_take(shape: Section, data: Any) -> None:
    """Where a ray is cut from its first place out to the surface, volume = integral of (cast^2 - cut^2) / 2 ds dt: a
    second route, by trapezia over rays, good to the share of the patch that its edge cells make up; an overhang that
    the rays count as cut can only add to it."""
    cut = relief(COARSE, shape, data.draw(lacking(COARSE, shape, 0.5, 4.0)))
    taken = (cut.cast_radius_mm**2 - cut.cut_radius_mm**2) / 2
    rays = np.trapezoid(np.trapezoid(taken, cut.clocks, axis=1), cut.stations_mm)
    assert cut.volume_mm3 <= rays * 1.05 + 0.02


@settings(max_examples=25)
@given(rings(), st.floats(-3, 3), st.data())
def test_turning_the_boss_round_the_ring_axis_changes_nothing(shape: Section, turn: float, data: Any) -> None:
    """The sweep is the same all round, so volume and area are; triangles and slices are not."""
    sweep = GrownSweep(shape, data.draw(lacking(COARSE, shape, 0.1, 3.0)))
    c, s = np.cos(turn), np.sin(turn)
    turned = COARSE.vertices @ np.array([[c, s, 0], [-s, c, 0], [0, 0, 1]])
    here, there = (find_patch(v, COARSE.triangles, sweep, share=1e-5) for v in (COARSE.vertices, turned))
    assert abs(here.volume_mm3 - there.volume_mm3) <= here.error_mm3 + there.error_mm3 + 1e-9
    assert here.area_mm2 == pytest.approx(there.area_mm2, rel=5e-3)  # its pieces are cut otherwise


@settings(max_examples=20)
@given(rings(), st.data())
def test_stated_volume_error_holds(shape: Section, data: Any) -> None:
    sweep = GrownSweep(shape, data.draw(lacking(COARSE, shape, 0.01, 4.0)))
    exact = find_patch(COARSE.vertices, COARSE.triangles, sweep, share=1e-7)
    for share in (1e-2, 5e-4):
        found = find_patch(COARSE.vertices, COARSE.triangles, sweep, share=share)
        assert abs(found.volume_mm3 - exact.volume_mm3) <= found.error_mm3 + exact.error_mm3


def shaped(hand: Hand, low: tuple[float, float, float], high: tuple[float, float, float]) -> PlacedBoss:
    vertices, triangles = box(low, high)
    if hand is Hand.ABOVE:
        vertices, triangles = vertices * [1.0, -1.0, 1.0], triangles[:, ::-1]
    return placed(vertices, triangles, bore=Bore(20.0, 0.0, 0.0, 0.0), seat=Seat(54.0, 50.0, hand))


@settings(max_examples=15)
@given(rings(), st.floats(12, 30), st.floats(12, 30), st.floats(22, 28), st.data())
def test_both_hands_are_mirror_twins(shape: Section, right: float, left: float, top: float, data: Any) -> None:
    """An unsymmetrical block and its mirror image: the same cut, marked at the mirrored clock."""
    below, above = (shaped(hand, (-20.0, -left, -30.0), (0.0, right, top)) for hand in (Hand.BELOW, Hand.ABOVE))
    clearance = data.draw(lacking(below, shape, 0.05, 2.0))
    one, other = relief(below, shape, clearance), relief(above, shape, clearance)
    assert other.volume_mm3 == pytest.approx(one.volume_mm3, rel=1e-5)
    either = one.depth_max_error_mm + other.depth_max_error_mm
    assert other.depth_max_mm == pytest.approx(one.depth_max_mm, abs=either)
    assert other.clocks == pytest.approx(-one.clocks[::-1])
    assert other.depth_radial_mm == pytest.approx(one.depth_radial_mm[:, ::-1], abs=1e-4)


@settings(max_examples=25)
@given(rings(), st.floats(2, 8.5), st.floats(0, 1), st.data())
def test_stop_never_passes_the_minimum_wall(shape: Section, minimum: float, allowance: float, data: Any) -> None:
    clearance = data.draw(lacking(COARSE, shape, 0.0, 3.0))
    stop = stop_clearance(COARSE, shape, clearance_mm=clearance, allowance_mm=allowance, minimum_wall_mm=minimum)
    assert stop.wall_left_mm >= minimum - 1e-4
    assert stop.clearance_mm <= clearance + allowance
    assert stop.limited_by == ("allowance" if stop.clearance_mm == clearance + allowance else "wall")
    if stop.limited_by == "wall":
        assert wall_left(COARSE, shape, stop.clearance_mm + 0.05).left_mm < minimum
