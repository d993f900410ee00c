"""The depth table: every cell against the swept ring itself, rounded against the shop; its CSV, its page."""

import csv
import io
import math

import numpy as np
import pytest
from drawn_jobs import answer
from paper_jobs import cone_answer, grown_answer
from paper_read import needs_poppler, pages, text_of

from geartrack.errors import InputError
from geartrack.export.depth_table import depth_csv, depth_pdf, depth_table
from geartrack.frame import from_polar, meridian
from geartrack.job import with_changes
from geartrack.study import check
from geartrack.sweep import signed_distance

MAKERS = {
    "grind": lambda: answer("grind"),
    "hits, mirrored": lambda: answer("hits", "above"),
    "readings, mm": lambda: check(with_changes(answer("grind-by-readings").job, {"units": "mm"})),
    "grown": grown_answer,
    "cone": cone_answer,
}


@pytest.fixture(scope="module", params=MAKERS)
def table(request):
    return depth_table(MAKERS[request.param]())


def apart(table, radius):
    """Distance of places at these radii to the turning ring, (ns, nt) [mm]."""
    at = from_polar(table.stations_mm[:, None], radius, table.clocks[None, :])
    return signed_distance(table.answer.section, meridian(table.answer.boss.seat.to_axle(at)))


@pytest.mark.parametrize("which", ["nominal", "stop"])
def test_the_cut_ends_where_the_ring_is_as_far_as_wanted(table, which):
    """Along its line a cut goes on until what is left is as far from the ring as wanted; where untouched, all is."""
    cuts = table.answer.cuts
    depth, cut = (table.depth_mm, cuts.nominal) if which == "nominal" else (table.stop_mm, cuts.at_stop)
    left = apart(table, table.cast_mm - depth)
    assert (depth >= 0).all()
    assert left[depth > 0] == pytest.approx(cut.clearance_mm, abs=0.001)  # a ray is followed to 0.0001 mm
    assert (left[depth == 0] >= cut.clearance_mm - 0.001).all()
    assert depth.max() <= cut.depth_radial_max_mm + 0.001


def test_the_table_holds_the_whole_cut(table):
    stop = table.answer.cuts.at_stop
    around = np.concatenate(stop.outline)
    assert table.clocks[0] <= around[:, 1].min()
    assert table.clocks[-1] >= around[:, 1].max()
    assert table.stations_mm[0] == 0.0
    assert table.stations_mm[-1] <= around[:, 0].max() <= table.stations_mm[-1] + table.stations_mm[1]
    assert len(table.stations_mm) <= 9
    assert len(table.clocks) <= 9
    assert (table.depth_mm[:, [0, -1]] == 0).all()


def test_the_csv_rounds_against_the_shop(table):
    units = table.answer.job.units
    inch = 25.4 if units == "in" else 1.0  # NIST SP 811
    step = 0.001 if units == "in" else 0.01
    rows = list(csv.DictReader(io.StringIO(depth_csv(table).decode())))
    assert len(rows) == len(table.stations_mm) * len(table.clocks)
    for row, (i, j) in zip(rows, np.ndindex(table.depth_mm.shape), strict=True):
        value = {key: float(text) for key, text in row.items() if text and key != "clock_oclock"}
        depth, left = table.depth_mm[i, j] / inch, table.left_mm[i, j] / inch
        assert value[f"station_{units}"] == pytest.approx(table.stations_mm[i] / inch, abs=1e-9)
        assert value["clock_deg"] == pytest.approx(np.degrees(table.clocks[j]), abs=1e-6)
        assert depth - 1e-9 <= value[f"depth_{units}"] <= depth + step
        assert value[f"stop_depth_{units}"] <= table.stop_mm[i, j] / inch + 1e-6 * step
        assert value[f"radius_left_{units}"] <= left + (0.51 * step if depth == 0 else 1e-6 * step)
        wall = left - table.answer.job.boss.bore_diameter.value / 2 / inch
        if table.stations_mm[i] <= table.answer.boss.mesh.bore.depth_mm:
            assert wall - step <= value[f"wall_left_{units}"] <= wall + 1e-6 * step
        else:
            assert row[f"wall_left_{units}"] == ""


def test_the_clock_is_said_twice_alike(table):
    for row in csv.DictReader(io.StringIO(depth_csv(table).decode())):
        hours, minutes = map(int, row["clock_oclock"].split(":"))
        told = (hours % 12) * 30 + minutes / 2  # a minute is half a degree
        assert math.remainder(told - float(row["clock_deg"]), 360.0) == pytest.approx(0, abs=0.26)
        assert -180 < float(row["clock_deg"]) <= 180


@needs_poppler
@pytest.mark.parametrize("paper", ["letter", "a4"])
def test_the_page_has_every_cell_in_both_units(table, paper):
    pdf = depth_pdf(table, paper)
    said = text_of(pdf)
    for name in ("Depth to take off", "STOP: never deeper than this", "Wall left over the pilot bore"):
        assert name in said
    assert "For this case only: F-1207" in said
    deepest = float(table.depth_mm.max())
    # Cut deeper: up to 0.001 in and 0.01 mm (DESIGN 6, STYLE 12).
    assert f"{np.ceil(deepest / 25.4 * 1000 - 1e-6) / 1000:.3f}" in said.split()
    assert f"{np.ceil(deepest * 100 - 1e-6) / 100:.2f}" in said.split()
    assert len(pages(pdf)) <= 2


@pytest.mark.parametrize("name", ["aluminium", "clears", "measure", "dont-grind", "dont-use"])
def test_no_table_where_no_depth_may_be_given(name):
    with pytest.raises(InputError) as caught:
        depth_table(answer(name))
    assert len(str(caught.value).splitlines()) == 1
