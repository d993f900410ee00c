"""Station tables: what a file may hold, every refusal with its row, the boss between the readings and beyond them."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest
from boss_truth import distance, euler, is_closed, place, volume
from screen_words import forbidden

from geartrack.boss.mesh import Bore, BossMesh
from geartrack.boss.readings import FEWEST, MOST, MOST_BYTES, Give
from geartrack.boss.stations import (
    CLOCK_STEP_LIMIT,
    STATION_STEP_LIMIT_MM,
    StationTable,
    as_csv,
    boss_from_stations,
    parse_stations,
    read_stations,
    reading_steps_at,
)
from geartrack.errors import InputError
from geartrack.frame import polar

BORE = Bore(40.0, 20.0, 1.0, 18.0)
GOOD = "\n".join(["station_in, clock_deg, radius_mm"] + [f"{s}, {t}, 27.5" for s in (0, 0.2, 0.4) for t in (0, 20, 40)])


def refused(text: str, give: Give | None = None) -> list[str]:
    with pytest.raises(InputError) as caught:
        parse_stations(text, bore=BORE, give=give, length_mm=22.0, source="boss.csv")
    lines = str(caught.value).splitlines()
    assert len(lines) == len(caught.value.findings)
    assert not [word for line in lines for word in forbidden(line)]
    return lines


def grid(stations: list[float], clocks_deg: list[float], radius: float = 27.0) -> StationTable:
    s, t = (axis.ravel() for axis in np.meshgrid(stations, np.radians(clocks_deg), indexing="ij"))
    return StationTable(np.asarray(s, float), t, np.full(len(s), radius), 22.0)


FULL = grid([0.0, 4.0, 8.0, 12.0, 16.0, 20.0], list(range(-150, 181, 30)))


def outside(boss: BossMesh) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Station, radius and clock of the vertices of the outside."""
    station, radius, clock = polar(boss.vertices)
    keep = radius > BORE.diameter_mm / 2 + 1.0
    return station[keep], radius[keep], clock[keep]


# --- the file --------------------------------------------------------------------------------------------------------


def test_units_in_the_names() -> None:
    table = parse_stations(GOOD, bore=BORE, length_mm=22.0)
    assert table.station_mm[[0, 3, 6]].tolist() == pytest.approx([0.0, 5.08, 10.16])
    assert np.degrees(table.clock[:3]).tolist() == pytest.approx([0.0, 20.0, 40.0])
    assert set(table.radius_mm) == {27.5}


def test_units_in_a_line_of_their_own_or_in_every_cell_say_the_same() -> None:
    rows = GOOD.splitlines()[1:]
    line = "\n".join(["Station, Clock, Radius", "in, deg, mm", *rows])
    cells = "\n".join(["station,clock,radius", *("{} in, {} deg, {} mm".format(*row.split(", ")) for row in rows)])
    for text in (line, cells, "\ufeff".replace("\ufeff", "") + line.replace("\n", "\r\n"), line + "\n\n,,\n"):
        table = parse_stations(text, bore=BORE, length_mm=22.0)
        assert as_csv(table) == as_csv(parse_stations(GOOD, bore=BORE, length_mm=22.0))


def test_columns_in_any_order_and_walls_over_the_bore() -> None:
    """A wall of 0.295 in over a bore of 40 mm is a radius of 27.493 mm."""
    text = "wall_in,station_mm,clock_deg\n" + "\n".join(f"0.295,{s},{t}" for s in (1, 5) for t in (10, 30, 50))
    table = parse_stations(text, bore=BORE, give="wall", length_mm=22.0)
    assert table.radius_mm.tolist() == pytest.approx([20.0 + 0.295 * 25.4] * 6)
    assert table.station_mm.tolist() == [1, 1, 1, 5, 5, 5]


@pytest.mark.parametrize(
    ("typed", "degrees"),
    [("12", 0), ("3", 90), ("6", 180), ("9", -90), ("1:30", 45), ("10:30", -45), ("12:30", 15)],
)
def test_oclock(typed: str, degrees: float) -> None:
    """Seen from the pinion-nut end: 12 straight at the ring gear, 3 a quarter turn clockwise."""
    rows = [f"1,{typed},27", *(f"{s},7,27" for s in range(2, 8))]
    table = parse_stations("station_mm,clock_oclock,radius_mm\n" + "\n".join(rows), bore=BORE, length_mm=22.0)
    assert math.degrees(table.clock[0]) == pytest.approx(degrees)
    mixed = "station,clock,radius\n" + "\n".join(f"{s} mm,{typed} o'clock,27 mm" for s in range(6))
    assert math.degrees(parse_stations(mixed, bore=BORE, length_mm=22.0).clock[0]) == pytest.approx(degrees)


@pytest.mark.parametrize(
    ("typed", "degrees"), [("350", -10), ("-180", 180), ("360", 0), ("180", 180), ("35° 30'", 35.5)]
)
def test_degrees_of_a_full_turn(typed: str, degrees: float) -> None:
    rows = "\n".join(f"{s},{typed},27" for s in range(6))
    table = parse_stations(f"station_mm,clock_deg,radius_mm\n{rows}", bore=BORE, length_mm=22.0)
    assert np.degrees(table.clock).tolist() == pytest.approx([degrees] * 6)


def test_every_bad_row_is_told_with_its_number() -> None:
    """All at once: a word, NaN, a minus, beyond the end, inside the bore, no cell, a cell too many, twice the same."""
    rows = [
        "0, 0, 27",
        "two, 10, 27",
        "2, 20, nan",
        "-3, 30, 27",
        "23, 40, 27",
        "5, 50, 19.9",
        "6, 60",
        "7, 70, 27, 28",
        "8, 400, 27",
        "0, 360, 27.1",
        "9, , inf",
    ]
    lines = refused("station_mm,clock_deg,radius_mm\n\n" + "\n".join(rows))
    starts = [
        "boss.csv row 4, station: 'two'",
        "boss.csv row 5, radius: 'nan'",
        "boss.csv row 6, station: '-3'",
        "boss.csv row 7, station: 0.906 in (23.00 mm) is beyond the boss's end; 0 to 0.866 in (22.00 mm)",
        "boss.csv row 8, radius: 0.783 in (19.90 mm) cannot be; more than the bore's radius, 0.787 in (20.00 mm)",
        "boss.csv row 9: 2 cells; 3, one under each name",
        "boss.csv row 10: 4 cells; 3, one under each name",
        "boss.csv row 11, clock: a clock angle of 400 deg; from -180 to 360 deg",
        "boss.csv row 12: the same station and clock angle as row 3",
        "boss.csv row 13, clock: ",
        "boss.csv row 13, radius: 'inf'",
    ]
    assert len(lines) == len(starts)
    for line, start in zip(lines, starts, strict=True):
        assert line.startswith(start)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "boss.csv: is empty"),
        ("\n , ,\n", "boss.csv: is empty"),
        ("station_mm,clock_deg\n1,2", "boss.csv row 1: the columns are named 'station_mm, clock_deg'"),
        ("station_mm,clock_deg,radius_mm,wall_mm\n", "boss.csv row 1: the columns are named"),
        ("station_mm,clock_deg,radius_cm\n", "boss.csv row 1: the columns are named"),
        ("station_mm,clock_mm,radius_mm\n", "boss.csv row 1: the columns are named"),
        ("station_mm,station_mm,radius_mm\n", "boss.csv row 1: the columns are named"),
        ("1,2,27\n2,3,27", "boss.csv row 1: the columns are named '1, 2, 27'"),
        ("station_mm;clock_deg;radius_mm\n1;2;27", "columns are divided by commas"),
        ("station_mm,clock_deg,radius_mm\n", "boss.csv: 0 readings; at least 6"),
        ("station,clock,radius\n1,2,27", "boss.csv row 2, station: '1'"),
        ("station_mm,clock,radius\nin,deg,mm\n1,2,27", "boss.csv row 2: in under station_mm; one unit"),
        ('station_mm,clock_deg,radius_mm\n"1,2,27', "boss.csv row 2: is not CSV"),
        ("station_mm,clock_deg,radius_mm\n1,2,2\0007", "boss.csv: is not plain text"),
        (
            "station_mm,clock_oclock,radius_mm\n" + "\n".join(f"{s},13,27" for s in range(6)),
            'row 2, clock: "13 o\'clock"',
        ),
        (
            "station_mm,clock_oclock,radius_mm\n" + "\n".join(f"{s},0:30,27" for s in range(6)),
            'row 2, clock: "0:30 o\'clock"',
        ),
        ("station_mm,clock_deg,radius_mm\n" + "\n".join(f"{s},0,1" for s in range(6)), "radius: 0.039 in (1.00 mm)"),
        ('station_mm,clock_deg,radius_mm\n"1,234",0,27', "row 2, station: '1,234'"),
        ("station_mm,clock_deg,radius_mm\n" + "1,2,27\n" * (MOST + 2), f"more than {MOST} readings"),
        ("station_mm,clock_deg,radius_mm\n1,2," + "7" * 140_000, "is not CSV"),
    ],
)
def test_refusals_of_the_file(text: str, words: str) -> None:
    assert words in refused(text)[0]


def test_what_the_job_says_was_read_must_be_what_the_column_says() -> None:
    assert parse_stations(GOOD, bore=BORE, give="radius", length_mm=22.0).radius_mm[0] == 27.5
    (line,) = refused(GOOD, give="wall")
    assert "the column is named radius, but the job says wall" in line


def test_read_stations_from_a_file(tmp_path: Path) -> None:
    path = tmp_path / "boss.csv"
    path.write_bytes(b"\xef\xbb\xbf" + GOOD.replace("\n", "\r\n").encode())  # as a spreadsheet saves it
    table = read_stations(path, bore=BORE, length_mm=22.0)
    assert table.source == "boss.csv"
    assert len(table.clock) == 9


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (None, "boss.csv: cannot be read: no such file or directory"),
        (b"\xff\xfe\x00s", "boss.csv: is not plain text"),
        (b"x" * (MOST_BYTES + 1), "boss.csv: larger than 1000 kB"),
    ],
)
def test_refusals_of_reading(tmp_path: Path, content: bytes | None, words: str) -> None:
    path = tmp_path / "boss.csv"
    if content is not None:
        path.write_bytes(content)
    with pytest.raises(InputError) as caught:
        read_stations(path, bore=BORE, length_mm=22.0)
    assert words in str(caught.value)
    assert len(str(caught.value).splitlines()) == 1


def test_refusals_of_bore_and_length_come_before_the_rows() -> None:
    with pytest.raises(InputError) as caught:
        parse_stations(GOOD, bore=Bore(0.0, 20.0, 1.0, 18.0), length_mm=math.nan)
    assert [finding.where for finding in caught.value.findings] == ["boss.bore_diameter", "station table"]


@pytest.mark.parametrize("fault", ["few", "long", "nan"])
def test_a_table_made_in_code_is_looked_at_too(fault: str) -> None:
    columns = [np.zeros(FEWEST), np.arange(FEWEST) / 9, np.full(FEWEST, 27.0)]
    if fault == "few":
        columns = [column[1:] for column in columns]
    elif fault == "long":
        columns[2] = np.full(FEWEST + 1, 27.0)
    else:
        columns[1][2] = math.nan
    with pytest.raises(InputError):
        StationTable(*columns, length_mm=22.0)


# --- the boss --------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("edge_break_mm", [0.0, 1.0])
@pytest.mark.parametrize("depth_mm", [20.0, 22.0, 30.0])
def test_a_round_boss_read_all_round(edge_break_mm: float, depth_mm: float) -> None:
    """Constant readings give back the cylinder but for its facets; volume in closed form (Pappus for the edge)."""
    boss = boss_from_stations(FULL, Bore(40.0, depth_mm, 1.0, 18.0), edge_break_mm=edge_break_mm)
    assert is_closed(boss)
    assert euler(boss) == (2 if depth_mm < 22.0 else 0)
    b = edge_break_mm
    true = math.pi * (27.0**2 * 22.0 - 20.0**2 * min(depth_mm, 22.0)) - 2 * math.pi * (27.0 - b / 3) * b**2 / 2
    assert true * (1 - 1e-4) < volume(boss) < true
    station, radius, _ = outside(boss)
    np.testing.assert_allclose(radius[station >= max(b, 1e-9)], 27.0, rtol=0, atol=1e-9)
    assert boss.notes == ()
    assert boss.interpolated
    assert boss.interpolation_mm < 1e-9
    assert boss.short_mm < 0.00051
    assert boss.origin == "stations, 72 readings"


def test_the_surface_goes_through_the_readings_on_their_own_side() -> None:
    """An unsymmetrical boss: 2 mm more toward +Y (3 o'clock), nothing there toward -Y."""
    radius = 27.0 + 1.0 * np.sin(FULL.clock) + 0.02 * FULL.station_mm
    boss = boss_from_stations(StationTable(FULL.station_mm, FULL.clock, radius, 22.0), BORE)
    for s, t, q in zip(FULL.station_mm, FULL.clock, radius, strict=True):
        assert distance(boss, place(s, q, t)) <= boss.short_mm + boss.proud_mm
    assert boss.vertices[:, 1].max() == pytest.approx(28.0 + 0.02 * 20, abs=0.01)
    assert boss.vertices[:, 1].min() == pytest.approx(-26.0 - 0.02 * 20, abs=0.01)
    assert boss.vertices[:, 0].min() == -22.0
    assert boss.vertices[:, 0].max() == 0.0


def test_beyond_the_first_and_last_reading_the_radius_runs_on() -> None:
    table = grid([2.0, 6.0, 10.0, 14.0, 18.0, 20.0], list(range(-150, 181, 30)))
    taper = StationTable(table.station_mm, table.clock, 27.0 + 0.05 * table.station_mm, 22.0)
    station, radius, _ = outside(boss_from_stations(taper, BORE))
    assert radius[station <= 2.0] == pytest.approx(27.1, abs=1e-6)
    assert radius[station >= 20.0] == pytest.approx(28.0, abs=1e-6)


def test_what_lies_between_readings_too_far_apart_is_drawn_at_the_largest_radius_and_said() -> None:
    """Read from 10 to 3 o'clock, to 10 mm in, falling from 28 to 27 mm; the rest is 28 mm and in the notes."""
    table = grid([0.0, 5.0, 10.0], list(range(-60, 91, 15)))
    table = StationTable(table.station_mm, table.clock, 28.0 - 0.1 * table.station_mm, 22.0)
    boss = boss_from_stations(table, BORE)
    station, radius, clock = outside(boss)
    read = (station <= 10.0) & (clock >= math.radians(-60) - 1e-9) & (clock <= math.radians(90) + 1e-9)
    assert radius[~read].min() == pytest.approx(28.0, abs=1e-6)
    assert radius[read].min() == pytest.approx(27.0, abs=1e-6)
    assert boss.notes[0].startswith("81 % of the outside lies between readings more than 30 deg or 0.200 in")
    assert "drawn at the largest radius, 1.102 in (28.00 mm)" in boss.notes[0]
    assert boss.notes[1] == "nothing read from 90 deg clockwise to -60 deg, seen from the pinion-nut end"
    assert boss.notes[2] == "nothing read 0.394 in (10.00 mm) to 0.866 in (22.00 mm) from the pinion-side end"
    assert not [word for note in boss.notes for word in forbidden(note)]


def test_one_ring_and_one_row_are_drawn_too() -> None:
    """One ring near the end face: known to 2 x 2.54 mm. One row along the boss: known nowhere."""
    ring = boss_from_stations(grid([1.0], list(range(-150, 181, 30))), BORE)
    assert is_closed(ring)
    assert any("nothing read 0." in note for note in ring.notes)
    row = grid([0, 4, 8, 12, 16, 20], [30])
    row = StationTable(row.station_mm, row.clock, 26.0 + 0.05 * row.station_mm, 22.0)
    boss = boss_from_stations(row, BORE)
    assert outside(boss)[1].min() >= 26.0
    assert boss.notes[0].startswith("100 % of the outside") or boss.notes[0].startswith("99 %")


def test_leave_one_out_takes_the_whole_range_where_a_reading_carries_the_surface() -> None:
    """One reading alone at a second station: without it the others, in one ring, say nothing of the slope."""
    table = StationTable(
        np.array([1.0] * 8 + [5.0]), np.radians([*range(-180, 180, 45), 10]), np.array([27.0] * 8 + [29.0]), 22.0
    )
    assert boss_from_stations(table, BORE).interpolation_mm == pytest.approx(2 * math.sqrt(2.0**2 / 9), abs=0.05)


@pytest.mark.parametrize(
    ("station_mm", "clock_deg", "along_mm", "around_deg"),
    [
        (2.0, 15.0, 4.0, 30.0),  # in the middle of a mesh of the grid
        (4.0, 30.0, 4.0, 30.0),  # on a reading
        (0.0, 0.0, 4.0, 30.0),  # on the edge, read there
        (21.0, 0.0, 4.0, 30.0),  # beyond the last: twice 22 - 20
        (2.0, 179.0, 4.0, 30.0),  # across 6 o'clock
    ],
)
def test_reading_steps_on_a_grid(station_mm: float, clock_deg: float, along_mm: float, around_deg: float) -> None:
    along, around = reading_steps_at(FULL, station_mm, math.radians(clock_deg))
    assert along == pytest.approx(along_mm)
    assert math.degrees(around) == pytest.approx(around_deg)


def test_reading_steps_where_nothing_was_read() -> None:
    table = grid([3.0, 5.0], [-60, -30, 0, 30, 60, 90])
    assert reading_steps_at(table, 0.0, 0.0)[0] == pytest.approx(6.0)  # twice the 3 mm to the end face
    assert reading_steps_at(table, 4.0, math.radians(95))[1] == pytest.approx(math.radians(210))
    assert reading_steps_at(table, 4.0, math.radians(90))[1] == pytest.approx(math.radians(210))  # the worse side
    assert reading_steps_at(table, 15.0, 0.0)[0] == pytest.approx(34.0)
    assert reading_steps_at(table, 15.0, 0.0)[1] == pytest.approx(2 * math.pi)
    assert reading_steps_at(table, 4.0, math.pi)[0] == pytest.approx(22.0)


def test_the_limits_of_trust_are_those_of_the_design() -> None:
    """DESIGN 3: 30 deg and 5 mm, the latter taken as 0.200 in so that a table in steps of that will do."""
    assert math.degrees(CLOCK_STEP_LIMIT) == pytest.approx(30)
    assert pytest.approx(0.2 * 25.4) == STATION_STEP_LIMIT_MM
    fits = grid([0.0, 5.08, 10.16, 15.24, 20.32], list(range(-150, 181, 30)))
    assert boss_from_stations(fits, BORE).notes == ()
    for stations, step in (([0.0, 5.1, 10.2, 15.3, 20.4], 30), ([0.0, 5.0, 10.0, 15.0, 20.0], 36)):
        wide = grid(stations, list(range(-180, 180, step)))
        assert boss_from_stations(wide, BORE).notes


@pytest.mark.parametrize(
    ("bore", "edge_break_mm", "words"),
    [
        (Bore(54.0, 20.0, 1.0, 18.0), 0.0, "no wall is left round the bore of 2.126 in (54.00 mm)"),
        (BORE, 7.0, "no wall is left round the bore"),
        (BORE, math.nan, "boss.edge_break: nan mm is no edge break"),
        (BORE, 22.0, "boss.edge_break"),
        (Bore(40.0, 30.0, 1.0, 25.0), 0.0, "boss.seat_to"),
        (Bore(40.0, -1.0, 1.0, 25.0), 0.0, "boss.bore_depth"),
    ],
)
def test_refusals_of_the_boss(bore: Bore, edge_break_mm: float, words: str) -> None:
    with pytest.raises(InputError) as caught:
        boss_from_stations(FULL, bore, edge_break_mm=edge_break_mm)
    assert words in str(caught.value)
