"""Reading tooth counts, and the pairs of a ratio."""

from __future__ import annotations

from fractions import Fraction
from math import gcd

import pytest
from hypothesis import given
from hypothesis import strategies as st

from geartrack.errors import InputError
from geartrack.gearset.teeth import ToothPair, one_pair, pairs_for_ratio, parse_teeth


@pytest.mark.parametrize("typed", ["8/39", " 8 / 39 ", "8x39", "8X39", "8×39", "39:8", "39 : 8"])
def test_a_pair_reads_the_same_however_it_is_typed(typed):
    assert parse_teeth(typed) == ToothPair(8, 39)


@pytest.mark.parametrize(("typed", "ratio"), [("4.875", 4.875), ("4.875:1", 4.875), ("4:1", 4.0), ("5", 5.0)])
def test_a_ratio_is_read_as_a_number(typed, ratio):
    assert parse_teeth(typed) == ratio


@pytest.mark.parametrize("typed", ["39/8", "39x8", "8:39"])
def test_counts_the_wrong_way_round_are_refused_with_the_right_spelling(typed):
    with pytest.raises(InputError, match=r"39 teeth on the pinion and 8 on the ring.*write 8/39 or 39:8"):
        parse_teeth(typed)


@pytest.mark.parametrize(
    "typed",
    ["0/39", "8/0", "39:0", "8/390", "800/3900", "0.5", "13", "0", "8/8.5", "8-39", "", "abc", "4,875", "-8/39",
     "1e3", "nan", "inf", "8/39/2", "2/39", "5/7"],
)  # fmt: skip
def test_what_no_gear_set_has_is_refused_in_one_line(typed):
    with pytest.raises(InputError) as caught:
        parse_teeth(typed, "job.toml, gears.teeth")
    text = str(caught.value)
    assert text.startswith("job.toml, gears.teeth: ")
    assert "\n" not in text


def test_counts_out_of_range_name_the_part():
    with pytest.raises(InputError, match="2 teeth on the pinion"):
        parse_teeth("2/39")
    with pytest.raises(InputError, match="390 teeth on the ring"):
        parse_teeth("40/390")


@given(st.integers(3, 60), st.integers(8, 200))
def test_hunting_is_coprime(pinion, ring):
    if not 1 <= ring / pinion <= 12:
        return
    pair = ToothPair(pinion, ring)
    assert pair.hunting == (Fraction(ring, pinion).denominator == pinion)
    assert bool(pair.notes) != pair.hunting
    assert parse_teeth(str(pair)) == pair
    assert parse_teeth(f"{ring}:{pinion}") == pair or pinion == 1


def test_the_note_names_the_common_divisor():
    assert "divide by 7" in ToothPair(7, 35).notes[0]


@given(st.floats(2.5, 7.0))
def test_pairs_are_all_and_only_those_within_tolerance(ratio):
    found = pairs_for_ratio(ratio)
    every = {(a, b) for a in range(5, 17) for b in range(8, 120) if abs(b / a - ratio) <= 0.005 + 1e-9}
    assert {(p.pinion, p.ring) for p in found} == every
    assert len(set(found)) == len(found)


def test_the_most_used_pair_comes_first():
    """Common practice, no source: 4.10 is 10/41 and 3.50 is 10/35 or 12/42 rather than 6/21 or 16/56."""
    assert str(pairs_for_ratio(4.10)[0]) == "10/41"
    assert [str(p) for p in pairs_for_ratio(3.5)][:2] in (["12/42", "10/35"], ["10/35", "12/42"])
    assert all(gcd(p.pinion, p.ring) >= 1 and p.ratio == 3.5 for p in pairs_for_ratio(3.5, tolerance=0.0))


def test_one_pair_refuses_a_ratio_of_several_with_the_list():
    with pytest.raises(InputError, match=r"4\.875 is given by 8/39 \(hunting\), 16/78; say which"):
        one_pair("4.875")
    with pytest.raises(InputError, match=r"4\.88 is given by 8/39 \(hunting\), 16/78; say which"):
        one_pair("4.88")
    assert one_pair("4.11") == ToothPair(9, 37)
    assert one_pair("8/39") == ToothPair(8, 39)


def test_one_pair_names_the_nearest_where_none_fits():
    with pytest.raises(InputError, match=r"no pair .* gives 6\.93; nearest is 14/97 \(6\.929\)|nearest is"):
        one_pair("6.963")
