"""The pinion support's log: seal drag, the next stack, shims put together, a crush sleeve; and what is refused."""

from __future__ import annotations

import json
from itertools import combinations

import numpy as np
import pytest
from click.testing import CliRunner
from hypothesis import given, settings
from hypothesis import strategies as st
from job_documents import document

from geartrack.cli import main
from geartrack.datafiles import data_path
from geartrack.errors import InputError
from geartrack.job import TOOLS, TorqueReading, job_from_dict, read_job
from geartrack.quantity import give_or_take
from geartrack.setup_log import (
    GIVE_NM,
    NEVER_BACK_OFF,
    Pulled,
    Tried,
    combine,
    crush_log,
    next_stack,
    seal_drag,
    setup_log,
)
from geartrack.setup_log.says import crush_lines, next_stack_lines
from geartrack.study import as_document
from geartrack.units import parse_length, parse_torque, show_fine, show_torque, show_torques

LB_IN = 0.1129848  # N.m, NIST SP 811 (2008), B.8, printed digits
IN = 25.4
TARGET = (parse_torque("14 lb-in"), parse_torque("19 lb-in"))


def job(tmp_path, **setup):
    return job_from_dict(document({"setup": setup}), tmp_path, "job.toml")


def read(torque, seal, bearings="new", stage="after"):
    return {"torque": torque, "seal": seal, "bearings": bearings, "stage": stage}


def tried(*stacks):
    """Stacks of (thickness [in], torque [lb-in])."""
    return [Tried(thick * IN, torque * parse_torque("1 lb-in"), GIVE_NM) for thick, torque in stacks]


# Seal drag. With seal = without seal + seal drag: common practice, no source; example values 25 and 5 lb-in give 30.


def test_with_the_seal_is_without_it_and_its_drag(tmp_path):
    found = setup_log(job(tmp_path, readings=[read("30 lb-in", "in"), read("25 lb-in", "out")]))
    assert found.drag.nm == pytest.approx(5 * LB_IN, rel=1e-6)
    assert [each.alone_nm for each in found.readings] == pytest.approx([25 * LB_IN, 25 * LB_IN], rel=1e-6)
    assert show_torque(found.drag.nm, "in") == "5.0 lb-in"


def test_a_range_without_the_seal_is_read_with_it(tmp_path):
    """20 to 25 lb-in alone and 5 lb-in of drag: 25 to 30 with the seal in; and the other way about."""
    pair = [read("30 lb-in", "in"), read("25 lb-in", "out")]
    out = setup_log(job(tmp_path, readings=pair, target=["20 lb-in", "25 lb-in"], target_seal="out"))
    assert out.target_seal_in_nm == pytest.approx((25 * LB_IN, 30 * LB_IN), rel=1e-6)
    inside = setup_log(job(tmp_path, readings=pair, target=["25 lb-in", "30 lb-in"], target_seal="in"))
    assert inside.target_nm == pytest.approx((20 * LB_IN, 25 * LB_IN), rel=1e-6)


def test_the_drag_of_pairs_that_are_alike_only():
    """New against used bearings make no pair: 30 with the seal in used ones, 12 without in new is no drag of 18."""
    row = TorqueReading.model_validate
    apart = [row(read("30 lb-in", "in", "used")), row(read("12 lb-in", "out", "new"))]
    assert seal_drag(apart) is None
    stages = [row(read("30 lb-in", "in", stage="before")), row(read("12 lb-in", "out", stage="after"))]
    assert seal_drag(stages) is None
    both = [*apart, row(read("18 lb-in", "in", "new")), row(read("22 lb-in", "out", "used"))]
    drag = seal_drag(both)
    assert (drag.nm, drag.pairs) == (pytest.approx(7 * LB_IN, rel=1e-6), 2)
    assert drag.low_nm == pytest.approx(4 * LB_IN, rel=1e-6)  # 6 less 1 and 1: each reading gives or takes 1 lb-in
    assert drag.high_nm == pytest.approx(10 * LB_IN, rel=1e-6)


def test_a_typed_give_or_take_counts():
    row = TorqueReading.model_validate
    drag = seal_drag([row(read("30 lb-in +/- 3 lb-in", "in")), row(read("25 lb-in", "out"))])
    assert drag.high_nm - drag.nm == pytest.approx(4 * LB_IN, rel=1e-6)


def test_without_the_drag_a_reading_with_the_seal_is_not_judged(tmp_path):
    found = setup_log(job(tmp_path, bearings="new", readings=[read("16 lb-in", "in")], target=["14 lb-in", "19 lb-in"]))
    assert (found.drag, found.readings[0].alone_nm, found.readings[0].against) == (None, None, "cannot tell")


@pytest.mark.parametrize(
    ("torque", "against"),
    [("13.9 lb-in", "under"), ("14 lb-in", "in range"), ("19 lb-in", "in range"), ("19.1 lb-in", "over")],
)
def test_a_reading_against_the_makers_range(torque, against, tmp_path):
    rows = [read(torque, "out"), read(torque, "out", "used"), read(torque, "out", stage="before")]
    found = setup_log(job(tmp_path, bearings="new", readings=rows, target=["14 lb-in", "19 lb-in"]))
    assert [each.against for each in found.readings] == [against, "cannot tell", "cannot tell"]
    assert any("other bearings" in said for said in found.flagged)


def test_drag_below_nothing_is_flagged(tmp_path):
    found = setup_log(job(tmp_path, readings=[read("20 lb-in", "in"), read("25 lb-in", "out")]))
    assert any("more easily with the seal" in said for said in found.flagged)


# Shim stacks. Common practice, no source: 0.010 + 0.008 in = 0.018 in; next 0.016 in where preload is zero and play
# nearly nil.


def test_the_next_stack_after_no_preload(tmp_path):
    stack = {"shims": ["0.010 in", "0.008 in"], "torque": "0 lb-in", "seal": "out", "play": "0 in"}
    made = job(tmp_path, stacks=[stack], target=["14 lb-in", "19 lb-in"], shims_read_with="micrometer")
    found = setup_log(made)
    assert found.tried[0].thickness_mm == pytest.approx(0.018 * IN)
    assert found.next.wanted_mm == pytest.approx(0.016 * IN)
    assert found.next.basis == "outside the stacks tried"
    said = " ".join(next_stack_lines(found, "in"))
    assert "Next stack: 0.0160 in" in said
    assert "WARNING: outside the stacks tried" in said
    assert "common practice, no source" in said


def test_play_that_is_left_comes_off_first():
    loose = [Tried(0.020 * IN, 0.0, GIVE_NM, play_mm=0.003 * IN)]
    assert next_stack(loose, TARGET).wanted_mm == pytest.approx(0.015 * IN)


def test_between_two_stacks_it_is_the_straight_line():
    """Closed form: a monotone curve through two places is their chord. 22 lb-in at 0.015, 0 at 0.018: 16.5 at 0.01575,
    and 1 lb-in either way is 0.003/22 in."""
    found = next_stack(tried((0.018, 0), (0.015, 22)), TARGET)
    assert found.basis == "between stacks tried"
    assert found.wanted_mm == pytest.approx(0.01575 * IN, abs=1e-5)
    assert found.low_mm == pytest.approx((0.01575 - 0.003 / 22) * IN, abs=1e-5)
    assert found.high_mm == pytest.approx((0.01575 + 0.003 / 22) * IN, abs=1e-5)


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.tuples(st.integers(10, 40), st.floats(0, 40)), min_size=2, max_size=6, unique_by=lambda s: s[0]),
    st.floats(5, 30),
)
def test_whatever_was_read_thinner_never_preloads_less(stacks, middle):
    """Aiming higher never asks for a thicker stack; between the stacks tried the answer is within them; outside, it is
    said, and no more than 0.002 in past the thinnest or thickest."""
    rows = tried(*((n / 1000, torque) for n, torque in stacks))
    aims = [(aim - 0.01, aim + 0.01) for aim in (middle, middle + 3)]
    lower, higher = (next_stack(rows, (low * LB_IN, high * LB_IN)) for low, high in aims)
    if "in range" not in (lower.basis, higher.basis):
        assert higher.wanted_mm <= lower.wanted_mm + 2e-3
    ends = min(n for n, _ in stacks) / 1000 * IN, max(n for n, _ in stacks) / 1000 * IN
    for each in (lower, higher):
        step = 0.002 * IN if each.basis == "outside the stacks tried" else 0.0
        assert ends[0] - step - 1e-6 <= each.wanted_mm <= ends[1] + step + 1e-6


def test_past_the_thinnest_by_the_last_slope_and_a_small_step_at_most():
    """12 lb-in at 0.016, 4 at 0.018: 4 a thousandth; for 16.5 it takes 4.5/4 thousandths less. Where it would take more
    than 0.002 in, no more than that."""
    near = next_stack(tried((0.018, 4), (0.016, 12)), TARGET)
    assert near.wanted_mm == pytest.approx((0.016 - 0.004500 / 4) * IN, abs=1e-5)
    assert near.basis == "outside the stacks tried"
    assert next_stack(tried((0.018, 2), (0.016, 3)), TARGET).wanted_mm == pytest.approx(0.014 * IN)
    assert next_stack(tried((0.014, 60), (0.015, 50)), TARGET).wanted_mm == pytest.approx(0.017 * IN)
    assert next_stack(tried((0.014, 30)), TARGET).wanted_mm == pytest.approx(0.015 * IN)


def test_readings_against_the_rule_are_pooled_and_flagged():
    """0.017 turned more easily than 0.018: their mean stands for both (isotonic regression), and it is said."""
    found = next_stack(tried((0.018, 10), (0.017, 4), (0.015, 24)), TARGET)
    assert found.disagree
    assert not next_stack(tried((0.018, 4.0), (0.017, 4.5), (0.015, 24)), TARGET).disagree
    assert 0.015 * IN < found.wanted_mm < 0.017 * IN


def test_a_last_stack_in_range_stays():
    found = next_stack(tried((0.018, 0), (0.015, 15)), TARGET)
    assert (found.basis, found.wanted_mm) == ("in range", 0.015 * IN)


def test_a_stack_tried_twice_counts_once_in_the_middle():
    found = next_stack(tried((0.018, 0), (0.015, 20), (0.015, 24)), TARGET)
    assert found.wanted_mm == pytest.approx(0.01575 * IN, abs=1e-5)


# Shims put together


@settings(max_examples=80, deadline=None)
@given(st.lists(st.integers(20, 400), min_size=1, max_size=9), st.integers(20, 1500))
def test_the_nearest_choice_is_the_nearest_of_all(sizes, wanted):
    """Against itertools: every choice of every number of shims, in thousandths of a millimetre."""
    shims = [give_or_take(size / 1000, 0.004) for size in sizes]
    every = [sum(c) for n in range(1, len(sizes) + 1) for c in combinations(sizes, n)]
    found = combine(shims, wanted / 1000)
    assert abs(found[0].off_mm) == pytest.approx(min(abs(each - wanted) for each in every) / 1000, abs=1e-9)
    best = [
        n
        for n in range(1, len(sizes) + 1)
        for c in combinations(sizes, n)
        if abs(abs(sum(c) - wanted) - min(abs(each - wanted) for each in every)) < 1e-9
    ]
    assert len(found[0].shims_mm) == min(best)
    assert sorted(found, key=lambda each: round(abs(each.off_mm), 6)) == list(found)
    left = list(sizes)
    for shim in found[0].shims_mm:
        left.remove(round(shim * 1000))
    assert found[0].spread_mm == pytest.approx(0.004 * len(found[0].shims_mm))


def test_twenty_alike_or_not_are_quick_and_more_are_refused():
    """Closed form: of 20 shims of 0.05 + 0.0137 n, n from 0, any k of them add up to 0.05 k + 0.0137 m, and m may be
    anything from k (k - 1) / 2 to k (39 - k) / 2."""
    many = [give_or_take(float(size), 0.0) for size in 0.05 + 0.0137 * np.arange(20)]
    ends = [(k, k * (k - 1) // 2, k * (39 - k) // 2) for k in range(1, 21)]
    least = min(abs(0.05 * k + 0.0137 * m - 1.234) for k, low, high in ends for m in range(low, high + 1))
    assert abs(combine(many, 1.234)[0].off_mm) == pytest.approx(least, abs=1e-9)
    assert combine([give_or_take(0.1, 0.0)] * 20, 0.5)[0].shims_mm == (0.1,) * 5
    with pytest.raises(InputError, match="21 shims"):
        combine([give_or_take(0.1, 0.0)] * 21, 0.5)


def test_a_shim_not_measured_is_refused_and_says_which(tmp_path):
    with pytest.raises(InputError) as caught:
        job(tmp_path, shims=[{"value": "0.0102 in", "how": "micrometer"}, "0.008 in"])
    (finding,) = caught.value.findings
    assert finding.where == "job.toml, key setup.shims 2"
    assert finding.what.startswith("a shim not measured")
    with pytest.raises(InputError, match=r"setup\.stacks 1\.shims 1: a shim not measured"):
        job(tmp_path, stacks=[{"shims": ["0.018 in"], "torque": "0 lb-in", "seal": "out"}])
    read_with = job(tmp_path, shims=["0.008 in"], shims_read_with="micrometer")
    assert read_with.setup.measured(read_with.setup.shims[0]).spread == pytest.approx(TOOLS["micrometer"].two_sigma_mm)


# A crush sleeve


def pulls(*torques, sleeve=1):
    return [Pulled(sleeve, torque * LB_IN, GIVE_NM) for torque in torques]


@pytest.mark.parametrize(
    ("torques", "state"),
    [
        ((5,), "pull on"),
        ((5, 9), "pull on"),
        ((5, 9, 15), "in range"),
        ((5, 9, 20), "overshot"),
        ((5, 9, 20, 17), "overshot"),  # backed off into the range: the sleeve is spent all the same
        ((5, 12, 8), "fell"),
        ((5, 12, 8, 16), "fell"),
        ((5, 12, 11.5), "pull on"),  # within what readings give or take
    ],
)
def test_how_a_sleeve_stands(torques, state):
    assert crush_log(pulls(*torques), TARGET).state == state


def test_the_next_pull_is_warned_of():
    assert crush_log(pulls(3, 6, 13), TARGET).next_overshoots
    assert not crush_log(pulls(3, 6, 9), TARGET).next_overshoots


def test_a_new_sleeve_starts_anew():
    found = crush_log([*pulls(5, 25), *pulls(6, sleeve=2)], TARGET)
    assert (found.sleeve, found.pulls, found.state) == (2, 1, "pull on")


def test_a_sleeve_without_a_range_cannot_be_told():
    assert crush_log(pulls(5, 9), None).state == "cannot tell"
    assert crush_log([], TARGET) is None


def test_never_back_off_is_said(tmp_path):
    rows = [{"torque": f"{torque} lb-in", "seal": "out"} for torque in (8, 22, 16)]
    found = setup_log(job(tmp_path, crush=rows, target=["14 lb-in", "19 lb-in"]))
    (line,) = crush_lines(found, "in")
    assert NEVER_BACK_OFF in line
    assert "new sleeve" in line
    assert "STOP" in line


# Job, units, command


@pytest.mark.parametrize(
    ("setup", "says"),
    [
        ({"target": ["19 lb-in", "14 lb-in"]}, "setup.target: its low end is not below its high end"),
        ({"spacer": "crush", "stacks": [{"shims": [], "torque": "0 lb-in", "seal": "out"}]}, "setup.stacks"),
        ({"spacer": "solid", "crush": [{"torque": "5 lb-in", "seal": "out"}]}, 'spacer = "crush"'),
        ({"readings": [{"torque": "25", "bearings": "new", "seal": "out"}]}, "'25' has no unit"),
        ({"readings": [{"torque": "-2 lb-in", "bearings": "new", "seal": "out"}]}, "below zero"),
        ({"readings": [{"torque": "25 lb-ft", "bearings": "new", "seal": "out"}]}, "out of range"),
        ({"readings": [{"torque": "25 lb-in", "bearings": "old", "seal": "out"}]}, "is not a choice here"),
        ({"readings": [{"torque": "25 lb-in", "bearings": "new"}]}, "setup.readings 1.seal: not given"),
        ({"shims_read_with": "eye"}, "'eye' is no tool"),
        ({"crush": [{"torque": "5 lb-in", "seal": "out", "sleeve": s} for s in (2, 1)]}, "an earlier sleeve"),
        ({"crush": [{"torque": "5 lb-in", "seal": "out", "sleeve": 1.5}]}, "1.5 of a sleeve"),
        ({"preload": "5 lb-in"}, "unknown key 'preload'"),
    ],
)
def test_what_is_refused_says_where(setup, says, tmp_path):
    with pytest.raises(InputError) as caught:
        job(tmp_path, **setup)
    assert says in str(caught.value)


def test_torques_by_the_nist_factor():
    """NIST SP 811 (2008), B.8: 1 lbf.in = 0.112 984 8 N.m (printed digits)."""
    assert show_torques(25 * LB_IN, "in") == "25.0 lb-in (2.82 N.m)"
    assert parse_torque("1 in-lb") == parse_torque("1 lb-in") == pytest.approx(LB_IN, rel=1e-6)
    assert show_fine(parse_length("0.0102 in"), "in") == "0.0102 in"
    with pytest.raises(InputError):
        show_torque(float("nan"), "in")


def test_a_zero_reading_with_give_or_take_reads_back(tmp_path):
    from geartrack.job import job_document

    rows = [{"torque": "0 lb-in +/- 1 lb-in", "seal": "out", "bearings": "new"}]
    made = job(tmp_path, readings=rows)
    assert job_from_dict(job_document(made), tmp_path, "again.toml") == made


def test_nothing_read_is_nothing_to_say(tmp_path):
    with pytest.raises(InputError, match="nothing was read on the pinion support yet"):
        setup_log(job(tmp_path))


def run(*arguments):
    result = CliRunner().invoke(main, ["setup", *map(str, arguments)])
    assert result.exception is None or isinstance(result.exception, SystemExit), result.exception
    return result


def test_the_command():
    solid = run(data_path("jobs/grind.toml"))
    assert solid.exit_code == 0, solid.output
    assert "maker's specification comes first" in solid.stdout
    assert "Seal drag: 5.0 lb-in (0.56 N.m)" in solid.stdout
    sleeve = run(data_path("jobs/hits.toml"), "--units", "mm")
    assert "1.47 N.m (13.0 lb-in)" in sleeve.stdout
    assert "WARNING: the last pull added" in sleeve.stdout
    found = json.loads(run(data_path("jobs/grind.toml"), "--json").stdout)
    assert found["kind"] == "setup"
    assert found["next"]["wanted_mm"] == pytest.approx(0.40767, abs=1e-4)
    nothing = run(data_path("jobs/clears.toml"))
    assert (nothing.exit_code, nothing.stdout) == (2, "")
    assert len(nothing.stderr.splitlines()) == 1


def test_the_document_holds_no_nan():
    for name in ("grind", "hits"):
        json.dumps(as_document(setup_log(read_job(data_path(f"jobs/{name}.toml")))), allow_nan=False)
