"""The old-gears card: eleven entries, what each blank costs, the slips it names, the job it leaves, its stories."""

import json
import re
import shutil
from dataclasses import replace

import pytest
import screen_words as words
from card_entries import OLD_GEARS
from click.testing import CliRunner

from geartrack.cards.answer import card_document
from geartrack.cards.difference import new_gap
from geartrack.cards.entries import Setting
from geartrack.cards.old_costs import DRAWS
from geartrack.cards.old_entries import ENTRIES, NEEDED, Size
from geartrack.cards.old_gears import CARD, THE_GAP
from geartrack.cards.old_sums import axle_of, readings_of
from geartrack.cards.shop_list import ShopList
from geartrack.cli import main
from geartrack.datafiles import data_path
from geartrack.draw.methods import METHODS
from geartrack.errors import InputError
from geartrack.gearset.teeth import ToothPair
from geartrack.job import TOOLS, job_from_dict, read_job
from geartrack.study import check
from geartrack.verdict import Code

READ = OLD_GEARS
TIGHT = {"new_teeth": "9/41", "gap": "2.2 mm feeler", "new_height": "42.5 mm", "toe_diameters": "172.0 170.2 mm"}
WIDE = {"new_teeth": "9/41", "gap": "9 mm feeler", "new_height": "42.3 mm", "toe_diameters": "172.0 169.5 mm"}
BLANKS = tuple(key for key in READ if key not in NEEDED)


def worked(setting=Setting(units="mm"), **changes):  # noqa: B008  frozen
    said = {key: text for key, text in {**READ, **changes}.items() if text is not None}
    return CARD.work(said, setting)


@pytest.fixture(scope="module")
def all_read():
    return worked()


@pytest.fixture(scope="module")
def least():
    return worked(**dict.fromkeys(BLANKS), axle="240 mm", gap="6.2 mm")


def numbers(**changes):
    """The readings that the card starts from, of texts."""
    said = {entry.key: entry.value(text) for entry in ENTRIES if (text := {**READ, **changes}.get(entry.key))}
    return readings_of(said, axle_of(said["axle"], ShopList(None), None))


# Entries


def test_at_most_eleven_entries_and_nothing_twice():
    assert len(ENTRIES) == len(READ) == 11
    assert len({entry.key for entry in ENTRIES}) == len({entry.question for entry in ENTRIES}) == 11
    assert {entry.method for entry in ENTRIES} - {""} <= set(METHODS)


def test_readings_carry_their_tools():
    read = numbers()
    assert read.gap.spread == pytest.approx(TOOLS["feeler"].two_sigma_mm)
    assert numbers(gap="6.2 mm, by clay").gap.spread == pytest.approx(TOOLS["clay"].two_sigma_mm)
    assert numbers(gap="6.2 mm").gap.spread == pytest.approx(TOOLS["clay"].two_sigma_mm)  # not said: the widest
    assert read.thicker is not None
    assert read.thicker.value == pytest.approx(6.6)
    assert read.thicker.spread == pytest.approx(2**0.5 * TOOLS["caliper"].two_sigma_mm)
    assert read.backlash.value == pytest.approx((0.008 - 0.010) * 25.4)
    assert (read.old, read.new) == (ToothPair(9, 35), ToothPair(7, 36))


def test_an_odd_ring_is_read_over_a_chord():
    """Closed form: D = reading / cos(pi / (2 z)) for 35 teeth; 36 teeth lie opposite each other."""
    old, new = numbers().toe_diameters
    assert old.value == pytest.approx(172.0 * 1.0010079, rel=1e-6)
    assert new.value == 169.0


def test_another_carrier_takes_its_flange_off_the_rise():
    """A flange 10.16 mm further and a set as much thicker: the height's change is 10.16 more for the same teeth."""
    read = numbers(carrier="0.4 in further", set="thick 0.4 in", new_height="55.26 mm")
    assert read.thicker is not None
    assert read.thicker.value == pytest.approx(numbers().thicker.value)
    nearer = numbers(carrier="0.4 in nearer", set="thin 0.4 in", new_height="34.94 mm")
    assert nearer.thicker.value == pytest.approx(numbers().thicker.value)


def test_a_thick_set_on_the_same_carrier_has_no_use_for_heights():
    assert numbers(set="thick 0.4 in").thicker is None
    assert any("belongs on another carrier" in note for note in worked(set="thick 0.4 in").notes)


def test_the_axle_may_be_the_shops_own():
    listed = ShopList(data_path("axles"))
    axle = axle_of("larch", listed, data_path("jobs"))
    assert (axle.ring.value, axle.offset.value, axle.travel.high) == (240.0, 54.0, pytest.approx(0.762))
    assert axle.job_table == {"file": "../axles/larch-240.toml"}
    answer = worked(Setting("mm", None, data_path("jobs"), data_path("axles")), axle="larch")
    assert not any("offset" in cost.words for cost in answer.costs)


def test_an_axle_that_no_list_has_is_told():
    with pytest.raises(InputError, match="'elm' is not one axle of the shop's list; larch-240; or a ring diameter"):
        worked(Setting("mm", None, data_path("jobs"), data_path("axles")), axle="elm")


SLIPS = [
    ({"gap": "6.2"}, "gap: '6.2' has no unit"),
    (
        {"gap": "6.2 in"},
        "gap: 6.200 in (157.48 mm) is not likely; between 0.004 in (0.10 mm) and 0.984 in (25.00 mm); ",
    ),
    ({"gap": "6.2 in"}, "larger than any tooth: inch typed as mm?"),
    ({"gap": "18 mm feeler"}, "gap: 18.00 mm (0.709 in) is larger than a tooth; these are 14.22 mm"),
    ({"gap": "6 mm screwdriver"}, "a gap with its unit, then how it was taken, one of feeler, solder, clay"),
    ({"backlash": "10 mm"}, "in thousandths of an inch? Type 8 thou"),
    ({"old_height": "1.2 mm"}, "was a tooth's depth read?"),
    ({"old_height": "240 mm"}, "was a diameter read?"),
    ({"old_height": "45.1 mm", "new_height": "38.5 mm"}, "lower than the old ring's 45.10 mm (1.776 in); on the same"),
    ({"old_height": "45.1 mm", "new_height": "38.5 mm"}, "are the two swapped, or one read at the heel?"),
    (
        {"new_height": "70 mm"},
        "new height: the two heights put the new teeth 31.50 mm (1.240 in) nearer the pinion; by",
    ),
    ({"new_height": "70 mm"}, "was one read over the wrong face?"),
    (
        {"old_height": "15.5 mm", "new_height": "16 mm", "axle": "400 mm"},
        "old height: 15.50 mm (0.610 in) leaves no metal",
    ),
    ({"toe_diameters": "172 mm"}, "toe diameters: 1 value; 2 of them with spaces between"),
    ({"toe_diameters": "172 120 mm"}, "120.00 mm (4.724 in) across the new ring's toe ends is not likely; about 169."),
    ({"toe_diameters": "86 84.5 mm"}, "86.00 mm (3.386 in) across the old ring's toe ends is not likely; about 171."),
    ({"wall": "54 mm"}, "was the boss's diameter read?"),
    ({"carrier": "other"}, "carrier: 'other' is not understood; same, or how much its ring flange stands further"),
    (
        {"carrier": "0.4 in further"},
        "teeth would run 10.16 mm (0.400 in) too far from the pinion; a carrier ring flange",
    ),
    ({"carrier": "0.4 in nearer"}, "teeth would run 10.16 mm (0.400 in) too near the pinion; a carrier ring flange"),
    ({"set": "thick"}, "set: 'thick' is not understood; standard, or thick or thin and by how much: thick 0.4 in"),
    ({"axle": "9 mm"}, "axle: 0.354 in (9.00 mm) is not likely; a ring diameter between 3.937 in (100.00 mm) and"),
    ({"axle": "240 mm; 140 mm"}, "axle: 5.512 in (140.00 mm) is not likely; an offset of at most 3.307 in"),
    ({"axle": "240 mm; 54 mm; 2 mm"}, "axle: 3 sizes; ring diameter; hypoid offset"),
    ({"old_teeth": "35/9"}, "old teeth: 35/9 puts 35 teeth on the pinion"),
    ({"old_teeth": "3.5"}, "3.5 is given by"),
]


@pytest.mark.parametrize(("changes", "told"), SLIPS)
def test_a_slip_is_named_in_one_line(changes, told):
    with pytest.raises(InputError) as caught:
        worked(**changes)
    lines = str(caught.value).splitlines()
    assert len(lines) == len(caught.value.findings)
    assert any(told in line for line in lines), lines


def test_all_faults_are_told_at_once():
    with pytest.raises(InputError) as caught:
        worked(gap="6 in", wall="8 in", carrier="maybe")
    assert [finding.where for finding in caught.value.findings] == ["gap", "wall", "carrier"]


# Answers


def test_the_answer_stands_in_one_sentence(all_read):
    low, high = all_read.low_mm, all_read.high_mm
    assert all_read.code is Code.MEASURE
    assert low < 0.508 < high
    assert re.fullmatch(
        r"With 7/36 in place of 9/35 the gap will be -?\d.*; wanted 0.51 mm \(0.020 in\); it would take a cut of \d.*, "
        r"beside the tightest spot; wall left \d.*, minimum 5.60 mm \(default\)\.",
        all_read.sentence,
    )


def test_too_tight_is_ground_with_a_stop():
    answer = worked(**TIGHT, wall="14 mm")
    assert answer.code is Code.HITS
    assert answer.high_mm < 0
    assert "take off" in answer.sentence
    assert "STOP at" in answer.sentence
    assert answer.depth_mm > 0.508 - answer.low_mm - 2  # not nothing
    assert answer.depth_mm != pytest.approx(0.508 - (answer.low_mm + answer.high_mm) / 2, abs=0.05)  # never that
    assert answer.stop_mm > answer.depth_mm
    assert (
        14.0 - answer.depth_mm - 0.01 <= answer.wall_left_mm < 14.0
    )  # the cut lies at the end, the bearing further in
    assert answer.price is not None


def test_a_wall_that_does_not_allow_it_is_not_ground():
    """A wall of 6 mm against a least one of 5 mm (the larger of 5 mm and 70 %)."""
    answer = worked(**TIGHT, wall="6 mm")
    assert answer.code in (Code.MEASURE, Code.DONT_GRIND)
    assert answer.stop_mm is None


def test_wide_open_clears_only_by_ring_heights():
    assert worked(**WIDE).code is Code.CLEARS
    by_counts = worked(**{**WIDE, "new_height": None})
    assert by_counts.code in (Code.NOT_EXPECTED, Code.MEASURE)
    assert by_counts.high_mm - by_counts.low_mm > worked(**WIDE).high_mm - worked(**WIDE).low_mm
    assert any("tooth counts alone" in note for note in by_counts.notes)


def test_heights_that_do_not_fit_the_tooth_counts_are_measured_first():
    answer = worked(**{**WIDE, "new_height": "38.5 mm"})
    assert answer.code is Code.MEASURE
    assert "thick or thin set, or another flange?" in answer.notes[0]


def test_no_wall_no_grinding():
    answer = worked(**TIGHT, wall=None)
    assert answer.code is Code.MEASURE
    assert answer.wall_left_mm is None
    assert "wall left not known" in answer.sentence
    assert next(entry.question for entry in ENTRIES if entry.key == "wall") in answer.next


def test_without_the_four_there_is_no_answer():
    answer = CARD.work({"new_teeth": "7/36"}, Setting())
    assert answer.code is Code.CANT_SAY
    assert answer.sentence == "No answer without old teeth and axle and gap."
    assert [cost.mm for cost in answer.costs] == [None] * 3


# Blanks


def test_the_least_still_answers(least):
    assert least.code is not Code.CANT_SAY
    assert least.low_mm < least.high_mm
    assert len(least.costs) == 9  # seven blanks, the offset, and how the gap was taken


def test_every_blank_says_what_it_costs(least, all_read):
    assert all_read.costs == ()
    assert {cost.entry for cost in least.costs} == {*BLANKS, "axle", "gap"}
    for cost in least.costs:
        assert re.match(r"[a-z ]+: not (measured|said): ", cost.words)
    dearest_first = [cost.mm or 0.0 for cost in least.costs]
    assert dearest_first == sorted(dearest_first, reverse=True)


def test_a_cost_is_worked_not_typed(least):
    """What the offset costs is what typing it takes off half of low to high, all else blank."""
    blank = {**dict.fromkeys(BLANKS), "gap": "6.2 mm"}
    size = Size(240.0, None, ("240 mm",))
    said = {entry.key: entry.value(t) for entry in ENTRIES if (t := {**READ, **blank}.get(entry.key))}
    open_, known = axle_of(size, ShopList(None), None), axle_of(size, ShopList(None), None)
    known = replace(known, offset=known.offset.at(known.offset.value))
    known = replace(known, offset=replace(known.offset, low=known.offset.value, high=known.offset.value))
    halves = [new_gap(readings_of(said, axle), draws=DRAWS).half_range_mm for axle in (open_, known)]
    assert next(c.mm for c in least.costs if c.entry == "axle") == pytest.approx(halves[0] - halves[1])


def test_what_to_read_next_is_in_order_of_worth(least):
    assert least.next[0].startswith("Inside diameter across the toe ends")
    assert least.next[-1] == THE_GAP
    assert all("narrows the gap by" in words_ for words_ in least.next[:-2])


# The job


@pytest.mark.parametrize("changes", [{}, {"new_height": None}, {"wall": None, "toe_diameters": None}, TIGHT])
def test_the_job_goes_on_to_a_check(changes):
    answer = worked(**changes)
    checked = check(job_from_dict(answer.job, data_path("jobs"), "card"))
    middle = (answer.low_mm + answer.high_mm) / 2
    assert checked.gap.nominal_mm == pytest.approx(middle, abs=(answer.high_mm - answer.low_mm) / 2)
    assert checked.band.low < middle < checked.band.high
    assert str(checked.pair) == answer.sentence.split()[1]


def test_the_job_knows_the_back_face_by_the_old_set(all_read):
    job = job_from_dict(all_read.job, data_path("jobs"), "card")
    read = job.gears.measured
    assert read.back_face_from == "old set"
    assert read.toe_height.value == 45.1
    checked = check(job)
    back = next(e for e in checked.placement.evidence if e.name == "back face")
    assert back.toe_tip.value == pytest.approx(read.back_face.value - 45.1)
    assert back.toe_tip.spread == pytest.approx(0.762, abs=0.02)  # the adjusters


def test_the_document_is_plain_json(all_read):
    document = json.loads(json.dumps(card_document(all_read), allow_nan=False))
    assert document["card"] == "old-gears"
    assert document["band"]["low_mm"] == all_read.low_mm


# Stories


@pytest.fixture
def shop(tmp_path, monkeypatch):
    """An empty folder of an invented shop."""
    monkeypatch.chdir(tmp_path)
    return tmp_path


def run(*arguments, typed=()):
    return CliRunner().invoke(main, ["quick", "old-gears", *arguments], input="".join(f"{line}\n" for line in typed))


def test_eleven_answers_typed_at_the_bench(shop):
    ran = run("--job", "swap.toml", typed=READ.values())
    assert ran.exit_code == 0, ran.output
    assert re.findall(r"^(\d+)/11 ", ran.stderr, re.MULTILINE) == [str(n) for n in range(1, 12)]
    assert "With 7/36 in place of 9/35" in " ".join(ran.stdout.split()).replace("┃ ", "")
    assert words.forbidden(ran.output) == []
    assert words.promises(ran.stdout) == []
    assert read_job("swap.toml").gears.teeth == "7/36"
    for command in (["check", "swap.toml"], ["ratios", "swap.toml", "--teeth", "9/35, 8/39"], ["quote", "swap.toml"]):
        ran = CliRunner().invoke(main, command)
        assert ran.exit_code == 0, ran.output


def test_flags_on_the_shops_own_axle(shop):
    for name in ("axles/larch-240.toml", "shop.toml"):
        (shop / name).parent.mkdir(exist_ok=True)
        shutil.copy(data_path(name), shop / name)
    said = {**READ, "axle": "larch", "gap": "0.244 in, solder"}
    arguments = [part for key, text in said.items() for part in (f"--{key.replace('_', '-')}", text)]
    ran = run("--no-questions", "--json", *arguments)
    assert ran.exit_code == 0, ran.output
    document = json.loads(ran.stdout)
    assert document["verdict"] in {code.value for code in Code}
    assert document["job"]["axle"] == {"file": "axles/larch-240.toml"}
    assert document["price"]["currency"] == "GBP"


def test_a_fault_in_a_flag_stops_it_in_one_line(shop):
    ran = run("--no-questions", "--old-teeth", "9/35", "--gap", "6 furlongs")
    assert ran.exit_code == 2
    assert ran.stderr.count("\n") == 1
    assert "gap" in ran.stderr
