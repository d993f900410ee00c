"""Stories of `geartrack quick` on invented shops: typed at the questions, as flags, interrupted, and taken further."""

import json
import re
import shutil
import tomllib

import pytest
import screen_words as words
from click.testing import CliRunner
from rich.console import Console

from geartrack.cli import main
from geartrack.datafiles import data_path
from geartrack.job import read_job

PHONE = ("9 in, pilot", "9/35", "7/36", "nodular, never ground")
BARE = ("7/36", "9.45 in", "nodular, never ground", "yes", "1.85 in", "3.07 in", "36 mm", "22 mm", "88 mm", "30 mm")
BARE += ("38 mm", "A", "38 mm", "20 mm", "8.2 8.4 8.0 7.4 7.0 mm", "none")
ASKED = re.compile(r"^(\d+)/(\d+) ", re.MULTILINE)


@pytest.fixture(autouse=True)
def shop(tmp_path, monkeypatch):
    """An empty folder of an invented shop."""
    monkeypatch.chdir(tmp_path)
    return tmp_path


def run(*arguments, typed=()):
    return CliRunner().invoke(main, ["quick", *arguments], input="".join(f"{line}\n" for line in typed))


def flags(**said):
    return [part for key, text in said.items() for part in (f"--{key.replace('_', '-')}", text)]


@pytest.mark.parametrize(("card", "answers", "count"), [("phone", PHONE, 4), ("bare-case", BARE, 16)])
def test_a_card_asks_each_thing_once_and_answers(shop, card, answers, count):
    ran = run(card, "--job", "job.toml", typed=answers)
    assert ran.exit_code == 0, ran.output
    assert ASKED.findall(ran.stderr) == [(str(n), str(count)) for n in range(1, count + 1)]
    assert not ASKED.search(ran.stdout)
    assert "Wrote job.toml" in ran.stderr
    assert not list(shop.glob(".geartrack-quick-*"))
    assert words.forbidden(ran.output, metals=("nodular iron", "grey iron")) == []
    assert words.promises(ran.stdout) == []


@pytest.mark.parametrize(("card", "count"), [("phone", 4), ("bare-case", 16), ("parts", 16)])
def test_all_blank_still_answers(card, count):
    ran = run(card, typed=[""] * count)
    assert ran.exit_code == 0, ran.output
    assert len(ASKED.findall(ran.stderr)) == count
    assert ran.stdout.strip()


def test_the_bare_case_goes_on_to_check_ratios_and_quote(shop):
    assert run("bare-case", "--job", "case.toml", typed=BARE).exit_code == 0
    text = (shop / "case.toml").read_text(encoding="utf-8")
    assert "# face_width" in text  # what was not asked stands there to be filled in
    assert read_job("case.toml").boss.end_face.value == pytest.approx(36 - (1.85 - 3.07 / 2) * 25.4 + 22)
    for command in (["check", "case.toml"], ["ratios", "case.toml", "--teeth", "9/35, 8/39"], ["quote", "case.toml"]):
        ran = CliRunner().invoke(main, command)
        assert ran.exit_code == 0, ran.output


def test_the_phone_works_an_axle_of_the_shops_list(shop):
    for name in ("axles/larch-240.toml", "cases/larch-nodular.toml", "shop.toml"):
        (shop / name).parent.mkdir(exist_ok=True)
        shutil.copy(data_path(name), shop / name)
    (shop / "jobs").mkdir()
    ran = run("phone", "--job", "jobs/call.toml", typed=("larch", *PHONE[1:]))
    assert ran.exit_code == 0, ran.output
    assert "larch-nodular" in ran.stdout
    assert "GBP" in ran.stdout
    document = tomllib.loads((shop / "jobs" / "call.toml").read_text(encoding="utf-8"))
    assert document["axle"]["file"] == "../axles/larch-240.toml"
    checked = CliRunner().invoke(main, ["check", "jobs/call.toml", "--json"])
    assert checked.exit_code == 0, checked.output
    assert json.loads(checked.stdout)["verdict"] == "measure"  # another casting than the customer's


def test_the_phone_starts_a_job_that_says_what_is_still_to_come():
    ran = run(
        "phone", "--job", "call.toml", *flags(axle="9 in, pilot", ratio_now="3.89", ratio_wanted="5.14", case="grey")
    )
    assert ran.exit_code == 0, ran.output
    assert "still to come: axle.offset, boss" in ran.stderr
    assert not ASKED.search(ran.stderr)
    checked = CliRunner().invoke(main, ["check", "call.toml"])
    assert checked.exit_code == 2
    assert "key axle.offset" in checked.stderr
    assert "key boss" in checked.stderr


def test_flags_leave_only_the_rest_to_ask():
    ran = run("phone", *flags(axle="9 in, pilot", case="grey"), typed=PHONE[1:3])
    assert ran.exit_code == 0, ran.output
    assert ASKED.findall(ran.stderr) == [("1", "2"), ("2", "2")]
    assert "LIKELY" in ran.stdout


def test_json_alone_stands_on_stdout():
    ran = run("phone", "--json", typed=PHONE)
    document = json.loads(ran.stdout)
    assert (document["kind"], document["card"], document["verdict"]) == ("card", "phone", "likely")
    parts = json.loads(run("parts", "--json", "--no-questions", *flags(stub="40 mm", bearing_bore="30 mm")).stdout)
    assert parts["cannot_build"] is True


def test_a_slip_is_told_at_once_and_asked_again():
    ran = run("phone", typed=(PHONE[0], "514", *PHONE[1:]))
    assert ran.exit_code == 0, ran.output
    assert "was 5.14 meant?" in ran.stderr
    assert [number for number, _ in ASKED.findall(ran.stderr)] == ["1", "2", "2", "3", "4"]


def test_a_question_mark_shows_how_to_read_it():
    ran = run("bare-case", typed=(*BARE[:4], "?", *BARE[4:]))
    assert ran.exit_code == 0, ran.output
    shown = " ".join(ran.stderr.split())
    assert "Straightedge on both parting faces of one saddle" in shown
    assert "Usual mistake: Taking the parting face for the ring's centre line" in shown


def test_what_was_typed_survives_an_interruption(shop):
    stopped = run("phone", "--job", "call.toml", typed=PHONE[:2])
    assert stopped.exit_code == 1
    assert "kept in .geartrack-quick-phone.toml" in stopped.stderr
    assert not (shop / "call.toml").exists()
    kept = tomllib.loads((shop / ".geartrack-quick-phone.toml").read_text(encoding="utf-8"))
    assert kept == {"axle": PHONE[0], "ratio_now": PHONE[1]}
    again = run("phone", "--job", "call.toml", typed=("", "-", *PHONE[2:]))  # the first kept, the second taken away
    assert again.exit_code == 0, again.output
    assert f"[{PHONE[0]}]" in again.stderr
    assert "ratio now: not said" in again.stdout
    assert not list(shop.glob(".geartrack-quick-*"))
    assert (shop / "call.toml").exists()


def test_faults_between_entries_keep_what_was_typed(shop):
    wrong = (*BARE[:4], "2.8 in", *BARE[5:])  # h nearly as large as D
    ran = run("bare-case", typed=wrong)
    assert ran.exit_code == 2
    assert "straightedge's height left in" in ran.stderr
    assert ran.stdout == ""
    kept = tomllib.loads((shop / ".geartrack-quick-bare-case.toml").read_text(encoding="utf-8"))
    assert list(kept.values()) == list(wrong)
    again = run("bare-case", typed=(*[""] * 4, BARE[4], *[""] * 11))
    assert again.exit_code == 0, again.output
    assert "MEASURE FIRST" in again.stdout


def test_a_spoilt_memory_is_passed_over(shop):
    (shop / ".geartrack-quick-phone.toml").write_text("axle = [", encoding="utf-8")
    ran = run("phone", typed=PHONE)
    assert ran.exit_code == 0, ran.output


def test_faults_of_flags_are_all_told_and_nothing_is_written(shop):
    ran = run("bare-case", "--no-questions", "--job", "x.toml", *flags(saddle_bore="3.07 mm", hand="up", walls="8 mm"))
    assert ran.exit_code == 2
    assert len(ran.stderr.splitlines()) == 3
    assert "was 3.07 in meant?" in ran.stderr
    assert list(shop.iterdir()) == []


def test_a_job_that_is_there_is_refused_before_anything_is_asked(shop):
    (shop / "job.toml").write_text("mine", encoding="utf-8")
    ran = run("phone", "--job", "job.toml", typed=PHONE)
    assert ran.exit_code == 2
    assert not ASKED.search(ran.stderr)
    assert (shop / "job.toml").read_text(encoding="utf-8") == "mine"
    assert run("phone", "--job", "job.toml", "--force", typed=PHONE).exit_code == 0
    assert "mine" not in (shop / "job.toml").read_text(encoding="utf-8")


def test_bare_numbers_are_in_the_unit_that_was_said():
    typed = (
        "7/36",
        "9.45",
        *BARE[2:4],
        "1.85",
        "3.07",
        "1.417",
        ".866",
        "3.465",
        "1.181",
        "1.496",
        "A",
        "1.496",
        ".787",
    )
    ran = run("bare-case", "--units", "in", typed=(*typed, ".323 .331 .315 .291 .276", "0"))
    assert ran.exit_code == 0, ran.output
    assert "h - D/2 = 1.850 in - 3.070 in/2 = 0.315 in" in ran.stdout
    assert "numbers without a unit are in" in ran.stderr


def test_a_parts_check_has_nothing_for_a_job():
    ran = run("parts", "--no-questions", "--job", "x.toml")
    assert ran.exit_code == 2
    assert "nothing for a job file" in ran.stderr


@pytest.mark.parametrize("wide", [80, 110])
@pytest.mark.parametrize(("card", "answers"), [("phone", PHONE), ("parts", [""] * 16)])
def test_it_fits_the_terminal(monkeypatch, wide, card, answers):
    monkeypatch.setattr("geartrack.cli.quick_show.console", lambda: Console(width=wide, highlight=False, markup=False))
    ran = run(card, typed=answers)
    assert 0.8 * wide < max(len(line) for line in ran.stdout.splitlines()) <= wide
