"""A shop's file: figures with where they were given, every refusal in one line, and the demo's file."""

import tomllib
from decimal import Decimal

import pytest
from job_documents import document

from geartrack.datafiles import data_path
from geartrack.errors import InputError
from geartrack.job import job_from_dict, read_job, with_changes, write_job
from geartrack.job.shop import ShopHours, ShopTerms
from geartrack.quote import HOURS_KEYS, TERM_TITLES, Three
from geartrack.study import rates_of

FILE = """
[shop]
currency = "GBP"
rate = [60, 68, 80]
minimum_hours = 1.5
tax_percent = 20
[shop.hours]
fit = [0.2, 0.3, 0.4]
blend = 0.5
[shop.terms]
valid = "Two weeks."
more = ["Cash."]
"""


@pytest.fixture
def job(tmp_path):
    """A job that names the shop file and puts some values over it."""
    (tmp_path / "shop.toml").write_text(FILE, encoding="utf-8")
    own = {
        "shop": {"file": "shop.toml", "minimum_hours": 2, "hours": {"blend": 0.25}, "if_found": {"grind": "call me"}}
    }
    return job_from_dict(document() | own, tmp_path, "job.toml")


def test_a_jobs_values_stand_over_the_shop_files(job):
    rates = rates_of(job)
    assert (rates.rate.value, rates.rate.origin) == (Three(Decimal(60), Decimal(68), Decimal(80)), "shop file")
    assert (rates.minimum_hours.value.likely, rates.minimum_hours.origin) == (2, "typed")
    assert (rates.hours["blend"].value.likely, rates.hours["blend"].origin) == (Decimal("0.25"), "typed")
    assert (rates.hours["fit"].value.low, rates.hours["fit"].origin) == (Decimal("0.2"), "shop file")
    assert rates.consumables is None
    assert (rates.terms, rates.more_terms, rates.if_found) == (
        {"valid": "Two weeks."},
        ("Cash.",),
        {"grind": "call me"},
    )


def test_the_command_lines_value_counts_as_typed(job):
    rates = rates_of(with_changes(job, {"shop.rate": "75.50", "shop.tax_percent": "0"}))
    assert (rates.rate.value.high, rates.rate.origin, rates.tax_percent) == (Decimal("75.50"), "typed", 0)


def test_a_currency_is_that_of_the_sums(tmp_path):
    (tmp_path / "shop.toml").write_text(FILE, encoding="utf-8")
    shop = {"file": "shop.toml", "currency": "EUR"}
    with pytest.raises(InputError, match=r"key shop.currency: EUR, but the rate stands in the shop file"):
        rates_of(job_from_dict(document() | {"shop": shop}, tmp_path, "job.toml"))
    assert rates_of(job_from_dict(document() | {"shop": shop | {"rate": 70}}, tmp_path, "job.toml")).currency == "EUR"


def test_a_shop_written_reads_back_equal(job, tmp_path):
    write_job(job, tmp_path / "out.toml")
    assert read_job(tmp_path / "out.toml").shop == job.shop


def test_every_line_and_term_may_be_the_shops_own():
    assert set(ShopHours.model_fields) == set(HOURS_KEYS)
    assert set(ShopTerms.model_fields) == {*TERM_TITLES, "more"}


def test_the_demos_shop_is_read_whole():
    table = tomllib.loads(data_path("shop.toml").read_text(encoding="utf-8"))["shop"]
    shop = read_job(data_path("jobs/grind.toml")).shop
    assert set(table) <= set(dict(shop))
    assert (shop.currency, shop.rate, shop.round_to) == ("GBP", Decimal(68), 1)
    assert "invented" in shop.name


@pytest.mark.parametrize(
    ("key", "value", "said"),
    [
        ("rate", -1, "key shop.rate: -1 is out of range; a number from 0 to 1000000"),
        ("rate", [80, 60, 70], "key shop.rate: 80, 60, 70 do not rise from low to high; such as [60, 70, 80]"),
        ("rate", [60, 80], "key shop.rate: 2 figures in the list; one figure, or three: [low, likely, high]"),
        ("rate", [60, -70, 80], "key shop.rate: -70 is out of range"),
        ("rate", ["a", 2, 3], "key shop.rate: 'a' is not a plain number"),
        ("rate", True, "key shop.rate: 'True' is not a plain number"),
        ("currency", "GPB", "key shop.currency: 'GPB' is no currency of ISO 4217; three capitals"),
        ("currency", "gbp", "key shop.currency: 'gbp' is no currency of ISO 4217; was GBP meant?"),
        ("currency", "EUR", "key shop.rate: not given, and the default is a rate in US dollars, not in EUR; such as"),
        ("removal_g_min", [0, 1, 2], "key shop.removal_g_min: 0 is out of range; a number from 0.01 to 1000"),
        ("removal_g_min", [5, 2, 1], "key shop.removal_g_min: 5, 2, 1 do not rise"),
        ("hours", {"blend": [0.3, 0.2, 0.1]}, "key shop.hours.blend: 0.3, 0.2, 0.1 do not rise"),
        ("hours", {"sanding": 1}, "key shop.hours.sanding: unknown key 'sanding'; keys here: fit, strip"),
        ("round_to", 0, "key shop.round_to: 0 is out of range; a number from 0.001 to 10000"),
        ("round_to", "0.015", "key shop.round_to: 0.015 is no multiple of the smallest sum, 0.01 USD; such as 0.10"),
        ("valid_days", 1.5, "key shop.valid_days: 1.5 is no whole number of days; such as 30"),
        ("valid_days", 0, "key shop.valid_days: 0 is out of range; a number from 1 to 3650"),
        ("tax_percent", 120, "key shop.tax_percent: 120 is out of range; a number from 0 to 100"),
        ("arrives", "boxed", 'key shop.arrives: \'boxed\' is not a choice here; one of "bare case" or "assembled"'),
        ("if_found", {"grind": "maybe"}, "key shop.if_found.grind: 'maybe' is not a choice here; one of \"yes\""),
        ("sublets", [{"name": "Tank"}], "key shop.sublets 1.fee: not given"),
        ("terms", {"valid": ""}, "key shop.terms.valid: '' is empty"),
        ("file", "none.toml", "key shop.file: there is no file 'none.toml'; looked in"),
    ],
)
def test_a_slip_is_told_in_one_line(tmp_path, key, value, said):
    with pytest.raises(InputError) as refused:
        job_from_dict(document() | {"shop": {key: value}}, tmp_path, "job.toml")
    assert [str(finding) for finding in refused.value.findings] == [str(refused.value)]
    assert said in str(refused.value)


def test_a_slip_in_the_shops_file_is_placed_there(tmp_path):
    (tmp_path / "shop.toml").write_text("[shop]\nname = 'x'\nrate = -5\n", encoding="utf-8")
    with pytest.raises(InputError, match=r"^shop.toml, key shop.rate \(line 3\): -5 is out of range"):
        job_from_dict(document() | {"shop": {"file": "shop.toml"}}, tmp_path, "job.toml")
