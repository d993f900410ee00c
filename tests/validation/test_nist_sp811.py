"""NIST Special Publication 811, Guide for the Use of the International System of Units, 2008 edition, Appendix B.

Factors of B.8 (units listed alphabetically) with their printed digits, which round at the seventh; bold ones are exact.
The torque factors were read as quoted from SP 811 in two public repositories; the others are from memory of the table.
"""

import pytest

from geartrack.units import parse_angle, parse_length, parse_torque, show_length

EXACT_M = [("1 in", 2.54e-02), ("1 ft", 3.048e-01), ("1 thou", 2.54e-05), ("1 micron", 1.0e-06), ("1 cm", 1.0e-02)]
PRINTED_NM = [("1 lb-in", 1.129848e-01), ("1 lb-ft", 1.355818e00)]
PRINTED_RAD = [("1 deg", 1.745329e-02), ("0° 1'", 2.908882e-04)]


@pytest.mark.parametrize(("text", "metres"), EXACT_M)
def test_lengths_in_bold_are_exact(text, metres):
    # the parser answers in mm: one multiplication by 1000 may round
    assert parse_length(text) == pytest.approx(metres * 1000, rel=2**-52)


@pytest.mark.parametrize(("text", "newton_metres"), PRINTED_NM)
def test_torques_to_the_printed_digits(text, newton_metres):
    assert float(f"{parse_torque(text):.6e}") == newton_metres


def test_kilogram_force_metre_is_exact():
    assert parse_torque("1 kgf.m") == 9.80665


@pytest.mark.parametrize(("text", "radians"), PRINTED_RAD)
def test_angles_to_the_printed_digits(text, radians):
    assert float(f"{parse_angle(text):.6e}") == radians


@pytest.mark.parametrize(
    ("tenths", "shown"),
    # B.7.1: a discarded 5 with nothing after it leaves an even last digit
    [(205, "0.020 in"), (215, "0.022 in"), (225, "0.022 in"), (235, "0.024 in"), (206, "0.021 in"), (204, "0.020 in")],
)
def test_ties_are_rounded_to_even(tenths, shown):
    assert show_length(parse_length(f"{tenths}e-4 in"), "in") == shown
