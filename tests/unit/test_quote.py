"""The quote: hand-worked sheets in Decimal, both ways of the job, what stands on the customer's page."""

from dataclasses import replace
from datetime import date
from decimal import Decimal

import pytest

from geartrack.materials import FACTS, Material
from geartrack.quote import Firming, Need, Own, Rates, Subject, Sublet, Work, fixed, quote

NO_WORK = Work((0.0, 0.0, 0.0), (0.0, 0.0, 0.0), Material.NODULAR)
SOME = Work((1.8, 6.0, 12.0), (0.2, 0.6, 1.1), Material.NODULAR)


def own(value):
    """A figure of the shop, typed."""
    return Own(fixed(Decimal(value)), "typed")


def texts(three):
    """Low, likely and high as they are printed."""
    return tuple(f"{value:f}" for value in three.values)


HUNDRED = Rates(rate=own(100))
OPEN = Need("open", Decimal("0.30"), "result", "the gap wanted lies between low and high")
POUNDS = Rates(
    currency="GBP", rate=own(68), consumables=own(18), tax_percent=Decimal(20), tax_name="VAT", round_to=Decimal(1)
)


def test_no_relief_is_the_check_up_to_the_minimum_charge():
    """Worked by hand: one hour minimum at 100.00 makes 100.00 whatever the check took."""
    found = quote(NO_WORK, HUNDRED)
    assert [str(v) for v in found.total.values] == ["100.00"] * 3
    assert [line.name for line in found.lines] == ["Fit the gears and read the gap"]
    assert [str(v) for v in found.sums.minimum.values] == ["80.00", "70.00", "50.00"]
    assert [str(v) for v in found.hours.values] == ["1.00"] * 3


def test_a_worked_sheet():
    """Worked by hand from the line table: nodular 2.0 g/min likely, 6 g -> 3 min = 0.05 h; 0.6 mm in passes of 0.254 mm
    -> 3 fits at 0.15 h = 0.45 h; 0.3 check + 0.3 bare + 0.3 template + 0.2 blend + 0.3 wash + 2 x 0.2 crack = 1.8 h;
    2.30 h at 100.00 = 230.00, burr and blueing 20.00, tax 10 % of 250.00."""
    rates = Rates(rate=own(100), consumables=own(20), tax_percent=Decimal(10))
    found = quote(SOME, rates)
    assert found.hours.likely == Decimal("2.30")
    assert found.sums.net.likely == Decimal("250.00")
    assert found.sums.tax.likely == Decimal("25.00")
    assert found.total.likely == Decimal("275.00")


def test_totals_are_the_sum_of_the_printed_lines():
    found = quote(SOME, Rates())
    for part in ("low", "likely", "high"):
        assert sum(getattr(line.money, part) for line in found.lines if line.counted) == getattr(found.sums.net, part)
        assert getattr(found.sums.net, part).as_tuple().exponent == -2
    assert found.total.low < found.total.likely < found.total.high


def test_found_late_is_a_line_outside_the_total():
    late = [line for line in quote(SOME, Rates()).lines if not line.counted]
    assert len(late) == 1
    assert late[0].hours.high == Decimal("3.00")


def test_a_sent_out_crack_check_replaces_the_one_in_house():
    names = [line.name for line in quote(SOME, Rates(crack_check_fee=own(60))).lines]
    assert "Crack check before, sent out" in names
    assert "Crack check before" not in names


@pytest.mark.parametrize("material", Material)
def test_every_default_says_so_and_cutting_follows_the_metal(material):
    found = quote(Work(SOME.mass_g, SOME.depth_mm, material), Rates())
    cutting = next(line for line in found.lines if line.name == "Cutting")
    slow, likely, _ = FACTS[material].removal_g_min
    assert float(cutting.hours.likely) == pytest.approx(6.0 / likely / 60, abs=0.005)
    assert float(cutting.hours.high) == pytest.approx(12.0 / slow / 60, abs=0.005)
    assert all("default" in line.origin or "from memory" in line.origin for line in found.lines)


def test_cutting_takes_minutes_and_checking_takes_the_time():
    """Common practice, no source: a 5 g patch is minutes of cutting; fits, checks and washing are the bill."""
    found = quote(Work((5.3, 5.3, 5.3), (0.6, 0.6, 0.6), Material.GREY), Rates())
    cutting = next(line for line in found.lines if line.name == "Cutting")
    assert cutting.hours.high < Decimal("0.1")
    assert found.hours.likely > 10 * cutting.hours.likely


OPEN_LINES = {
    # key: hours, then money at 68.00. Nodular: 0, 1 (half of the most) and 2 g at 4.5, 2 and 1 g/min; 2, 2 and 3 fits.
    "fit": (("0.20", "0.30", "0.50"), ("13.60", "20.40", "34.00")),
    "bare": (("0.20", "0.30", "0.50"), ("13.60", "20.40", "34.00")),
    "crack_before": (("0.15", "0.20", "0.25"), ("10.20", "13.60", "17.00")),
    "template": (("0.20", "0.30", "0.40"), ("13.60", "20.40", "27.20")),
    "cut": (("0.00", "0.01", "0.03"), ("0.00", "0.68", "2.04")),
    "fit_cycle": (("0.20", "0.30", "0.75"), ("13.60", "20.40", "51.00")),
    "blend": (("0.10", "0.20", "0.30"), ("6.80", "13.60", "20.40")),
    "crack_after": (("0.15", "0.20", "0.25"), ("10.20", "13.60", "17.00")),
    "wash": (("0.20", "0.30", "0.40"), ("13.60", "20.40", "27.20")),
    "consumables": (None, ("18.00", "18.00", "18.00")),
    "late": (("1.50", "2.20", "3.00"), ("102.00", "149.60", "204.00")),
}


@pytest.fixture
def undecided():
    """A sheet worked by hand: 30 in 100 that the boss has to be ground; 68.00 GBP, 20 % VAT, up to whole pounds."""
    return quote(Work((0.0, 0.0, 2.0), (0.0, 0.0, 0.5), Material.NODULAR), POUNDS, OPEN)


def test_an_undecided_sheet_line_by_line(undecided):
    found = {line.key: (line.hours and texts(line.hours), texts(line.money)) for line in undecided.lines}
    assert found == OPEN_LINES


def test_an_undecided_sheets_two_ways(undecided):
    """Checks: 0.20 to 0.50 h, so 1 h = 68.00; VAT 13.60; up to 82. With grinding: labour 95.20, 143.48, 229.84 for
    1.40, 2.11, 3.38 h, and 18.00; VAT 22.64, 32.296, 49.568; 135.84, 193.78, 297.41 go up to 136, 194, 298."""
    checks, both = undecided.without, undecided.with_grinding
    assert texts(checks.minimum) == ("54.40", "47.60", "34.00")
    assert texts(checks.hours) == ("1.00", "1.00", "1.00")
    assert texts(checks.total) == ("82.00", "82.00", "82.00")
    assert texts(both.hours) == ("1.40", "2.11", "3.38")
    assert texts(both.net) == ("113.20", "161.48", "247.84")
    assert texts(both.tax) == ("22.64", "32.30", "49.57")
    assert texts(both.rounding) == ("0.16", "0.22", "0.59")
    assert texts(both.total) == ("136.00", "194.00", "298.00")


def test_an_undecided_sheets_total_spans_both_ways(undecided):
    """Likely is the likelier way's: 70 in 100 for the checks alone. If the case fails: 0.55, 0.80, 1.25 h are owed."""
    assert texts(undecided.total) == ("82.00", "82.00", "298.00")
    assert texts(undecided.owed) == ("82.00", "82.00", "102.00")


def test_an_undecided_sheets_chances(undecided):
    """By hand. Grinding: mean 2.2033 h and variance 0.018233 h2 (cut and fits together: 0.2, 0.31, 0.78), so 201.39 and
    11.02 GBP; 90 of 100 overall is two thirds of the ground ones, z = 0.431: 206.1. Alone, z = 1.2816: 215.5."""
    chances = undecided.sums.chances
    assert [f"{value:f}" for value in (chances.p10, chances.p50, chances.p90)] == ["82.00", "82.00", "207.00"]
    assert undecided.sums.not_to_exceed == 216
    assert float(chances.mean) == pytest.approx(0.7 * 82 + 0.3 * 201.39, abs=0.02)


def test_an_undecided_sheets_options(undecided):
    """Grinding adds 54, 112, 216; expected 0.3 x 112. Late: 1.5, 2.2, 3.0 h with VAT are 122.40, 179.52, 244.80."""
    grind, late = undecided.options
    assert (texts(grind.total), grind.expected, grind.in_total) == (
        ("54.00", "112.00", "216.00"),
        Decimal("33.60"),
        True,
    )
    assert (texts(late.total), late.expected, late.in_total) == (
        ("123.00", "180.00", "245.00"),
        Decimal("54.00"),
        False,
    )
    assert {grind.answer, late.answer} == {None}
    assert grind.chance_words == "about 30 in 100"


def test_a_sheet_in_a_currency_without_decimals():
    """By hand: yen, 9,000 an hour, an assembled case, crack checks sent out at 6,000 each, a courier in any case, a hot
    tank if ground, 10 % tax. Grey iron, 1, 2, 3 g at 5, 2.5, 1 g/min: 0.01, 0.01, 0.05 h. Fits 2 x 0.10, 3 x 0.15,
    4 x 0.25. Labour 1.41, 2.36, 3.85 h = 12,690, 21,240, 34,650; fees 1,200 + 12,000 + 2,500 + 3,500 = 19,200."""
    rates = Rates(
        currency="JPY",
        rate=own(9000),
        consumables=own(2500),
        crack_check_fee=own(6000),
        sublets=(
            Sublet("Courier", fixed(Decimal(1200)), "always", "typed"),
            Sublet("Hot tank", fixed(Decimal(3500)), "if ground", "typed"),
        ),
        tax_percent=Decimal(10),
        arrives="assembled",
    )
    found = quote(Work((1.0, 2.0, 3.0), (0.3, 0.5, 0.7), Material.GREY, (2, 3, 4)), rates)
    assert texts(found.hours) == ("1.41", "2.36", "3.85")
    assert texts(found.sums.net) == ("31890", "40440", "53850")
    assert texts(found.sums.tax) == ("3189", "4044", "5385")
    assert texts(found.total) == ("35079", "44484", "59235")
    # Owed: fit and strip 0.7 h (so 1.0), 1.1, 1.7 h, courier and the first crack check, with tax.
    assert texts(found.owed) == ("17820", "18810", "24750")
    assert "bare" not in {line.key for line in found.lines}


def test_a_sheet_in_a_currency_of_three_decimals():
    """By hand: one hour at 12.345, 5 % of it 0.61725."""
    found = quote(NO_WORK, Rates(currency="KWD", rate=own("12.345"), tax_percent=Decimal(5)))
    assert (texts(found.sums.tax)[1], texts(found.total)[1]) == ("0.617", "12.962")


def test_the_minimum_charge_is_met_by_what_is_printed():
    """0.333 h is printed as 0.33; what is added brings 0.33 h to the hour, and one rate of 33.33 is charged."""
    found = quote(NO_WORK, Rates(rate=own("33.33"), hours={"fit": own("0.333")}))
    assert texts(found.lines[0].hours) == ("0.33", "0.33", "0.33")
    assert texts(found.hours) == ("1.00", "1.00", "1.00")
    assert texts(found.total) == ("33.33", "33.33", "33.33")


def test_an_uncertain_rate_counts_where_the_minimum_is_charged():
    """By hand: one hour whatever the check takes, at 110, 140, 170: mean 140, sd 10; P10 and P90 are 140 -/+ 12.82."""
    chances = quote(NO_WORK, Rates()).sums.chances
    assert [round(float(value), 1) for value in (chances.p10, chances.p50, chances.p90)] == [127.2, 140.0, 152.8]
    assert chances.mean == 140


def test_a_case_that_may_not_be_ground_is_charged_for_its_checks_only():
    found = quote(
        SOME,
        HUNDRED,
        Need("not allowed", Decimal(1), "result", "a crack was found"),
        Subject(verdict="STOP", instead=("another case",)),
    )
    assert {line.group for line in found.lines} == {"checks"}
    assert (found.with_grinding, found.options) == (None, ())
    assert found.head.marks == ("STOP: no grinding is priced, since a crack was found.",)
    assert "alters" not in {term.key for term in found.page.terms}
    assert found.page.instead == ("another case",)


def test_a_gear_set_that_clears_has_grinding_as_an_option_outside_the_total():
    found = quote(SOME, HUNDRED, Need("not needed", Decimal("0.004")))
    grind = found.options[0]
    assert (grind.key, grind.in_total, grind.chance_words) == ("grind", False, "less than 1 in 100")
    assert found.total == found.without.total
    assert found.sums.not_to_exceed == found.without.not_to_exceed


@pytest.mark.parametrize("answer", ["yes", "no", "call me"])
def test_what_the_customer_said_stands_with_the_option(answer):
    found = quote(SOME, Rates(rate=own(100), if_found={"grind": answer, "late": "no"}), OPEN)
    assert [option.answer for option in found.options] == [answer, "no"]
    assert (found.total == found.without.total) == (answer == "no")
    assert any("does not want" in note for note in found.page.notes) == (answer == "no")


@pytest.mark.parametrize(("measured", "head"), [(True, "QUOTE"), (False, "ESTIMATE BEFORE MEASURING")])
def test_the_head_says_whether_anything_was_measured(measured, head):
    subject = Subject(measured=measured, verdict="MEASURE FIRST", next_reading="the gap itself")
    found = quote(SOME, HUNDRED, OPEN, subject)
    assert found.head.headline == head
    assert found.head.marks[0] == "MEASURE FIRST: the price is not firm until this is read: the gap itself."


def test_days_are_counted_from_the_day_of_the_quote():
    found = quote(SOME, Rates(valid_days=14), subject=Subject(made_on=date(2026, 2, 20)))
    assert found.head.valid_until == date(2026, 3, 6)
    assert "14 days, to 2026-03-06" in found.page.terms[0].text
    assert quote(SOME, Rates()).head.valid_until is None


TERMS = {
    "valid": "30 days",
    "this_set": "the 7/36 gear set, the case marked F-1207 and the carrier",
    "decided": "yes, no or call me before anything is taken apart",
    "ceiling": "charged without asking you first",
    "case_fails": "checks and the strip are then owed",
    "own_gears": "counted when they arrive",
    "alters": "may end its maker's warranty and may break a class rule",
    "strength": "does not judge the strength",
}


def test_every_term_is_there_and_the_cut_is_signed_for():
    found = quote(SOME, HUNDRED, subject=Subject(teeth="7/36", case_mark="F-1207")).page
    assert {
        term.key: said in term.text for term, said in zip(found.terms, TERMS.values(), strict=True)
    } == dict.fromkeys(TERMS, True)
    assert [term.key for term in found.terms if term.signature] == ["alters"]
    assert "not legal advice" in found.terms_note


def test_a_shop_words_its_own_terms_and_the_signature_stays():
    found = quote(SOME, Rates(terms={"alters": "Ground is ground."}, more_terms=("Cash.",))).page.terms
    (alters,) = (term for term in found if term.key == "alters")
    assert (alters.text, alters.signature, alters.shops_own) == ("Ground is ground.", True, True)
    assert (found[-1].text, found[-1].shops_own) == ("Cash.", True)


def test_the_page_says_what_would_firm_the_price():
    firming = (Firming("the gap itself", 40.0, 0.62, 0.5), Firming("a shim", 5.0, 0.01, 0.02))
    undecided = quote(SOME, replace(HUNDRED, tax_percent=Decimal(10)), OPEN, Subject(firming=firming)).page
    assert [(each.reading, each.minutes, str(each.money)) for each in undecided.firmer] == [
        ("the gap itself", 40, "73.33")
    ]
    assert "about 62 in 100" in undecided.firmer[0].says
    planned = quote(SOME, HUNDRED, subject=Subject(firming=firming)).page
    assert "about 50 %" in planned.firmer[0].says


def test_the_page_says_what_is_not_known():
    page = quote(SOME, HUNDRED, OPEN, Subject(metal="metal")).page
    for said in ("about 30 in 100", "1 to 12 minutes", "What the case is made of", "Cracks, welds"):
        assert any(said in line for line in page.unknowns), said
    assert any(line.startswith("Blend and finish, if the boss has to be ground") for line in page.included)


def test_consumables_in_another_currency_are_a_share_of_the_labour():
    """No figure in dollars is used for pounds: 5, 7.5 and 10 % of the grinding's labour."""
    found = quote(SOME, Rates(currency="GBP", rate=own(100)))
    burr = next(line for line in found.lines if line.key == "consumables")
    ground = [line.money for line in found.lines if line.group == "grinding" and line.hours]
    assert burr.money.low == sum(money.low for money in ground) * Decimal("0.05")
    assert burr.money.high == sum(money.high for money in ground) * Decimal("0.10")
