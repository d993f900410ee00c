"""What stands on the sheets: the list of what a bench sheet holds, numbers of the result alone, cautions everywhere."""

import csv
import io
import math
import re

import pytest
import sheets_read as read
from drawn_jobs import NAMES, answer, table
from figures_read import words_on

from geartrack.draw.plates import bench_plate, section_plate
from geartrack.export.depth_table import depth_csv, depth_table
from geartrack.quantity import give_or_take
from geartrack.setup_log import setup_log
from geartrack.sheets.bench import bench_sheet
from geartrack.sheets.model import Table
from geartrack.study import as_document, check, pass_plan, quote_for
from geartrack.words import CAUTIONS

INCH = 25.4  # NIST SP 811
LENGTH = re.compile(r"(-?\d+\.\d+)(?: to (-?\d+\.\d+))? (in|mm)\b")

# What issue 6 asks of a bench sheet, item by item, and what on the sheet answers it.
LIST = {
    "header": r"Hill-climb car, 5\.14:1 · 7/36",
    "verdict": r"^GRIND$",
    "gap": r"Gap now",
    "target": r"Wanted",
    "low to high": r"low to high",
    "section figure": r"side view shows the ring gear, the boss and the gap",
    "depth table": r"Take off, and STOP: never deeper",
    "template reference": r"geartrack template JOB OUT",
    "pass plan with room": r"gap should read\ngap read",
    "inputs by origin": r"Measured\n(.*\n)+Published\n(.*\n)+Typed in the job\n",
    "defaults visibly so": r"DEFAULT: nobody measured these",
    "order of work": r"Order of work",
    "depth shims, sign rule": r"BETWEEN RETAINER AND CASE: more shim .* AWAY .* UNDER THE HEAD: more shim .* TOWARD",
    "shim location": r"retainer to case\n(.*\n)*under the head",
    "turning torque": r"Turning torque of the pinion\n(.*\n)*bearings new / used\n(.*\n)*seal in / out",
    "before and after": r"BEFORE\nAFTER",
    "backlash, four places": r"Backlash, four places\n\n1\n\n2\n\n3\n\n4\n",
    "back-face runout": r"Back-face runout \(TIR\)",
    "gap at three places": r"Gap at three places, 4 turns\n\n1\n\n2\n\n3\n",
    "nut torque per maker": r"Pinion nut: torque per maker",
    "thread locker": r"Thread locker: which, where",
    "if-then box": r"If - then",
    "sign-off": r"Ground by, date\nChecked by, date",
    "case mark": r"Case mark\nF-1207",
    "material": r"Case metal\nnodular iron",
    "hand": r"Hand\npinion below the ring's centre line",
    "this case only": r"For this case only: F-1207",
    "caps marked": r"Caps marked to their saddles, left and right, before they are removed",
    "bearings out or bagged": r"Bearings, cups, pilot and seal out or bagged before a burr runs",
    "pilot bore at four places": r"2 stations, 2 directions\n\nend, 12-6\n\nend, 3-9\n\ndeep, 12-6\n\ndeep, 3-9",
    "crack check": r"Crack check\n\nmethod\n\nresult\n\ninitials",
    "final row": r"caps torqued\npreload\nsmallest of 3 gaps over 4 turns of the ring\nwall left\ndye: rub\?\nphotos",
    "dye rub": r"dye: rub\?(.*\n)+yes / no",
    "photos": r"Photos before(.*\n)+.*Photos after",
    "keep-off areas drawn": r"lead-in, 2 retainer seat or stake, 3 web .*4 cap registers, 5 bolt bosses, 6 gear teeth",
    "believe the dye": r"this sheet and the dye disagree\n\nbelieve the dye, stop, enter the reading",
    "no judgement of strength": r"No judgement of casting strength",
    "depth, how it is meant": r"Depth is normal to the surface as it is today",
}


@pytest.mark.parametrize("item", LIST)
def test_the_bench_sheet_has_all_that_was_asked_for(item):
    assert re.search(LIST[item], read.words(read.bench()), re.MULTILINE), item


def room_in(block):
    return sum(cell.room and not cell.under for row in block.rows for cell in row)


def test_there_is_room_to_write_every_reading_down():
    tables = {b.name: b for section in read.bench().sections for b in section.blocks if isinstance(b, Table)}
    rows = {row[0].text: row[1:] for row in tables["Readings to write down"].rows}
    for name, cells in rows.items():
        assert all(cell.room for cell in cells), name
        assert len(cells) == 8, name
    assert room_in(tables["Final row"]) == 8
    assert room_in(tables["Fastened"]) == 4
    assert room_in(tables["Signed"]) == 3
    torque = rows["Turning torque of the pinion"]
    assert torque[0].under == "25.0 lb-in (2.82 N.m)"  # the job's last reading before the work stands there
    assert [cell.under for cell in torque[4:]] == ["", "", "", ""]


def shown(mm, units, way):
    """A length by the rule of the sheet: gaps, walls and STOP down, cuts up."""
    size, digits = (mm / INCH, 3) if units == "in" else (mm, 2)
    step = 10**digits
    whole = math.floor(size * step + 1e-6) if way == "down" else math.ceil(size * step - 1e-6)
    return f"{whole / step:.{digits}f} {units}"


def test_the_large_figures_are_those_of_the_document():
    document = as_document(answer("grind"))
    figures = {pair.name: (pair.value, pair.under) for pair in read.bench().head.figures}
    for name, mm, way in (
        ("Gap now", document["gap"]["lower_mm"], "down"),
        ("Wanted", document["gap"]["target_mm"], "down"),
        ("Take off", document["relief"]["depth_radial_max_mm"], "up"),
        ("STOP at", document["stop"]["depth_radial_max_mm"], "down"),
        ("Wall left", document["wall"]["left_mm"], "down"),
    ):
        nearest = name == "Wanted"  # typed, and neither a gap nor a cut
        value, under = figures[name]
        assert value == (f"{mm / INCH:.3f} in" if nearest else shown(mm, "in", way)), name
        assert under == (f"({mm:.2f} mm)" if nearest else f"({shown(mm, 'mm', way)})"), name
    low, high = document["band"]["low_mm"], document["band"]["high_mm"]
    assert figures["low to high"][0] == f"{shown(low, 'in', 'down').removesuffix(' in')} to {shown(high, 'in', 'down')}"


def values_in(document):
    """Every number of a document."""
    if isinstance(document, dict):
        document = list(document.values())
    if isinstance(document, list):
        return [value for each in document for value in values_in(each)]
    if isinstance(document, str):  # an alternative says its gap in words
        return [float(text) * (INCH if unit == "in" else 1.0) for text, _, unit in LENGTH.findall(document)]
    return [float(document)] if isinstance(document, int | float) and not isinstance(document, bool) else []


def results_of(name):
    """All numbers that a bench sheet may show: of the check, the passes, the setup log and the depth table."""
    found = answer(name)
    values = values_in(as_document(found))
    if found.verdict.grinds:
        values += values_in(as_document(pass_plan(found)))
        rows = csv.DictReader(io.StringIO(depth_csv(depth_table(found)).decode()))
        values += [float(v) * INCH for row in rows for key, v in row.items() if key.endswith("_in") and v]
    if found.job.setup.readings or found.job.setup.stacks or found.job.setup.crush:
        values += values_in(as_document(setup_log(found.job)))
    job = found.job
    return [*values, job.axle.ring_diameter.value, job.axle.offset.value]


def unknown_lengths(sheet, values):
    """Lengths on a sheet that are no number of the results, to the last digit shown."""
    missing = []
    for first, second, unit in LENGTH.findall("\n".join(read.said(sheet))):
        for text in filter(None, (first, second)):
            step = 10.0 ** -len(text.partition(".")[2])
            size = float(text) * (INCH if unit == "in" else 1.0)
            slack = 1.001 * step * (INCH if unit == "in" else 1.0)
            if not any(abs(size - value) <= slack for value in values):
                missing.append(f"{text} {unit}")
    return missing


@pytest.mark.parametrize("name", NAMES)
def test_every_length_on_a_bench_sheet_is_a_number_of_the_results(name):
    sheet = read.bench(name)
    practice = {"0.010 in", "0.25 mm", "0.000 in", "0.00 mm"}  # of a pass at most; nothing
    assert set(unknown_lengths(sheet, results_of(name))) <= practice
    assert len(LENGTH.findall("\n".join(read.said(sheet)))) > 40


def test_lengths_of_another_job_are_found_out():
    assert len(set(unknown_lengths(read.bench("grind"), results_of("clears")))) > 25


def test_every_length_on_the_counter_sheet_is_a_number_of_the_comparison():
    job = table().job
    values = [*values_in(as_document(table())), job.axle.ring_diameter.value, job.axle.offset.value]
    assert set(unknown_lengths(read.counter(), values)) <= {"0.000 in", "0.00 mm"}
    for row in as_document(table())["rows"]:
        assert row["teeth"] in read.words(read.counter())


@pytest.mark.parametrize("name", ["grind", "measure", "dont-grind"])
def test_every_sum_on_the_customers_page_is_one_of_the_quote(name):
    def digits(text):
        return {float(each.replace(",", "")) for each in re.findall(r"\d[\d,]*(?:\.\d+)?", text)}

    quote = quote_for(answer(name), read.DAY)
    known = digits(str(as_document(quote)).replace("Decimal", "")) | digits("\n".join(CAUTIONS))
    fixed = {8.0, 10.0, 50.0, 90.0, 100.0}  # of 10 and of 100 such jobs
    assert digits("\n".join(read.said(read.customer(name)))) <= known | fixed


@pytest.mark.parametrize("name", NAMES)
def test_depths_and_passes_stand_only_beside_a_verdict_to_grind(name):
    found, text = answer(name), read.words(read.bench(name))
    cut_words = ("Take off", "STOP", "Plan of passes", "Template", "Depth to grind")
    assert found.verdict.words in text
    if found.verdict.grinds:
        assert all(word in text for word in cut_words)
    else:
        assert not [word for word in cut_words if word in text]
        assert found.verdict.reason[1:].rstrip("?.") in text
        if found.verdict.next_reading:
            assert read.bench(name).head.reading == found.verdict.next_reading


@pytest.mark.parametrize("name", ["measure", "dont-grind", "dont-use", "clears"])
def test_the_figure_of_a_sheet_without_grinding_shows_no_depth(name):
    drawn = " ".join(words_on(section_plate(answer(name), "in", "it")))
    assert not re.search(r"take off|STOP|wall left|a cut of", drawn)
    assert "STOP" in " ".join(words_on(bench_plate(answer("grind"), "in")))


@pytest.mark.parametrize("make", read.SHEETS.values(), ids=read.SHEETS)
def test_the_cautions_stand_on_every_sheet(make):
    said = list(read.said(make()))
    assert [caution for caution in CAUTIONS if caution not in said] == []


@pytest.mark.parametrize("make", read.SHEETS.values(), ids=read.SHEETS)
def test_lengths_are_said_in_both_units(make):
    """As many lengths in inches as in millimetres, but for tables that say so in their heads."""
    text = re.sub(r"(?m)^-?[\d.]+ \(-?[\d.]+\)$", "", "\n".join(read.said(make())))
    inches, metric = (len(re.findall(rf"\.\d+ {unit}\b", text)) for unit in ("in", "mm"))
    assert abs(inches - metric) <= 3  # of torques and shims, if any


def test_without_the_hand_there_is_neither_table_nor_template():
    job = answer("grind").job
    text = read.words(bench_sheet(check(job.model_copy(update={"axle": job.axle.model_copy(update={"hand": None})}))))
    assert "never deeper" not in text
    assert "the hand of the axle is not given" in text


def test_a_plan_with_readings_shows_what_was_read():
    found = answer("grind")
    plan = pass_plan(found, readings=[give_or_take(0.2, 0.04)])
    text = read.words(bench_sheet(found, plan))
    assert "made\n" in text
    assert "0.008 in\n(0.20 mm)" in text
