"""How one value of a job file is read and written: text or table in, `Quantity` in mm, radians or plain numbers out."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from decimal import Decimal, InvalidOperation
from difflib import get_close_matches
from typing import Any, Literal, TypeVar

from pydantic_core import CoreSchema, core_schema

from geartrack import units
from geartrack.errors import InputError, refuse
from geartrack.job.tools import TOOLS, tool_named
from geartrack.quantity import Origin, Quantity, Shape, give_or_take

Kind = Literal["length", "angle", "torque", "number"]
Choice = TypeVar("Choice", Origin, Shape)

TABLE_KEYS = ("value", "give_or_take", "low", "high", "shape", "origin", "how")
_EXACT_UNIT: Mapping[Kind, str] = {"length": " mm", "angle": " rad", "torque": " N.m", "number": ""}


@dataclass(frozen=True)
class Bare:
    """A number as a file holds it; value [any]: in the unit which that file gives to its bare lengths, if it does."""

    value: float
    unit: units.Units | None

    def __str__(self) -> str:
        return f"{self.value!r} {self.unit or ''}".strip()


@dataclass(frozen=True)
class Plain:
    """Annotation of a value without give or take, as a float in millimetres or radians.

    low, high: its limits [any], in millimetres, degrees or plain; a negative one is read only where `low` is.
    """

    kind: Kind
    low: float
    high: float

    def read(self, raw: object) -> float:
        """The value [mm or rad]; a number comes from code and is already in that unit, a file's numbers are `Bare`."""
        if isinstance(raw, int | float) and not isinstance(raw, bool):
            value = float(raw)
        else:
            value = self._parsed(raw, signed=self.low < 0)
        self._in_range(value, raw)
        return value

    def write(self, value: float) -> str:
        """The value [any] as text that reads back as the very same float."""
        return f"{value!r}{_EXACT_UNIT[self.kind]}"

    def __get_pydantic_core_schema__(self, source: Any, handler: Any) -> CoreSchema:
        written = core_schema.plain_serializer_function_ser_schema(self.write)
        return core_schema.no_info_plain_validator_function(self.read, serialization=written)

    def _parsed(self, raw: object, *, signed: bool) -> float:
        if isinstance(raw, Bare):
            if self.kind == "length" and raw.unit is None:
                right = f'"{raw} mm" or "{raw} in" in quotes, or default_unit = "mm" at the top of the file'
                raise refuse("", f"{raw} has no unit", right)
            raw = str(raw) if self.kind == "length" else repr(raw.value)
        if not isinstance(raw, str):
            shown = str(raw).lower() if isinstance(raw, bool) else f"a {type(raw).__name__}"
            raise refuse("", f"{shown} is no {self.kind}", self._range())
        if self.kind == "length":
            return units.parse_length(raw, signed=signed)
        if self.kind == "angle":
            return units.parse_angle(raw, signed=signed)
        if self.kind == "torque":
            return units.parse_torque(raw, signed=signed)
        return units.parse_number(raw, signed=signed)

    def _limits(self) -> tuple[float, float]:
        turn = math.pi / 180 if self.kind == "angle" else 1.0
        return self.low * turn, self.high * turn

    def _in_range(self, value: float, raw: object) -> None:
        low, high = self._limits()
        if low <= value <= high:
            return
        text = raw.get("value") if isinstance(raw, Mapping) else raw
        shown = text if isinstance(text, str | Bare) else f"{value:g}"
        raise refuse("", f"{shown} is out of range", self._range() + self._slip(str(shown)))

    def _range(self) -> str:
        if self.kind == "length":
            return f"between {units.show_both(self.low, 'in')} and {units.show_both(self.high, 'in')}"
        if self.kind == "torque":
            return f"between {units.show_torques(self.low, 'in')} and {units.show_torques(self.high, 'in')}"
        return f"between {self.low:g} and {self.high:g}{' deg' if self.kind == 'angle' else ''}"

    def _slip(self, text: str) -> str:
        """The unit that would bring the typed number into its range."""
        if self.kind != "length":
            return ""
        meant = units.other_units(text.replace("±", "+/-").partition("+/-")[0])
        likely = [reading for reading, value in meant if self.low <= value <= self.high and value]
        return f"; was {likely[0]} meant?" if likely else ""


@dataclass(frozen=True)
class Measure(Plain):
    """Annotation of a `Quantity` of one kind, its value within limits; `words` are texts that stand for no number."""

    words: tuple[str, ...] = ()

    def read(self, raw: object) -> Quantity | str:  # type: ignore[override]
        """The quantity that a text, a table or a number stands for."""
        if isinstance(raw, str) and raw in self.words:
            return raw
        quantity = raw if isinstance(raw, Quantity) else self._from_table(raw) if isinstance(raw, Mapping) else None
        if quantity is None and isinstance(raw, str):
            text, sign, give = raw.replace("±", "+/-").partition("+/-")
            quantity = give_or_take(self._parsed(text, signed=self.low < 0), self._give(give) if sign else 0.0)
        if quantity is None:
            quantity = give_or_take(super().read(raw), 0.0)
        self._in_range(quantity.value, raw)
        self._limits_in_range(quantity)
        return quantity

    def write(self, value: Quantity | str) -> Any:  # type: ignore[override]
        """The quantity as a text or table that reads back as the very same one."""
        if isinstance(value, str):
            return value
        if value == give_or_take(value.value, 0.0):
            return super().write(value.value)
        limits = {key: super(Measure, self).write(getattr(value, key)) for key in ("value", "low", "high")}
        how = {"how": value.source} if value.source else {}
        return {**limits, "shape": str(value.shape), "origin": str(value.origin), **how}

    def _give(self, raw: object) -> float:
        return raw if isinstance(raw, float) else self._parsed(raw, signed=False)

    def _limits_in_range(self, quantity: Quantity) -> None:
        low, high = self._limits()
        beyond = 0.05 * (high - low)  # a reading near a limit may give or take across it
        if quantity.low < low - beyond or quantity.high > high + beyond:
            raise refuse("", "low to high leaves the range", f"{self._range()}; was another unit meant?")

    def _from_table(self, raw: Mapping[str, Any]) -> Quantity:
        _only_known(raw)
        value = Plain.read(self, raw["value"])
        how = raw.get("how", "")
        if not isinstance(how, str):
            raise refuse("", f"how is {how}", "the tool in quotes, such as caliper")
        tool = tool_named(how)
        origin = _choice(Origin, raw.get("origin"), "origin") or (Origin.MEASURED if tool else Origin.TYPED)
        shape = _choice(Shape, raw.get("shape"), "shape")
        if "low" in raw or "high" in raw:
            low, high = (self._end(raw, key, value) for key in ("low", "high"))
            return Quantity(value, low, high, origin, how, shape or Shape.UNIFORM)
        if "give_or_take" in raw:
            give = self._give(raw["give_or_take"])
            if give == 0 and origin is Origin.MEASURED:
                raise refuse("", "no reading gives or takes nothing", "what the tool may be out by, such as 0.002 in")
        elif tool and self.kind == "length":
            give = tool.two_sigma_mm
        elif origin is Origin.MEASURED:
            right = 'how = "caliper", or give_or_take = "0.002 in"' if self.kind == "length" else "give_or_take"
            raise refuse("", "measured, but how well is not said", right)
        elif how and self.kind == "length" and raw.get("origin") is None:
            raise refuse("", f"{how!r} is no tool with a known give or take", f"{_tool_names()}, or give_or_take")
        else:
            give = 0.0
        return Quantity(value, value - give, value + give, origin, how, shape or Shape.NORMAL)

    def _end(self, raw: Mapping[str, Any], key: str, value: float) -> float:
        typed = raw.get(key, value)
        end = typed if isinstance(typed, float) else self._parsed(typed, signed=True)
        if (end > value) if key == "low" else (end < value):
            raise refuse("", f"{key} is {typed} but the value is {raw['value']}", "low, value, high in rising order")
        return end


_BY_EYE, _IN_DEGREES = math.radians(5), math.radians(1)  # 2-sigma of a clock angle, o'clock or in degrees; from memory


@dataclass(frozen=True)
class ClockAngle(Measure):
    """Annotation of a clock angle: o'clock by eye, or in degrees, each with what it may be off by if that is not typed.

    >>> round(ClockAngle("angle", -180, 180).read("1 o'clock").high, 3)
    0.611
    """

    def read(self, raw: object) -> Quantity | str:  # type: ignore[override]
        """The angle that a text, a table or a number stands for, in (-pi, pi] about its value."""
        if isinstance(raw, str):
            text, sign, give = raw.replace("±", "+/-").partition("+/-")
            raw = {"value": text.strip()} | ({"give_or_take": give} if sign else {})
        if not isinstance(raw, Mapping):
            return super().read(raw)
        typed = raw.get("value")
        eye = isinstance(typed, str) and "clock" in typed
        exact = not isinstance(typed, str) or typed.endswith(
            "rad"
        )  # as written by `write`: not turned, to the last bit
        told = {} if exact else {"value": units.parse_clock(str(typed))}
        usual = {} if {"give_or_take", "low", "high"} & set(raw) else {"give_or_take": _BY_EYE if eye else _IN_DEGREES}
        return super().read({**raw, **told, **usual})

    def write(self, value: Quantity | str) -> Any:  # type: ignore[override]
        """The angle as a table that reads back as the very same one."""
        written = super().write(value)
        if isinstance(value, str) or not isinstance(written, str):
            return written
        ends = dict.fromkeys(("value", "low", "high"), written)
        return {**ends, "shape": str(value.shape), "origin": str(value.origin)}


def typed_length(text: str, *, where: str, low_mm: float, high_mm: float) -> Quantity:
    """A length typed by itself, with its give or take where that is typed too, between two limits [mm].

    where: for the message. Raises InputError and nothing else.

    >>> round(typed_length("0.30 mm +/- 0.02 mm", where="--now-at", low_mm=0, high_mm=25).spread, 6)
    0.02
    """
    try:
        read = Measure("length", low_mm, high_mm).read(text)
    except InputError as fault:
        raise InputError(*(replace(finding, where=where) for finding in fault.findings)) from None
    assert isinstance(read, Quantity)
    return read


def _tool_names() -> str:
    return ", ".join(TOOLS)


@dataclass(frozen=True)
class Money:
    """Annotation of a sum, a number of hours or a percentage: exact, from `least` to `most` [any]."""

    most: float = 1e6
    least: float = 0.0

    def read(self, raw: object) -> Decimal:
        """The number as typed, exactly."""
        text = repr(raw.value) if isinstance(raw, Bare) else str(raw)
        try:
            value = Decimal(text)
        except InvalidOperation:
            raise refuse("", f"{text[:30]!r} is not a plain number", "such as 110 or 110.50") from None
        if not value.is_finite() or not Decimal(str(self.least)) <= value <= Decimal(self.most):
            raise refuse("", f"{text[:30]} is out of range", f"a number from {self.least:g} to {self.most:.0f}")
        return value

    def __get_pydantic_core_schema__(self, source: Any, handler: Any) -> CoreSchema:
        written = core_schema.plain_serializer_function_ser_schema(str)
        return core_schema.no_info_plain_validator_function(self.read, serialization=written)


def clock(raw: object) -> float:
    """A clock angle [rad] in (-pi, pi]: 0 straight at the ring gear, clockwise seen from the pinion-nut end."""
    return units.parse_clock(raw) if isinstance(raw, str) else Plain("angle", -180, 180).read(raw)


def _only_known(raw: Mapping[str, Any]) -> None:
    for key in raw:
        if key not in TABLE_KEYS:
            near = get_close_matches(key, TABLE_KEYS, n=1)
            right = f"was {near[0]} meant?" if near else f"one of {', '.join(TABLE_KEYS)}"
            raise refuse("", f"unknown key {key!r} beside a value", right)
    if "value" not in raw:
        raise refuse("", "a table without its value", 'such as { value = "54 mm", give_or_take = "0.5 mm" }')
    if "give_or_take" in raw and ("low" in raw or "high" in raw):
        raise refuse("", "give_or_take together with low or high", "one or the other")


def _choice(kind: type[Choice], raw: object, key: str) -> Choice | None:
    try:
        return None if raw is None else kind(str(raw))
    except ValueError:
        raise refuse("", f"{key} {str(raw)!r} is not known", "one of " + ", ".join(kind)) from None
