"""Bosses of random parts and tables: facet errors that are true bounds, closed meshes, nothing read made up."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from boss_truth import distance, is_closed, place, surface_points, true_radius, volume
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial import cKDTree

from geartrack.boss.mesh import Bore
from geartrack.boss.parts import Cone, Cut, Cylinder, Fillet, Pad, Part, Rib, boss_from_parts
from geartrack.boss.readings import Give
from geartrack.boss.stations import (
    CLOCK_STEP_LIMIT,
    STATION_STEP_LIMIT_MM,
    StationTable,
    as_csv,
    boss_from_stations,
    parse_stations,
    reading_steps_at,
)
from geartrack.errors import Finding, InputError
from geartrack.frame import polar
from geartrack.tolerances import Tolerances

BORE = Bore(36.0, 18.0, 1.0, 16.0)
LENGTH = 24.0
TWO_OFF = 1e-9  # mm: rounding of the coordinates, nothing else


def between(low: float, high: float) -> st.SearchStrategy[float]:
    return st.floats(low, high, allow_nan=False)


clocks = between(-3.14, 3.14)
rounds = st.one_of(
    st.builds(lambda d: (Cylinder(d, 0.0, LENGTH),), between(46.0, 60.0)),
    st.builds(lambda a, b: (Cone(a, b, 0.0, LENGTH),), between(46.0, 60.0), between(46.0, 60.0)),
    st.builds(
        lambda a, b, s: (Cylinder(a, 0.0, s), Cylinder(b, s, LENGTH)), *(between(46.0, 60.0),) * 2, between(4, 20)
    ),
    st.builds(
        lambda d, s, r, more: (Cylinder(d, 0.0, s), Cylinder(d + 2 * r + more, s, LENGTH), Fillet(r, s, d)),
        between(46.0, 60.0),
        between(8.0, 20.0),
        between(1.0, 6.0),
        between(0.0, 5.0),
    ),
)
spans = st.tuples(between(0.0, 10.0), between(11.0, LENGTH))
pads = st.builds(lambda t, d, w, s: Pad(t, d, w, *s), clocks, between(24.0, 34.0), between(4.0, 40.0), spans)
ribs = st.builds(lambda t, d, w, s: Rib(t, w, d, *s), clocks, between(28.0, 42.0), between(4.0, 12.0), spans)
cuts = st.builds(lambda t, d, s: Cut(t, d, *s), clocks, between(20.0, 29.0), spans)
extras = st.lists(st.one_of(pads, ribs, cuts), max_size=4).map(tuple)
part_lists = st.builds(lambda first, more: [*first, *more], rounds, extras)
edge_breaks = st.sampled_from([0.0, 0.6, 1.5])


@given(part_lists, edge_breaks, st.sampled_from([0.0005, 0.01]), st.integers(0, 99))
@settings(max_examples=25, deadline=None)
def test_the_facet_error_bounds_the_true_surface(
    parts: list[Part], edge_break_mm: float, facet_mm: float, seed: int
) -> None:
    """Points of the true outside, one ray at a time from the parts' own definitions, lie as near the mesh as it says.

    Without fillets the mesh lies wholly within the true boss: no point of it further out than the true surface.
    """
    boss = boss_from_parts(parts, BORE, edge_break_mm=edge_break_mm, tolerances=Tolerances(facet_mm=facet_mm))
    assert max(boss.short_mm, boss.proud_mm) <= facet_mm
    rng = np.random.default_rng(seed)
    for s, t in zip(rng.uniform(0.0, LENGTH, 25), rng.uniform(-math.pi, math.pi, 25), strict=True):
        point = place(s, true_radius(parts, s, t, edge_break_mm), t)
        assert distance(boss, point) <= max(boss.short_mm, boss.proud_mm) + TWO_OFF
    if boss.proud_mm == 0:
        for x, y, z in surface_points(boss, 50, seed):
            beside = [min(max(-x + hair, 0.0), LENGTH) for hair in (-TWO_OFF, TWO_OFF)]  # either side of a step
            furthest = max(true_radius(parts, s, math.atan2(y, z), edge_break_mm) for s in beside)
            assert math.hypot(y, z) <= furthest + 1e-7


@given(part_lists, edge_breaks)
@settings(max_examples=15, deadline=None)
def test_every_boss_is_closed_and_its_mirror_image_is_its_mirrored_parts(
    parts: list[Part], edge_break_mm: float
) -> None:
    mirrored = [replace(part, clock=-part.clock) if isinstance(part, Pad | Rib | Cut) else part for part in parts]
    coarse = Tolerances(facet_mm=0.02)
    one, other = (boss_from_parts(p, BORE, edge_break_mm=edge_break_mm, tolerances=coarse) for p in (parts, mirrored))
    assert is_closed(one)
    assert volume(one) == pytest.approx(volume(other), rel=1e-12)
    for x, y, z in one.vertices[::7]:
        assert distance(other, (x, -y, z)) < 1e-9


def table_of(seed: int, count: int, rough: float) -> StationTable:
    """Readings at irregular places of an invented boss, off centre, with errors of up to `rough` [mm]."""
    rng = np.random.default_rng(seed)
    s, t = rng.uniform(0.0, LENGTH, count), rng.uniform(-math.pi, math.pi, count)
    return StationTable(s, t, 27.0 + 0.4 * np.sin(t - seed) + 0.05 * s + rng.uniform(-rough, rough, count), LENGTH)


tables = st.builds(table_of, st.integers(0, 10**6), st.integers(8, 90), between(0.0, 1.5))
COARSE = Tolerances(facet_mm=0.02)


@given(tables)
@settings(max_examples=10, deadline=None)
def test_a_boss_from_any_table_is_closed_and_never_makes_up_a_gap(table: StationTable) -> None:
    """Closed, outward, finite; through its readings; and as large as the largest of them where none stands near."""
    boss = boss_from_stations(table, BORE)
    assert is_closed(boss)
    assert np.isfinite(boss.vertices).all()
    assert volume(boss) > 0
    for s, t, q in zip(table.station_mm[:9], table.clock[:9], table.radius_mm[:9], strict=True):
        along, around = reading_steps_at(table, s, t)
        if along <= STATION_STEP_LIMIT_MM and around <= CLOCK_STEP_LIMIT:
            assert distance(boss, place(s, q, t)) <= max(boss.short_mm, boss.proud_mm) + TWO_OFF
    station, radius, clock = polar(boss.vertices)
    for i in np.flatnonzero(radius > BORE.diameter_mm / 2 + 0.05)[::23]:
        turn = np.abs(np.remainder(table.clock - clock[i] + math.pi, 2 * math.pi) - math.pi)
        alone = (turn > CLOCK_STEP_LIMIT) | (np.abs(table.station_mm - station[i]) > STATION_STEP_LIMIT_MM)
        if alone.all():
            assert radius[i] >= table.radius_mm.max() - TWO_OFF


@given(tables, st.integers(0, 9))
@settings(max_examples=20, deadline=None)
def test_what_is_not_read_is_drawn_at_the_largest_radius(table: StationTable, seed: int) -> None:
    """Readings of one half turn taken away: that half stands at the largest radius left, and the notes say so."""
    half = np.abs(table.clock) < math.pi / 2
    if half.sum() < 6:
        return
    left = StationTable(table.station_mm[half], table.clock[half], table.radius_mm[half], LENGTH)
    boss = boss_from_stations(left, BORE, tolerances=COARSE)
    station, radius, clock = polar(boss.vertices)
    away = (np.abs(clock) > math.pi / 2) & (radius > BORE.diameter_mm / 2 + 0.05)
    assert away.any()
    assert (radius[away] >= left.radius_mm.max() - 1e-9).all()
    assert any(note.startswith("nothing read ") for note in boss.notes)  # from an angle on, or nowhere at all
    t = np.random.default_rng(seed).uniform(math.pi / 2 + 0.01, 3 * math.pi / 2 - 0.01)
    assert reading_steps_at(left, float(station[0]), t)[1] > CLOCK_STEP_LIMIT


@given(tables)
@settings(max_examples=15, deadline=None)
def test_a_table_read_the_other_way_round_gives_the_mirror_image(table: StationTable) -> None:
    one = boss_from_stations(table, BORE, tolerances=COARSE)
    other = boss_from_stations(replace(table, clock=-table.clock), BORE, tolerances=COARSE)
    assert volume(one) == pytest.approx(volume(other), rel=1e-4)  # diagonals of coarse facets run the other way
    assert one.interpolation_mm == pytest.approx(other.interpolation_mm, rel=1e-6)
    assert cKDTree(other.vertices).query(one.vertices * [1, -1, 1])[0].max() < 1e-6


@given(tables)
@settings(max_examples=50, deadline=None)
def test_a_table_written_and_read_is_the_same(table: StationTable) -> None:
    back = parse_stations(as_csv(table), bore=BORE, give="radius", length_mm=LENGTH)
    np.testing.assert_allclose(back.station_mm, table.station_mm, rtol=0, atol=1e-9)
    np.testing.assert_allclose(back.clock, table.clock, rtol=0, atol=1e-11)
    np.testing.assert_allclose(back.radius_mm, table.radius_mm, rtol=0, atol=1e-9)


cells = st.one_of(
    st.text(max_size=12),
    st.sampled_from(
        ["12.7", "1 1/2 in", "nan", "-3", "1e400", "0,5", "1,234", "", "90", "1:30", "13", '"', "\0", "27 mm"]
    ),
)
headers = st.one_of(
    st.sampled_from(["station_mm,clock_deg,radius_mm", "station,clock,wall", "station_in,clock_oclock,wall_in"]),
    st.lists(cells, max_size=4).map(",".join),
)


@given(
    headers, st.lists(st.lists(cells, max_size=4).map(",".join), max_size=12), st.sampled_from(["radius", "wall", None])
)
@settings(max_examples=300, deadline=None)
def test_any_text_is_a_table_or_is_refused_line_by_line(header: str, rows: list[str], give: Give | None) -> None:
    """Nothing but InputError, never NaN, every finding on one line."""
    findings: tuple[Finding, ...] = ()
    try:
        table = parse_stations("\n".join([header, *rows]), bore=BORE, give=give, length_mm=LENGTH)
    except InputError as error:
        findings = error.findings
    else:
        assert (table.radius_mm > BORE.diameter_mm / 2).all()
        assert (np.abs(table.clock) <= math.pi).all()
        assert ((table.station_mm >= 0) & (table.station_mm <= LENGTH)).all()
    assert all(len(str(finding).splitlines()) == 1 for finding in findings)
