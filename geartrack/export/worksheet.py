"""A true-scale sheet on which caliper readings of a boss are noted, and the empty table that a job takes back."""

from __future__ import annotations

import csv
import io
from dataclasses import dataclass
from itertools import product
from math import ceil
from pathlib import Path

import numpy as np

from geartrack import words
from geartrack.boss.from_job import bore_of
from geartrack.boss.mesh import Bore
from geartrack.boss.readings import Give
from geartrack.errors import refuse
from geartrack.export.figure import Box, Curve, Figure, Label, Layer, box_curve, circle, line
from geartrack.export.paper import Paper, Sheets
from geartrack.export.picture import arrow, which_way
from geartrack.export.ruled import Cell, ruled
from geartrack.frame import Hand
from geartrack.job import Job, read_job
from geartrack.job.parts import Spanning
from geartrack.units import UNIT_WORDS, Units, in_units, parse_length, show_both, show_length

HOURS = (12, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11)
_LONGEST_STEP_MM, _IN_FROM_END_MM, _ABOVE_BOTTOM_MM = 4.5, 1.5, 0.5
_USUAL_LENGTH: dict[Units, str] = {"in": "0.9 in", "mm": "22 mm"}
_TIDY: dict[Units, str] = {"in": "0.01 in", "mm": "0.1 mm"}
_RINGS: dict[Units, tuple[str, int]] = {"in": ("0.05 in", 2), "mm": ("1 mm", 5)}
_USUAL_BORE_MM, _LEAST_ROOM_MM, _MOST_RADIUS_MM = 36.0, 14.0, 88.0
_LEAST_RADIUS_MM = 15.0  # no boss is smaller, and rings closer to the middle only hide it
_FIRST_MM, _ROW_MM, _SPARE_ROWS, _SMALL_MM = 26.0, 9.5, 4, 2.9
_CAUTIONS = (
    "Nothing is ground by this sheet: its readings go into a job, and geartrack check says what has to go.",
    *words.CAUTIONS[3:],
)
_READ_BY = "read by ____________ on ____________"
TITLE = "Worksheet: the boss by caliper, true scale"


@dataclass(frozen=True)
class Plan:
    """Where a boss is to be read: for whom, in which units, what (wall over the bore, or radius), at which stations.

    bore_mm: diameter of the pilot bore, None where not known [mm]; stations_mm: in from the pinion-side end [mm].
    offset: whether the axle has one, of which hand the axle is (None: not known).
    """

    whose: str
    units: Units
    give: Give
    bore_mm: float | None
    stations_mm: tuple[float, ...]
    hand: Hand | None = None
    offset: bool = False
    length_mm: float | None = None


def check_names(out: Path, table: Path | None) -> None:
    """Raises InputError where a path's suffix is not that of the file which is written there."""
    for path, suffix in ((out, ".pdf"), (table, ".csv")):
        if path is not None and path.suffix.lower() != suffix:
            raise refuse(str(path), "a worksheet cannot be written to a name that ends so", f"use {suffix}")


def plan(job: Path | None, bore_diameter: str | None, units: str | None) -> Plan:
    """The plan for a job file, or for a pilot bore's diameter as typed, or for neither."""
    chosen: Units | None = None if units is None else "mm" if units == "mm" else "in"
    if job is not None:
        if bore_diameter is not None:
            raise refuse("--bore-diameter", "is in the job already", "a job, or a bore diameter")
        return plan_for_job(read_job(job), chosen)
    typed = parse_length(bore_diameter, where="--bore-diameter") if bore_diameter is not None else None
    return plan_for_bore(typed, chosen or "in")


def plan_for_job(job: Job, units: Units | None = None) -> Plan:
    """A plan for the boss of a job: walls, unless the job says that its table gives radii."""
    boss = job.boss
    give: Give = boss.stations_give if boss.stations else "wall"
    bore, chosen = bore_of(boss), units or job.units
    ends = (part.end for part in boss.parts or () if isinstance(part, Spanning))
    long = boss.length.value if boss.length else max(bore.depth_mm, *ends)
    whose = f"{job.name} · case {job.case.mark or 'no mark given'} · {_READ_BY}"
    stations = _stations(_reach(give, long, bore), chosen)
    return Plan(whose, chosen, give, bore.diameter_mm, stations, job.axle.hand, job.axle.offset.value > 0, long)


def plan_for_bore(bore_mm: float | None, units: Units) -> Plan:
    """A plan for a boss of which no more is known than its bore's diameter [mm], or not even that."""
    if bore_mm is not None and not _USUAL_BORE_MM / 3 <= bore_mm <= 2 * (_MOST_RADIUS_MM - _LEAST_ROOM_MM):
        most = show_length(2 * (_MOST_RADIUS_MM - _LEAST_ROOM_MM), units, rounding="down")
        right = f"{show_length(_USUAL_BORE_MM / 3, units)} to {most}; was the other unit meant?"
        raise refuse("--bore-diameter", f"a pilot bore of {show_length(bore_mm, units)}", right)
    stations = _stations(parse_length(_USUAL_LENGTH[units]) - _IN_FROM_END_MM, units)
    return Plan(f"Case ____________ · {_READ_BY}", units, "wall", bore_mm, stations)


def worksheet_csv(plan: Plan) -> bytes:
    """The empty table: a row for each place, the reading to be filled in; rows that were not read are to be deleted."""
    stream = io.StringIO()
    writer = csv.writer(stream, lineterminator="\n")
    writer.writerow([f"station_{plan.units}", "clock_deg", f"{plan.give}_{plan.units}"])
    for station, hour in product(plan.stations_mm, HOURS):
        writer.writerow([_bare(station, plan.units), hour % 12 * 30, ""])
    return stream.getvalue().encode()


def worksheet_pdf(plan: Plan, paper: Paper) -> bytes:
    """The sheet: bars to measure, the bore with its clock to scale, how to read, and the table to fill in."""
    foot = f"For the case that is read only: castings of one pattern differ. {words.NOT_LOOKED_AT}"
    sheets = Sheets(paper, title=TITLE, whose=plan.whose, foot=foot, about=TITLE)
    polar = polar_sheet(plan)
    sheets.figure(polar, (sheets.room_mm - polar.width_mm) / 2)
    sheets.top_mm -= polar.height_mm + 1.0
    sheets.say(_about_the_sheet(plan), size_mm=_SMALL_MM)
    sheets.top_mm -= 2.0
    pictures = [which_way(plan.hand, offset=plan.offset), _caliper()]
    sheets.room(max(p.height_mm for p in pictures) + 48.0)
    sheets.heading("How to read")
    top = sheets.top_mm
    sheets.figure(pictures[0], 0.0)
    sheets.figure(pictures[1], sheets.room_mm - pictures[1].width_mm)
    sheets.top_mm = top - max(p.height_mm for p in pictures)
    sheets.say(_how_to(plan), size_mm=_SMALL_MM)
    sheets.top_mm -= 2.0
    table = _table(plan, sheets.room_mm)
    sheets.room(table.height_mm + 40.0)
    sheets.heading(table.name)
    sheets.top_mm -= 1.5
    sheets.figure(table, 0.0)
    sheets.top_mm -= table.height_mm + 2.0
    sheets.say([*_into_the_job(plan), *_CAUTIONS], size_mm=_SMALL_MM)
    return sheets.bytes()


def _reach(give: Give, long_mm: float, bore: Bore) -> float:
    """The last station: a wall over the bore can be read no further in than the bore runs."""
    last = long_mm - _IN_FROM_END_MM
    return min(last, bore.depth_mm - _ABOVE_BOTTOM_MM) if give == "wall" else last


def _stations(last_mm: float, units: Units) -> tuple[float, ...]:
    """Stations from just inside the edge to the last, evenly, at round numbers."""
    tidy, first = parse_length(_TIDY[units]), min(_IN_FROM_END_MM, last_mm)
    even = np.linspace(first, last_mm, max(ceil((last_mm - first) / _LONGEST_STEP_MM), 1) + 1)
    return tuple(float(station) for station in np.unique(np.floor(even / tidy + 1e-6) * tidy))


def polar_sheet(plan: Plan) -> Figure:
    """The pilot bore to scale with its clock, as seen from the pinion-nut end, and rings to mark the outside on."""
    bore = (plan.bore_mm or 0.0) / 2
    text, major = _RINGS[plan.units]
    step = parse_length(text)
    room = max(_LEAST_ROOM_MM, 0.7 * bore) if bore else 40.0
    count = int(min(room, _MOST_RADIUS_MM - bore) / step)
    out = bore + count * step
    inner = 1 if bore else ceil(_LEAST_RADIUS_MM / step)
    layers = (Layer.DEPTH, Layer.DEPTH_MAJOR)
    curves = [circle(layers[i % major == 0], bore + i * step) for i in range(inner, count + 1)]
    curves += [circle(Layer.PATCH, bore)] if bore else []
    curves += [line(Layer.CENTRE, (-3.0, 0.0), (3.0, 0.0)), line(Layer.CENTRE, (0.0, -3.0), (0.0, 3.0))]
    labels = []
    for hour in HOURS:
        way = np.array([np.sin(np.radians(30 * hour)), np.cos(np.radians(30 * hour))])
        curves.append(Curve(Layer.MARKS, np.array([max(bore, 4.0) * way, (out + 2.0) * way])))
        x, y = ((out + 4.5) * way).tolist()
        labels.append(Label(str(hour), (x, y - 1.1), 3.2, "middle", bold=hour == 12))
    for i in range(major * ceil(inner / major), count + 1, major):
        name = f"{in_units(i * step, plan.units):.{1 if plan.units == 'in' else 0}f}"
        x, y = ((bore + i * step) * np.array([np.sin(np.radians(15)), np.cos(np.radians(15))])).tolist()
        labels.append(Label(name, (x, y - 0.7), 2.0, "middle", ground=True))
    if bore:
        labels.append(Label("pilot bore", (0.0, -0.45 * bore), 2.6, "middle"))
        labels.append(Label(show_both(plan.bore_mm or 0.0, plan.units), (0.0, -0.45 * bore - 3.4), 2.6, "middle"))
    half = out + 7.5
    box: Box = (-half, -half, half, half)
    return Figure("Boss from the pinion-nut end", box, tuple(curves), tuple(labels))


def _about_the_sheet(plan: Plan) -> list[str]:
    every = f"{_RINGS[plan.units][0]}, every {['', '', 'second', '', '', 'fifth'][_RINGS[plan.units][1]]} heavier"
    if plan.bore_mm:
        return [
            "The boss from the pinion-nut end: 12 straight at the ring gear, clockwise. Heavy circle: the pilot bore to"
            f" scale. Rings: wall over it, every {every}: mark each wall on its hour, join the marks, and a rib, a flat"
            " or a casting off centre shows."
        ]
    return [
        "The boss from the pinion-nut end: 12 straight at the ring gear, clockwise. Rings: distance from the bore's"
        f" middle, every {every}. The bore is not known: with --bore-diameter it is drawn to scale."
    ]


def _how_to(plan: Plan) -> list[str]:
    last = ["Write the wall down, not the radius."]
    if plan.give == "radius" and plan.bore_mm:
        last = [f"Write down the radius: wall plus half the bore, {show_both(plan.bore_mm / 2, plan.units)}."]
    return [
        "1. Bearing out, bore and outside clean, casting skin and flash off where the tip touches.",
        "2. Scribe 12 o'clock on the end face: from the bore's centre straight toward the ring gear, parallel to a"
        " straight bar lying in both side-bearing saddles; then every 30 degrees, clockwise from the pinion-nut end.",
        "3. Ball caliper or ball-anvil micrometer: ball in the bore, other tip outside on the hour, straight through"
        " the wall on a line from the bore's middle. A flat jaw in a round bore reads too thick.",
        "4. Depth stop at the station, in from the pinion-side end. Each place twice; write the mean, in"
        f" {'inches to 0.001' if plan.units == 'in' else 'millimetres to 0.02'}. Strike out what cannot be reached.",
        f"5. {last[0]} Closer rows and hours near 1 o'clock, or where ring and boss are close, are welcome: add rows.",
    ]


def _into_the_job(plan: Plan) -> list[str]:
    long = show_length(plan.length_mm, plan.units) if plan.length_mm else f"... {plan.units}"
    return [
        f"Into the job: type the readings into the CSV file (worksheet --csv), columns station_{plan.units}, clock_deg,"
        f' {plan.give}_{plan.units}; delete rows that were not read. Under [boss]: stations = "file.csv",'
        f' stations_give = "{plan.give}", length = "{long}", and no parts.',
        "Readings further apart than 30 deg or 0.200 in (5 mm) say nothing about what lies between them.",
    ]


def _table(plan: Plan, room_mm: float) -> Figure:
    """Room to write: stations down, hours across."""
    other: Units = "mm" if plan.units == "in" else "in"
    heads = [
        Cell(f"station, {UNIT_WORDS[plan.units]}", UNIT_WORDS[other]),
        *(Cell(str(hour), f"{hour % 12 * 30} deg") for hour in HOURS),
    ]
    rows = [heads]
    for station in plan.stations_mm:
        names = (_bare(station, plan.units), _bare(station, other))
        rows.append([Cell(*names, bold=True), *(Cell() for _ in HOURS)])
    rows += [[Cell() for _ in heads]] * _SPARE_ROWS
    wide = (room_mm - _FIRST_MM) / len(HOURS)
    kind = "Wall over the bore" if plan.give == "wall" else "Radius from the bore's axis"
    name = f"{kind}, {UNIT_WORDS[plan.units]}, by station (in from the pinion-side end) and o'clock"
    return ruled(name, rows, [_FIRST_MM, *[wide] * len(HOURS)], _ROW_MM)


def _caliper() -> Figure:
    """A ball caliper across the wall, in the boss cut lengthwise; not to scale."""
    long, bore, out, at, axis = 34.0, 4.0, 13.0, 12.0, -2.0
    ball, above = bore - 1.2, out + 6.0
    wall = box_curve(Layer.SHADE, (0.0, bore, long, out))
    jaw = ((at, ball), (-12.0, ball), (-12.0, above), (at, above), (at, out + 2.0))
    curves = [
        *(wall, box_curve(Layer.PATCH, (0.0, bore, long, out))),
        *(line(Layer.CENTRE, (-4.0, axis), (long + 4.0, axis)), circle(Layer.BAR, 1.2, (at, ball), 36)),
        *(line(Layer.PATCH, *jaw), *arrow((at, out + 3.0), (at, out))),
        *(line(Layer.MARKS, (0.0, 0.0), (0.0, bore)), line(Layer.MARKS, (at, ball - 1.2), (at, -1.0))),
        *(*arrow((at / 2, -0.2), (0.0, -0.2)), *arrow((at / 2, -0.2), (at, -0.2))),
    ]
    labels = (
        Label("station", (at + 1.5, -1.0), 2.5),
        Label("wall", (at + 2.0, out - 5.2), 2.5),
        Label("pinion-side end", (-1.5, axis - 4.0), 2.5, "middle"),
        Label("centre of the bore", (long + 4.0, axis - 4.0), 2.5, "right"),
    )
    return Figure("A ball caliper across the wall", (-14.0, -16.5, long + 6.0, 20.0), tuple(curves), labels)


def _bare(mm: float, units: Units) -> str:
    """A length's digits without its unit."""
    return show_length(mm, units).removesuffix(f" {units}")
