"""Job files that do not read: every kind of fault has its message, with file, key and line, and all come at once."""

import os
import tomllib
from decimal import Decimal

import pytest
from job_documents import TEXT, document

from geartrack.errors import InputError
from geartrack.job import Job, Pull, Stack, TorqueReading, job_from_dict, read_job
from geartrack.job.keys import KEYS, PART_KEYS, READING_KEYS, SETUP_KEYS
from geartrack.job.parts import Table
from geartrack.job.readings import READINGS


def findings_of(changes, tmp_path):
    with pytest.raises(InputError) as caught:
        job_from_dict(document(changes), tmp_path, "job.toml")
    return [str(finding) for finding in caught.value.findings]


def part(kind, **keys):
    return {"kind": kind, "from": "0 mm", "to": "22 mm", **{key.rstrip("_"): value for key, value in keys.items()}}


LENGTH = "type it like 0.020 in, 20 thou or 0.5 mm"
RING = "between 3.937 in (100.00 mm) and 19.685 in (500.00 mm)"

ONE_FAULT = [
    # the value itself
    (
        {"axle.offset": 54},
        'key axle.offset: 54 has no unit; "54 mm" or "54 in" in quotes, or default_unit = "mm" at the',
    ),
    ({"axle.offset": "54"}, f"key axle.offset: '54' has no unit; {LENGTH}"),
    ({"axle.offset": ""}, f"key axle.offset: nothing typed; {LENGTH}"),
    ({"axle.offset": "54 furlong"}, "key axle.offset: '54 furlong' has an unknown unit 'furlong'"),
    ({"axle.offset": "2,250 in"}, "key axle.offset: '2,250 in' can be read two ways; type 2.250 in or 2250 in"),
    ({"axle.offset": "nan mm"}, "key axle.offset: 'nan mm' is not one number with its unit"),
    ({"axle.offset": float("nan"), "default_unit": "mm"}, "key axle.offset: 'inf mm' is not one number with its unit"),
    ({"axle.offset": float("inf"), "default_unit": "mm"}, "key axle.offset: 'inf mm' is not one number with its unit"),
    ({"axle.offset": 10**4500, "default_unit": "mm"}, "key axle.offset: 'inf mm' is not one number with its unit"),
    ({"axle.offset": True}, "key axle.offset: true is no length; between 0.000 in"),
    ({"axle.offset": ["54 mm"]}, "key axle.offset: a list is no length; between 0.000 in"),
    ({"axle.offset": "-54 mm"}, "key axle.offset: '-54 mm' is below zero; zero or more belongs here"),
    ({"axle.offset": "54 deg"}, "key axle.offset: '54 deg' has an unknown unit 'deg'"),
    (
        {"gears.pinion_spiral": 50, "default_unit": "mm"},
        "key gears.pinion_spiral: '50' has no unit; type it like 50 deg",
    ),
    ({"gears.depth_factor": "1.9 mm"}, "key gears.depth_factor: '1.9 mm' is not a plain number"),
    ({"gears.depth_factor": 9}, "key gears.depth_factor: 9 is out of range; between 0.01 and 5"),
    ({"gears.pinion_spiral": "80 deg"}, "key gears.pinion_spiral: 80 deg is out of range; between 0 and 70 deg"),
    # the likely slip is named
    ({"axle.ring_diameter": "9 mm"}, f"key axle.ring_diameter: 9 mm is out of range; {RING}; was 9 in meant?"),
    ({"axle.ring_diameter": "240 in"}, f"key axle.ring_diameter: 240 in is out of range; {RING}; was 240 mm meant?"),
    ({"axle.ring_diameter": 9, "default_unit": "mm"}, f"9 mm is out of range; {RING}; was 9 in meant?"),
    ({"axle.ring_diameter": "9 mm +/- 1 mm"}, f"9 mm +/- 1 mm is out of range; {RING}; was 9 in meant?"),
    ({"axle.ring_diameter": {"value": "9 mm", "how": "caliper"}}, f"9 mm is out of range; {RING}; was 9 in meant?"),
    ({"axle.ring_diameter": "9000 mm"}, f"key axle.ring_diameter: 9000 mm is out of range; {RING}"),
    ({"target.gap": "20 mm"}, "key target.gap: 20 mm is out of range; between 0.004 in (0.10 mm) and 0.197 in"),
    (
        {"target.gap": "20 in"},
        "key target.gap: 20 in is out of range; between 0.004 in (0.10 mm) and 0.197 in (5.00 mm); w",
    ),
    ({"boss.bore_diameter": "1.77 mm"}, "key boss.bore_diameter: 1.77 mm is out of range; between 0.591 in"),
    ({"running.runout": "0.003 m"}, "was 0.003 in meant?"),
    ({"axle.offset": "54 mm +/- 20 in"}, "key axle.offset: low to high leaves the range; between 0.000 in"),
    # tables of a value
    ({"axle.offset": {"valu": "54 mm"}}, "key axle.offset: unknown key 'valu' beside a value; was value meant?"),
    (
        {"axle.offset": {"how": "caliper"}},
        'a table without its value; such as { value = "54 mm", give_or_take = "0.5 mm" }',
    ),
    ({"axle.offset": {"value": "54 mm", "how": "calliper"}}, "unknown tool 'calliper'; was caliper meant?"),
    ({"axle.offset": {"value": "54 mm", "how": 3}}, "key axle.offset: how is 3; the tool in quotes"),
    ({"axle.offset": {"value": "54 mm", "origin": "guessed"}}, "origin 'guessed' is not known; one of measured, publ"),
    ({"axle.offset": {"value": "54 mm", "origin": "measured"}}, 'measured, but how well is not said; how = "caliper"'),
    (
        {"axle.offset": {"value": "54 mm", "low": "55 mm"}},
        "low is 55 mm but the value is 54 mm; low, value, high in ris",
    ),
    (
        {"axle.offset": {"value": "54 mm", "high": "5 mm"}},
        "high is 5 mm but the value is 54 mm; low, value, high in ri",
    ),
    ({"axle.offset": {"value": "54 mm", "high": "5"}}, f"key axle.offset: '5' has no unit; {LENGTH}"),
    (
        {"axle.offset": {"value": "54 mm", "low": "53 mm", "give_or_take": "1 mm"}},
        "give_or_take together with low or high; one or the other",
    ),
    ({"axle.offset": {"value": "54 mm", "give_or_take": "-1 mm"}}, "'-1 mm' is below zero"),
    ({"axle.offset": {"value": "54 mm", "shape": "round"}}, "shape 'round' is not known; one of normal, uniform"),
    ({"gears.toe_end_angle": {"value": "5 deg", "how": "caliper"}}, "measured, but how well is not said; give_or_take"),
    # keys
    ({"gears.face_widht": "37 mm"}, "key gears.face_widht: unknown key 'face_widht'; was face_width meant?"),
    (
        {"gears.measured.toe_hight": "37 mm"},
        "key gears.measured.toe_hight: unknown key 'toe_hight'; was toe_height meant?",
    ),
    ({"shop.units": "in"}, "key shop.units: unknown key 'units'; it belongs at the top, above the first [table]"),
    ({"axle.face_width": "37 mm"}, "key axle.face_width: unknown key 'face_width'; it belongs under [gears]"),
    ({"target.zzz": 1}, "key target.zzz: unknown key 'zzz'; keys here: gap, allowance"),
    ({"axel": {}}, "key axel: unknown key 'axel'; was axle meant?"),
    ({"axle.offset": None}, 'key axle.offset: not given; such as offset = "2.25 in"'),
    ({"gears.teeth": None}, 'key gears.teeth: not given; such as teeth = "8/39"'),
    ({"name": None}, 'key name: not given; such as name = "8/39 in the spare case"'),
    ({"axle": None}, "key axle: not given; a table [axle]"),
    ({"boss": None}, "key boss: not given; a table [boss]"),
    ({"axle": "mine"}, "key axle: 'mine' is not a table"),
    ({"gears.measured": 3}, "key gears.measured: 3 is not a table"),
    ({"name": ""}, "key name: '' is empty; a few words in quotes"),
    ({"name": 5}, 'key name: 5 is not text; text in quotes, such as name = "8/39 in the spare case"'),
    ({"gears.teeth": 4.875}, 'key gears.teeth: 4.875 is not text; text in quotes, such as teeth = "8/39"'),
    ({"gears.teeth": "8/39" * 20}, "key gears.teeth: '8/398/398/398/398/398/398/398/398/398/3... is too long"),
    ({"format": 2}, "key format: format 2 is not known; format = 1 is what this geartrack reads"),
    # choices
    ({"units": "cm"}, "key units: 'cm' is not a choice here; "),
    ({"default_unit": "thou"}, 'key default_unit: \'thou\' is not a choice here; one of "in" or "mm"'),
    ({"axle.hand": "lower"}, 'key axle.hand: \'lower\' is not a choice here; one of "below" or "above"'),
    ({"axle.hand": "Below"}, 'key axle.hand: \'Below\' is not a choice here; one of "below" or "above"'),
    ({"gears.kind": "hypiod"}, "key gears.kind: 'hypiod' is not a choice here; one of \"hypoid\", "),
    ({"case.material": "gray"}, 'key case.material: \'gray\' is not a choice here; one of "nodular", "grey"'),
    ({"case.cracked": "no"}, "key case.cracked: 'no' is neither true nor false; true or false, without quotes"),
    ({"case.cracked": 1}, "key case.cracked: 1 is neither true nor false"),
    # keys that need each other
    (
        {"axle.shaft_angle": "85 deg"},
        "key axle.shaft_angle: 85 deg: only 90 degrees is in scope; leave it out, or 90 deg",
    ),
    (
        {"axle.offset": "120 mm"},
        "key axle.offset: the pinion would miss the ring; less than half the ring diameter, 4.724",
    ),
    ({"gears.set": "thick"}, "key gears.set_thickness: not given, and the set is thick; such as set_thickness ="),
    ({"gears.set_thickness": "0.4 in"}, "key gears.set_thickness: given, but the set is standard"),
    ({"gears.measured.back_face": "58 mm"}, "key gears.measured.back_face_from: not given, and a back face without it"),
    (
        {"gears.face_width": "96 mm"},
        "key gears.face_width: too wide for this ring; less than 0.4 of its diameter, 3.780",
    ),
    (
        {"gears.measured.outside_diameter": "9 in +/- 1 mm", "axle.ring_diameter": "10.2 in"},
        "does not belong to this ring",
    ),
    (
        {"axle.pinion_stub_diameter": "45 mm"},
        "key axle.pinion_stub_diameter: thicker than the pilot bore; less than 1.772",
    ),
    ({"case.wall_in_old_scallop": "6 mm"}, "key case.wall_in_old_scallop: given, but the case was not ground before"),
    ({"boss.seat_to": "21 mm"}, "key boss.seat_to: the seat does not lie within the bore"),
    ({"boss.seat_from": "20 mm"}, "key boss.seat_to: the seat does not lie within the bore"),
    # parts
    (
        {"boss.parts": None},
        "key boss: neither parts nor stations nor scan nor trace; give the boss as one of these: parts",
    ),
    ({"boss.parts": []}, "key boss.parts: no parts; at least one cylinder"),
    (
        {"boss.parts": "cylinder"},
        "key boss.parts: 'cylinder' is not a list; a list in square brackets, such as parts = [{",
    ),
    ({"boss.parts": ["cylinder"]}, "key boss.parts 1: 'cylinder' is not a table"),
    (
        {"boss.parts": [{"diameter": "54 mm"}]},
        "key boss.parts 1: {'diameter': '54 mm'} is a part without its kind; kind is",
    ),
    ({"boss.parts": [part("tube")]}, "key boss.parts 1: there is no kind of part 'tube'; "),
    ({"boss.parts": [part("cylindr")]}, "key boss.parts 1: there is no kind of part 'cylindr'; was cylinder meant?"),
    ({"boss.parts": [part("cylinder")]}, 'key boss.parts 1.diameter: not given; such as diameter = "54 mm"'),
    ({"boss.parts": [part("cylinder", diameter="54 mm", fro="1 mm")]}, "unknown key 'fro'; was from meant?"),
    (
        {"boss.parts": [part("cylinder", diameter="40 mm")]},
        "key boss.parts 1: pilot bore larger than the boss; the outside",
    ),
    ({"boss.parts": [part("cylinder", diameter="45 mm")]}, "key boss.parts 1: pilot bore larger than the boss"),
    (
        {"boss.parts": [part("cone", diameter_from="60 mm", diameter_to="44 mm")]},
        "key boss.parts 1: pilot bore larger than the boss",
    ),
    (
        {"boss.parts": [part("pad", clock="0 deg", distance="22 mm", width="9 mm")]},
        "key boss.parts 1: pilot bore larger than the boss",
    ),
    (
        {"boss.parts": [part("rib", clock="0 deg", reach="22 mm", width="9 mm")]},
        "key boss.parts 1: pilot bore larger than the boss",
    ),
    (
        {"boss.parts": [{"kind": "fillet", "radius": "3 mm", "at": "9 mm", "diameter": "44 mm"}]},
        "key boss.parts 1: pilot bore larger than the boss",
    ),
    (
        {"boss.parts": [part("cylinder", diameter="54 mm", to="0 mm")]},
        "key boss.parts 1.to: the part ends before it starts",
    ),
    ({"boss.parts": [part("cylinder", diameter="2 mm")]}, "key boss.parts 1: pilot bore larger than the boss"),
    (
        {"boss.parts": [part("cylinder", diameter="54 in")]},
        "key boss.parts 1.diameter: 54 in is out of range; between 0.039",
    ),
    (
        {"boss.parts": [part("pad", clock=3, distance="30 mm", width="9 mm")]},
        "parts 1.clock: '3' has no unit; type it lik",
    ),
    (
        {"boss.parts": [part("cylinder", diameter="54 mm"), part("cut", clock="13 o'clock", distance="26 mm")]},
        "key boss.parts 2.clock: \"13 o'clock\" is not on a clock face; type it like 1 o'clock, 1:30 o'clock or 30 deg",
    ),
    # scan
    ({"boss.scan": "none.stl", "boss.parts": None}, "key boss.scan: there is no file 'none.stl'; looked in "),
    ({"boss.scan": 5, "boss.parts": None}, "key boss.scan: the file's name is not text; such as scan = "),
    ({"boss.scan_unit": "mm"}, "key boss.scan_unit: given, but no scan is; scan = "),
    # stations
    ({"boss.stations": "none.csv", "boss.parts": None}, "key boss.stations: there is no file 'none.csv'; looked in "),
    ({"boss.stations": "x" * 5000, "boss.parts": None}, "key boss.stations: there is no file 'xxxxx"),
    ({"boss.stations": 5, "boss.parts": None}, "key boss.stations: the file's name is not text; such as stations ="),
    (
        {"boss.stations": {"path": "x", "typed": "x"}, "boss.parts": None},
        "key boss.stations: the file's name is not text",
    ),
    # readings
    (
        {"readings": [{"kind": "gapp", "gap": "1 mm"}]},
        "key readings 1.kind: there is no kind of reading 'gapp'; was gap meant?",
    ),
    (
        {"readings": [{"gap": "1 mm"}]},
        "key readings 1.kind: not given; one of gap, hits before backlash closes, wind-over, bar to toe, wall",
    ),
    (
        {"readings": [{"kind": "gap", "gap": "1 mm"}, {"kind": "gap"}]},
        "key readings 2.gap: not given; such as gap = {",
    ),
    (
        {"readings": [{"kind": "gap", "gap": "30 mm"}]},
        "key readings 1.gap: 30 mm is out of range; between 0.000 in (0.00 mm) and",
    ),
    ({"readings": [{"kind": "gap", "gap": "0.031"}]}, "key readings 1.gap: '0.031' has no unit"),
    ({"readings": [{"kind": "gap", "gap": "-1 mm"}]}, "key readings 1.gap: '-1 mm' is below zero"),
    (
        {"readings": [{"kind": "gap", "gap": "1 mm", "cpas_torqued": True}]},
        "key readings 1.cpas_torqued: unknown key 'cpas_torqued'; was caps_torqued meant?",
    ),
    (
        {"readings": [{"kind": "gap", "gap": "1 mm", "bearings": "old"}]},
        'key readings 1.bearings: \'old\' is not a choice here; one of "final" or "set-up"',
    ),
    (
        {"readings": [{"kind": "hits before backlash closes", "backlash_at_touch": "0.3 mm"}]},
        "key readings 1.backlash_at_touch: says nothing without the backlash the ring will run at; backlash_final =",
    ),
    (
        {"readings": [{"kind": "wind-over"}]},
        "key readings 1: neither travel nor notches; a dial's travel, or the notches",
    ),
    (
        {"readings": [{"kind": "wind-over", "travel": "1 mm", "notches": 3}]},
        "key readings 1: both travel and notches; a dial's travel, or the notches",
    ),
    (
        {"readings": [{"kind": "wind-over", "notches": 3, "thread_pitch": "1.5 mm"}]},
        "key readings 1.notches: notches alone are no length; thread_pitch = ",
    ),
    (
        {"readings": [{"kind": "gap", "gap": "1 mm", "station": "3 mm"}]},
        "key readings 1.station: says no place without its clock angle; clock = ",
    ),
    ({"readings": [{"kind": "wall"}]}, "key readings 1.wall: not given; such as wall = {"),
    ({"readings": [{"kind": "wall", "wall": "0 mm"}]}, "key readings 1.wall: 0 mm is out of range; between"),
    (
        {"readings": [{"kind": "wall", "wall": "8 mm", "station": "60 mm"}]},
        "key readings 1.station: there is no pilot bore there, so no wall; 0 to ",
    ),
    ({"readings": [{"kind": "wall", "wall": "8 mm", "clock": "13 o'clock"}]}, "key readings 1.clock: "),
    (
        {"readings": [{"kind": "wall", "wall": {"value": "8 mm", "how": "caliper", "give_or_take": "0 mm"}}]},
        "key readings 1.wall: no reading gives or takes nothing; ",
    ),
    ({"readings": [{"kind": "wall", "wall": "8 mm +/- -0.1 mm"}]}, "key readings 1.wall: '-0.1 mm' is below zero"),
    (
        {"readings": [{"kind": "wall", "wall": "8 mm", "gears": "old set"}]},
        "key readings 1.gears: unknown key 'gears'",
    ),
    ({"readings": [7]}, "key readings 1: 7 is not a table"),
    ({"readings": {"kind": "gap"}}, "key readings: is not a list of tables; a heading [[readings]] to each"),
    (
        {"readings": [{"kind": "gap", "gap": "1 mm", "gears": "old set"}]},
        'key readings 1.gears: read with the old set, of which nothing is given; teeth = "9/35" under [old_gears]',
    ),
    (
        {"readings": [{"kind": "gap", "gap": "1 mm", "date": "yesterday"}]},
        "key readings 1.date: ",
    ),
    (
        {"correlated": [{"first": "axle.offset", "second": "boss.end_face", "by": 1.5}]},
        "key correlated 1.by: 1.5 is out of range; between -1 and 1",
    ),
    # other turning bodies
    ({"turning": {"name": "x"}}, "key turning: is not a list of tables; a heading [[turning]] to each"),
    ({"turning": [{"name": "x"}]}, "key turning 1.section: not given; such as section = [["),
    (
        {"turning": [{"name": "x", "section": [["1 mm", "1 mm"]]}]},
        "key turning 1.section: 1 corners enclose nothing; three or more, each",
    ),
    (
        {"turning": [{"name": "x", "section": [["1 mm", "1 mm"], ["2 mm", "1 mm"], ["-2 mm", "2 mm"]]}]},
        "key turning 1.section 3 1: '-2 mm' is below zero",
    ),
    (
        {"turning": [{"name": "x", "section": [["1 mm", "1 mm"], ["2 mm", "1 mm"], ["2 mm"]]}]},
        "key turning 1.section 3 2: not given",
    ),
    # money
    ({"shop.rate": -1}, "key shop.rate: -1 is out of range; a number from 0 to 1000000"),
    ({"shop.rate": "$110"}, "key shop.rate: '$110' is not a plain number; such as 110 or 110.50"),
    ({"shop.rate": "nan"}, "key shop.rate: nan is out of range"),
    ({"shop.rate": float("inf")}, "key shop.rate: inf is out of range"),
    ({"shop.tax_percent": 101}, "key shop.tax_percent: 101 is out of range; a number from 0 to 100"),
    ({"shop.minimum_hours": -0.5}, "key shop.minimum_hours: -0.5 is out of range"),
    # borrowed tables
    ({"axle.file": "none.toml"}, "key axle.file: there is no file 'none.toml'; looked in "),
    ({"axle.file": ""}, "key axle.file: the file's name is not text; such as file = "),
    ({"axle.file": 5}, "key axle.file: the file's name is not text"),
    ({"axle.file": "."}, "is a folder; name the file in it"),
    ({"axle.file": "bad.toml"}, "bad.toml: not TOML: "),
    ({"axle.file": "empty.toml"}, "key axle.file: empty.toml has no table [axle]; a file for this table holds [axle]"),
    ({"axle.file": "chain.toml"}, "chain.toml, key axle.file (line 2): a file that a job names cannot name another"),
    ({"axle.file": "a\0b"}, "key axle.file: there is no file 'a\\x00b'"),
]


@pytest.mark.parametrize(("changes", "message"), ONE_FAULT, ids=[f"{i}" for i in range(len(ONE_FAULT))])
def test_one_fault_is_one_line(changes, message, tmp_path):
    (tmp_path / "bad.toml").write_text("[axle\n", encoding="utf-8")
    (tmp_path / "empty.toml").write_text("", encoding="utf-8")
    (tmp_path / "chain.toml").write_text('[axle]\nfile = "x.toml"\n', encoding="utf-8")
    (line,) = findings_of(changes, tmp_path)
    assert message in line
    assert len(line.splitlines()) == 1


def test_both_parts_and_stations_are_one_too_many(tmp_path):
    (tmp_path / "boss.csv").write_text("", encoding="utf-8")
    (line,) = findings_of({"boss.stations": "boss.csv"}, tmp_path)
    assert "key boss: both parts and stations; give the boss as one of these: parts, stations" in line


def test_a_scan_shows_its_own_edge(tmp_path):
    (tmp_path / "boss.stl").write_text("", encoding="utf-8")
    changes = {"boss.parts": None, "boss.scan": "boss.stl", "boss.edge_break": "1 mm"}
    (line,) = findings_of(changes, tmp_path)
    assert "key boss.edge_break: given beside a scan, which shows the edge as it is; leave it out" in line


def test_money_is_never_rounded(tmp_path):
    shop = job_from_dict(document({"shop.rate": 110.1, "shop.consumables": "25.50"}), tmp_path, "job.toml").shop
    assert (shop.rate, shop.consumables) == (Decimal("110.1"), Decimal("25.50"))


def test_all_findings_come_at_once_with_their_lines(tmp_path):
    text = (
        TEXT.replace('"240 mm"', '"9 mm"')
        .replace('teeth = "7/35"', 'teeth = 5\ntoth = "7/35"')
        .replace('from = "4 mm"', 'from = "four"')
        .replace('gap = "0.020 in"', 'gap = "0.020"')
        .replace('["80 mm", "80 mm"]', '["80 mm", "80"]')
        .replace("rate = 110", "rate = -110")
        .replace('mark = "A-1"', 'wall_in_old_scallop = "6 mm"')
    )
    path = tmp_path / "job.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(InputError) as caught:
        read_job(path)
    places = [finding.where for finding in caught.value.findings]
    assert places == [
        "job.toml, key axle.ring_diameter (line 6)",
        "job.toml, key gears.teeth (line 11)",
        "job.toml, key gears.toth (line 12)",
        "job.toml, key boss.parts 2.from (line 27)",
        "job.toml, key target.gap (line 31)",
        "job.toml, key shop.rate (line 38)",
        "job.toml, key turning 1.section 3 2 (line 35)",
        "job.toml, key case.wall_in_old_scallop (line 19)",
    ]


def test_a_fault_in_a_borrowed_table_is_placed_in_its_own_file(tmp_path):
    (tmp_path / "x.toml").write_text('# x\n[axle]\nring_diameter = 9\noffset = "2 in"\n', encoding="utf-8")
    (line,) = findings_of({"default_unit": "in", "axle": {"file": "x.toml"}}, tmp_path)
    assert line.startswith("x.toml, key axle.ring_diameter (line 3): 9 has no unit; ")


# Files that cannot be read


def refusal(path):
    with pytest.raises(InputError) as caught:
        read_job(path)
    (finding,) = caught.value.findings
    return finding


def test_no_such_file(tmp_path):
    finding = refusal(tmp_path / "none.toml")
    assert finding.what == "there is no file 'none.toml'"
    assert finding.right == f"looked in {tmp_path}"


def test_a_folder(tmp_path):
    assert refusal(tmp_path).what == f"{tmp_path.name} is a folder"


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no pipes here")
def test_a_pipe_is_refused_rather_than_waited_for(tmp_path):
    os.mkfifo(tmp_path / "pipe")
    assert refusal(tmp_path / "pipe").what == "'pipe' is not a plain file"


def test_a_file_that_may_not_be_read(tmp_path, monkeypatch):
    path = tmp_path / "job.toml"
    path.write_text(TEXT, encoding="utf-8")

    def forbid(*_args, **_kwargs):
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(type(path), "open", forbid)
    assert refusal(path).what == "cannot be read: Permission denied"


def test_not_utf_8(tmp_path):
    path = tmp_path / "job.toml"
    path.write_bytes(b'name = "x"\nnote = "\xe9"\n')
    assert refusal(path).what == "'job.toml' is not UTF-8 text (line 2)"


def test_a_byte_order_mark_does_no_harm(tmp_path):
    path = tmp_path / "job.toml"
    path.write_bytes(b"\xef\xbb\xbf" + TEXT.encode())
    assert read_job(path).name == "demo"


def test_windows_line_ends_do_no_harm(tmp_path):
    path = tmp_path / "job.toml"
    path.write_bytes(TEXT.replace("\n", "\r\n").encode())
    assert read_job(path).name == "demo"


@pytest.mark.parametrize(("size", "fits"), [(1_000_000, True), (1_000_001, False)])
def test_more_than_a_megabyte(tmp_path, size, fits):
    path = tmp_path / "job.toml"
    path.write_text(TEXT + "#" * (size - len(TEXT)), encoding="utf-8")
    if fits:
        assert read_job(path).name == "demo"
    else:
        assert refusal(path).what == "'job.toml' is larger than 1 MB"


@pytest.mark.parametrize(
    ("text", "line"),
    [
        ("[gears]\nteeth = 8/39\n", 2),
        ("[axle]\noffset = 54 mm\n", 2),
        ('[axle]\n\noffset = "54 mm\n', 3),
        ("[axle]\n[axle]\n", 2),
        ("x = 1\nx = 2\n", 2),
    ],
)
def test_a_fault_of_toml_has_its_line(tmp_path, text, line):
    path = tmp_path / "job.toml"
    path.write_text(text, encoding="utf-8")
    finding = refusal(path)
    assert finding.where == "job.toml"
    assert finding.what.startswith("not TOML: ")
    assert f"line {line}," in finding.what
    assert "goes in quotes" in finding.right


def test_lists_within_lists_without_end(tmp_path):
    path = tmp_path / "job.toml"
    path.write_text("x = " + "[" * 100_000, encoding="utf-8")
    assert refusal(path).what.startswith("not TOML: ")
    deep = []
    for _ in range(100_000):
        deep = [deep]
    assert findings_of({"name": deep}, tmp_path)[0].startswith("job.toml: lists or tables within each other too deeply")


# Every key is described, and every description reads


def keys_of(model, under=""):
    for name, field in model.model_fields.items():
        if isinstance(field.annotation, type) and issubclass(field.annotation, Table):
            yield from keys_of(field.annotation, f"{under}{name}.")
        else:
            yield f"{under}{field.validation_alias or name}"


def test_every_key_is_described_and_nothing_else():
    keys = {key for key in keys_of(Job) if key not in ("format", "turning", "readings", "correlated")} | {
        "turning.name",
        "turning.section",
        "correlated.first",
        "correlated.second",
        "correlated.by",
    }
    assert set(KEYS) == keys


def test_every_example_reads(tmp_path):
    needs = {
        "gears.set_thickness": 'set = "thick"',
        "gears.measured.back_face": 'back_face_from = "this set"',
        "case.wall_in_old_scallop": "ground_before = true",
    }
    for name in ("boss.csv", "boss.stl", "picks.csv", "boss-end.dxf"):
        (tmp_path / name).write_text("", encoding="utf-8")
    for key, about in KEYS.items():
        table, _, name = key.rpartition(".")
        inside = {"axle": "axle", "boss": "boss"}.get(table)
        heads = {"axle": {}, "boss": {}}
        for required in ("axle.ring_diameter", "axle.offset", "boss.end_face", "boss.bore_diameter", "boss.bore_depth"):
            head, _, last = required.rpartition(".")
            heads[head][last] = KEYS[required].example
        if key.startswith("boss.scan"):
            heads["boss"]["scan"] = KEYS["boss.scan"].example
        elif key not in ("boss.stations", "boss.trace"):
            heads["boss"]["parts"] = KEYS["boss.parts"].example
        if inside:
            heads[inside][name] = about.example
        lines = [] if table == "" and name == "name" else ['name = "x"']
        lines += [f"{name} = {about.example}"] if table == "" else []
        for head, values in heads.items():
            lines += [f"[{head}]", *(f"{k} = {v}" for k, v in values.items())]
        lines += ["[gears]"] + ([] if key == "gears.teeth" else ['teeth = "8/39"'])
        listed = {"turning": ("name", "section"), "correlated": ("first", "second", "by")}
        if table in listed:
            lines += [f"[[{table}]]"] + [f"{k} = {KEYS[f'{table}.{k}'].example}" for k in listed[table]]
        elif table and not inside:
            lines += [f"[{table}]"] if table != "gears" else []
            lines += [f"{name} = {about.example}"] + ([needs[key]] if key in needs else [])
        path = tmp_path / "job.toml"
        path.write_text("\n".join(lines), encoding="utf-8")
        read_job(path)


def test_every_key_of_a_reading_is_described_and_its_example_reads(tmp_path):
    keys = {name for kind in READINGS.values() for name in kind.model_fields}
    assert set(READING_KEYS) == keys
    for kind, model in READINGS.items():
        clash = {"notches", "thread_pitch", "notches_per_turn"}  # a dial's travel in their place
        typed = [
            f"{name} = {READING_KEYS[name].example}" for name in model.model_fields if name not in clash | {"kind"}
        ]
        text = "\n".join(["[[readings]]", f'kind = "{kind}"', *typed])
        read = document() | {"running": {"backlash_final": "0.008 in"}} | tomllib.loads(text)
        read["axle"]["hand"] = "below"  # without it no clock angle of a gap
        assert type(job_from_dict(read, tmp_path, "demo").readings[0]) is model


def test_every_key_of_the_setup_log_is_described_and_its_example_reads(tmp_path):
    lists = {"readings": (TorqueReading, {}), "stacks": (Stack, {}), "crush": (Pull, {"spacer": "crush"})}
    assert set(SETUP_KEYS) == {name for model, _ in lists.values() for name in model.model_fields}
    for name, (model, more) in lists.items():
        row = tomllib.loads("\n".join(f"{key} = {SETUP_KEYS[key].example}" for key in model.model_fields))
        read = job_from_dict(document() | {"setup": {name: [row], **more}}, tmp_path, "demo")
        assert type(getattr(read.setup, name)[0]) is model


def test_every_key_of_a_part_is_described():
    from geartrack.job.findings import PARTS

    keys = {str(field.validation_alias or name) for kind in PARTS.values() for name, field in kind.model_fields.items()}
    assert set(PART_KEYS) == keys
