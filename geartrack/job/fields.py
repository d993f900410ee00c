"""How one value of a job file is read: text or table in, `Quantity` in millimetres, radians or plain numbers out."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from difflib import get_close_matches
from types import MappingProxyType
from typing import Any, TypeVar

from pydantic import PlainValidator

from geartrack import units
from geartrack.errors import refuse
from geartrack.quantity import Origin, Quantity, Shape, give_or_take

Reader = Callable[[str], float]
Choice = TypeVar("Choice", Origin, Shape)


@dataclass(frozen=True)
class Bare:
    """A number as a file holds it, with the unit that file gives to its bare lengths, if any."""

    value: float
    unit: units.Units | None

    def __str__(self) -> str:
        return repr(self.value)


@dataclass(frozen=True)
class Tool:
    """A measuring tool: its 2-sigma [mm] and where that figure comes from."""

    two_sigma_mm: float
    mark: str


# Trade table of measuring uncertainty, 2-sigma: marks as there ("web": an unreviewed page; "from memory").
TOOLS: Mapping[str, Tool] = MappingProxyType(
    {
        name: Tool(units.parse_length(two_sigma), mark)
        for name, two_sigma, mark in (
            ("caliper", "0.002 in", "web"),
            ("micrometer", "0.00016 in", "web, quoting DIN 863"),
            ("depth micrometer", "0.002 in", "from memory"),
            ("feeler", "0.0015 in", "from memory"),
            ("solder", "0.0015 in", "from memory"),
            ("clay", "0.005 in", "from memory"),
            ("trace", "0.015 in", "from memory"),
            ("phone scan", "0.020 in", "from memory"),
            ("bench scan", "0.004 in", "from memory"),
        )
    }
)

_TABLE_KEYS = ("value", "give_or_take", "low", "high", "shape", "origin", "how")


def mm(low: float, high: float, like: str = "240 mm") -> PlainValidator:
    """A length with its spread, between `low` and `high` [mm]; below zero only where `low` is."""

    def read(raw: object) -> Quantity:
        return _quantity(raw, _length_reader(low < 0), low, high, _length_slip(raw, low, high), like, is_length=True)

    return PlainValidator(read)


def angle(low_deg: float, high_deg: float, like: str = "50 deg") -> PlainValidator:
    """An angle with its spread, between limits in degrees; the value is in radians."""
    low, high = math.radians(low_deg), math.radians(high_deg)

    def read(raw: object) -> Quantity:
        return _quantity(raw, units.parse_angle, low, high, f"between {low_deg:g} and {high_deg:g} deg", like)

    return PlainValidator(read)


def number(low: float, high: float, like: str = "1.0") -> PlainValidator:
    """A plain number with its spread, between limits."""

    def read(raw: object) -> Quantity:
        return _quantity(raw, units.parse_number, low, high, f"between {low:g} and {high:g}", like)

    return PlainValidator(read)


def plain_mm(low: float, high: float) -> PlainValidator:
    """A length without a spread [mm]."""

    def read(raw: object) -> float:
        value = _plain(raw, _length_reader(low < 0), "25 mm", is_length=True)
        _within(value, raw, low, high, _length_slip(raw, low, high))
        return value

    return PlainValidator(read)


def plain_clock() -> PlainValidator:
    """A clock angle [rad] in (-pi, pi], 0 straight at the ring gear, as seen from the pinion-nut end."""

    def read(raw: object) -> float:
        value = _plain(raw, units.parse_angle, "30 deg")
        turned = math.remainder(value, 2 * math.pi)
        return math.pi if turned == -math.pi else turned

    return PlainValidator(read)


def money(high: float = 1e6) -> PlainValidator:
    """A sum, a number of hours or a percentage: exact, not negative."""

    def read(raw: object) -> Decimal:
        try:
            value = Decimal(str(raw))
        except InvalidOperation:
            raise refuse("", f"{str(raw)[:20]!r} is not a plain number", "type it like 110 or 110.50") from None
        if not value.is_finite() or not 0 <= value <= Decimal(high):
            raise refuse("", f"{str(raw)[:20]} is out of range", f"a number from 0 to {high:g}")
        return value

    return PlainValidator(read)


def _length_reader(signed: bool) -> Reader:
    return lambda text: units.parse_length(text, signed=signed)


def _as_text(raw: object, like: str, is_length: bool) -> str:
    if isinstance(raw, str):
        return raw
    if isinstance(raw, Bare):
        return f"{raw.value!r} {raw.unit or ''}" if is_length else repr(raw.value)
    raise refuse("", f"{type(raw).__name__} where a value belongs", f'such as "{like}"')


def _plain(raw: object, reader: Reader, like: str, is_length: bool = False) -> float:
    if isinstance(raw, float):  # from code, already in millimetres or radians; a file's numbers arrive as Bare
        return raw
    return reader(_as_text(raw, like, is_length))


def _within(value: float, raw: object, low: float, high: float, right: str) -> None:
    if not low <= value <= high:
        shown = raw.get("value") if isinstance(raw, Mapping) else raw
        raise refuse("", f"{shown} is out of range", right)


def _length_slip(raw: object, low: float, high: float) -> str:
    """The range, and the unit that would bring the typed number into it."""
    right = f"between {units.show_both(low, 'in')} and {units.show_both(high, 'in')}"
    text = raw.get("value") if isinstance(raw, Mapping) else raw
    if not isinstance(text, str):
        return right
    meant = units.other_units(text.partition("+/-")[0].partition("±")[0])
    likely = next((reading for reading, value in meant if low <= value <= high and value), None)
    return f"{right}; was {likely} meant?" if likely else right


def _quantity(
    raw: object, reader: Reader, low: float, high: float, right: str, like: str, is_length: bool = False
) -> Quantity:
    if isinstance(raw, Quantity):
        quantity = raw
    elif isinstance(raw, Mapping):
        quantity = _from_table(raw, reader, like, is_length)
    elif isinstance(raw, str):
        value, sign, spread = raw.replace("±", "+/-").partition("+/-")
        quantity = give_or_take(reader(value), abs(reader(spread)) if sign else 0.0)
    else:
        value_plain = _plain(raw, reader, like, is_length)
        quantity = give_or_take(value_plain, 0.0)
    _within(quantity.value, raw, low, high, right)
    return quantity


def _from_table(raw: Mapping[str, Any], reader: Reader, like: str, is_length: bool) -> Quantity:
    for key in raw:
        if key not in _TABLE_KEYS:
            near = get_close_matches(key, _TABLE_KEYS, n=1)
            raise refuse(
                "", f"unknown key {key!r}", f"was {near[0]} meant?" if near else f"keys: {', '.join(_TABLE_KEYS)}"
            )
    if "value" not in raw:
        raise refuse("", "a table without a value", f'such as {{ value = "{like}", give_or_take = "0.5 mm" }}')
    value = _plain(raw["value"], reader, like, is_length)
    how = raw.get("how", "")
    tool = _tool(how) if is_length else None
    origin = _choice(Origin, raw.get("origin"), "origin") or (Origin.MEASURED if tool else Origin.TYPED)
    if "low" in raw or "high" in raw:
        if "give_or_take" in raw:
            raise refuse("", "both give_or_take and low or high", "give one or the other")
        low, high = (_plain(raw.get(key, raw["value"]), reader, like, is_length) for key in ("low", "high"))
        return Quantity(value, low, high, origin, how, _choice(Shape, raw.get("shape"), "shape") or Shape.UNIFORM)
    if "give_or_take" in raw:
        return give_or_take(value, abs(_plain(raw["give_or_take"], reader, like, is_length)), origin, how)
    return give_or_take(value, tool.two_sigma_mm if tool else 0.0, origin, how)


def _choice(kind: type[Choice], raw: object, key: str) -> Choice | None:
    if raw is None:
        return None
    try:
        return kind(str(raw))
    except ValueError:
        raise refuse("", f"{key} {raw!r} is not known", "one of " + ", ".join(kind)) from None


def _tool(how: object) -> Tool | None:
    if not isinstance(how, str):
        raise refuse("", f"how is {how!r}", f"the tool, one of {', '.join(TOOLS)}, or other words")
    name = how.strip().lower()
    if name in TOOLS:
        return TOOLS[name]
    near = get_close_matches(name, TOOLS, n=1, cutoff=0.8)
    if near:
        raise refuse("", f"unknown tool {how!r}", f"was {near[0]} meant?")
    return None
