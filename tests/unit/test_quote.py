"""The quote: hand-worked sheets in Decimal, no binary money, defaults labelled."""

from decimal import Decimal

import pytest

from geartrack.materials import FACTS, Material
from geartrack.quote import Own, Rates, Work, fixed, quote

NO_WORK = Work((0.0, 0.0, 0.0), (0.0, 0.0, 0.0), Material.NODULAR)
SOME = Work((1.8, 6.0, 12.0), (0.2, 0.6, 1.1), Material.NODULAR)


def own(value):
    """A figure of the shop, typed."""
    return Own(fixed(Decimal(value)), "typed")


HUNDRED = Rates(rate=own(100))


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
