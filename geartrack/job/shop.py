"""A shop's own figures, in money exact to the last digit: rates, currency, tax, rounding, hours by line, terms."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, Field
from pydantic_core import CoreSchema, core_schema

from geartrack.currencies import decimals, smallest
from geartrack.errors import refuse
from geartrack.job.fields import Money
from geartrack.job.parts import Table

Amount = Decimal | tuple[Decimal, Decimal, Decimal]
"""A figure as typed: one, or low, likely and high."""


@dataclass(frozen=True)
class Ranged(Money):
    """Annotation of a figure, or of a list [low, likely, high] of it, rising; see Money for its limits [any]."""

    def read(self, raw: object) -> Any:
        """The figure or the three, exactly."""
        if not isinstance(raw, list | tuple):
            return super().read(raw)
        if len(raw) != 3:
            raise refuse("", f"{len(raw)} figures in the list", "one figure, or three: [low, likely, high]")
        low, likely, high = (super(Ranged, self).read(each) for each in raw)
        if not low <= likely <= high:
            rising = ", ".join(str(each) for each in sorted((low, likely, high)))
            raise refuse("", f"{low}, {likely}, {high} do not rise from low to high", f"such as [{rising}]")
        return low, likely, high

    def __get_pydantic_core_schema__(self, source: Any, handler: Any) -> CoreSchema:
        written = core_schema.plain_serializer_function_ser_schema(_written)
        return core_schema.no_info_plain_validator_function(self.read, serialization=written)


def _written(value: Amount) -> Any:
    return [str(each) for each in value] if isinstance(value, tuple) else str(value)


def _currency(code: str) -> str:
    decimals(code)
    return code


def _whole(value: Decimal) -> Decimal:
    if value != value.to_integral_value():
        raise refuse("", f"{value} is no whole number of days", "such as 30")
    return value


Sum = Annotated[Amount, Ranged()]
Hours = Annotated[Amount, Ranged(100)]
Text = Annotated[str, Field(min_length=1, max_length=600)]
Said = Literal["yes", "no", "call me"]


class ShopHours(Table):
    """Hours by line of the quote: one figure, or [low, likely, high]. `fit_cycle` is one fit between two passes."""

    fit: Hours | None = None
    strip: Hours | None = None
    bare: Hours | None = None
    crack_before: Hours | None = None
    template: Hours | None = None
    fit_cycle: Hours | None = None
    blend: Hours | None = None
    crack_after: Hours | None = None
    wash: Hours | None = None
    late: Hours | None = None


class ShopSublet(Table):
    """Work that is given out of the house."""

    name: str = Field(min_length=1, max_length=60)
    fee: Sum
    when: Literal["always", "if ground"] = "if ground"


class IfFound(Table):
    """What the customer said to each `if found` line, before anything was taken apart."""

    grind: Said | None = None
    late: Said | None = None


class ShopTerms(Table):
    """Terms in the shop's own words, in place of the usual ones, and further ones."""

    valid: Text | None = None
    this_set: Text | None = None
    decided: Text | None = None
    ceiling: Text | None = None
    case_fails: Text | None = None
    own_gears: Text | None = None
    alters: Text | None = None
    strength: Text | None = None
    more: tuple[Text, ...] = ()


class Shop(Table):
    """The shop's figures and terms; what is not given takes a default that says so."""

    name: str = Field(default="", max_length=80)
    currency: Annotated[str, AfterValidator(_currency)] = "USD"
    rate: Sum | None = None
    consumables: Sum | None = None
    crack_check_fee: Sum | None = None
    minimum_hours: Annotated[Decimal, Money(100)] | None = None
    removal_g_min: Annotated[Amount, Ranged(1000, 0.01)] | None = None
    hours: ShopHours | None = None
    sublets: tuple[ShopSublet, ...] = ()
    arrives: Literal["bare case", "assembled"] = "bare case"
    tax_percent: Annotated[Decimal, Money(100)] | None = None
    tax_name: str = Field(default="Tax", min_length=1, max_length=20)
    round_to: Annotated[Decimal, Money(10000, 0.001)] | None = None
    valid_days: Annotated[Decimal, Money(3650, 1), AfterValidator(_whole)] | None = None
    if_found: IfFound | None = None
    terms: ShopTerms | None = None


def shop_faults(shop: Shop) -> Iterator[tuple[tuple[str | int, ...], str, str]]:
    """Keys of [shop] that need each other: (key, what is wrong, what would be right)."""
    if shop.currency != "USD" and shop.rate is None:
        what = f"not given, and the default is a rate in US dollars, not in {shop.currency}"
        yield ("rate",), what, "such as rate = 68"
    unit = smallest(shop.currency)
    if shop.round_to is not None and shop.round_to % unit:
        what = f"{shop.round_to} is no multiple of the smallest sum, {unit} {shop.currency}"
        yield ("round_to",), what, f"such as {10 * unit}"


def given(table: Table | None) -> Mapping[str, Any]:
    """The keys of a table that were given, with their values; none without a table."""
    return {} if table is None else {name: value for name, value in dict(table).items() if value not in (None, ())}
