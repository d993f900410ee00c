"""Units under arbitrary input: round trips, agreement with pint on the common subset, nothing but InputError."""

import math
from fractions import Fraction

import pint
import pytest
from hypothesis import assume, example, given
from hypothesis import strategies as st

from geartrack.errors import InputError
from geartrack.units import in_units, parse_angle, parse_clock, parse_length, parse_number, parse_torque, show_length

PINT = pint.UnitRegistry()
PARSERS = (parse_length, parse_angle, parse_clock, parse_torque, parse_number)
LENGTHS = {"mm": "mm", "in": "inch", "inch": "inch", "cm": "cm", "m": "m", "ft": "foot", "um": "um", "thou": "thou"}
TORQUES = {"lb-in": "lbf * inch", "lb-ft": "lbf * foot", "N.m": "newton * meter", "kgf.m": "kgf * meter"}

decimals = st.decimals(min_value=0, max_value=9999, places=4, allow_nan=False).map(lambda d: f"{d:f}")
lengths_mm = st.floats(min_value=-1000, max_value=1000)


@given(decimals, st.sampled_from(sorted(LENGTHS)), st.sampled_from(["", " ", "  "]))
def test_lengths_agree_with_pint(number, unit, gap):
    reference = PINT.Quantity(float(number), LENGTHS[unit]).to("mm").magnitude
    # 4 rounding steps of pint's floats against our one
    assert math.isclose(parse_length(f"{number}{gap}{unit}"), reference, rel_tol=4 * 2**-52, abs_tol=0)


@given(decimals, st.sampled_from(["deg", "rad"]))
def test_angles_agree_with_pint(number, unit):
    reference = PINT.Quantity(float(number), {"deg": "degree", "rad": "radian"}[unit]).to("radian").magnitude
    assert math.isclose(parse_angle(f"{number} {unit}"), reference, rel_tol=4 * 2**-52)


@given(decimals, st.sampled_from(sorted(TORQUES)))
def test_torques_agree_with_pint(number, unit):
    reference = PINT.Quantity(float(number), TORQUES[unit]).to("newton * meter").magnitude
    assert math.isclose(parse_torque(f"{number} {unit}"), reference, rel_tol=8 * 2**-52)


@given(st.floats(min_value=1e-9, max_value=1e6))
def test_a_float_typed_in_full_reads_back_exactly(mm):
    assert parse_length(f"{mm!r} mm") == mm
    assert parse_angle(f"{mm!r} rad") == mm
    assert parse_number(repr(mm)) == mm


@given(st.integers(0, 40), st.integers(0, 63), st.sampled_from([2, 4, 8, 16, 32, 64]), st.sampled_from([" ", "-"]))
def test_a_mixed_number_is_its_whole_and_its_fraction(whole, top, bottom, gap):
    assume(0 < top < bottom)
    assert parse_length(f"{whole}{gap}{top}/{bottom} in") == float((whole + Fraction(top, bottom)) * Fraction("25.4"))


@given(st.integers(0, 99999), st.text("0123456789", min_size=1, max_size=6))
def test_a_decimal_comma_means_a_point_except_before_three_digits(whole, places):
    text = f"{whole},{places} mm"
    if len(places) == 3:
        with pytest.raises(InputError, match="two ways"):
            parse_length(text)
    else:
        assert parse_length(text) == float(f"{whole}.{places}")


@given(lengths_mm, st.sampled_from(["in", "mm"]))
def test_rounding_brackets_the_value_and_reads_back(mm, units):
    shown = {r: show_length(mm, units, rounding=r) for r in ("down", "nearest", "up")}
    down, near, up = (parse_length(text, signed=True) for text in shown.values())
    step = 0.0254 if units == "in" else 0.01
    fuzz = 2e-6 * step
    assert down - fuzz <= mm <= up + fuzz
    assert down <= near <= up
    assert abs(near - mm) <= step / 2 + fuzz
    assert up - down <= step * (1 + 1e-9)


@given(st.integers(-20000, 20000), st.floats(-1e-10, 1e-10))
def test_a_whole_number_of_thou_is_shown_as_itself_however_computed(thou, noise):
    texts = {show_length(thou * 0.0254 + noise, "in", rounding=r) for r in ("down", "nearest", "up")}
    assert texts == {f"{thou / 1000:.3f} in"}


@given(lengths_mm, lengths_mm, st.sampled_from(["in", "mm"]), st.sampled_from(["down", "nearest", "up"]))
def test_showing_keeps_the_order(a, b, units, rounding):
    low, high = sorted((a, b))
    shown = [in_units(parse_length(show_length(x, units, rounding=rounding), signed=True), units) for x in (low, high)]
    assert shown[0] <= shown[1]


def outcome(parse, text):
    """The value and no refusal, or zero and the refusal."""
    try:
        return parse(text), None
    except InputError as error:
        return 0.0, error


# Only the grammar's own characters, so that most texts come near to being read.
NEAR_NUMBERS = st.text(alphabet="0123456789.,/-+eE*^ '\"°½minthoudegradclk:\u00a0", max_size=80)


@given(st.one_of(st.text(max_size=200), NEAR_NUMBERS))
@example("9**9**9 in")
@example("1e400 in")
@example("1" * 1_000_000 + " mm")
@example("1/" * 30)
@example("½" * 64)
@example("9 " * 32)
@example("\ud800 mm")
@example("1e99 km")
def test_any_text_is_read_or_refused_on_one_line(text):
    for parse in PARSERS:
        value, refused = outcome(parse, text)
        assert math.isfinite(value)
        assert refused is None or (len(refused.findings) == 1 and len(str(refused).splitlines()) == 1)
