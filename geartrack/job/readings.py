"""Readings taken on the bench in this case; each says how the axle stood when it was taken, and with which gears."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from types import MappingProxyType
from typing import Annotated, Literal, get_args

from pydantic import Field, StrictBool

from geartrack.job.fields import ClockAngle, Measure
from geartrack.job.parts import Table
from geartrack.quantity import Quantity

Backlash = Annotated[Quantity, Measure("length", 0, 2)]
Length = Annotated[Quantity, Measure("length", 0, 25)]
Clock = Annotated[Quantity, ClockAngle("angle", -180, 180)]
Station = Annotated[Quantity, Measure("length", 0, 150)]


class Noted(Table):
    """When and by whom (initials) a reading was taken."""

    date: dt.date | None = None
    by: Annotated[str, Field(max_length=4)] = ""


class Taken(Noted):
    """How the axle stood when a reading was taken; what is not said widens the reading.

    gears: the set that was fitted.
    """

    caps_torqued: StrictBool | None = None
    final_preload: StrictBool | None = None
    bearings: Literal["final", "set-up"] | None = None
    backlash: Backlash | None = None
    gears: Literal["this set", "old set"] = "this set"
    date: dt.date | None = None
    by: Annotated[str, Field(max_length=4)] = ""


class GapReading(Taken):
    """The gap between ring and boss, by feeler, solder or clay: the tightest over a full turn, or at one clock angle.

    At a clock angle: at a station in from the pinion-side end, or the tightest along that clock ray.
    """

    kind: Literal["gap"] = "gap"
    gap: Length
    station: Station | None = None
    clock: Clock | None = None


class TouchReading(Taken):
    """The backlash at which the ring, wound in with the adjusters, just touches the boss."""

    kind: Literal["hits before backlash closes"] = "hits before backlash closes"
    backlash_at_touch: Backlash


class WindOver(Taken):
    """How far the carrier, the pinion out, was wound sideways toward the boss until the ring touched it.

    As a dial's travel, or as notches of an adjuster of some thread pitch and notches per turn.
    """

    kind: Literal["wind-over"] = "wind-over"
    travel: Length | None = None
    notches: Annotated[Quantity, Measure("number", 0, 500)] | None = None
    thread_pitch: Annotated[Quantity, Measure("length", 0.2, 6)] | None = None
    notches_per_turn: Annotated[Quantity, Measure("number", 1, 200)] | None = None


class BarToToe(Taken):
    """A bar in pilot bore and support bore as the pinion axis, and a telescoping gauge from it to the toe above."""

    kind: Literal["bar to toe"] = "bar to toe"
    bar_diameter: Annotated[Quantity, Measure("length", 5, 100)]
    gauge: Annotated[Quantity, Measure("length", 1, 150)]


class WallReading(Noted):
    """The wall from the pilot bore to the boss's outside, in from the pinion-side end and at a clock angle.

    Without a station: the least over the bearing seat. Without a clock angle: the least all round.
    """

    kind: Literal["wall"] = "wall"
    wall: Annotated[Quantity, Measure("length", 0.5, 50)]
    station: Station | None = None
    clock: Clock | None = None

    @property
    def of_all(self) -> bool:
        """Whether it is the least of all."""
        return self.station is None and self.clock is None


Reading = Annotated[GapReading | TouchReading | WindOver | BarToToe | WallReading, Field(discriminator="kind")]
READINGS: Mapping[str, type[Noted]] = MappingProxyType(
    {kind.model_fields["kind"].default: kind for kind in get_args(get_args(Reading)[0])}
)
"""Each kind of reading by its name in the file."""
