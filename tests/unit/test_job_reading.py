"""Job files that read: what each way of typing a value means, borrowed tables, changes, places."""

import math
from decimal import Decimal

import pytest
from job_documents import TEXT, document

from geartrack.errors import InputError
from geartrack.frame import Hand
from geartrack.job import TOOLS, Cylinder, Rib, job_from_dict, locate, read_job, with_changes
from geartrack.job.source import line_of
from geartrack.quantity import Origin, Quantity, Shape


@pytest.fixture
def demo(tmp_path):
    path = tmp_path / "demo.toml"
    path.write_text(TEXT, encoding="utf-8")
    return read_job(path)


def job_with(tmp_path, changes=()):
    return job_from_dict(document(changes), tmp_path, "job.toml")


def offset_typed(tmp_path, raw):
    return job_with(tmp_path, {"axle.offset": raw}).axle.offset


def test_a_file_reads_into_millimetres_radians_and_exact_money(demo):
    assert demo.axle.ring_diameter == Quantity(240.0, 240.0, 240.0)
    assert demo.axle.hand is Hand.BELOW
    assert demo.gears.teeth == "7/35"
    assert demo.boss.end_face.low == pytest.approx(49.8, abs=1e-12)
    assert demo.boss.parts == (
        Cylinder(diameter=54.0, start=0.0, end=22.0),
        Rib(clock=math.pi / 2, width=8.0, reach=40.0, start=4.0, end=22.0),
    )
    assert demo.turning[0].section == ((60.0, 70.0), (80.0, 70.0), (80.0, 80.0))
    assert demo.shop.rate == Decimal(110)
    assert demo.case.mark == "A-1"


def test_what_is_not_given_is_none_or_a_labelled_default(demo):
    assert demo.gears.pinion_spiral is None
    assert demo.gears.measured.toe_height is None
    assert demo.case.minimum_wall is None
    assert demo.shop.tax_percent is None
    assert demo.axle.shaft_angle.value == math.pi / 2
    assert demo.axle.shaft_angle.origin is Origin.DEFAULT
    assert demo.target.gap.origin is Origin.TYPED
    assert demo.target.allowance == Quantity(0.127, 0.127, 0.127, Origin.DEFAULT, "common practice, no source")


def test_the_default_target_is_labelled(tmp_path):
    gap = job_with(tmp_path).target.gap
    assert (gap.value, gap.origin, gap.source) == (0.508, Origin.DEFAULT, "common practice, no source")


# 2-sigma in inches as in the project's trade notes, turned to mm by hand (1 in = 25.4 mm).
@pytest.mark.parametrize(
    ("how", "two_sigma_mm"),
    [
        ("caliper", 0.0508),
        ("micrometer", 0.004064),
        ("depth micrometer", 0.0508),
        ("feeler", 0.0381),
        ("solder", 0.0381),
        ("clay", 0.127),
        ("trace", 0.381),
        ("phone scan", 0.508),
        ("bench scan", 0.1016),
        ("Digital Caliper", 0.0508),
        ("outside micrometer", 0.004064),
    ],
)
def test_a_tool_brings_its_own_give_or_take(tmp_path, how, two_sigma_mm):
    offset = offset_typed(tmp_path, {"value": "54 mm", "how": how})
    assert offset.spread == pytest.approx(two_sigma_mm, rel=1e-12)
    assert (offset.origin, offset.source, offset.shape) == (Origin.MEASURED, how, Shape.NORMAL)


def test_every_tool_says_where_its_figure_comes_from():
    assert len(TOOLS) == 11
    assert all(tool.mark and tool.two_sigma_mm > 0 for tool in TOOLS.values())


def test_what_is_typed_beats_the_tool(tmp_path):
    offset = offset_typed(tmp_path, {"value": "54 mm", "how": "caliper", "give_or_take": "0.5 mm"})
    assert (offset.low, offset.high, offset.origin) == (53.5, 54.5, Origin.MEASURED)


def test_other_words_are_kept_as_the_source(tmp_path):
    offset = offset_typed(tmp_path, {"value": "54 mm", "how": "sheet of the gear set", "origin": "published"})
    assert offset == Quantity(54.0, 54.0, 54.0, Origin.PUBLISHED, "sheet of the gear set")


@pytest.mark.parametrize("text", ["54 mm +/- 0.5 mm", "54 mm ± 0.5 mm", "54mm+/-0,5mm", "54 mm +/- 500 µm"])
def test_give_or_take_in_one_text(tmp_path, text):
    assert offset_typed(tmp_path, text) == Quantity(54.0, 53.5, 54.5)


def test_limits_are_hard_and_may_be_one_sided(tmp_path):
    chamfer = job_with(tmp_path, {"gears.toe_chamfer": {"value": "0 mm", "high": "1.5 mm"}}).gears.toe_chamfer
    assert chamfer == Quantity(0.0, 0.0, 1.5, Origin.TYPED, "", Shape.UNIFORM)
    offset = offset_typed(tmp_path, {"value": "54 mm", "low": "53 mm", "high": "54.5 mm", "shape": "normal"})
    assert offset == Quantity(54.0, 53.0, 54.5, Origin.TYPED, "", Shape.NORMAL)
    offset = offset_typed(tmp_path, {"value": "0 mm", "low": "-0.5 mm"})
    assert (offset.low, offset.high) == (-0.5, 0.0)


def test_angles_and_plain_numbers_are_quantities_too(tmp_path):
    gears = job_with(tmp_path, {"gears.pinion_spiral": "50 deg +/- 2 deg", "gears.depth_factor": 1.9}).gears
    assert gears.pinion_spiral.value == pytest.approx(math.radians(50), rel=1e-15)
    assert gears.pinion_spiral.spread == pytest.approx(math.radians(2), rel=1e-13)
    assert gears.depth_factor == Quantity(1.9, 1.9, 1.9)
    gears = job_with(tmp_path, {"gears.depth_factor": {"value": 1.9, "give_or_take": 0.1}}).gears
    assert gears.depth_factor.spread == pytest.approx(0.1, rel=1e-12)


@pytest.mark.parametrize(
    ("text", "degrees"),
    [("30 deg", 30), ("1 o'clock", 30), ("9 o'clock", -90), ("-30 deg", -30), ("330 deg", -30), ("-180 deg", 180)],
)
def test_clock_angles_run_to_half_a_turn_either_way(tmp_path, text, degrees):
    cut = {"kind": "cut", "clock": text, "distance": "26 mm", "from": "0 mm", "to": "5 mm"}
    job = job_with(tmp_path, {"boss.parts": [*document()["boss"]["parts"], cut]})
    assert job.boss.parts[1].clock == pytest.approx(math.radians(degrees), abs=1e-15)


def test_a_default_unit_lets_bare_lengths_through(tmp_path):
    metric = document({"default_unit": "mm", "axle.offset": 54, "boss.end_face": {"value": 50.5, "give_or_take": 0.2}})
    job = job_from_dict(metric, tmp_path, "job.toml")
    assert job.axle.offset.value == 54.0
    assert job.boss.end_face.spread == pytest.approx(0.2, rel=1e-12)
    assert job_with(tmp_path, {"default_unit": "in", "axle.offset": 2.25}).axle.offset.value == 57.15
    assert job_with(tmp_path, {"default_unit": "in", "axle.offset": "54 mm"}).axle.offset.value == 54.0


def test_makers_minimum_wall_may_be_looked_for_in_vain(tmp_path):
    assert job_with(tmp_path).case.makers_minimum_wall is None
    assert job_with(tmp_path, {"case.makers_minimum_wall": "not known"}).case.makers_minimum_wall == "not known"
    assert job_with(tmp_path, {"case.makers_minimum_wall": "0.2 in"}).case.makers_minimum_wall.value == 5.08


def test_a_job_cannot_be_changed_in_place(demo):
    with pytest.raises(ValueError, match="frozen"):
        demo.axle.name = "other"


# Borrowed tables


@pytest.fixture
def shelf(tmp_path):
    """A job in one folder that takes its axle and boss from files in others."""
    (tmp_path / "jobs").mkdir()
    (tmp_path / "axles").mkdir()
    (tmp_path / "axles" / "x.toml").write_text(
        'default_unit = "in"\n[axle]\nname = "x"\nring_diameter = 9\noffset = 2.25\n'
        '[boss]\nend_face = 2\nbore_diameter = "45 mm"\nbore_depth = "20 mm"\nstations = "boss.csv"\n',
        encoding="utf-8",
    )
    (tmp_path / "axles" / "boss.csv").write_text("", encoding="utf-8")
    (tmp_path / "jobs" / "own.csv").write_text("", encoding="utf-8")
    path = tmp_path / "jobs" / "job.toml"

    def write(axle="", boss="", head=""):
        path.write_text(
            f'name = "j"\n{head}\n[axle]\nfile = "../axles/x.toml"\n{axle}\n[gears]\nteeth = "8/39"\n'
            f'[boss]\nfile = "../axles/x.toml"\n{boss}\n',
            encoding="utf-8",
        )
        return path

    return write


def test_a_borrowed_table_reads_in_its_own_files_unit(shelf):
    job = read_job(shelf(head='default_unit = "mm"'))
    assert job.axle.ring_diameter.value == 228.6
    assert job.boss.end_face.value == 50.8


def test_keys_of_the_job_go_before_those_of_the_borrowed_table(shelf):
    job = read_job(shelf(head='default_unit = "mm"', axle="offset = 54"))
    assert (job.axle.name, job.axle.offset.value, job.axle.ring_diameter.value) == ("x", 54.0, 228.6)


def test_a_station_table_is_looked_for_beside_the_file_that_names_it(shelf, tmp_path):
    boss = read_job(shelf()).boss
    assert (boss.stations.path, boss.stations.typed) == ((tmp_path / "axles" / "boss.csv").resolve(), "boss.csv")
    boss = read_job(shelf(boss='stations = "own.csv"')).boss
    assert boss.stations.path == (tmp_path / "jobs" / "own.csv").resolve()
    assert boss.parts is None


def test_parts_of_the_job_replace_a_borrowed_station_table(shelf):
    part = 'parts = [{ kind = "cylinder", diameter = "54 mm", from = "0 mm", to = "22 mm" }]'
    boss = read_job(shelf(boss=part)).boss
    assert boss.stations is None
    assert len(boss.parts) == 1


def test_places_lead_to_the_file_that_holds_the_key(shelf):
    job = read_job(shelf(axle='offset = "54 mm"'))
    assert locate(job, "axle.offset") == "job.toml, key axle.offset (line 5)"
    assert locate(job, "axle.ring_diameter") == "../axles/x.toml, key axle.ring_diameter (line 4)"
    assert locate(job, "boss.stations") == "../axles/x.toml, key boss.stations (line 10)"


def test_measured_keys_of_the_job_are_added_to_the_borrowed_ones(tmp_path):
    (tmp_path / "set.toml").write_text(
        '[gears]\nteeth = "8/39"\n[gears.measured]\ntoe_height = "34 mm"\nheel_height = "30 mm"\n', encoding="utf-8"
    )
    changes = {"gears": {"file": "set.toml", "measured": {"toe_height": "35 mm"}}}
    measured = job_with(tmp_path, changes).gears.measured
    assert (measured.toe_height.value, measured.heel_height.value) == (35.0, 30.0)


# Changes


def test_changes_read_like_the_file(demo):
    changed = with_changes(
        demo, {"gears.teeth": "8/39", "target.gap": "0.030 in", "case.cracked": "true", "units": "mm"}
    )
    assert changed.gears.teeth == "8/39"
    assert changed.target.gap == Quantity(0.762, 0.762, 0.762)
    assert changed.case.cracked is True
    assert changed.units == "mm"
    assert changed.boss == demo.boss
    assert demo.gears.teeth == "7/35"


def test_a_change_over_a_borrowed_table_stands(shelf):
    changed = with_changes(read_job(shelf()), {"axle.offset": "50 mm"})
    assert (changed.axle.offset.value, changed.axle.ring_diameter.value) == (50.0, 228.6)
    assert locate(changed, "axle.offset") == "command line, key axle.offset"
    assert "x.toml" in locate(changed, "axle.ring_diameter")


def test_changes_add_up(demo):
    changed = with_changes(with_changes(demo, {"gears.teeth": "8/39"}), {"target.gap": "1 mm"})
    assert (changed.gears.teeth, changed.target.gap.value) == ("8/39", 1.0)
    assert locate(changed, "gears.teeth") == "command line, key gears.teeth"
    assert with_changes(demo, {}) == demo
    assert changed != demo


@pytest.mark.parametrize(
    ("changes", "message"),
    [
        ({"gears.teethh": "8/39"}, "command line, key gears.teethh: unknown key 'teethh'; was teeth meant?"),
        ({"target.gap": "0.03"}, "command line, key target.gap: '0.03' has no unit"),
        ({"name.first": "x"}, "command line, key name.first: 'name' holds no keys; such as gears.teeth"),
        ({"axle.offset": "130 mm"}, "command line, key axle.offset: the pinion would miss the ring"),
        ({"boss.bore_diameter": "60 mm"}, "demo.toml, key boss.parts 1 (line 25): pilot bore larger than the boss"),
    ],
)
def test_a_bad_change_is_told_where_it_was_typed(demo, changes, message):
    with pytest.raises(InputError) as caught:
        with_changes(demo, changes)
    assert message in str(caught.value)


# Places


@pytest.mark.parametrize(
    ("key", "line"),
    [
        ("name", 3),
        ("axle", 5),
        ("axle.offset", 7),
        ("axle.offset.how", 7),
        ("gears.teeth", 11),
        ("gears.measured.outside_diameter", 15),
        ("boss.parts", 24),
        ("boss.parts.0.diameter", 25),
        ("boss.parts.1.clock", 26),
        ("boss.edge_break", 20),
        ("turning.0", 32),
        ("turning.0.section.1", 34),
        ("shop.rate", 37),
    ],
)
def test_lines_are_found(demo, key, line):
    assert locate(demo, key).endswith(f"(line {line})")


@pytest.mark.parametrize(
    ("text", "key", "line"),
    [
        ('note = """\n[axle]\noffset = 1\n"""\n[axle]\noffset = "2 in"\n', "axle.offset", 6),
        ("note = '''[axle]\noffset = 1\n'''\n[axle]\noffset = '2 in'\n", "axle.offset", 5),
        ('# [axle]\n[ axle ]  # offset = 1\n  "offset" = "2 in"\n', "axle.offset", 3),
        ('axle.offset = "2 in"\n', "axle.offset", 1),
        ('[gears]\nmeasured.toe_height = "1 in"\n', "gears.measured.toe_height", 2),
        ('[[turning]]\nname = "a"\n[[turning]]\nname = "b"\n', "turning.1.name", 4),
        ('[[boss.parts]]\nkind = "pad"\n[[boss.parts]]\nat = "1 mm"\n[shop]\nat = 2\n', "boss.parts.1.at", 4),
        (
            "[[turning]]\nsection = [\n  ['1 mm', '2 mm'],\n  ['3 mm',\n   '4 mm'],\n  ['5 mm', '6 mm']]",
            "turning.0.section.2",
            6,
        ),
        ("x = ['a ] b', # ]\n 'c']\n[axle]\ny = 1", "axle.y", 4),
        ("[boss]\nparts = [{ kind = 'pad' },\n  { kind = 'rib' }]", "boss.parts.1", 3),
        ("[other]\noffset = 1", "axle.offset", None),
    ],
)
def test_lines_are_found_however_the_file_is_laid_out(text, key, line):

    assert line_of(text, tuple(int(step) if step.isdecimal() else step for step in key.split("."))) == line
