"""What a quote is made from: the work that a result found, whether it is needed, the shop's figures, whose job."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from typing import Literal

from geartrack.materials import Material
from geartrack.quote.three import Three

Answer = Literal["yes", "no", "call me"]
ANSWERS: tuple[Answer, ...] = ("yes", "no", "call me")
Stands = Literal["planned", "open", "not needed", "not allowed"]


@dataclass(frozen=True)
class Work:
    """What the result says there is to do: low, likely and high mass [g] and depth [mm] of the cut, and the metal.

    A low end of zero says that the gap may already hold the target. passes: low, likely and high number of passes, each
    with a fit check after it; None where no pass is planned yet, then they follow from the depth.
    """

    mass_g: tuple[float, float, float]
    depth_mm: tuple[float, float, float]
    material: Material
    passes: tuple[int, int, int] | None = None


@dataclass(frozen=True)
class Need:
    """Whether the boss has to be ground. stands: `planned` (the verdict is to grind), `open`, `not needed` (it clears),
    `not allowed` (this case may not be ground). chance: that the gap is less than wanted, from 0 to 1; origin: of it.
    why: the verdict's reason.
    """

    stands: Stands = "planned"
    chance: Decimal = Decimal(1)
    origin: str = "result"
    why: str = ""


@dataclass(frozen=True)
class Own:
    """A figure of the shop and where it was given: `shop file` or `typed`."""

    value: Three
    origin: str


@dataclass(frozen=True)
class Sublet:
    """Work given out of the house: its name, its fee, and whether it comes with the checks or with the grinding."""

    name: str
    fee: Three
    when: Literal["always", "if ground"]
    origin: str


@dataclass(frozen=True)
class Rates:
    """A shop's own figures; what is None or missing takes the labelled default. Money in `currency`.

    hours: by the key of a line (see geartrack.quote.hours). removal_g_min: metal taken by hand in a minute [g/min].
    minimum_hours: the least time charged. hours_step: minimum and totals of hours are counted in steps of this; lines
    are counted to 0.01 h. round_to: totals go up to the next multiple of it. arrives: what comes through the door.
    if_found: what the customer answered to each `if found` line, by its key. terms: texts of the shop's own, by key.
    """

    name: str = ""
    currency: str = "USD"
    rate: Own | None = None
    consumables: Own | None = None
    crack_check_fee: Own | None = None
    minimum_hours: Own | None = None
    removal_g_min: Own | None = None
    hours: Mapping[str, Own] = field(default_factory=dict)
    sublets: tuple[Sublet, ...] = ()
    tax_percent: Decimal | None = None
    tax_name: str = "Tax"
    round_to: Decimal | None = None
    valid_days: int | None = None
    arrives: Literal["bare case", "assembled"] = "bare case"
    if_found: Mapping[str, Answer] = field(default_factory=dict)
    terms: Mapping[str, str] = field(default_factory=dict)
    more_terms: tuple[str, ...] = ()


@dataclass(frozen=True)
class Firming:
    """A reading not yet taken: the minutes it takes [min], the chance that it settles whether the boss has to be ground
    settles [-], and the share of the gap's low to high that it takes away narrows [-].
    """

    reading: str
    minutes: float
    settles: float
    narrows: float


@dataclass(frozen=True)
class Subject:
    """Whose quote it is: the job, its gear set and case, what was found, and what is still to be read.

    measured: whether ring and boss of this very job were read on the bench. made_on: the day of the quote.
    instead: what else is possible, in words.
    """

    job: str = ""
    teeth: str = ""
    ratio: str = ""
    gears: str = ""
    axle: str = ""
    case_mark: str = ""
    metal: str = "metal"
    verdict: str = ""
    measured: bool = True
    next_reading: str = ""
    firming: tuple[Firming, ...] = ()
    instead: tuple[str, ...] = ()
    made_on: date | None = None
