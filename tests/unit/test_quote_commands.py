"""`geartrack quote` on the demo's jobs: what each verdict makes of the price, side by side, 80 columns, refusals."""

import json

import pytest
import screen_words
from click.testing import CliRunner
from demo import demo_job

from geartrack.cli import main
from geartrack.datafiles import data_path
from geartrack.spread import Sampling
from geartrack.study import as_document, check, pass_plan, quote_for

JOB = data_path("jobs/grind.toml")


def run(*arguments, status=0):
    """The command's output; a refusal is lines on stderr and nothing else."""
    ran = CliRunner().invoke(main, ["quote", *map(str, arguments)], env={"COLUMNS": "80"})
    assert ran.exit_code == status, ran.output
    if status:
        assert ran.stdout == ""
        assert all(line.startswith("geartrack: ") for line in ran.stderr.splitlines())
    return ran.stderr if status else ran.stdout


@pytest.fixture(scope="module")
def answers():
    """Answers to demo jobs by the straight sum, by name."""
    return {name: check(demo_job(name)) for name in ("grind", "clears", "measure", "dont-use")}


def test_what_each_verdict_makes_of_the_price(answers):
    made = {name: quote_for(answer) for name, answer in answers.items()}
    assert {name: each.figures.stands for name, each in made.items()} == {
        "grind": "planned",
        "clears": "not needed",
        "measure": "open",
        "dont-use": "not allowed",
    }
    heads = {name: each.head.headline for name, each in made.items()}
    assert (heads["grind"], heads["measure"]) == ("QUOTE", "ESTIMATE BEFORE MEASURING")
    assert made["measure"].head.marks[0].startswith("MEASURE FIRST: ")
    assert made["dont-use"].with_grinding is None
    assert made["clears"].total.high == made["clears"].without.total.high < made["grind"].total.low


def test_the_chance_is_that_of_the_result():
    """A verdict to grind leaves at most 2.5 in 100 that the gap is there, one that it clears as little to grind."""
    few = Sampling(count=256)
    grind, clears = (quote_for(check(demo_job(name), few)).figures for name in ("grind", "clears"))
    assert float(grind.chance) >= 0.975
    assert float(clears.chance) <= 0.025
    assert "draws" in grind.chance_origin


def test_by_the_straight_sum_the_chance_is_a_share_of_low_to_high(answers):
    band, target = answers["measure"].band, answers["measure"].target_mm
    figures = quote_for(answers["measure"]).figures
    assert float(figures.chance) == pytest.approx((target - band.low) / (band.high - band.low), abs=1e-4)
    assert "share of low to high" in figures.chance_origin


def test_the_fits_are_those_of_the_plan_of_passes(answers):
    """By hand from the plan: a fit after each pass that is planned, and after those that are only for a short gap."""
    left = pass_plan(answers["grind"]).left
    likely = len([each for each in left if not each.if_short])
    line = next(each for each in quote_for(answers["grind"]).lines if each.key == "fit_cycle")
    assert [float(value) for value in line.hours.values[1:]] == pytest.approx([0.15 * likely, 0.25 * len(left)])
    assert "by the plan of passes" in line.basis


def test_cutting_is_the_mass_of_the_result(answers):
    """The demo shop's 1, 2 and 4.5 g a minute, counted to 0.01 h and never as nothing."""
    masses = answers["grind"].work.mass_g
    line = next(each for each in quote_for(answers["grind"]).lines if each.key == "cut")
    expected = [mass / rate / 60 for mass, rate in zip(masses, (4.5, 2.0, 1.0), strict=True)]
    assert [float(value) for value in line.hours.values] == [max(0.01, round(hours, 2)) for hours in expected]


def test_the_document_is_plain_and_exact(answers):
    found = json.loads(json.dumps(as_document(quote_for(answers["measure"]))))
    assert (found["kind"], found["currency"], found["stands"]) == ("quote", "GBP", "open")
    assert found["total"] == {"low": "82.00", "likely": "82.00", "high": found["with_grinding"]["total"]["high"]}
    assert {line["group"] for line in found["lines"]} == {"checks", "grinding", "option"}
    assert found["options"][0]["answer"] is None
    assert {term["key"] for term in found["terms"] if term["signature"]} == {"alters"}


@pytest.mark.parametrize("job", ["grind", "measure", "dont-use"])
def test_the_page_fits_80_columns_in_plain_words(job):
    text = run(data_path(f"jobs/{job}.toml"), "--fast")
    assert max(map(len, text.splitlines())) <= 80
    assert "not legal advice" in text
    assert screen_words.forbidden(text, metals=screen_words.METALS) == []
    assert set(screen_words.promises(text)) <= {"passes"}  # of the burr


def test_figures_typed_count_over_the_shops():
    made = json.loads(run(JOB, "--fast", "--json", "--rate", "100", "--tax", "0"))
    assert (made["currency"], made["rate_origin"], made["rate"]["low"]) == ("GBP", "typed", "100.00")
    assert made["tax"]["high"] == "0.00"


def test_another_shops_file(tmp_path):
    shop = tmp_path / "mine.toml"
    shop.write_text('[shop]\nname = "Mine"\ncurrency = "JPY"\nrate = 9000\n', encoding="utf-8")
    made = json.loads(run(JOB, "--fast", "--json", "--shop", shop))
    assert (made["shop"], made["currency"], made["rate_origin"]) == ("Mine", "JPY", "shop file")
    assert made["total"]["high"].isdecimal()


def test_what_the_customer_said_is_on_the_quote():
    text = run(data_path("jobs/measure.toml"), "--fast", "--if-found", "grind=no", "--if-found", "late=call me")
    assert "not in the total" in text
    assert "does not want the boss ground" in text
    assert "call me" in text


def test_several_pairs_and_another_casting_side_by_side():
    other = data_path("jobs/dont-use.toml")
    table = json.loads(run(JOB, "--fast", "--json", "--compare", "7/35, 7/36", "--other", other))
    assert [row["name"] for row in table["rows"]] == ["7/36 = 5.14", "7/35 = 5.00", "dont-use, 7/36 = 5.14"]
    own, pair, cracked = table["rows"]
    alone = json.loads(run(JOB, "--fast", "--json"))
    assert own["quote"]["total"] == alone["total"]
    assert own["wall_left_mm"] < pair["wall_left_mm"]
    assert (cracked["depth_radial_max_mm"], cracked["quote"]["with_grinding"]) == (None, None)
    text = run(JOB, "--fast", "--compare", "7/35", "--other", other)
    assert max(map(len, text.splitlines())) <= 80
    assert "(estimate)" in text


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["--rate", "-68"], "command line, key shop.rate: -68 is out of range; a number from 0 to 1000000"),
        (["--tax", "a fifth"], "command line, key shop.tax_percent: 'a fifth' is not a plain number"),
        (["--shop", "none.toml"], "command line, key shop.file: there is no file 'none.toml'"),
        (["--if-found", "cutting=yes"], "--if-found: 'cutting=yes' names no line; one of grind, late"),
        (["--if-found", "grind"], "--if-found: 'grind' names no line"),
        (["--if-found", "grind=perhaps"], "command line, key shop.if_found.grind: 'perhaps' is not a choice here"),
        (["--compare", ","], "--compare: no tooth pair"),
        (["--compare", "7/0"], "--compare"),
        (["--other", "none.toml"], "there is no file 'none.toml'"),
    ],
)
def test_bad_input_is_told_in_one_line(arguments, said, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    (line,) = run(JOB, "--fast", *arguments, status=2).splitlines()
    assert said in line


def test_sums_in_two_currencies_are_not_set_side_by_side(tmp_path):
    text = JOB.read_text(encoding="utf-8").replace('"../', f'"{data_path("jobs").parent.as_posix()}/')
    assert 'file = "' in text
    dollars = tmp_path / "dollars.toml"
    dollars.write_text(text.partition("[shop]")[0], encoding="utf-8")
    (line,) = run(JOB, "--fast", "--other", dollars, status=2).splitlines()
    assert "sums cannot be compared" in line
    assert "--shop FILE" in line
