"""The order of DESIGN 6, and each number against its own bar: set-up gap against target, running gap against zero."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from geartrack.verdict import WORDS, Code, Facts, decide

TARGET = 0.508  # 0.020 in: common practice, no source
CLEAR = Facts(
    gap_low_mm=0.6,
    gap_high_mm=0.9,
    target_mm=TARGET,
    running_low_mm=0.3,
    wall_low_mm=7.0,
    wall_high_mm=8.0,
    wall_before_mm=8.0,
    minimum_wall_mm=5.0,
    ring_placed=True,
    this_case=True,
    next_reading="height of the ring on a plate",
)
CLOSE = replace(CLEAR, gap_low_mm=0.1, gap_high_mm=0.3)


def code(facts: Facts, **changes: object) -> Code:
    return decide(replace(facts, **changes)).code


def test_set_up_gap_is_compared_with_the_target_and_running_gap_with_zero():
    """A running gap between zero and the target is no fault (the target is there to absorb it); under zero it is."""
    assert code(CLEAR, running_low_mm=0.01) is Code.CLEARS
    assert code(CLEAR, running_low_mm=-0.01) is Code.MEASURE
    assert code(CLEAR, gap_low_mm=TARGET) is Code.CLEARS
    assert code(CLEAR, gap_low_mm=TARGET - 0.001, running_low_mm=5.0) is not Code.CLEARS


@pytest.mark.parametrize(
    ("changes", "expected"),
    [
        ({}, Code.GRIND),
        ({"gap_high_mm": -0.01, "gap_low_mm": -0.2}, Code.HITS),
        ({"gap_high_mm": TARGET}, Code.MEASURE),
        ({"wall_low_mm": 4.9}, Code.MEASURE),
        ({"wall_low_mm": 4.0, "wall_high_mm": 4.9}, Code.DONT_GRIND),
        ({"minimum_wall_mm": None}, Code.MEASURE),
        ({"minimum_wall_mm": None, "wall_high_mm": 0.1, "wall_low_mm": 0.0}, Code.MEASURE),
        ({"this_case": False}, Code.MEASURE),
        ({"aluminium_unsettled": "aluminium"}, Code.DONT_GRIND),
        ({"bore_fault": "loose"}, Code.DONT_GRIND),
        ({"cracked_or_welded": "crack"}, Code.DONT_USE),
        ({"cracked_or_welded": "crack", "bore_fault": "loose"}, Code.DONT_USE),
        ({"gap_reading_needed": "readings too far apart"}, Code.MEASURE),
    ],
)
def test_a_gap_under_the_target(changes, expected):
    assert code(CLOSE, **changes) is expected


@pytest.mark.parametrize(
    ("changes", "expected"),
    [
        ({}, Code.CLEARS),
        ({"ring_placed": False}, Code.NOT_EXPECTED),
        ({"this_case": False}, Code.MEASURE),
        ({"aluminium_unsettled": "aluminium"}, Code.CLEARS),
        ({"cracked_or_welded": "crack"}, Code.DONT_USE),
        ({"bore_fault": "oval"}, Code.DONT_GRIND),
        ({"gap_reading_needed": "readings too far apart"}, Code.MEASURE),
    ],
)
def test_a_gap_over_the_target(changes, expected):
    assert code(CLEAR, **changes) is expected


def test_no_reading_left_makes_it_a_choice_only_where_the_wall_holds():
    straddle = replace(CLOSE, gap_high_mm=0.7, next_reading=None)
    verdict = decide(straddle)
    assert (verdict.code, verdict.by_choice, verdict.words) == (Code.GRIND, True, "GRIND BY CHOICE")
    assert code(straddle, wall_low_mm=4.0) is Code.DONT_GRIND
    assert code(straddle, next_reading="height") is Code.MEASURE


def test_wall_short_stands_beside_any_gap_verdict():
    for facts in (CLEAR, CLOSE, replace(CLOSE, cracked_or_welded="crack")):
        assert not decide(facts).wall_short
        assert decide(replace(facts, wall_before_mm=4.9)).wall_short


def test_measure_always_names_a_reading():
    assert decide(replace(CLOSE, this_case=False, next_reading=None)).next_reading


def test_words_never_call_anything_sound():
    for words in WORDS.values():
        assert not {"SAFE", "OK", "PASS"} & set(words.upper().split())


@given(
    st.floats(-3, 3),
    st.floats(0, 2),
    st.floats(-3, 3),
    st.floats(0, 10),
    st.floats(0, 5),
    st.booleans(),
    st.booleans(),
    st.none() | st.just("height"),
)
def test_never_clear_below_the_target_never_grind_into_the_minimum(
    low, width, running, wall, extra, ring, case, reading
):
    facts = replace(
        CLEAR,
        gap_low_mm=low,
        gap_high_mm=low + width,
        running_low_mm=running,
        wall_low_mm=wall,
        wall_high_mm=wall + extra,
        ring_placed=ring,
        this_case=case,
        next_reading=reading,
    )
    verdict = decide(facts)
    if verdict.code is Code.CLEARS:
        assert low >= TARGET
        assert running >= 0
        assert ring
        assert case
    if verdict.grinds:
        assert wall >= 5.0
        assert low < TARGET
        assert case
        assert verdict.by_choice or low + width < TARGET
