"""Quotes of any work at any shop: what is printed adds up, low to high rises, dearer figures never make it cheaper."""

from dataclasses import replace
from decimal import Decimal

from hypothesis import given, settings
from hypothesis import strategies as st

from geartrack.currencies import smallest
from geartrack.materials import Material
from geartrack.quote import HOURS_KEYS, Need, Own, Rates, Sublet, Three, Work, quote
from geartrack.quote.pert import summed

decimals = st.decimals(min_value=0, max_value=500, places=2)


@st.composite
def threes(draw, values=decimals):
    """Low, likely and high, rising."""
    return Three(*sorted(draw(values) for _ in range(3)))


def own(values=decimals):
    """Figures of a shop."""
    return threes(values).map(lambda three: Own(three, "shop file"))


hours = own(st.decimals(min_value=0, max_value=20, places=3))
rates = st.builds(
    Rates,
    currency=st.sampled_from(["USD", "GBP", "JPY", "KWD"]),
    rate=own(),
    consumables=st.none() | own(),
    crack_check_fee=st.none() | own(),
    minimum_hours=st.none() | decimals.map(lambda value: Own(Three(value / 100, value / 100, value / 100), "typed")),
    removal_g_min=st.none() | own(st.decimals(min_value="0.01", max_value=50, places=2)),
    hours=st.dictionaries(st.sampled_from(HOURS_KEYS), hours, max_size=4),
    sublets=st.lists(
        st.builds(
            Sublet,
            name=st.just("Sent out"),
            fee=threes(),
            when=st.sampled_from(["always", "if ground"]),
            origin=st.just(""),
        ),
        max_size=3,
    ).map(tuple),
    tax_percent=st.none() | st.decimals(min_value=0, max_value=100, places=3),
    round_to=st.sampled_from([None, Decimal(1), Decimal(5)]),
    arrives=st.sampled_from(["bare case", "assembled"]),
    if_found=st.dictionaries(st.sampled_from(["grind", "late"]), st.sampled_from(["yes", "no", "call me"])),
)
rising = st.lists(st.floats(0, 40), min_size=3, max_size=3).map(lambda values: tuple(sorted(values)))
works = st.builds(
    Work,
    mass_g=rising,
    depth_mm=rising.map(lambda values: tuple(value / 20 for value in values)),
    material=st.sampled_from(Material),
    passes=st.none() | st.lists(st.integers(1, 9), min_size=3, max_size=3).map(lambda values: tuple(sorted(values))),
)
needs = st.builds(
    Need,
    stands=st.sampled_from(["planned", "open", "not needed", "not allowed"]),
    chance=st.decimals(min_value=0, max_value=1, places=3),
)


def all_sums(made):
    """Every sum of a quote that a sheet prints."""
    return [made.sums, made.without, *([made.with_grinding] if made.with_grinding else [])]


def money_of(made):
    """Every sum of money of a quote."""
    threes_of = [line.money for line in made.lines] + [option.total for option in made.options] + [made.owed]
    for sums in all_sums(made):
        threes_of += [sums.lines, sums.minimum, sums.net, sums.tax, sums.rounding, sums.total]
        yield from (sums.chances.p10, sums.chances.p50, sums.chances.p90, sums.chances.mean, sums.not_to_exceed)
    yield from (value for three in threes_of for value in three.values)


@settings(max_examples=150)
@given(works, rates, needs)
def test_what_is_printed_adds_up(work, shop, need):
    made = quote(work, shop, need)
    counted = [line for line in made.lines if line.group == "checks"]
    for sums, lines in ((made.without, counted), (made.with_grinding, [x for x in made.lines if x.group != "option"])):
        if sums is None:
            continue
        for part in ("low", "likely", "high"):
            assert sum(getattr(line.money, part) for line in lines) == getattr(sums.lines, part)
    for sums in all_sums(made):
        assert sums.net == sums.lines + sums.minimum
        assert sums.total == sums.net + sums.tax + sums.rounding
        assert all(value >= 0 for value in (*sums.minimum.values, *sums.rounding.values))
    places = smallest(shop.currency).as_tuple().exponent
    assert {value.as_tuple().exponent for value in money_of(made)} == {places}


@settings(max_examples=150)
@given(works, rates, needs)
def test_low_is_never_above_high(work, shop, need):
    made = quote(work, shop, need)
    for line in made.lines:
        assert line.money.rises, line
        assert line.hours is None or line.hours.rises, line
    for sums in all_sums(made):
        chances = sums.chances
        assert sums.total.rises
        assert sums.hours.rises
        assert sums.total.low <= chances.p10 <= chances.p50 <= chances.p90 <= sums.total.high
        assert chances.p90 <= sums.not_to_exceed
    assert made.owed.rises


@settings(max_examples=150)
@given(works, rates, needs)
def test_the_hours_charged_never_fall_under_the_minimum(work, shop, need):
    made = quote(work, shop, need)
    least, rate = made.figures.minimum_hours, made.figures.rate
    for sums in all_sums(made):
        assert sums.hours.low >= least
        assert sums.net.low >= (least * rate.low).quantize(smallest(shop.currency)) - smallest(shop.currency)


@settings(max_examples=100)
@given(works, rates, needs, st.decimals(min_value=0, max_value=200, places=2))
def test_a_dearer_hour_never_makes_it_cheaper(work, shop, need, more):
    value = shop.rate.value
    dearer = replace(shop, rate=Own(Three(*(each + more for each in value.values)), "shop file"))
    cheap, dear = quote(work, shop, need), quote(work, dearer, need)
    pairs = [
        (cheap.owed, dear.owed),
        *zip([s.total for s in all_sums(cheap)], [s.total for s in all_sums(dear)], strict=True),
    ]
    for less, most in pairs:
        assert all(a <= b for a, b in zip(less.values, most.values, strict=True))


@settings(max_examples=100)
@given(works, rates, st.lists(st.decimals(min_value=0, max_value=1, places=3), min_size=2, max_size=2))
def test_a_greater_chance_of_grinding_never_makes_it_cheaper(work, shop, chances):
    """The lowest tenth may come down: what grinding costs spreads wider about its higher mean."""
    low, high = (quote(work, shop, Need("open", chance)).sums for chance in sorted(chances))
    assert low.chances.mean <= high.chances.mean
    assert low.chances.p50 <= high.chances.p50
    assert low.chances.p90 <= high.chances.p90
    assert low.total.likely <= high.total.likely


@settings(max_examples=60)
@given(works, rates)
def test_a_chance_of_none_or_all_leaves_one_way(work, shop):
    never, always = (quote(work, replace(shop, if_found={}), Need("open", Decimal(chance))) for chance in (0, 1))
    assert never.sums.chances == never.without.chances
    if always.with_grinding:
        assert always.sums.chances == always.with_grinding.chances


@given(st.lists(st.tuples(st.sampled_from(["", "cut", "gap"]), threes()), min_size=2, max_size=8), st.randoms())
def test_the_order_of_the_lines_does_not_matter(lines, shuffled):
    mixed = list(lines)
    shuffled.shuffle(mixed)
    one, other = summed(lines), summed(mixed)
    assert abs(one.mean - other.mean) < Decimal("1e-20")
    assert abs(one.variance - other.variance) < Decimal("1e-20")


@settings(max_examples=60)
@given(works, rates, needs)
def test_the_order_of_work_given_out_does_not_matter(work, shop, need):
    turned = quote(work, replace(shop, sublets=shop.sublets[::-1]), need)
    made = quote(work, shop, need)
    assert (made.total, made.owed, made.sums.not_to_exceed) == (turned.total, turned.owed, turned.sums.not_to_exceed)
