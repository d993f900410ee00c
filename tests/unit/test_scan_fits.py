"""Robust fits against scipy's, and against what they were made from; what they may be off by against many fits."""

import numpy as np
import pytest
from scipy.optimize import least_squares

from geartrack.boss.scan.find import find_cylinders
from geartrack.boss.scan.fits import across_of, fit_cylinder, fit_plane, seen_turn
from geartrack.boss.scan.points import Patches, patches
from geartrack.boss.scan.surface import outside

AXIS = np.array([0.36, -0.48, 0.8])
POINT = np.array([12.0, -7.0, 31.0])


def bore(rng, *, radius=19.0, length=20.0, turn=2 * np.pi, count=3000, noise=0.02, strays=0.0):
    """Points on a bore, some thrown up to a millimetre off."""
    u, v = across_of(AXIS)
    along, angle = rng.uniform(0, length, count), rng.uniform(0, turn, count)
    out = radius + rng.normal(scale=noise, size=count)
    thrown = rng.random(count) < strays
    out[thrown] += rng.uniform(-0.6, 0.6, int(thrown.sum()))
    return POINT + along[:, None] * AXIS + out[:, None] * (np.cos(angle)[:, None] * u + np.sin(angle)[:, None] * v)


def by_scipy(points, start):
    """Axis, by a general solver with a robust loss: two shifts, two tilts, radius."""
    u, v = across_of(AXIS)

    def residuals(p):
        axis = AXIS + p[2] * u + p[3] * v
        axis = axis / np.linalg.norm(axis)
        away = points - (POINT + p[0] * u + p[1] * v)
        return np.linalg.norm(away - np.outer(away @ axis, axis), axis=1) - p[4]

    return least_squares(residuals, start, loss="cauchy", f_scale=0.02).x


@pytest.mark.parametrize(("turn", "strays"), [(2 * np.pi, 0.0), (np.pi, 0.0), (2 * np.pi, 0.2), (np.pi, 0.2)])
def test_a_bore_is_fitted_as_a_general_solver_does(turn, strays):
    """scipy.optimize.least_squares with Cauchy's loss; two robust losses differ by part of their standard errors."""
    points = bore(np.random.default_rng(5), turn=turn, strays=strays)
    start = AXIS + 0.02 * across_of(AXIS)[0]
    found = fit_cylinder(points, point=POINT + 0.2, axis=start / np.linalg.norm(start), radii_mm=(18.9,))
    shift_u, shift_v, tilt_u, tilt_v, radius = by_scipy(points, [0.0, 0.0, 0.0, 0.0, 19.0])
    u, v = across_of(AXIS)
    theirs = AXIS + tilt_u * u + tilt_v * v
    theirs /= np.linalg.norm(theirs)
    assert np.linalg.norm(np.cross(found.axis, theirs)) < 3e-4
    away = found.point - (POINT + shift_u * u + shift_v * v)
    assert np.linalg.norm(away - (away @ theirs) * theirs) < 0.004
    assert found.radii_mm[0] == pytest.approx(radius, abs=0.003)
    assert found.rms_mm == pytest.approx(0.02, rel=0.35)
    assert found.share == pytest.approx(1 - strays, abs=0.05)
    assert found.turn == pytest.approx(turn / (2 * np.pi), abs=0.05)


def test_two_bores_share_an_axis():
    rng = np.random.default_rng(6)
    one, other = bore(rng, radius=40.0, turn=np.pi), bore(rng, radius=31.0, turn=np.pi) + 120 * AXIS
    number = np.repeat([0, 1], [len(one), len(other)])
    found = fit_cylinder(np.concatenate([one, other]), point=POINT, axis=AXIS, radii_mm=(39.9, 31.1), bore=number)
    alone = fit_cylinder(one, point=POINT, axis=AXIS, radii_mm=(39.9,))
    assert found.radii_mm == pytest.approx((40.0, 31.0), abs=0.01)
    assert found.tilt_give() < alone.tilt_give() / 3  # the other bore is far off
    middle = POINT + 60 * AXIS
    assert found.give_mm(middle, found.across[0]) < alone.give_mm(middle, alone.across[0])


def test_what_an_axis_may_be_off_by_covers_it_and_is_not_idle():
    """Closed form: n points round a full turn give a shift one way the variance 2 sigma^2 / n; here 60 count."""
    rng = np.random.default_rng(7)
    found = fit_cylinder(bore(rng), point=POINT + 10 * AXIS, axis=AXIS, radii_mm=(19.0,))
    middle = POINT + 10 * AXIS
    assert found.give_mm(middle, found.across[0]) == pytest.approx(2 * 0.02 * np.sqrt(2 / 60), rel=0.1)
    held = 0
    for _ in range(40):
        found = fit_cylinder(bore(rng, count=60), point=middle, axis=AXIS, radii_mm=(19.0,))
        away = found.point - POINT
        off = (away - (away @ AXIS) * AXIS) @ found.across[0]
        held += abs(off) <= found.give_mm(POINT + (away @ AXIS) * AXIS, found.across[0])
    assert held >= 34  # 95 % of 40 are 38; fewer than 34 have a chance of 0.3 %


def test_a_ball_is_no_bore():
    rng = np.random.default_rng(8)
    way = rng.normal(size=(4000, 3))
    points = 30.0 * way / np.linalg.norm(way, axis=1)[:, None]
    points = points[np.abs(points[:, 2]) < 8]
    found = fit_cylinder(points, point=np.zeros(3), axis=np.array([0.0, 0.0, 1.0]), radii_mm=(29.8,))
    assert found.hollow_mm > 0.2
    assert abs(fit_cylinder(bore(rng), point=POINT, axis=AXIS, radii_mm=(19.0,)).hollow_mm) < 0.003


def test_a_face_is_found_under_strays():
    """numpy's least squares on the points that belong, which the robust fit does not know."""
    rng = np.random.default_rng(9)
    flat = rng.uniform(-25, 25, (2000, 2))
    height = 3.0 + 0.01 * flat[:, 0] - 0.02 * flat[:, 1] + rng.normal(scale=0.02, size=2000)
    sound = np.arange(2000) >= 400
    height[~sound] += rng.uniform(-0.4, 0.4, 400)
    columns = np.column_stack([np.ones(2000), flat])
    expected = np.linalg.lstsq(columns[sound], height[sound], rcond=None)[0]
    found = fit_plane(np.column_stack([flat, height]), point=np.array([0, 0, 3.1]), normal=np.array([0.0, 0.0, 1.0]))
    assert found.point[2] == pytest.approx(expected[0], abs=0.003)
    assert -found.normal[:2] / found.normal[2] == pytest.approx(expected[1:], abs=2e-4)
    kept = 0.8 + 0.2 * (4.685 * 0.02 / 0.4)  # strays nearer than the weights' end cannot be told
    assert found.share == pytest.approx(kept, abs=0.03)
    assert abs(found.point[2] - 3.0) < found.give_mm


def test_how_much_of_a_turn_is_seen():
    assert seen_turn(np.linspace(0, np.pi, 500)) == pytest.approx(0.5, abs=0.05)
    assert seen_turn(np.linspace(-np.pi, np.pi, 500)) == 1.0
    assert seen_turn(np.append(np.zeros(500), 2.0)) == pytest.approx(1 / 24)  # one stray shows no turn


def test_a_bore_is_found_among_other_surfaces_by_size():
    rng = np.random.default_rng(10)
    wide = bore(rng, radius=45.0, length=30.0, count=20000) + 80.0
    clutter = np.column_stack([rng.uniform(-60, 60, (20000, 2)), np.full(20000, -20.0)])
    points = np.concatenate([bore(rng, count=12000), wide, clutter])
    pieces = patches(points, 3.0)
    for limits, radius in (((18.0, 20.0), 19.0), ((40.0, 50.0), 45.0)):
        best = find_cylinders(pieces, np.random.default_rng(1), radii_mm=limits)[0]
        assert best.radius_mm == pytest.approx(radius, abs=0.1)
        assert np.linalg.norm(np.cross(best.axis, AXIS)) < 0.01
    none = Patches(np.zeros((0, 3)), np.zeros((0, 3)), np.zeros(0))
    assert find_cylinders(none, np.random.default_rng(1), radii_mm=(18.0, 20.0)) == []


def grid_of(radius_of, count=400, rows=120, length=24.0):
    """A surface r(station, clock) as a fine mesh in the boss frame."""
    station, clock = np.linspace(0, length, rows), np.linspace(0, 2 * np.pi, count, endpoint=False)
    s, t = np.meshgrid(station, clock, indexing="ij")
    r = radius_of(s, t)
    points = np.stack([-s, r * np.sin(t), r * np.cos(t)], axis=-1).reshape(-1, 3)
    i, j = np.meshgrid(np.arange(rows - 1), np.arange(count), indexing="ij")
    a, b, c, d = (x * count + y % count for x, y in ((i, j), (i, j + 1), (i + 1, j + 1), (i + 1, j)))
    return points, np.concatenate([np.stack(k, axis=-1).reshape(-1, 3) for k in ((a, b, c), (a, c, d))]).astype(
        np.int32
    )


@pytest.mark.parametrize("turned", [False, True])
def test_the_outside_is_what_was_drawn(turned):
    """A wavy cone: closed form; which way round the triangles are wound does not matter."""

    def wavy(s, t):
        return 27.0 + 0.1 * s + 0.5 * np.cos(3 * t)

    points, faces = grid_of(wavy)
    points = points + np.random.default_rng(3).normal(scale=0.02, size=points.shape)
    shown = outside(
        points, faces[:, ::-1] if turned else faces, bore_radius_mm=19.0, length_mm=23.0, out_mm=50.0, face_mm=0.1
    )
    s, t = np.meshgrid(shown.station_mm, shown.clock, indexing="ij")
    error = shown.radius_mm - wavy(s, t)
    assert shown.seen.all()
    assert np.abs(error).max() < 0.08  # four times the noise, where the end face is drawn on from what is past it
    assert error.std() < 0.01
    assert abs(error.mean()) < 0.002
    assert 0.005 < shown.rms_mm < 0.03


def test_a_hole_is_drawn_large_and_said():
    def stepped(s, t):
        return np.where(np.abs(t - 3.0) < 0.3, 33.0, 27.0)

    points, faces = grid_of(stepped)
    clock = np.arctan2(points[:, 1], points[:, 2]) % (2 * np.pi)
    lost = (np.abs(clock - 3.7) < 0.3) & (-points[:, 0] > 8)
    shown = outside(points, faces[~lost[faces].any(axis=1)], bore_radius_mm=19.0, length_mm=23.0, out_mm=50.0)
    row, column = np.abs(shown.station_mm - 15).argmin(), np.abs(shown.clock - 3.7).argmin()
    assert not shown.seen[row, column]
    assert shown.radius_mm[row, column] == pytest.approx(33.0, abs=0.05)  # the step beside it, within 30 deg
    assert shown.seen[np.abs(shown.station_mm - 4).argmin()].all()
    assert shown.seen.mean() == pytest.approx(1 - (0.6 / (2 * np.pi)) * 15 / 23, abs=0.03)
