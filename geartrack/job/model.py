"""The tables of a job file. Attribute names are its keys; `None` means not given (filled elsewhere, labelled)."""

from __future__ import annotations

import math
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field, PrivateAttr, StrictBool

from geartrack.errors import refuse
from geartrack.frame import Hand
from geartrack.job.fields import Measure, Plain
from geartrack.job.files import BossFile
from geartrack.job.parts import Part, Table
from geartrack.job.readings import Reading
from geartrack.job.setup import Setup
from geartrack.job.shop import Shop
from geartrack.job.trace import Trace
from geartrack.quantity import Origin, Quantity, give_or_take
from geartrack.units import Units, parse_length

Small = Annotated[Quantity, Measure("length", 0, 10)]
Play = Annotated[Quantity, Measure("length", 0, 2)]
Shift = Annotated[Quantity, Measure("length", -10, 10)]
Wall = Annotated[Quantity, Measure("length", 0, 50)]
Height = Annotated[Quantity, Measure("length", 1, 200)]
Diameter = Annotated[Quantity, Measure("length", 5, 600)]
Factor = Annotated[Quantity, Measure("number", 0.01, 5)]

COMMON_PRACTICE = "common practice, no source"


def _common(text: str) -> Quantity:
    return give_or_take(parse_length(text), 0.0, Origin.DEFAULT, COMMON_PRACTICE)


class Axle(Table):
    """The axle: ring size and offset are asked for."""

    name: str = ""
    ring_diameter: Annotated[Quantity, Measure("length", 100, 500)]
    offset: Annotated[Quantity, Measure("length", 0, 250)]
    hand: Hand | None = None
    shaft_angle: Annotated[Quantity, Measure("angle", 0, 180)] = give_or_take(math.radians(90), 0.0, Origin.DEFAULT)
    pinion_stub_diameter: Annotated[Quantity, Measure("length", 8, 100)] | None = None
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
    teeth: str = Field(min_length=1, max_length=40)
    kind: Literal["hypoid", "spiral bevel", "straight bevel"] | None = None
    face_width: Annotated[Quantity, Measure("length", 5, 150)] | None = None
    pinion_spiral: Annotated[Quantity, Measure("angle", 0, 70)] | None = None
    cutter_radius: Annotated[Quantity, Measure("length", 20, 400)] | None = None
    depth_factor: Factor | None = None
    addendum_factor: Factor | None = None
    clearance_factor: Factor | None = None
    taper: Literal["standard", "duplex", "uniform"] = "standard"
    set: Literal["standard", "thick", "thin"] = "standard"
    set_thickness: Annotated[Quantity, Measure("length", 0, 30)] | None = None
    made_for_flange_height: Height | None = None
    toe_end_angle: Annotated[Quantity, Measure("angle", -60, 60)] | None = None
    toe_chamfer: Small | None = None
    tip_chamfer: Small | None = None
    measured: Measured = Measured()


class OldGears(Table):
    """The set that was in the axle before, for readings taken with it; no teeth: nothing is known of it."""

    teeth: str = Field(default="", max_length=40)
    face_width: Annotated[Quantity, Measure("length", 5, 150)] | None = None
    pinion_spiral: Annotated[Quantity, Measure("angle", 0, 70)] | None = None
    toe_height: Height | None = None


class Correlated(Table):
    """Two inputs that err together, named as `check --inputs` names them; by: from -1 to 1 [-]."""

    first: str
    second: str
    by: Annotated[float, Plain("number", -1, 1)]


class Case(Table):
    """The casting: what is known of it and what was done to it."""

    name: str = ""
    mark: str = ""
    material: Literal["nodular", "grey", "aluminium", "not known"] = "not known"
    cracked: StrictBool = False
    welded: StrictBool = False
    ground_before: StrictBool = False
    wall_in_old_scallop: Wall | None = None
    bore: Literal["good", "loose", "oval", "spun", "sleeved", "opened"] = "good"
    bore_put_right: StrictBool = False
    measured: Literal["this case", "another case"] | None = None
    minimum_wall: Annotated[Quantity, Measure("length", 1, 50)] | None = None
    makers_minimum_wall: Annotated[Quantity | Literal["not known"], Measure("length", 0, 50, ("not known",))] | None = (
        None
    )
    outside_off_centre: Shift | None = None
    outside_size: Shift | None = None
    bore_off_axis: Shift | None = None


EITHER = ("parts", "stations", "scan", "trace")
"""The keys that give the boss, one of them."""


class Boss(Table):
    """The pilot-bearing boss: `end_face` is the distance of its pinion-side end face from the ring axis."""

    end_face: Annotated[Quantity, Measure("length", 5, 300)]
    bore_diameter: Annotated[Quantity, Measure("length", 15, 120)]
    bore_depth: Annotated[Quantity, Measure("length", 2, 150)]
    seat_from: Annotated[Quantity, Measure("length", 0, 150)] | None = None
    seat_to: Annotated[Quantity, Measure("length", 0, 150)] | None = None
    edge_break: Small | None = None
    parts: tuple[Part, ...] | None = None
    stations: BossFile | None = None
    length: Annotated[Quantity, Measure("length", 2, 150)] | None = None
    stations_give: Literal["radius", "wall"] = "radius"
    scan: BossFile | None = None
    scan_unit: Literal["mm", "in", "m"] | None = None
    scan_picks: BossFile | None = None
    trace: Trace | None = None


class Target(Table):
    """The gap that is wanted at set-up, and how much deeper the grinding may go.

    confidence: chance that the cut to hold the gap gives it, in percent [-].
    """

    gap: Annotated[Quantity, Measure("length", 0.1, 5)] = _common("0.020 in")
    allowance: Annotated[Quantity, Measure("length", 0, 2)] = _common("0.005 in")
    confidence: Annotated[float, Plain("number", 50, 99.9)] = 97.5


Way = Annotated[float, Plain("length", -2, 2)]
Shift3 = tuple[Way, Way, Way]


class Running(Table):
    """What moves between the reading and the road.

    pinion_moved: how much further toward the ring's centre line the pinion goes than when the readings were taken, the
    backlash set again. drive, coast: the ring's way under load: along the pinion toward its head, to the side where the
    pinion lies, and away from the pinion.
    """

    backlash_now: Play | None = None
    backlash_final: Play | None = None
    runout: Play | None = None
    radial_runout: Play | None = None
    pinion_moved: Annotated[Quantity, Measure("length", -2, 2)] | None = None
    deflection: Shift | None = None
    heat: Shift | None = None
    settling: Shift | None = None
    drive: Shift3 | None = None
    coast: Shift3 | None = None


Point = tuple[Annotated[float, Plain("length", 0, 500)], Annotated[float, Plain("length", -500, 500)]]


def _three_corners(raw: object) -> object:
    if isinstance(raw, list | tuple) and len(raw) < 3:
        raise refuse("", f"{len(raw)} corners enclose nothing", "three or more, each [out from the ring's axis, in]")
    return raw


class Turning(Table):
    """Another body that turns with the ring: points (r from the ring axis, z toward the ring's back face) [mm]."""

    name: str = Field(min_length=1)
    section: Annotated[tuple[Point, ...], BeforeValidator(_three_corners)]


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
    old_gears: OldGears = OldGears()
    readings: tuple[Reading, ...] = ()
    correlated: tuple[Correlated, ...] = ()
    setup: Setup = Setup()
    shop: Shop = Shop()
    _source: Any = PrivateAttr(default=None)

    def __eq__(self, other: object) -> bool:
        """Equal in every value; where they were read from does not count."""
        return isinstance(other, Job) and dict(self) == dict(other)

    __hash__ = None  # type: ignore[assignment]
