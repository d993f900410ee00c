"""The phone card: its verdicts and their grounds, the shop's own list, and no number that pretends to be a gap."""

import re
import shutil
from decimal import Decimal

import pytest

from geartrack.cards.answer import card_document
from geartrack.cards.entries import Ratio, Setting
from geartrack.cards.phone import CARD, STARTS_AT
from geartrack.cards.shift import toe_tip_shift, usual_offset, usual_pairs
from geartrack.cards.shop_list import shop_list
from geartrack.datafiles import data_path
from geartrack.errors import InputError
from geartrack.gearset.teeth import ToothPair
from geartrack.job import job_from_dict
from geartrack.materials import Material
from geartrack.quantity import give_or_take

CALL = {"axle": "9 in, pilot", "ratio_now": "9/35", "ratio_wanted": "7/36", "case": "nodular, never ground"}


@pytest.fixture
def list_folder(tmp_path):
    """An invented shop's list: the demo's axle with two of its cases, and the shop's rates."""
    for name in ("axles/larch-240.toml", "cases/larch-nodular.toml", "cases/larch-aluminium.toml", "shop.toml"):
        place = tmp_path / name
        place.parent.mkdir(exist_ok=True)
        shutil.copy(data_path(name), place)
    return tmp_path / "axles"


def call(folder=None, base=None, **changes):
    said = {key: text for key, text in {**CALL, **changes}.items() if text is not None}
    return CARD.work(said, Setting(axles=folder, **({"base": base} if base else {})))


def test_four_entries_and_no_length_among_what_must_be_said():
    assert [entry.key for entry in CARD.entries] == ["axle", "ratio_now", "ratio_wanted", "case"]
    assert all(entry.low_mm is None for entry in CARD.entries)


@pytest.mark.parametrize(
    ("changes", "code", "because"),
    [
        ({}, "likely", "common practice, no source"),
        (
            {"ratio_wanted": "9/41"},
            "cant_say",
            "short of about",
        ),  # 4.56: steeper, where the question does not start yet
        ({"ratio_wanted": "9/35"}, "not_expected", "not steeper"),
        ({"ratio_wanted": "3.70"}, "not_expected", "runs already"),
        ({"ratio_now": "3.9", "ratio_wanted": "9/35"}, "not_expected", "not steeper"),  # 3.9 and 3.889 are one ratio
        ({"axle": "9 in, no pilot"}, "not_expected", "no boss"),
        ({"axle": "9 in, don't know"}, "cant_say", "whether there is a boss"),
        ({"axle": None}, "cant_say", "without the axle"),
        ({"ratio_wanted": None}, "cant_say", "without the ratio wanted"),
        ({"ratio_now": None}, "cant_say", "steeper"),
        (
            {"axle": None, "ratio_now": None, "ratio_wanted": None, "case": None},
            "cant_say",
            "axle and the ratio wanted",
        ),
        ({"axle": None, "ratio_wanted": "3.5"}, "not_expected", "not steeper"),
    ],
)
def test_the_reply_and_why(changes, code, because):
    answer = call(**changes)
    assert answer.code == code
    assert because in answer.sentence


def test_where_the_question_starts():
    """Common practice, no source: about 4.86:1. Either side of it, from the same ratio."""
    pinion, ring = 8, 39
    assert ring / pinion > STARTS_AT > 34 / 7
    assert call(ratio_wanted="8/39").code == "likely"
    assert call(ratio_wanted="7/34").code == "cant_say"


@pytest.mark.parametrize("changes", [{}, {"ratio_wanted": "9/41"}, {"axle": "9 in"}])
def test_without_a_boss_no_number_pretends_to_be_a_gap(changes):
    answer = call(**changes)
    assert answer.low_mm is answer.high_mm is answer.depth_mm is answer.stop_mm is answer.wall_left_mm is None
    assert "gap" not in answer.sentence.lower()
    assert re.search(r"nearer the pinion at the toe, \d\.\d{3} in to \d\.\d{3} in", answer.sentence)


@pytest.mark.parametrize(
    ("old", "new", "moved"),
    [("9/35", "7/36", 29.5 - 22.8), ("9/35", "6/35", 29.5 - 20.3), ("11/40", "8/39", 31.4 - 23.9)],
)
def test_the_shift_is_that_of_the_sketch_case(old, new, moved):
    """Tip heights at the toe of a made-up case (ring 240 mm, offset 54 mm), by brute force to 0.02 mm elsewhere.

    Its spiral angle, cutter and depth factors are not the defaults to the digit: a few tenths.
    """
    pairs = [ToothPair(*map(int, text.split("/"))) for text in (old, new)]
    nominal, found = toe_tip_shift(*pairs, give_or_take(240.0, 0.0), give_or_take(54.0, 0.0))
    assert nominal == pytest.approx(moved, abs=0.3)
    assert found.low < nominal < found.high


def test_the_shift_ranges_over_both_sets_and_the_offset():
    ring = give_or_take(228.6, 0.0)
    _, found = toe_tip_shift(ToothPair(9, 35), ToothPair(7, 36), ring, usual_offset(228.6))
    names = {share.name.partition(".")[0] for share in found.shares}
    assert names == {"old", "new", "offset", "model"}
    assert found.high - found.low < sum(share.width for share in found.shares)
    none, same = toe_tip_shift(ToothPair(8, 39), ToothPair(8, 39), ring, usual_offset(228.6))
    assert none == pytest.approx(0.0)
    assert same.low == pytest.approx(-same.high, rel=0.2)


def test_a_ratio_stands_for_every_usual_pair_that_gives_it():
    pairs, (note,) = usual_pairs(Ratio(5.0))
    assert {str(pair) for pair in pairs} == {"6/30", "7/35", "8/40", "9/45", "10/50"}
    assert "the worst of them decides" in note
    assert usual_pairs(ToothPair(7, 36)) == ((ToothPair(7, 36),), ())
    assert usual_pairs(Ratio(5.13)) == ((ToothPair(8, 41),), ())
    _, (near,) = usual_pairs(Ratio(5.2))
    assert near.startswith("no usual tooth pair gives 5.2")


def test_the_price_is_of_a_likely_piece_of_work_at_the_shops_rates(list_folder):
    """Mass: a patch of 0.8 x 0.35 x 0.040 in is 1.3 g, one of 1.5 x 0.5 x 0.060 in 5.3 g (trade notes 2.13, worked)."""
    answer = call(list_folder)
    assert (answer.price.currency, answer.price.figures.rate_origin) == ("GBP", "shop file")
    cutting = next(line for line in answer.price.lines if line.name == "Cutting")
    # By hand, nodular at 1 to 4.5 g a minute (the demo shop's): 1.3/4.5/60 = 0.005 h, counted as 0.01; 5.3/60 = 0.09 h.
    assert (cutting.hours.low, cutting.hours.high) == (Decimal("0.01"), Decimal("0.09"))
    assert Decimal(0) < answer.price.total.low < answer.price.total.likely < answer.price.total.high
    assert "not a result" in answer.price_for
    assert "default" in call().price.figures.rate_origin
    assert call(axle="9 in, no pilot").price is None


def test_what_to_bring_is_in_order_of_worth():
    answer = call()
    assert "old-gears" in answer.next[0]
    worth = [float(found[1]) for text in answer.next if (found := re.search(r"by (\d\.\d+) in", text))]
    assert len(worth) > 1
    assert worth == sorted(worth, reverse=True)
    assert call(ratio_wanted="9/35").next == ()
    assert call(axle="9 in").next[0] == "does the pinion also run in a small bearing at its inner end?"


@pytest.mark.parametrize(
    ("said", "words"),
    [
        ("grey", "brittle"),
        ("don't know", "find out"),
        ("aluminium", "maker's minimum wall"),
        ("nodular ground", "wall left"),
    ],
)
def test_what_has_to_be_said_of_the_case_is_said(said, words):
    assert words in " ".join(call(case=said).notes)


def test_blanks_say_that_they_were_not_said():
    answer = call(case=None, ratio_now=None)
    assert [each.entry for each in answer.costs] == ["ratio_now", "case"]
    assert call().costs == ()


class TestTheShopsOwnList:
    def test_the_gap_on_its_own_case_decides(self, list_folder):
        likely, clear = (
            call(list_folder, axle="Larch 240"),
            call(list_folder, axle="larch", ratio_now="3.5", ratio_wanted="9/35"),
        )
        assert (likely.code, clear.code) == ("likely", "not_expected")
        for answer in (likely, clear):
            assert answer.low_mm < answer.high_mm
            assert "works out at a gap of" in answer.sentence
        assert clear.low_mm > 0.508

    def test_between_the_two_it_cannot_be_said(self, list_folder):
        answer = call(list_folder, axle="larch-240", ratio_wanted="9/41")
        assert answer.code == "cant_say"
        assert answer.low_mm < 0.508 < answer.high_mm

    def test_the_worst_pair_and_the_worst_case_decide(self, list_folder):
        """4.5:1 is 8/36 or 10/45; two cases are on the list and the customer does not know his metal."""
        both = call(list_folder, axle="larch", ratio_wanted="4.5", case="don't know")
        alone = [call(list_folder, axle="larch", ratio_wanted=pair, case="nodular") for pair in ("8/36", "10/45")]
        assert both.low_mm <= min(each.low_mm for each in alone) < max(each.low_mm for each in alone)
        assert both.high_mm >= max(each.high_mm for each in alone)
        assert "the worst of them decides" in both.notes[0]

    def test_another_casting_is_never_taken_for_this_one(self, list_folder):
        job = job_from_dict(call(list_folder, axle="larch", base=list_folder.parent).job, list_folder.parent, "job")
        assert job.case.measured == "another case"
        assert job.axle.ring_diameter.value == 240.0
        assert job.gears.teeth == "7/36"

    def test_a_case_of_another_metal_is_not_used(self, list_folder):
        answer = call(list_folder, axle="larch", case="grey")
        assert answer.low_mm is None
        assert "toe" in answer.sentence

    def test_names(self, list_folder):
        listed = shop_list(list_folder, list_folder)
        assert listed.axle("LARCH 240") == listed.axle("larch") == list_folder / "larch-240.toml"
        shutil.copy(list_folder / "larch-240.toml", list_folder / "larch-260.toml")
        assert listed.axle("larch") is None
        assert listed.axle("larch-240") is not None
        assert [path.stem for path in listed.cases(list_folder / "larch-240.toml", Material.NODULAR)] == [
            "larch-nodular"
        ]

    @pytest.mark.parametrize(("axle", "what"), [("oak", "larch-240"), ("larch 9", "larch-240")])
    def test_an_unknown_name_lists_the_known_ones(self, list_folder, axle, what):
        with pytest.raises(InputError, match=what):
            call(list_folder, axle=axle)

    def test_no_list_and_no_folder(self, tmp_path):
        with pytest.raises(InputError, match="name its folder with --axles"):
            call(base=tmp_path, axle="larch")
        with pytest.raises(InputError, match="is no folder"):
            call(tmp_path / "nothing", axle="larch")


def test_the_document_of_a_call():
    document = card_document(call())
    assert (document["card"], document["verdict"], document["words"]) == ("phone", "likely", "LIKELY")
    assert document["band"] == {"low_mm": None, "high_mm": None}
    assert document["job"]["gears"]["teeth"] == "7/36"
    assert document["job_lacks"] == ["axle.offset", "boss"]
