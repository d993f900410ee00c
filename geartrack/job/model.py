"""The tables of a job file. Attribute names are its keys; `None` means not given (filled elsewhere, labelled)."""

from __future__ import annotations

import math
from decimal import Decimal
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import Field, PrivateAttr, StrictBool

from geartrack.frame import Hand
from geartrack.job.fields import angle, mm, money, number, plain_mm
from geartrack.job.parts import Part, Table
from geartrack.quantity import Origin, Quantity, give_or_take
from geartrack.units import Units, parse_length

Small = Annotated[Quantity, mm(0, 10, "0.5 mm")]
Shift = Annotated[Quantity, mm(-10, 10, "0.1 mm")]
Height = Annotated[Quantity, mm(1, 200, "60 mm")]
Diameter = Annotated[Quantity, mm(5, 600, "150 mm")]
Factor = Annotated[Quantity, number(0.01, 5, "0.85")]
Money = Annotated[Decimal, money()]

COMMON_PRACTICE = "common practice, no source"


def _common(text: str) -> Quantity:
    return give_or_take(parse_length(text), 0.0, Origin.DEFAULT, COMMON_PRACTICE)


class Axle(Table):
    """The axle: ring size and offset are asked for."""

    name: str = ""
    ring_diameter: Annotated[Quantity, mm(100, 500, "9 in")]
    offset: Annotated[Quantity, mm(0, 250, "2.25 in")]
    hand: Hand | None = None
    shaft_angle: Annotated[Quantity, angle(0, 180, "90 deg")] = give_or_take(math.radians(90), 0.0, Origin.DEFAULT)
    pinion_stub_diameter: Annotated[Quantity, mm(8, 100, "28 mm")] | None = None
    carrier_flange_height: Height | None = None
    ring_spacer: Small | None = None
    adjuster_travel: Small | None = None


class Measured(Table):
    """What was read off this gear set on the bench."""

    toe_height: Height | None = None
    heel_height: Height | None = None
    outside_diameter: Diameter | None = None
    toe_inside_diameter: Diameter | None = None
    pinion_toe_root_diameter: Diameter | None = None
    pinion_heel_root_diameter: Diameter | None = None
    back_face: Height | None = None
    back_face_from: Literal["this set", "old set"] | None = None
    old_flange_height: Height | None = None
    old_ring_spacer: Small | None = None


class Gears(Table):
    """The gear set; `teeth` is kept as typed."""

    name: str = ""
    teeth: str = Field(min_length=1, max_length=40, examples=["8/39"])
    kind: Literal["hypoid", "spiral bevel", "straight bevel"] | None = None
    face_width: Annotated[Quantity, mm(5, 150, "37 mm")] | None = None
    pinion_spiral: Annotated[Quantity, angle(0, 70, "50 deg")] | None = None
    cutter_radius: Annotated[Quantity, mm(20, 400, "95 mm")] | None = None
    depth_factor: Factor | None = None
    addendum_factor: Factor | None = None
    clearance_factor: Factor | None = None
    taper: Literal["standard", "duplex", "uniform"] = "standard"
    set: Literal["standard", "thick", "thin"] = "standard"
    set_thickness: Annotated[Quantity, mm(0, 30, "0.4 in")] | None = None
    made_for_flange_height: Height | None = None
    toe_end_angle: Annotated[Quantity, angle(-60, 60, "0 deg")] | None = None
    toe_chamfer: Small | None = None
    tip_chamfer: Small | None = None
    measured: Measured = Measured()


class Case(Table):
    """The casting: what is known of it and what was done to it."""

    name: str = ""
    mark: str = ""
    material: Literal["nodular", "grey", "aluminium", "not known"] = "not known"
    cracked: StrictBool = False
    welded: StrictBool = False
    ground_before: StrictBool = False
    wall_in_old_scallop: Annotated[Quantity, mm(0, 50, "6 mm")] | None = None
    bore: Literal["good", "loose", "oval", "spun", "sleeved", "opened"] = "good"
    bore_put_right: StrictBool = False
    measured: Literal["this case", "another case"] | None = None
    minimum_wall: Annotated[Quantity, mm(0, 50, "5 mm")] | None = None
    makers_minimum_wall: Annotated[Quantity, mm(0, 50, "5 mm")] | Literal["not known"] | None = None
    outside_off_centre: Shift | None = None
    outside_size: Shift | None = None
    bore_off_axis: Shift | None = None


class StationsFile(Table):
    """The station table's path, absolute, and as typed."""

    path: Path
    typed: str


class Boss(Table):
    """The pilot-bearing boss: `end_face` is the distance of its pinion-side end face from the ring axis."""

    end_face: Annotated[Quantity, mm(5, 300, "50 mm")]
    bore_diameter: Annotated[Quantity, mm(15, 120, "45 mm")]
    bore_depth: Annotated[Quantity, mm(2, 150, "20 mm")]
    seat_from: Annotated[Quantity, mm(0, 150, "1 mm")] | None = None
    seat_to: Annotated[Quantity, mm(0, 150, "18 mm")] | None = None
    edge_break: Small | None = None
    parts: tuple[Part, ...] | None = None
    stations: StationsFile | None = None
    stations_give: Literal["radius", "wall"] = "radius"


class Target(Table):
    """The gap that is wanted at set-up, and how much deeper the grinding may go."""

    gap: Annotated[Quantity, mm(0, 5, "0.020 in")] = _common("0.020 in")
    allowance: Annotated[Quantity, mm(0, 2, "0.005 in")] = _common("0.005 in")


class Running(Table):
    """What moves between the reading and the road."""

    backlash_now: Small | None = None
    backlash_final: Small | None = None
    runout: Small | None = None
    deflection: Shift | None = None
    heat: Shift | None = None
    settling: Shift | None = None


Point = tuple[Annotated[float, plain_mm(0, 500)], Annotated[float, plain_mm(-500, 500)]]


class Turning(Table):
    """Another body that turns with the ring: points (r from the ring axis, z toward the ring's back face) [mm]."""

    name: str = Field(min_length=1)
    section: tuple[Point, ...] = Field(min_length=3)


class Shop(Table):
    """Money, exact."""

    name: str = ""
    currency: str = "USD"
    rate: Money | None = None
    consumables: Money | None = None
    crack_check_fee: Money | None = None
    minimum_hours: Annotated[Decimal, money(100)] | None = None
    tax_percent: Annotated[Decimal, money(100)] | None = None


class Job(Table):
    """A whole job: what was typed, checked."""

    format: Literal[1] = 1
    name: str = Field(min_length=1)
    note: str = ""
    units: Units = "in"
    default_unit: Units | None = None
    axle: Axle
    gears: Gears
    case: Case = Case()
    boss: Boss
    target: Target = Target()
    running: Running = Running()
    turning: tuple[Turning, ...] = ()
    shop: Shop = Shop()
    _source: Any = PrivateAttr(default=None)

    def __eq__(self, other: object) -> bool:
        """Equal in every value; where they were read from does not count."""
        return isinstance(other, Job) and dict(self) == dict(other)

    __hash__ = None  # type: ignore[assignment]
