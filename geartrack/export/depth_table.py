"""How deep the cut is by station and clock angle, how deep it may ever be, what wall is left: as CSV and as a page."""

from __future__ import annotations

import csv
import io
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from geartrack import words
from geartrack.errors import refuse
from geartrack.export.figure import Figure
from geartrack.export.grindable import cuts_to_grind, hand_of, stop_of
from geartrack.export.paper import Paper, Sheets
from geartrack.export.picture import which_way
from geartrack.export.ruled import Cell, ruled
from geartrack.frame import Array
from geartrack.relief.grid import shoot
from geartrack.relief.sweep_field import GrownSweep
from geartrack.study.answer import Answer
from geartrack.units import UNIT_WORDS, Rounding, Units, parse_length, show_both, show_length

_STATIONS: dict[Units, tuple[str, ...]] = {
    "in": ("0.01 in", "0.02 in", "0.05 in", "0.1 in", "0.2 in", "0.5 in"),
    "mm": ("0.25 mm", "0.5 mm", "1 mm", "2 mm", "5 mm", "10 mm"),
}
_CLOCKS = (0.5, 1.0, 1.5, 2.0, 2.5, 5.0, 7.5, 15.0, 30.0)  # degrees; half a degree is a minute of the clock
_MOST_ROWS, _MOST_COLUMNS = 9, 9
_OTHER: dict[Units, Units] = {"in": "mm", "mm": "in"}
_FIRST_MM, _ROW_MM, _SMALL_MM = 24.0, 7.2, 2.9


@dataclass(frozen=True, eq=False)
class DepthTable:
    """The cut at round stations and clock angles that cover it, STOP's counted.

    stations_mm: (ns,); clocks: (nt,) [rad]. cast_mm, depth_mm, stop_mm: (ns, nt) radius as cast, depth of the nominal
    cut toward the bore's axis, and depth at STOP.
    """

    answer: Answer
    stations_mm: Array
    clocks: Array
    cast_mm: Array
    depth_mm: Array
    stop_mm: Array

    @property
    def left_mm(self) -> Array:
        """(ns, nt), radius that the nominal cut leaves."""
        left: Array = self.cast_mm - self.depth_mm
        return left

    @property
    def wall_mm(self) -> Array:
        """(ns, nt), metal left over the bore by the nominal cut."""
        wall: Array = self.left_mm - self.answer.boss.mesh.bore.diameter_mm / 2
        return wall

    def in_bore(self, row: int) -> bool:
        """Whether the bore runs as deep as the station of that row."""
        return bool(self.stations_mm[row] <= self.answer.boss.mesh.bore.depth_mm)


def depth_table(answer: Answer) -> DepthTable:
    """The table of an answer's nominal cut.

    Raises InputError where there is nothing to grind by, or the hand of the axle is not given.
    """
    cuts = cuts_to_grind(answer)
    hand_of(answer)
    stop = stop_of(cuts)
    around = np.concatenate([*cuts.nominal.outline, *stop.outline])
    (_, low), (deep, high) = around.min(axis=0), around.max(axis=0)
    lengths = [parse_length(text) for text in _STATIONS[answer.job.units]]
    step = next((each for each in lengths if deep <= each * (_MOST_ROWS - 1)), lengths[-1])
    turns = np.radians(_CLOCKS)
    turn = float(next((each for each in turns if high - low <= each * (_MOST_COLUMNS - 2)), turns[-1]))
    stations = step * np.arange(int(deep / step) + 1, dtype=np.float64)
    clocks = turn * np.arange(np.floor(low / turn), np.ceil(high / turn) + 1, dtype=np.float64)
    shot = shoot(answer.boss, GrownSweep(answer.section, cuts.nominal.clearance_mm), stations, clocks)
    at_stop = shoot(answer.boss, GrownSweep(answer.section, stop.clearance_mm), stations, clocks)
    return DepthTable(answer, stations, clocks, shot.cast, shot.depth, at_stop.depth)


def check_name(path: Path) -> None:
    """Raises InputError where the path's suffix names nothing that the table can be written as."""
    if path.suffix.lower() not in (".csv", ".pdf"):
        raise refuse(str(path), "a depth table cannot be written to a name that ends so", "use .csv or .pdf")


def depth_file(table: DepthTable, path: Path, paper: Paper) -> bytes:
    """The table as the file that the path's suffix names."""
    check_name(path)
    return depth_csv(table) if path.suffix.lower() == ".csv" else depth_pdf(table, paper)


def depth_csv(table: DepthTable) -> bytes:
    """A row for each station and clock angle, in the job's units, which stand in the heads.

    Depth is rounded up; radius left, wall left and STOP's depth are rounded down. Where no bore is, wall stays empty.
    """
    units = table.answer.job.units
    stream = io.StringIO()
    writer = csv.writer(stream, lineterminator="\n")
    lengths = ("cast_radius", "depth", "radius_left", "wall_left", "stop_depth")
    writer.writerow([f"station_{units}", "clock_deg", "clock_oclock", *(f"{name}_{units}" for name in lengths)])
    for i, station in enumerate(table.stations_mm):
        for j, clock in enumerate(table.clocks):
            wall = _bare(table.wall_mm[i, j], units, "down") if table.in_bore(i) else ""
            numbers = [
                _bare(table.cast_mm[i, j], units),
                _bare(table.depth_mm[i, j], units, "up"),
                _bare(table.left_mm[i, j], units, "down" if table.depth_mm[i, j] > 0 else "nearest"),
                wall,
                _bare(table.stop_mm[i, j], units, "down"),
            ]
            writer.writerow([_bare(station, units), f"{_degrees(clock):g}", clock_time(clock), *numbers])
    return stream.getvalue().encode()


def depth_pdf(table: DepthTable, paper: Paper) -> bytes:
    """The table on a page or two, both units in every cell."""
    answer, units = table.answer, table.answer.job.units
    cuts = cuts_to_grind(answer)
    mark = answer.job.case.mark or "no mark given"
    whose = f"{answer.job.name} · {answer.pair} = {answer.pair.ratio:.2f}:1 · case {mark} · {answer.verdict.words}"
    title = "Depth to grind, by place on the boss"
    sheets = Sheets(paper, title=title, whose=whose, foot=words.for_this_case(answer), about=title, bars=False)
    deepest = show_both(cuts.nominal.depth_radial_max_mm, units, rounding="up")
    station = show_both(cuts.nominal.depth_radial_station_mm, units)
    place = f"{station} from that end, at {clock_time(cuts.nominal.depth_radial_clock)}"
    first, second = UNIT_WORDS[units], UNIT_WORDS[_OTHER[units]]
    limit = show_both(stop_of(cuts).depth_radial_max_mm, units, rounding="down")
    least = show_both(cuts.wall.left_mm, units, rounding="down")
    sheets.say(
        [
            f"Rows: in from the pinion-side end. Columns: o'clock seen from the pinion-nut end, 12 straight at the ring"
            f" gear, clockwise. Every cell: {first}, below it {second}. Depths run toward the bore's axis.",
            f"Deepest {deepest}, {place}; STOP at {limit}; thinnest wall left over the bearing {least},"
            f" {words.minimum_words(answer, units)}. The gap decides: read it as you go.",
        ],
        size_mm=_SMALL_MM,
    )
    for figure in _tables(table, sheets.room_mm):
        sheets.room(figure.height_mm + 9.0)
        sheets.heading(figure.name)
        sheets.top_mm -= 1.5
        sheets.figure(figure, 0.0)
        sheets.top_mm -= figure.height_mm + 2.5
    picture = which_way(
        answer.hand,
        offset=answer.boss.seat.offset_mm > 0,
        clocks=(float(table.clocks[0]), float(table.clocks[-1])),
    )
    sheets.room(picture.height_mm)
    sheets.figure(picture, (sheets.room_mm - picture.width_mm) / 2)
    sheets.top_mm -= picture.height_mm
    notes = [f"The boss: {note}." for note in answer.boss.mesh.notes]
    sheets.block([*notes, *words.metal_lines(answer), *words.CAUTIONS], size_mm=2.6)
    return sheets.bytes()


def _tables(table: DepthTable, room_mm: float) -> list[Figure]:
    """Depth to take off, depth never to pass, wall left."""
    shown = [("Depth to take off", table.depth_mm, "up"), ("STOP: never deeper than this", table.stop_mm, "down")]
    figures = [_table(table, name, values, _rounding(way), room_mm) for name, values, way in shown]
    walls = "Wall left over the pilot bore, along the same line"
    return [*figures, _table(table, walls, table.wall_mm, "down", room_mm, walls=True)]


def _rounding(way: str) -> Rounding:
    return "up" if way == "up" else "down"


def _table(
    table: DepthTable, name: str, values_mm: Array, rounding: Rounding, room_mm: float, *, walls: bool = False
) -> Figure:
    units, cut = table.answer.job.units, table.depth_mm if rounding == "up" or walls else table.stop_mm

    def cell(mm: float, *, shade: bool, way: Rounding = "nearest", bold: bool = False) -> Cell:
        return Cell(_bare(mm, units, way), _bare(mm, _OTHER[units], way), bold, shade)

    rows = [
        [Cell("in from", "the end"), *(Cell(clock_time(clock), f"{_degrees(clock):g} deg") for clock in table.clocks)]
    ]
    for i, station in enumerate(table.stations_mm):
        row = [cell(float(station), shade=False, bold=True)]
        for value, depth in zip(values_mm[i], cut[i], strict=True):
            empty = not table.in_bore(i) if walls else value == 0
            row.append(Cell("-") if empty else cell(float(value), shade=bool(depth > 0), way=rounding))
        rows.append(row)
    wide = (room_mm - _FIRST_MM) / len(table.clocks)
    return ruled(name, rows, [_FIRST_MM, *[min(wide, 21.0)] * len(table.clocks)], _ROW_MM)


def _bare(mm: float, units: Units, rounding: Rounding = "nearest") -> str:
    """A length's digits without its unit."""
    return show_length(float(mm), units, rounding=rounding).removesuffix(f" {units}")


def _degrees(clock: float) -> float:
    """A clock angle in degrees as a CSV has it, above -180 and up to 180."""
    degrees = round(float(np.degrees(clock)), 6)
    return degrees - 360.0 if degrees > 180.0 else degrees + 360.0 if degrees <= -180.0 else degrees


def clock_time(clock: float) -> str:
    """A clock angle [rad] as the time a small hand shows there, to a minute.

    >>> clock_time(np.radians(37.5)), clock_time(np.radians(-30.0))
    ('1:15', '11:00')
    """
    minutes = round(np.degrees(clock) * 2) % 720
    return f"{minutes // 60 or 12}:{minutes % 60:02d}"
