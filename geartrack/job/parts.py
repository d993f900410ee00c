"""The parts a boss is put together from: plain lengths [mm], clock angles [rad], in from the pinion-side end."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field, PlainSerializer, PlainValidator

from geartrack.job.fields import Plain, clock

Diameter = Annotated[float, Plain("length", 1, 300)]
Distance = Annotated[float, Plain("length", 0, 300)]
Width = Annotated[float, Plain("length", 0.1, 300)]
Clock = Annotated[float, PlainValidator(clock), PlainSerializer(Plain("angle", -180, 180).write)]


class Table(BaseModel):
    """A table of the job file: frozen, and no key but its own."""

    model_config = ConfigDict(frozen=True, extra="forbid", validate_by_name=True, validate_by_alias=True)


class Spanning(Table):
    """A part between two stations, in from the pinion-side end: start [mm], end [mm]; the file says `from` and `to`."""

    start: Distance = Field(validation_alias="from", serialization_alias="from")
    end: Distance = Field(validation_alias="to", serialization_alias="to")


class Cylinder(Spanning):
    """Round about the bore axis."""

    kind: Literal["cylinder"] = "cylinder"
    diameter: Diameter


class Cone(Spanning):
    """Round about the bore axis, its diameter changing evenly from `start` to `end`."""

    kind: Literal["cone"] = "cone"
    diameter_from: Diameter
    diameter_to: Diameter


class Pad(Spanning):
    """A flat-topped pad: its flat stands at `distance` from the bore axis, square to the clock angle, `width` wide."""

    kind: Literal["pad"] = "pad"
    clock: Clock
    distance: Distance
    width: Width


class Rib(Spanning):
    """A rib along the boss at a clock angle, `width` thick, reaching out to radius `reach`."""

    kind: Literal["rib"] = "rib"
    clock: Clock
    width: Width
    reach: Distance


class Fillet(Table):
    """The rounding of the inside corner at the station `at`, where a cylinder of `diameter` meets a larger one."""

    kind: Literal["fillet"] = "fillet"
    radius: Width
    at: Distance
    diameter: Diameter


class Cut(Spanning):
    """A flat cut: metal further than `distance` from the bore axis along the clock angle is gone."""

    kind: Literal["cut"] = "cut"
    clock: Clock
    distance: Distance


Part = Annotated[Cylinder | Cone | Pad | Rib | Fillet | Cut, Field(discriminator="kind")]
