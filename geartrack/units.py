"""Lengths, angles and torques as people type and read them; the only place that converts.

Factors: NIST SP 811 (2008 ed.), Appendix B; an inch is 25.4 mm exactly, a pound-force 4.448 221 615 260 5 N exactly.
A text is read as an exact fraction, multiplied by an exact factor and rounded to a float once, at the end.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from difflib import get_close_matches
from fractions import Fraction
from types import MappingProxyType
from typing import Literal

from geartrack.errors import InputError, refuse

Units = Literal["in", "mm"]
Rounding = Literal["nearest", "down", "up"]

MM_PER_IN = 25.4
UNIT_WORDS: Mapping[Units, str] = MappingProxyType({"in": "inch", "mm": "mm"})  # where "in" would read as a word
LONGEST_TEXT = 64
_SAME_STEP = 1e-6

_IN = Fraction(254, 10)
_LBF_N = Fraction(44482216152605, 10**13)
_PI = Fraction(math.pi)


def _table(*rows: tuple[Fraction, str]) -> Mapping[str, Fraction]:
    return MappingProxyType({spelling: factor for factor, spellings in rows for spelling in spellings.split("|")})


_LENGTH_MM = _table(
    (Fraction(1), "mm|millimetre|millimetres|millimeter|millimeters"),
    (_IN, "in|in.|inch|inches|\"|''"),
    (_IN / 1000, "thou|thous|thousandth|thousandths"),
    (Fraction(10), "cm|centimetre|centimetres|centimeter|centimeters"),
    (Fraction(1, 1000), "µm|um|micron|microns|micrometre|micrometres"),
    (Fraction(1000), "m|metre|metres|meter|meters"),
    (_IN * 12, "ft|ft.|foot|feet|'"),
)
_ANGLE_RAD = _table((_PI / 180, "deg|degree|degrees|°"), (Fraction(1), "rad|radian|radians"))
_TORQUE_NM = _table(
    (Fraction(1), "N.m|n.m|nm"),
    (_LBF_N * _IN / 1000, "lb-in|lb.in|lbf.in|in.lb|in.lbf"),
    (_LBF_N * _IN * 12 / 1000, "lb-ft|lb.ft|lbf.ft|ft.lb|ft.lbf"),
    (Fraction(980665, 100000), "kgf.m|kg.m"),
)
_MIL = "a mil is a thousandth of an inch to some and a millimetre to others; type thou or mm"
_TENTH = "a tenth is 0.1 mm to some and 0.0001 in to others; type mm or in"
_TWO_MEANINGS = MappingProxyType({"mil": _MIL, "mils": _MIL, "tenth": _TENTH, "tenths": _TENTH})

_SPELLINGS = str.maketrans(
    {"−": "-", "–": "-", "″": '"', "”": '"', "“": '"', "′": "'", "’": "'", "‘": "'", "μ": "µ", "º": "°", "⁄": "/"}
    | {"·": ".", "⋅": ".", "\u00a0": " ", "\u202f": " ", "\u2009": " "}
    | {"¼": " 1/4", "½": " 1/2", "¾": " 3/4", "⅛": " 1/8", "⅜": " 3/8", "⅝": " 5/8", "⅞": " 7/8"}
)
# Possessive repeats over single characters: no backtracking, so matching is linear in the text.
_NUMBER = re.compile(
    r"(?P<typed>(?P<sign>[+-]?) ?(?:(?:(?P<whole>[0-9]++)[ -])?(?P<top>[0-9]++) ?/ ?(?P<bottom>[0-9]++)"
    r"|(?P<decimal>[0-9]++(?:[.,][0-9]*+)?|[.,][0-9]++)(?:e(?P<power>[+-]?[0-9]{1,2}+))?))"
    r" ?(?P<unit>(?!e[+-]?[0-9])[^0-9.,/+*^ -].*+)?"
)
_DEGREES_MINUTES = re.compile(r"([+-]?) ?([0-9]{1,4}+) ?(?:°|deg) ?([0-9]++(?:[.,][0-9]++)?) ?(?:'|min)")
_OCLOCK = re.compile(r"(1[0-2]|0?[1-9])(?::([0-5][0-9]))? ?o'?clock")
_AMBIGUOUS = re.compile(r"[0-9],[0-9]{3}(?![0-9])")


def _tidy(text: str, where: str, like: str) -> str:
    if not isinstance(text, str):
        raise refuse(where, f"{text!r} is not text", f"type it like {like}")
    if len(text) > LONGEST_TEXT:
        raise refuse(where, f"{text[:20]!r}... is too long for a number with its unit", f"type it like {like}")
    tidy = " ".join(text.translate(_SPELLINGS).lower().split())
    if not tidy:
        raise refuse(where, "nothing typed", f"type it like {like}")
    return tidy


def _read(tidy: str, where: str, like: str) -> tuple[Fraction, str]:
    """The number at the front of a tidied text, exactly, and the unit after it."""
    match = _NUMBER.fullmatch(tidy)
    if match is None:
        raise refuse(where, f"{tidy!r} is not one number with its unit", f"type it like {like}")
    if _AMBIGUOUS.search(match["typed"]):
        readings = f"{tidy.replace(',', '.')} or {tidy.replace(',', '')}"
        raise refuse(where, f"{tidy!r} can be read two ways", f"type {readings}")
    if match["top"]:
        whole, top, bottom = match["whole"], int(match["top"]), int(match["bottom"])
        if bottom == 0 or (whole and top >= bottom):
            raise refuse(where, f"{tidy!r} holds no proper fraction", f"type it like {like}")
        value = int(whole or 0) + Fraction(top, bottom)
    else:
        value = Fraction(match["decimal"].replace(",", ".").rstrip(".")) * Fraction(10) ** int(match["power"] or 0)
    return (-value if match["sign"] == "-" else value), match["unit"] or ""


def _signed_float(value: Fraction, tidy: str, where: str, signed: bool) -> float:
    if value < 0 and not signed:
        raise refuse(where, f"{tidy!r} is below zero", "zero or more belongs here")
    return float(value)


def _unit_unknown(tidy: str, unit: str, table: Mapping[str, Fraction], where: str, like: str) -> InputError:
    if not unit:
        return refuse(where, f"{tidy!r} has no unit", f"type it like {like}")
    if unit in _TWO_MEANINGS:
        return refuse(where, f"{tidy!r} can be read two ways", _TWO_MEANINGS[unit])
    near = get_close_matches(unit, table, n=1, cutoff=0.5)
    return refuse(
        where, f"{tidy!r} has an unknown unit {unit!r}", f"was {near[0]} meant?" if near else f"type it like {like}"
    )


def _parse(
    text: str, table: Mapping[str, Fraction], *, where: str, like: str, signed: bool, default_unit: str | None
) -> float:
    tidy = _tidy(text, where, like)
    value, unit = _read(tidy, where, like)
    factor = table.get(unit or default_unit or "") or table.get(unit.replace(" ", ".").replace("-", "."))
    if factor is None:
        raise _unit_unknown(tidy, unit, table, where, like)
    return _signed_float(value * factor, tidy, where, signed)


def parse_length(text: str, *, where: str = "", default_unit: Units | None = None, signed: bool = False) -> float:
    """A typed length in millimetres.

    where: file and key, for the message; default_unit: the unit of a bare number, None refuses it; signed: whether a
    negative length has a meaning here. Raises InputError and nothing else.

    >>> parse_length("9 1/2 in"), parse_length("20 thou"), parse_length("0,5 mm")
    (241.3, 0.508, 0.5)
    """
    like = "0.020 in, 20 thou or 0.5 mm"
    return _parse(text, _LENGTH_MM, where=where, like=like, signed=signed, default_unit=default_unit)


def parse_angle(
    text: str, *, where: str = "", default_unit: Literal["deg", "rad"] | None = None, signed: bool = True
) -> float:
    """A typed angle in radians; degrees and minutes may be typed.

    >>> round(parse_angle("35° 30'"), 6), round(parse_angle("35.5 deg"), 6)
    (0.619592, 0.619592)
    """
    like = "50 deg"
    tidy = _tidy(text, where, like)
    match = _DEGREES_MINUTES.fullmatch(tidy)
    if match:
        sign, degrees, minutes_text = match.groups()
        minutes = Fraction(minutes_text.replace(",", "."))
        if minutes >= 60:
            raise refuse(where, f"{tidy!r} is not an angle in degrees and minutes", "type it like 35° 30'")
        value = (int(degrees) + minutes / 60) * _ANGLE_RAD["deg"]
        return _signed_float(-value if sign == "-" else value, tidy, where, signed)
    return _parse(text, _ANGLE_RAD, where=where, like=like, signed=signed, default_unit=default_unit)


def parse_clock(text: str, *, where: str = "") -> float:
    """A place round the boss as an angle in radians, above -pi and up to pi: "1 o'clock", "1:30 o'clock" or "45 deg".

    12 is straight at the ring gear, seen from the pinion-nut end, clockwise positive (geartrack.frame).

    >>> [round(math.degrees(parse_clock(text))) for text in ("12 o'clock", "1:30 o'clock", "9 o'clock", "330 deg")]
    [0, 45, -90, -30]
    """
    like = "1 o'clock, 1:30 o'clock or 30 deg"
    tidy = _tidy(text, where, like)
    hands = _OCLOCK.fullmatch(tidy)
    if hands is None and "clock" in tidy:
        raise refuse(where, f"{tidy!r} is not on a clock face", f"type it like {like}")
    if hands is None:
        angle = _parse(text, _ANGLE_RAD, where=where, like=like, signed=True, default_unit=None)
    else:
        angle = float((int(hands[1]) * 30 + Fraction(int(hands[2] or 0), 2)) * _ANGLE_RAD["deg"])
    turned = math.remainder(angle, 2 * math.pi)
    return math.pi if turned == -math.pi else turned


def parse_torque(text: str, *, where: str = "", signed: bool = False) -> float:
    """A typed torque in newton-metres; signed: whether a negative one has a meaning here.

    >>> round(parse_torque("70 lb-ft"), 3)
    94.907
    """
    like = "20 lb-in, 70 lb-ft or 95 N.m"
    return _parse(text, _TORQUE_NM, where=where, like=like, signed=signed, default_unit=None)


def parse_number(text: str, *, where: str = "", signed: bool = False) -> float:
    """A typed plain number.

    >>> parse_number("0.85"), parse_number("1/8")
    (0.85, 0.125)
    """
    tidy = _tidy(text, where, "0.85")
    value, rest = _read(tidy, where, "0.85")
    if rest:
        raise refuse(where, f"{tidy!r} is not a plain number", "type it like 0.85, without a unit")
    return _signed_float(value, tidy, where, signed)


def in_units(mm: float, units: Units) -> float:
    """A length in the units a person reads.

    >>> in_units(50.8, "in")
    2.0
    """
    return mm / MM_PER_IN if units == "in" else mm


def show_length(mm: float, units: Units, *, rounding: Rounding = "nearest") -> str:
    """A length [mm] with its unit, to 0.001 in or 0.01 mm; `down` rounds toward minus, `up` toward plus infinity.

    A gap is shown rounded down and a cut rounded up. What lies within a millionth of the last digit of a whole or half
    one is taken as that, so that 0.508 mm is 0.020 in however it was computed; halves go to the even digit, as in NIST
    SP 811, B.7.1.

    >>> show_length(0.508, "in", rounding="down"), show_length(0.499, "mm", rounding="down")
    ('0.020 in', '0.49 mm')
    """
    if not math.isfinite(mm):
        raise refuse("", f"{mm} is not a length", "a length is a finite number")
    digits = 3 if units == "in" else 2
    return f"{_rounded(in_units(mm, units), digits, rounding):.{digits}f} {units}"


def show_both(mm: float, units: Units, *, rounding: Rounding = "nearest") -> str:
    """The same length in both units, the wanted one first, each side rounded in the same direction.

    >>> show_both(0.508, "in")
    '0.020 in (0.51 mm)'
    """
    other: Units = "mm" if units == "in" else "in"
    return f"{show_length(mm, units, rounding=rounding)} ({show_length(mm, other, rounding=rounding)})"


def show_fine(mm: float, units: Units) -> str:
    """A shim's thickness [mm] or a play with its unit, to 0.0001 in or 0.001 mm.

    >>> show_fine(0.25908, "in"), show_fine(0.25908, "mm")
    ('0.0102 in', '0.259 mm')
    """
    if not math.isfinite(mm):
        raise refuse("", f"{mm} is not a length", "a length is a finite number")
    digits = 4 if units == "in" else 3
    return f"{_rounded(in_units(mm, units), digits, 'nearest'):.{digits}f} {units}"


def show_torque(nm: float, units: Units, *, rounding: Rounding = "nearest") -> str:
    """A torque [N.m] with its unit, to 0.1 lb-in or 0.01 N.m; rounded as a length is.

    >>> show_torque(2.259696580552334, "in"), show_torque(2.259696580552334, "mm")
    ('20.0 lb-in', '2.26 N.m')
    """
    if not math.isfinite(nm):
        raise refuse("", f"{nm} is not a torque", "a torque is a finite number")
    digits, name = (1, "lb-in") if units == "in" else (2, "N.m")
    return f"{_rounded(nm / float(_TORQUE_NM[name]), digits, rounding):.{digits}f} {name}"


def show_torques(nm: float, units: Units, *, rounding: Rounding = "nearest") -> str:
    """The same torque [N.m] in both units, the wanted one first, each side rounded in the same direction.

    >>> show_torques(2.259696580552334, "in")
    '20.0 lb-in (2.26 N.m)'
    """
    other: Units = "mm" if units == "in" else "in"
    return f"{show_torque(nm, units, rounding=rounding)} ({show_torque(nm, other, rounding=rounding)})"


def _rounded(value: float, digits: int, rounding: Rounding) -> float:
    """To so many decimals; what lies within a millionth of the last one of a whole or half one is taken as that."""
    steps = value * 10.0**digits
    if abs(steps - round(2 * steps) / 2) < _SAME_STEP:
        steps = round(2 * steps) / 2
    whole = math.floor(steps) if rounding == "down" else math.ceil(steps) if rounding == "up" else round(steps)
    return whole / 10.0**digits


def other_units(text: str) -> list[tuple[str, float]]:
    """The same typed number in other units, for 'was 9 in meant?': (text, millimetres), likeliest first.

    >>> other_units("9 mm")[0]
    ('9 in', 228.6)
    """
    try:
        tidy = _tidy(text, "", "")
        number, unit = _read(tidy, "", "")
    except InputError:
        return []
    typed = tidy.removesuffix(unit).strip()
    mine = _LENGTH_MM.get(unit)
    others = (name for name in ("in", "mm", "thou", "cm") if _LENGTH_MM[name] != mine)
    return [(f"{typed} {name}", float(number * _LENGTH_MM[name])) for name in others]
