"""Entries of the cards: all faults at once, each with its likely slip; what a blank costs is worked, never typed in."""

import pytest

from geartrack.cards.axle import Ring, read_axle
from geartrack.cards.case import CaseSaid, read_case
from geartrack.cards.entries import (
    Entry,
    Ratio,
    Slip,
    cost,
    costs,
    length,
    lengths,
    one_of,
    read_entries,
    teeth,
)
from geartrack.errors import Finding, InputError
from geartrack.gearset.teeth import ToothPair
from geartrack.materials import Material

BORE = Entry(
    "saddle_bore", "Saddle bore", "Bore gauge.", "taken as usual", length, 30.0, 160.0, (Slip(15, 30, "half?"),)
)
GAP = Entry("gap", "Gap", "Feeler.", "taken as none", length, 0.0, 5.0)
TEETH = Entry("teeth", "Teeth", "Count.", "no answer without them", teeth)
ENTRIES = (BORE, GAP, TEETH)


def faults(typed, **more):
    with pytest.raises(InputError) as caught:
        read_entries(ENTRIES, typed, **more)
    return str(caught.value).splitlines()


def test_blanks_are_left_out_and_values_are_in_millimetres():
    read = read_entries(ENTRIES, {"saddle_bore": "3 1/8 in", "gap": "  "})
    assert read == {"saddle_bore": pytest.approx(3.125 * 25.4)}


def test_every_fault_is_told_at_once_on_a_line_of_its_own():
    def too_near(values):
        yield Finding("gap", "does not go with the bore", "read both again")

    lines = faults({"saddle_bore": "3.07 mm", "gap": "1", "teeth": "39/8", "gpa": "1 mm"}, checks=(too_near,))
    assert [line.split(":")[0] for line in lines] == ["saddle bore", "gap", "teeth", "gpa", "gap"]
    assert "was 3.07 in meant?" in lines[0]
    assert "has no unit" in lines[1]
    assert "was gap meant?" in lines[3]


@pytest.mark.parametrize(
    ("typed", "slip"),
    [
        ("3.07 mm", "was 3.07 in meant?"),  # inch typed as millimetre
        ("78 in", "was 78 mm meant?"),  # and the other way
        ("20 mm", "half?"),  # the entry's own slip, named by its size
    ],
)
def test_the_likely_slip_is_named(typed, slip):
    (line,) = faults({"saddle_bore": typed})
    assert line.endswith(slip)
    assert "between 1.181 in (30.00 mm) and 6.299 in (160.00 mm)" in line


def test_the_range_is_in_the_unit_of_the_one_who_types():
    (line,) = faults({"saddle_bore": "3.07"}, units="mm")
    assert "between 30.00 mm (1.181 in) and 160.00 mm (6.299 in)" in line


def test_bare_numbers_need_a_unit_that_was_said():
    assert "no unit" in faults({"gap": "0.5"})[0]
    assert read_entries(ENTRIES, {"gap": "0.5"}, "mm") == {"gap": 0.5}
    assert read_entries(ENTRIES, {"gap": "0.02"}, "in") == {"gap": pytest.approx(0.508)}


def test_several_lengths_on_a_line():
    read = lengths(5)
    assert read("8.2 8.4 8.0 7.4 7.0 mm", "walls", None) == (8.2, 8.4, 8.0, 7.4, 7.0)
    assert read("8.2, 8.4, 8.0, 7.4, 7.0 mm", "walls", None) == (8.2, 8.4, 8.0, 7.4, 7.0)
    assert read("8.2 mm 8.4 mm 8 mm 7.4 mm 7 mm", "walls", None) == (8.2, 8.4, 8.0, 7.4, 7.0)
    assert read("8.2 8.4 8.0 7.4 7.0", "walls", "mm") == (8.2, 8.4, 8.0, 7.4, 7.0)
    assert read("5/16; 3/8; 1/4; 1/4; 5/16 in", "walls", None) == pytest.approx([7.9375, 9.525, 6.35, 6.35, 7.9375])
    for typed in ("8.2 8.4 mm", "8.2 8.4 8.0 7.4", "", "8.2 8.4 8.0 x 7.4 7.0"):
        with pytest.raises(InputError):
            read(typed, "walls", None)


def test_a_value_of_several_out_of_range_is_found():
    walls = Entry("walls", "Walls", "Ball caliper.", "taken as usual", lengths(3), 2.0, 30.0)
    with pytest.raises(InputError, match="is not likely") as caught:
        walls.value("8 80 1 mm")
    assert len(str(caught.value).splitlines()) == 2


def test_teeth_or_a_ratio():
    assert teeth("8/39", "teeth", None) == ToothPair(8, 39)
    assert teeth("5.14", "teeth", None) == Ratio(5.14)
    with pytest.raises(InputError, match=r"was 5.14 meant\?"):
        teeth("514", "teeth", None)


def test_a_choice_lists_what_can_be_said():
    read = one_of(yes="yes, y", not_seen="not seen, don't know")
    assert read(" Don’t  know ", "spline", None) == "not_seen"
    with pytest.raises(InputError, match="one of yes, not seen"):
        read("maybe", "spline", None)


@pytest.mark.parametrize(
    ("said", "read"),
    [
        ("nodular, never ground", CaseSaid(Material.NODULAR, ground=False)),
        ("Grey iron, ground before", CaseSaid(Material.GREY, ground=True)),
        ("gray; no cracks; not welded", CaseSaid(Material.GREY, cracked=False, welded=False)),
        ("aluminum", CaseSaid(Material.ALUMINIUM)),
        ("don't know", CaseSaid()),
        ("ground", CaseSaid(ground=True)),
        ("nodular but cracked", CaseSaid(Material.NODULAR, cracked=True)),
    ],
)
def test_the_case_in_a_few_words(said, read):
    assert read_case(said, "case", None) == read


@pytest.mark.parametrize("said", ["steel", "nodular or grey", "nodular 5.14"])
def test_what_is_not_understood_of_a_case_is_refused(said):
    with pytest.raises(InputError, match="such as: nodular, never ground"):
        read_case(said, "case", None)


@pytest.mark.parametrize(
    ("said", "pilot"),
    [("9 in, pilot", True), ("9 in, no pilot", False), ("9 in don't know", None), ("9 in", None), ('9", yes', True)],
)
def test_a_ring_and_its_pilot_bearing(said, pilot):
    read = read_axle(said, "axle", None)
    assert isinstance(read, Ring)
    assert (read.diameter_mm, read.pilot) == (pytest.approx(228.6), pilot)


@pytest.mark.parametrize("said", ["9 mm, pilot", "9, pilot", "9 in, maybe"])
def test_a_ring_that_cannot_be_is_refused(said):
    with pytest.raises(InputError):
        read_axle(said, "axle", None)


def test_costs_are_worked_from_the_answer():
    """A half range that is the sum of what each entry gives or takes: the cost is the difference, dearest first."""

    def half_range(typed):
        return (1.0 if "gap" in typed else 4.0) + (0.5 if "saddle_bore" in typed else 0.75)

    assumed = {"gap": "1 mm", "saddle_bore": "78 mm"}
    found = costs(ENTRIES, {}, half_range_mm=half_range, assumed=assumed, units="in")
    assert [(each.entry, each.mm) for each in found] == [("gap", 3.0), ("saddle_bore", 0.25)]
    assert found[0].words == "gap: not measured: adds 0.119 in (3.00 mm); taken as none"
    assert costs(ENTRIES, assumed, half_range_mm=half_range, assumed=assumed, units="in") == ()


def test_a_cost_is_rounded_up_and_no_answer_is_said():
    assert "0.001 in (0.01 mm)" in cost(GAP, 0.006, "in").words
    assert "leaves the gap as it is" in cost(GAP, 0.0, "in").words
    assert "no answer without it" in cost(GAP, None, "in").words
