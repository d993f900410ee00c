"""Units: what people type is read as they mean it, and what has no one meaning is refused in words they can act on."""

import math

import pytest

from geartrack.errors import InputError
from geartrack.units import (
    in_units,
    other_units,
    parse_angle,
    parse_clock,
    parse_length,
    parse_number,
    parse_torque,
    show_both,
    show_length,
)

# Closed forms: the number as typed times the exact factor (1 in = 25.4 mm), worked by hand.
LENGTHS = [
    ("9 1/2 in", 241.3),
    ('9-1/2"', 241.3),
    ("9½ in", 241.3),
    ("20 thou", 0.508),
    ('.020"', 0.508),
    ("0.020 in", 0.508),
    ("+0.020 in", 0.508),
    ("0,5 mm", 0.5),
    ("0,5000 mm", 0.5),
    (",5 mm", 0.5),
    ("5. mm", 5.0),
    ('1/2"', 12.7),
    ("3/2 in", 38.1),
    ("½ in", 12.7),
    ("240mm", 240.0),
    ("  240   MM ", 240.0),
    ("2 ft", 609.6),
    ("1.5 cm", 15.0),
    ("12 µm", 0.012),
    ("12 μm", 0.012),
    ("12 um", 0.012),
    ("0.25 m", 250.0),
    ("1e-3 in", 0.0254),
    ("2.5e+1 mm", 25.0),
    ("1 in.", 25.4),
    ("7 inches", 177.8),
    ("0.5\u00a0mm", 0.5),
    ("0 mm", 0.0),
]


@pytest.mark.parametrize(("text", "mm"), LENGTHS)
def test_a_typed_length_is_the_nearest_float_to_its_exact_value(text, mm):
    assert parse_length(text) == mm


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("", "nothing typed; type it like 0.020 in, 20 thou or 0.5 mm"),
        ("   ", "nothing typed; type it like 0.020 in, 20 thou or 0.5 mm"),
        ("5", "'5' has no unit; type it like 0.020 in, 20 thou or 0.5 mm"),
        ("9 1/2", "'9 1/2' has no unit; type it like 0.020 in, 20 thou or 0.5 mm"),
        ("1,500 in", "'1,500 in' can be read two ways; type 1.500 in or 1500 in"),
        ("12345,678 mm", "'12345,678 mm' can be read two ways; type 12345.678 mm or 12345678 mm"),
        ("5 milimeters", "'5 milimeters' has an unknown unit 'milimeters'; was millimeters meant?"),
        ("5 inc", "'5 inc' has an unknown unit 'inc'; was inch meant?"),
        ("5 furlong", "'5 furlong' has an unknown unit 'furlong'; type it like 0.020 in, 20 thou or 0.5 mm"),
        ("20 mil", "a mil is a thousandth of an inch to some and a millimetre to others; type thou or mm"),
        ("2 tenths", "a tenth is 0.1 mm to some and 0.0001 in to others; type mm or in"),
        ("9 3/2 in", "'9 3/2 in' holds no proper fraction; type it like 0.020 in, 20 thou or 0.5 mm"),
        ("1/0 in", "'1/0 in' holds no proper fraction; type it like 0.020 in, 20 thou or 0.5 mm"),
        ("-5 mm", "'-5 mm' is below zero; zero or more belongs here"),
        ("−5 mm", "'-5 mm' is below zero; zero or more belongs here"),
        ("1" * 65 + " mm", "'11111111111111111111'... is too long for a number with its unit"),
        *(
            (text, f"{text!r} is not one number with its unit; type it like 0.020 in, 20 thou or 0.5 mm")
            for text in (
                "nan",
                "inf",
                "-inf mm",
                "1e400 in",
                "9**9 in",
                "9**9**9 in",
                "1.5.2 in",
                "1..5 in",
                "1 000 mm",
                "1,500.5 in",
                "5 -mm",
                "--5 in",
                "1/2/3 in",
                "9.5 1/2 in",
                "mm",
                "x10 mm",
                "5^2 mm",
                "(5) mm",
            )
        ),
    ],
)
def test_what_has_no_one_meaning_is_refused(text, message):
    with pytest.raises(InputError) as caught:
        parse_length(text)
    assert message in str(caught.value)


def test_a_refusal_names_its_place():
    with pytest.raises(InputError, match=r"^job\.toml, key axle\.offset \(line 3\): '5' has no unit; "):
        parse_length("5", where="job.toml, key axle.offset (line 3)")


@pytest.mark.parametrize("not_text", [5, 5.0, None, b"5 mm", ["5 mm"]])
def test_only_text_is_read(not_text):
    with pytest.raises(InputError, match="is not text"):
        parse_length(not_text)


def test_a_default_unit_serves_bare_numbers_only():
    assert parse_length("0.5", default_unit="mm") == 0.5
    assert parse_length("1/2", default_unit="in") == 12.7
    assert parse_length("20 thou", default_unit="mm") == 0.508


def test_a_signed_length_may_be_negative_and_zero_has_no_sign():
    assert parse_length("-9 1/2 in", signed=True) == -241.3
    assert math.copysign(1, parse_length("-0 mm", signed=True)) == 1


@pytest.mark.parametrize(
    ("text", "degrees"),
    [
        ("50deg", 50.0),
        ("50 °", 50.0),
        ("50 degrees", 50.0),
        ("35° 30'", 35.5),
        ("35°30′", 35.5),
        ("35 deg 30 min", 35.5),
        ("-35° 30'", -35.5),
        ("0,5 deg", 0.5),
        ("7 1/2 deg", 7.5),
    ],
)
def test_a_typed_angle(text, degrees):
    # 1e-15: radians(x) rounds twice, the exact fraction once
    assert parse_angle(text) == pytest.approx(math.radians(degrees), rel=1e-15)


def test_right_angles_are_exact():
    assert parse_angle("90 deg") == math.pi / 2
    assert parse_angle("1.25 rad") == 1.25
    assert parse_angle("180", default_unit="deg") == math.pi


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("50", "'50' has no unit; type it like 50 deg"),
        ("50 grad", "unknown unit 'grad'; was rad meant"),
        ("35° 61'", "\"35° 61'\" is not an angle in degrees and minutes; type it like 35° 30'"),
        ("12 in", "unknown unit 'in'"),
    ],
)
def test_a_bad_angle_is_refused(text, message):
    with pytest.raises(InputError) as caught:
        parse_angle(text)
    assert message in str(caught.value)


# A clock's hour hand: 30 degrees an hour, half a degree a minute, counted to half a turn either way.
@pytest.mark.parametrize(
    ("text", "degrees"),
    [
        ("12 o'clock", 0),
        ("1 o'clock", 30),
        ("3 O’Clock", 90),
        ("6 o'clock", 180),
        ("7 o'clock", -150),
        ("11 oclock", -30),
        ("1:30 o'clock", 45),
        ("12:30 o'clock", 15),
        ("11:59 o'clock", -0.5),
        ("45 deg", 45),
        ("-180 deg", 180),
        ("540 deg", 180),
        ("350 deg", -10),
    ],
)
def test_a_place_round_the_boss(text, degrees):
    # 1e-15: half a turn's last bit
    assert parse_clock(text) == pytest.approx(math.radians(degrees), abs=1e-15)


@pytest.mark.parametrize("text", ["0 o'clock", "13 o'clock", "1:60 o'clock", "one o'clock", "-1 o'clock", "o'clock"])
def test_what_is_not_on_a_clock_face_is_refused(text):
    with pytest.raises(InputError, match="is not on a clock face; type it like 1 o'clock, 1:30 o'clock or 30 deg"):
        parse_clock(text)


def test_an_angle_below_zero_can_be_refused():
    with pytest.raises(InputError, match="below zero"):
        parse_angle("-5 deg", signed=False)
    with pytest.raises(InputError, match="below zero"):
        parse_angle("-35° 30'", signed=False)


@pytest.mark.parametrize("text", ["20 lb-in", "20 in-lb", "20 lbf·in", "20 lb in", "20 lb.in", "20 LB-IN"])
def test_one_torque_spelled_many_ways(text):
    assert parse_torque(text) == parse_torque("20 lb-in")


def test_a_foot_is_twelve_inches_of_torque_too():
    assert parse_torque("1 lb-ft") == parse_torque("12 lb-in")
    assert parse_torque("95 N.m") == parse_torque("95Nm") == parse_torque("95 N·m") == 95


def test_a_bad_torque_is_refused():
    with pytest.raises(InputError, match="'20 lb' has an unknown unit 'lb'"):
        parse_torque("20 lb")
    with pytest.raises(InputError, match="below zero"):
        parse_torque("-20 lb-in")


def test_a_plain_number():
    assert parse_number("0,85") == 0.85
    assert parse_number("-3/4", signed=True) == -0.75
    with pytest.raises(InputError, match=r"'0\.85 mm' is not a plain number; type it like 0\.85, without a unit"):
        parse_number("0.85 mm")


# Down is toward minus infinity and up toward plus infinity: a gap is never shown larger, a cut never smaller.
@pytest.mark.parametrize(
    ("mm", "units", "rounding", "shown"),
    [
        (0.508, "in", "down", "0.020 in"),
        (0.508, "in", "up", "0.020 in"),
        (20 * 0.0254, "in", "down", "0.020 in"),  # 0.5079999999999999 as a float product
        (0.1 + 0.2, "mm", "up", "0.30 mm"),  # 0.30000000000000004
        (0.49784, "in", "down", "0.019 in"),  # 0.0196 in never becomes 0.020
        (0.49784, "in", "nearest", "0.020 in"),
        (0.49784, "in", "up", "0.020 in"),
        (0.499, "mm", "down", "0.49 mm"),
        (0.491, "mm", "up", "0.50 mm"),
        (-0.001, "mm", "down", "-0.01 mm"),
        (-0.001, "mm", "up", "0.00 mm"),
        (-0.001, "mm", "nearest", "0.00 mm"),
        (-0.491, "mm", "down", "-0.50 mm"),
        (0.5207, "in", "nearest", "0.020 in"),  # 0.0205 in: a tie goes to the even digit, NIST SP 811 B.7.1
        (0.5461, "in", "nearest", "0.022 in"),  # 0.0215 in
        (241.3, "in", "down", "9.500 in"),
        (0.0, "mm", "up", "0.00 mm"),
    ],
)
def test_a_length_is_shown_against_the_shop(mm, units, rounding, shown):
    assert show_length(mm, units, rounding=rounding) == shown


@pytest.mark.parametrize("bad", [math.nan, math.inf, -math.inf])
def test_what_is_no_length_is_never_shown(bad):
    with pytest.raises(InputError, match="is not a length"):
        show_length(bad, "mm")


def test_both_units_round_the_same_way():
    assert show_both(0.508, "in") == "0.020 in (0.51 mm)"
    assert show_both(0.508, "in", rounding="down") == "0.020 in (0.50 mm)"
    assert show_both(0.5, "mm", rounding="down") == "0.50 mm (0.019 in)"
    assert show_both(0.5, "mm", rounding="up") == "0.50 mm (0.020 in)"


def test_in_units():
    assert in_units(50.8, "in") == 2.0
    assert in_units(50.8, "mm") == 50.8


def test_the_same_number_in_other_units():
    assert dict(other_units("9 mm")) == {"9 in": 228.6, "9 thou": 0.2286, "9 cm": 90.0}
    assert dict(other_units('.5"')) == {".5 mm": 0.5, ".5 thou": 0.0127, ".5 cm": 5.0}
    assert other_units("nonsense") == []
