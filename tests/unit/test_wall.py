"""The wall round the land in closed form, before the cut and after it, and where to stop."""

from __future__ import annotations

import numpy as np
import pytest
from relief_shapes import BORE, END_FACE, LENGTH, RADIUS, RING, TOWARD, flat, lathed, placed, sloping, tube

from geartrack.boss.mesh import Bore, PlacedBoss
from geartrack.clearance import boss_gap
from geartrack.errors import InputError
from geartrack.frame import Hand, Seat, from_polar, meridian
from geartrack.relief import relief, stop_clearance, wall_before, wall_left
from geartrack.sweep import signed_distance

SAGITTA = RADIUS * (1 - np.cos(np.pi / 520))
WALL = RADIUS - BORE


def turned(profile: list[tuple[float, float]], seat: tuple[float, float]) -> PlacedBoss:
    """A boss from its outline, bored 2 * BORE right through."""
    vertices, triangles = lathed(profile, 520)
    bore = Bore(2 * BORE, max(s for s, _ in profile), *seat)
    return placed(vertices, triangles, bore=bore, seat=Seat(0.0, END_FACE, Hand.BELOW))


def test_wall_before_of_a_true_boss() -> None:
    found = wall_before(tube())
    assert WALL - SAGITTA - 1e-9 <= found.before_mm <= WALL
    assert found.left_mm == found.local_before_mm == found.before_mm
    assert found.seat_length_left_mm == 16.0
    assert not found.breaks_in


@pytest.mark.parametrize(("dy", "dz"), [(1.5, 0.0), (-0.6, 0.8), (0.0, -2.0)])
def test_wall_before_where_the_outside_runs_out(dy: float, dz: float) -> None:
    """The outside is shifted by e against the bore: its nearest point is R - e away, straight across from the shift."""
    found = wall_before(tube(shift=(dy, dz)))
    assert found.before_mm == pytest.approx(WALL - np.hypot(dy, dz), abs=SAGITTA)
    across = np.arctan2(-dy, -dz)
    assert np.cos(found.before_clock - across) == pytest.approx(1.0, abs=1e-3)


@pytest.mark.parametrize(("seat", "thin"), [((2.0, 18.0), 6.0), ((10.0, 18.0), 9.0)])
def test_only_the_wall_over_the_land_counts(seat: tuple[float, float], thin: float) -> None:
    """A groove to radius 24 between stations 8 and 9, and a chamfer in the mouth of the bore."""
    outside = [(0.0, RADIUS), (8.0, RADIUS), (8.0, 24.0), (9.0, 24.0), (9.0, RADIUS), (LENGTH, RADIUS)]
    found = wall_before(turned([*outside, (LENGTH, BORE), (1.5, BORE), (0.0, BORE + 1.5)], seat))
    assert found.before_mm == pytest.approx(thin, abs=SAGITTA)
    if thin == 6.0:
        assert 8.0 <= found.before_station_mm <= 9.0


def test_metal_beyond_air_is_no_wall() -> None:
    """A sleeve that overhangs the boss: at stations 4 to 12 the ray leaves the wall at 25, meets metal again at 31."""
    outline = [(0, BORE), (0, 35), (12, 35), (12, 31), (4, 31), (4, 25), (LENGTH, 25), (LENGTH, BORE)]
    boss = turned([(float(s), float(q)) for s, q in outline], (6.0, 10.0))
    assert wall_before(boss).before_mm == pytest.approx(25 - BORE, abs=SAGITTA)


@pytest.mark.parametrize(("height", "clearance"), [(24.0, 0.5), (20.0, 2.0)])
def test_wall_left_under_a_flat_cut(height: float, clearance: float) -> None:
    """Ground flat at h the wall is h - R_bore at 12 o'clock, all along."""
    found = wall_left(tube(), flat(height + clearance), clearance)
    assert found.left_mm == pytest.approx(height - BORE, abs=1e-5)
    assert found.clock == pytest.approx(0.0, abs=2e-3)
    assert found.local_before_mm == pytest.approx(WALL, abs=SAGITTA)
    assert found.before_mm == pytest.approx(WALL, abs=SAGITTA)
    assert found.seat_length_left_mm == pytest.approx(16.0)


@pytest.mark.parametrize("seat_from", [0.0, 0.5, 1.0, 3.0, 6.0])
def test_wall_left_beside_an_edge_is_a_distance_in_space(seat_from: float) -> None:
    """At the edge of test_relief the cut line lacks D = a s1 + b (R - R_bore) - d of the land's corner (s1, R_bore).

    If its foot, s1 - a D, is still in metal, D is the wall; if not, the nearest place is where the line meets the end
    face, q0 = R - d / b, hypot(s1, q0 - R_bore) away. Both differ from the ray's q0 - R_bore straight over the bore.
    """
    lacking, (a, b) = 1.7, TOWARD
    found = wall_left(tube(offset=0.0, seat=(seat_from, 18.0)), sloping(-1.2), 0.5)
    square = a * seat_from + b * WALL - lacking
    at_face = np.hypot(seat_from, WALL - lacking / b)
    in_metal = seat_from >= a * square
    exact = square if in_metal else at_face
    assert found.left_mm == pytest.approx(exact, abs=2e-4)
    assert found.station_mm == pytest.approx(seat_from - a * square if in_metal else 0.0, abs=0.05)


def test_wall_left_is_the_distance_to_the_sweep_less_the_clearance() -> None:
    """dist(land, sweep + C) = dist(land, sweep) - C, exactly, where the nearest place of the cut lies in metal.

    The distance from the land to the sweep: by a dense grid over the land, whose steps leave it at most 1e-4 too far.
    """
    boss = tube()
    s, t = np.linspace(2, 18, 801), np.linspace(0.3, 0.8, 2001)
    land = boss.seat.to_axle(from_polar(s[:, None], np.array(BORE), t))
    nearest = signed_distance(RING, meridian(land)).min()
    for clearance in (4.0, 5.0, 6.5):
        assert wall_left(boss, RING, clearance).left_mm == pytest.approx(nearest - clearance, abs=2e-4)


def test_a_cut_into_the_bore_leaves_nothing_and_says_so() -> None:
    found = wall_left(tube(), flat(BORE - 0.5), 0.5)
    assert (found.left_mm, found.breaks_in, found.seat_length_left_mm) == (0.0, True, 0.0)


def test_seat_length_left_beside_a_broken_mouth() -> None:
    """The cut line of the edge reaches the bore's top where a s = d - b (R - R_bore); from there the land is whole."""
    (a, b), lacking = TOWARD, 9.3
    found = wall_left(tube(offset=0.0, seat=(1.0, 18.0)), sloping(0.5 - lacking), 0.5)
    assert found.breaks_in
    assert found.seat_length_left_mm == pytest.approx(18.0 - (lacking - b * WALL) / a, abs=0.005)


def test_nothing_cut_leaves_the_wall_as_it_was() -> None:
    assert wall_left(tube(), flat(40.0), 0.5).left_mm == wall_before(tube()).before_mm


@pytest.mark.parametrize(("minimum", "by"), [(5.0, "allowance"), (5.4, "allowance"), (5.6, "wall"), (8.0, "wall")])
def test_stop_under_a_flat_ring(minimum: float, by: str) -> None:
    """A flat ring at 25, C = 1, allowance 0.5: ground to 23.5 the wall is 5.5; it allows 25 - R_bore - minimum."""
    boss, ring = tube(), flat(25.0)
    stop = stop_clearance(boss, ring, clearance_mm=1.0, allowance_mm=0.5, minimum_wall_mm=minimum)
    assert stop.limited_by == by
    assert stop.clearance_mm == pytest.approx(min(1.5, 25.0 - BORE - minimum), abs=0.02)
    assert stop.clearance_mm <= min(1.5, 25.0 - BORE - minimum)
    assert stop.wall_left_mm == pytest.approx(25.0 - stop.clearance_mm - BORE, abs=1e-5)
    assert stop.wall_left_mm >= minimum
    assert relief(boss, ring, stop.clearance_mm).depth_radial_max_mm == pytest.approx(
        2.0 + stop.clearance_mm, abs=SAGITTA
    )


def test_stop_with_no_minimum_is_the_bore() -> None:
    stop = stop_clearance(tube(), flat(25.0), clearance_mm=9.0, allowance_mm=0.0, minimum_wall_mm=0.0)
    assert stop.limited_by == "wall"
    assert stop.clearance_mm == pytest.approx(25.0 - BORE, abs=0.02)
    assert stop.clearance_mm <= 25.0 - BORE


def test_a_land_of_no_length_has_its_wall_all_the_same() -> None:
    found = wall_left(tube(seat=(5.0, 5.0)), flat(24.0), 0.5)
    assert found.left_mm == pytest.approx(23.5 - BORE, abs=1e-4)
    assert found.seat_length_left_mm == 0.0


def test_stop_below_the_clearance_says_the_wall_forbids_it() -> None:
    stop = stop_clearance(tube(), flat(25.0), clearance_mm=1.0, allowance_mm=0.1, minimum_wall_mm=8.5)
    assert stop.clearance_mm < 0
    assert stop.limited_by == "wall"


def test_a_wall_under_the_minimum_already_allows_no_cut() -> None:
    boss = tube()
    stop = stop_clearance(boss, RING, clearance_mm=0.5, allowance_mm=0.1, minimum_wall_mm=WALL + 0.1)
    assert relief(boss, RING, stop.clearance_mm).empty
    assert (stop.limited_by, stop.wall_left_mm) == ("wall", wall_before(boss).before_mm)
    assert stop.clearance_mm == boss_gap(boss, RING).lower_mm
    away = stop_clearance(boss, RING.moved(dz_mm=9.0), clearance_mm=0.5, allowance_mm=0.1, minimum_wall_mm=WALL + 0.1)
    assert (away.clearance_mm, away.limited_by) == (0.6, "allowance")


@pytest.mark.parametrize("wrong", [{"allowance_mm": -0.1}, {"minimum_wall_mm": float("nan")}])
def test_stop_refuses(wrong: dict[str, float]) -> None:
    given = {"clearance_mm": 0.5, "allowance_mm": 0.1, "minimum_wall_mm": 5.0} | wrong
    with pytest.raises(InputError, match="must not be negative"):
        stop_clearance(tube(), RING, **given)
