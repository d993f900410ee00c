"""The depth that gives the gap wanted with a chosen chance: the job's, 97.5 % where it says nothing (DESIGN 5, 6)."""

import pytest
from click.testing import CliRunner
from demo import demo_job

from geartrack.cli import main
from geartrack.datafiles import data_path
from geartrack.errors import InputError
from geartrack.spread import Sampling
from geartrack.study import as_document, check, pass_plan

SAMPLING = Sampling(2048, 7)


def sure(per_cent, name="grind", **changes):
    return demo_job(name, target__confidence=str(per_cent), **changes)


@pytest.fixture(scope="module")
def answers():
    return {c: check(sure(c), SAMPLING) for c in (50, 80, 97.5, 99.5)}


def test_a_surer_cut_is_deeper_and_nothing_else_of_the_answer_moves(answers):
    depths = [answers[c].cuts.hold.depth_radial_max_mm for c in (50, 80, 97.5, 99.5)]
    assert depths == sorted(depths)
    assert len(set(depths)) == 4
    for answer in answers.values():
        assert (answer.band.low, answer.band.high) == (answers[97.5].band.low, answers[97.5].band.high)
        assert answer.verdict.code == answers[97.5].verdict.code
        assert answer.cuts.nominal.clearance_mm == answer.target_mm


def test_the_verdicts_wall_is_never_that_of_a_less_sure_cut(answers):
    """DESIGN 6: the guard is 2.5 % a side, so a cut asked for at 50 % is held against the wall as one at 97.5 % is."""
    assert answers[50].cuts.wall_low_mm == answers[97.5].cuts.wall_low_mm
    assert answers[99.5].cuts.wall_low_mm < answers[97.5].cuts.wall_low_mm


def test_a_wall_that_forbids_the_surer_cut_is_decided_in_the_usual_order(answers):
    """A minimum wall that the usual cut leaves and the surer one does not: the readings that settle it are named."""
    between = (answers[97.5].cuts.wall_low_mm + answers[99.5].cuts.wall_low_mm) / 2
    usual, surer = (check(sure(c, case__minimum_wall=f"{between:.4f} mm"), SAMPLING) for c in (97.5, 99.5))
    assert usual.verdict.grinds
    assert surer.verdict.code == "measure" or surer.verdict.by_choice
    assert surer.cuts.stop.wall_left_mm >= between
    if surer.verdict.code == "measure":
        assert surer.verdict.next_reading


def test_passes_end_at_that_cut(answers):
    for answer in answers.values():
        plan_ = pass_plan(answer)
        assert plan_.hold_mm == pytest.approx(max(answer.cuts.hold.clearance_mm, plan_.to_mm), abs=1e-9)


def test_it_is_said_in_json_and_nothing_is_said_where_nothing_was_drawn(answers):
    assert as_document(answers[80])["relief"]["confidence"] == pytest.approx(0.8)
    assert as_document(check(sure(80)))["relief"]["confidence"] is None


def test_too_few_draws_for_so_sure_a_cut_are_refused():
    with pytest.raises(InputError, match="2048 draws or more"):
        check(sure(99.9), Sampling(512))


@pytest.mark.parametrize(
    ("flags", "said"),
    [
        (("--confidence", "49"), "between 50 and 99.9"),
        (("--confidence", "100"), "between 50 and 99.9"),
        (("--confidence", "sure"), "is not one number"),
        (("--confidence", "90", "--fast"), "makes no draws"),
    ],
)
def test_what_cannot_be_is_refused_in_a_line(flags, said):
    refused = CliRunner().invoke(main, ["check", str(data_path("jobs/grind.toml")), *flags])
    assert refused.exit_code == 2
    assert said in refused.stderr
    assert len(refused.stderr.strip().splitlines()) == 1


def test_the_screen_says_how_sure():
    shown = CliRunner().invoke(main, ["check", str(data_path("jobs/grind.toml")), "--confidence", "90"])
    assert "in 90 of 100 such axles" in shown.stdout
