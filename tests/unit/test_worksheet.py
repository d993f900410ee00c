"""The worksheet: its bore is true to scale, and the table it comes with, filled in, is what a job takes."""

import csv
import io

import numpy as np
import pytest
from demo import demo_job
from paper_read import PIXEL_MM, needs_poppler, pages, solid_bars_mm, text_of

from geartrack.boss.from_job import bore_of, boss_mesh, station_table
from geartrack.boss.mesh import Bore
from geartrack.boss.readings import read_stations
from geartrack.boss.stations import reading_steps_at
from geartrack.errors import InputError
from geartrack.export.worksheet import plan, plan_for_bore, plan_for_job, worksheet_csv, worksheet_pdf
from geartrack.relief.crossings import radii

INCH = 25.4  # exactly, NIST SP 811


def filled(plan, reading):
    """The empty table with what `reading` says for each station and clock angle, typed to three digits."""
    rows = list(csv.reader(io.StringIO(worksheet_csv(plan).decode())))
    unit = INCH if plan.units == "in" else 1.0
    for row in rows[1:]:
        assert row[2] == ""
        row[2] = f"{reading(float(row[0]) * unit, np.radians(float(row[1]))) / unit:.3f}"
    stream = io.StringIO()
    csv.writer(stream).writerows(rows)
    return stream.getvalue()


@pytest.mark.parametrize("units", ["in", "mm"])
@pytest.mark.parametrize("name", ["grind", "grind-by-readings"])
def test_what_is_filled_in_is_what_the_job_takes(name, units, tmp_path):
    job = demo_job(name)
    made, mesh = plan_for_job(job, units), boss_mesh(job.boss, station_table(job.boss), 0.0)
    assert made.give == ("wall" if name == "grind" else "radius")
    off = job.boss.bore_diameter.value / 2 if made.give == "wall" else 0.0

    def reading(station, clock):
        return radii(mesh, np.array([station]), np.array([clock]))[1][0, 0] - off

    (tmp_path / "read.csv").write_text(filled(made, reading), encoding="utf-8")
    bore = bore_of(job.boss)
    table = read_stations(tmp_path / "read.csv", bore=bore, give=made.give, length_mm=made.length_mm)
    assert len(table.clock) == 12 * len(made.stations_mm)
    places = zip(table.station_mm, table.clock, strict=True)
    own = [radii(mesh, np.array([s]), np.array([t]))[1][0, 0] for s, t in places]
    # Typed to 0.001 of the unit.
    assert table.radius_mm == pytest.approx(np.array(own), abs=0.0006 * (INCH if units == "in" else 1))
    # Readings stand no further apart than a table's reader allows (5.08 mm, 30 deg): nothing before the last is unread.
    last = made.stations_mm[-1]
    for station in (0.0, 1.0, last / 2, last - 0.1):
        along, around = reading_steps_at(table, station, np.radians(31.0))
        assert along <= 5.08
        assert np.degrees(around) <= 30.0 + 1e-9


def test_readings_reach_to_the_end_as_far_as_a_caliper_does():
    job = demo_job("grind-by-readings")
    assert job.boss.length.value - plan_for_job(job, "mm").stations_mm[-1] <= 5.08 / 2
    walls = plan_for_job(demo_job("grind"), "mm")
    assert walls.stations_mm[-1] < 20.0  # the bore's depth: a wall over it can be read no further in


def test_an_unfilled_row_is_named(tmp_path):
    made = plan_for_bore(38.0, "mm")
    (tmp_path / "read.csv").write_bytes(worksheet_csv(made))
    with pytest.raises(InputError, match="row 2, wall: nothing typed"):
        read_stations(tmp_path / "read.csv", bore=Bore(38.0, 20.0, 1.0, 18.0), give="wall", length_mm=22.0)


@needs_poppler
@pytest.mark.parametrize("paper", ["letter", "a4"])
@pytest.mark.parametrize("bore", [20.0, 38.0, 80.0])
def test_the_bore_is_true_to_scale(bore, paper):
    found = pages(worksheet_pdf(plan_for_bore(bore, "mm"), paper))
    for page in found:
        lengths = [length for length, _ in solid_bars_mm(page, least_mm=80.0)]
        assert lengths[:2] == pytest.approx([100.0, 101.6], abs=0.1)  # issue 4
    page = found[0]
    middle = page.shape[1] // 2
    spokes = [row for row in range(page.shape[0]) if row_is_spoke(page, row, middle, bore)]
    centre = spokes[len(spokes) // 2]
    up = int(4.0 / PIXEL_MM)
    row = page[centre - up]
    right, left = middle + int(np.argmax(row[middle + 9 :])) + 9, middle - int(np.argmax(row[middle - 9 :: -1])) - 9
    # Closed form: 4 mm above its middle a circle of radius r is 2 sqrt(r^2 - 16) wide; the line is 0.3 mm broad.
    chord = 2 * np.sqrt((bore / 2) ** 2 - 16.0)
    assert (right - left) * PIXEL_MM + 0.3 == pytest.approx(chord, abs=0.25)


def row_is_spoke(page, row, middle, bore):
    """Whether the 3 and 9 o'clock lines run along a row: ink from the bore outward on both sides."""
    start, more = int((bore / 2 + 1.0) / PIXEL_MM), int(8.0 / PIXEL_MM)
    return all(page[row, middle + side * start : middle + side * (start + more) : side].all() for side in (1, -1))


@needs_poppler
@pytest.mark.parametrize("paper", ["letter", "a4"])
def test_the_sheet_says_how_to_read_and_what_for(paper):
    said = text_of(worksheet_pdf(plan_for_job(demo_job("grind")), paper))
    for words in (
        *("Hill-climb car, 5.14:1", "case F-1207", "MEASURE THIS BAR", "Ball caliper", "from the pinion-nut end"),
        *("1.496 in (38.00 mm)", "station_in, clock_deg, wall_in", 'stations_give = "wall"', "read by"),
        *(),
    ):
        assert words in said, words


def test_without_a_job_or_a_bore_there_is_still_a_sheet():
    made = plan(None, None, None)
    assert made.bore_mm is None
    assert made.units == "in"
    assert worksheet_pdf(made, "letter").startswith(b"%PDF")
    assert plan(None, "45 mm", "mm").bore_mm == 45.0


@pytest.mark.parametrize("bore", [2.0, 900.0])
def test_a_bore_that_cannot_be_is_refused(bore):
    with pytest.raises(InputError, match=r"--bore-diameter: a pilot bore of .*was the other unit meant"):
        plan_for_bore(bore, "mm")
