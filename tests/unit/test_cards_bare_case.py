"""The bare-case card: its subtractions, what it never says, what a blank costs, and the slips it catches."""

import pytest
from card_entries import BARE_CASE

from geartrack.cards.answer import DRAWS, card_document
from geartrack.cards.bare_case import CARD, capped
from geartrack.cards.bare_entries import ENTRIES, NEEDED
from geartrack.cards.bare_sums import boss_parts, outside, place, ring_below_mm
from geartrack.cards.entries import Setting
from geartrack.draw.methods.bench import BENCH
from geartrack.errors import InputError
from geartrack.job import job_from_dict
from geartrack.study import check
from geartrack.verdict import Code

READ = BARE_CASE
BLANKS = tuple(key for key in READ if key not in NEEDED)


def worked(setting=Setting(units="mm"), **changes):  # noqa: B008  frozen
    said = {key: text for key, text in {**READ, **changes}.items() if text is not None}
    return CARD.work(said, setting)


@pytest.fixture(scope="module")
def all_read():
    return worked()


@pytest.fixture(scope="module")
def half_blank():
    return worked(**dict.fromkeys(BLANKS))


def test_at_most_sixteen_entries():
    assert len(ENTRIES) == len(READ) == 16
    assert len({entry.key for entry in ENTRIES}) == 16


def test_the_sums_are_shown(all_read):
    """Closed form, in numbers chosen for it: 47 - 78/2 = 8, 36 - 8 = 28, 28 + 22 = 50, 88 - 15 - 19 = 54."""
    for sum_ in (
        "h - D/2 = 47.00 mm - 78.00 mm/2 = 8.00 mm",
        "= 36.00 mm - 8.00 mm = 28.00 mm",
        "+ 22.00 mm = 50.00 mm",
    ):
        assert sum_ in " ".join(all_read.sums)
    assert "88.00 mm - 30.00 mm/2 - 38.00 mm/2 = 54.00 mm" in all_read.sums[3]
    job = job_from_dict(all_read.job, Setting().base, "job")
    assert (job.boss.end_face.value, job.axle.offset.value) == (50.0, 54.0)


def test_the_sums_are_those_of_the_method_drawings():
    """The drawings were made by somebody else from their own sketch of a bare case."""
    below = ring_below_mm(BENCH.saddle_depth_mm, BENCH.saddle_bore_mm)
    assert below == pytest.approx(BENCH.centre_below_mm)
    said = {
        "saddle_depth": BENCH.saddle_depth_mm,
        "saddle_bore": BENCH.saddle_bore_mm,
        "boss_depth": BENCH.centre_below_mm + BENCH.near_end_mm,
        "boss_length": BENCH.boss_length_mm,
        "over_bars": BENCH.saddle_bar_mm / 2 + BENCH.offset_mm + BENCH.bore_diameter_mm / 2,
        "saddle_bar": BENCH.saddle_bar_mm,
        "pilot_bar": BENCH.bore_diameter_mm,
        "pilot_bore": BENCH.bore_diameter_mm,
    }
    where = place(said, "mm")
    assert where.end_face.value == pytest.approx(BENCH.end_face_mm)
    assert where.offset.value == pytest.approx(BENCH.offset_mm)


@pytest.mark.parametrize("deeper", [-5.0, 0.0, 8.0, 12.5])
def test_a_saddle_is_never_taken_for_half_a_bore(deeper):
    """The same case with its parting face cut further from the ring's centre line: h and k grow, nothing else moves."""
    said = {"saddle_bore": 78.0, "boss_length": 22.0, "over_bars": 88.0, "pilot_bore": 38.0}
    said |= {"saddle_depth": 39.0 + deeper, "boss_depth": 28.0 + deeper, "saddle_bar": 30.0, "pilot_bar": 38.0}
    assert place(said, "mm").end_face.value == pytest.approx(50.0)


def test_the_demos_case_by_this_card_is_the_demos_case(all_read):
    """The invented demo case has a boss of 54.4 mm, its end 50 mm from the ring's centre line, its bore 38 mm."""
    job = job_from_dict(all_read.job, Setting().base, "job")
    (boss,) = job.boss.parts
    assert (boss.diameter, boss.start, boss.end) == (pytest.approx(54.4), 0.0, 22.0)
    assert (job.boss.bore_diameter.value, job.boss.bore_depth.value) == (38.0, 20.0)


def test_the_job_goes_on_where_the_card_ends(all_read):
    answer = check(job_from_dict(all_read.job, Setting().base, "job"), DRAWS)
    assert (answer.band.low, answer.band.high) == (all_read.low_mm, all_read.high_mm)
    assert answer.verdict.code == all_read.code


def test_it_never_says_cleared():
    """From a ratio that leaves the boss far away, the best word is NOT EXPECTED, and the card caps whatever comes."""
    answer = worked(teeth="12/39")
    assert answer.low_mm > 0.508
    assert answer.code == "not_expected"
    assert answer.depth_mm is answer.stop_mm is answer.price is None
    assert {code: capped(code) for code in Code} == {code: code for code in Code} | {Code.CLEARS: Code.NOT_EXPECTED}


def test_a_steep_ratio_is_asked_about_and_priced(all_read):
    assert all_read.code == "measure"
    assert all_read.low_mm < 0.508 < all_read.high_mm
    assert all_read.depth_mm > 0
    assert all_read.stop_mm is None
    assert all_read.price is not None


def test_what_to_read_next_is_in_order_of_worth(all_read):
    worth = [float(text.rpartition("by ")[2].split(" ")[0]) for text in all_read.next]
    assert len(worth) > 2
    assert worth == sorted(worth, reverse=True)


def test_every_blank_says_what_it_costs_dearest_first(half_blank):
    assert {each.entry for each in half_blank.costs} == set(BLANKS)
    cost = {each.entry: each.mm for each in half_blank.costs}
    assert list(cost.values()) == sorted(cost.values(), reverse=True)
    # Closed form: a boss grown evenly by d takes d off the gap. A wall taken as 0.25 to 0.45 in against one read to
    # 0.004 in: half range 0.096 in less, alone; off centre 0.75 mm against 0.05 mm comes on top. Drawn with all else
    # that is not known it is worth less than alone, since squares add up, and yet the most of all.
    assert next(iter(cost)) == "walls"
    assert 0.5 * 0.096 * 25.4 < cost["walls"] < 0.096 * 25.4 + 0.7
    # Up to 2 mm may stand out, one-sided: half of it, alone.
    assert 0.1 < cost["stands_out"] < 1.0
    assert 0 < cost["square"] < 0.5
    assert cost["bore_depth"] == cost["case"] == 0.0
    # A round boss is the same in both hands, but for its flats at the five readings.
    assert cost["hand"] == pytest.approx(0.0, abs=0.03)


def test_reading_a_blank_narrows_the_answer_by_what_it_was_said_to_cost(half_blank):
    """The cost against the card itself, worked again with that entry read at its assumed value."""
    walls = next(each.mm for each in half_blank.costs if each.entry == "walls")
    read = worked(**dict.fromkeys(BLANKS) | {"walls": "0.35 0.35 0.35 0.35 0.35 in"})
    narrower = (half_blank.high_mm - half_blank.low_mm) / 2 - (read.high_mm - read.low_mm) / 2
    assert narrower == pytest.approx(walls, abs=0.05)


def test_a_wall_that_was_not_read_is_of_no_case_in_particular(half_blank):
    assert job_from_dict(half_blank.job, Setting().base, "job").case.measured == "another case"
    assert half_blank.code == "measure"


@pytest.mark.parametrize("key", NEEDED)
def test_without_what_places_the_boss_there_is_no_answer(key):
    answer = worked(**{key: None})
    assert answer.code == "cant_say"
    assert [each.entry for each in answer.costs] == [key]
    assert answer.costs[0].mm is None
    assert answer.low_mm is answer.depth_mm is None
    assert answer.job_lacks


def test_all_blank_still_answers():
    answer = CARD.work({}, Setting())
    assert answer.code == "cant_say"
    assert [each.entry for each in answer.costs] == list(NEEDED)


def test_a_parting_face_that_is_not_square_makes_the_card_void():
    answer = worked(square="no")
    assert answer.code == "cant_say"
    assert "does not hold" in answer.sentence
    assert answer.job_lacks == ("boss.end_face",)
    assert "end_face" not in answer.job["boss"]


def test_the_case_settles_it_before_the_gap():
    assert worked(case="grey, cracked").code == "dont_use"
    aluminium = worked(case="aluminium", teeth="6/35")
    assert aluminium.depth_mm is aluminium.stop_mm is None


def test_the_worst_pair_of_a_ratio_is_worked():
    answer = worked(teeth="4.5")
    alone = {text: worked(teeth=text).low_mm for text in ("8/36", "10/45")}
    assert answer.job["gears"]["teeth"] == min(alone, key=alone.get)


def test_uneven_walls_are_drawn_through_their_readings():
    parts = boss_parts(38.0, (8.2, 8.4, 8.0, 7.4, 7.0), 22.0)
    assert parts[0]["diameter"] == "52.000 mm"  # the least wall all round
    read = {part["clock"]: part["distance"] for part in parts[1:]}
    for clock, wall in zip((-60, -30, 0, 30, 60), (8.2, 8.4, 8.0, 7.4, 7.0), strict=True):
        assert read[f"{clock} deg"] == f"{19 + wall:.3f} mm"
    assert read["15 deg"] == f"{19 + 7.7:.3f} mm"  # half way between 8.0 and 7.4
    assert len(boss_parts(38.0, (8.0, 8.05, 8.1, 8.0, 8.0), 22.0)) == 1


def test_what_stands_out_counts_toward_the_boss_only():
    assert outside((8.0,) * 5, 0.0).high == pytest.approx(0.1016)  # 0.004 in by ball caliper (published, web)
    assert outside((8.0,) * 5, 3.0).high == pytest.approx(3.1016)
    assert outside((8.0,) * 5, 3.0).low == pytest.approx(-0.1016)
    assert outside(None, 0.0).low == pytest.approx(-2.54)
    assert outside((8.0,) * 5, None).high > outside((8.0,) * 5, 0.0).high


@pytest.mark.parametrize(
    ("changes", "entry", "slip"),
    [
        ({"ring_diameter": "9.5 mm"}, "ring diameter", "was 9.5 in meant?"),
        ({"saddle_bore": "3.07 mm"}, "saddle bore", "was 3.07 in meant?"),
        ({"saddle_depth": "72 mm"}, "saddle depth", "was the straightedge's height left in"),
        ({"saddle_bore": "20 mm"}, "saddle bore", "was a radius read?"),
        ({"boss_depth": "130 mm"}, "boss depth", "was k read to the other end of the boss?"),
        ({"over_bars": "150 mm"}, "over bars", "was c read over the outer sides"),
        ({"over_bars": "33 mm"}, "over bars", "less half of each bar?"),
        ({"saddle_bar": "79 mm"}, "saddle bar", "were the two bars swapped?"),
        ({"pilot_bar": "77 mm"}, "pilot bar", "were the two bars swapped?"),
        ({"bore_depth": "24 mm"}, "bore depth", "were the two swapped?"),
        ({"walls": "46 46 46 46 46 mm"}, "walls", "was it read across the bore?"),
        ({"walls": "8 8 8 mm"}, "walls", "5 of them"),
        ({"hand": "up"}, "hand", "one of a, b"),
        ({"square": "maybe"}, "square", "one of yes, no"),
    ],
)
def test_slips_are_named(changes, entry, slip):
    with pytest.raises(InputError) as caught:
        worked(**changes)
    lines = [line for line in str(caught.value).splitlines() if line.startswith(f"{entry}: ")]
    assert any(slip in line for line in lines)


def test_all_faults_at_once():
    with pytest.raises(InputError) as caught:
        worked(saddle_depth="72 mm", hand="up", walls="8 mm", pilot_bar="40 mm")
    assert len(str(caught.value).splitlines()) == 4


def test_the_document(all_read):
    document = card_document(all_read)
    assert document["card"] == "bare-case"
    assert document["band"] == {"low_mm": all_read.low_mm, "high_mm": all_read.high_mm}
    assert document["job"]["boss"]["end_face"]["value"] == "50.000 mm"
    assert document["price"]["kind"] == "quote"
