"""The station table: radii, or walls over the bore, read at stations and clock angles, as a CSV file holds them.

Three columns in any order, named station, clock, and radius or wall. Units stand in the names (`station_in, clock_deg,
radius_mm`; a clock column may be `clock_oclock`), in a line of units under the names, or in every cell.
"""

from __future__ import annotations

import csv
import io
import math
import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Literal, cast

import numpy as np

from geartrack.boss.facets import LARGEST_MM, bore_findings, said
from geartrack.boss.mesh import Bore
from geartrack.errors import Finding, InputError, refuse
from geartrack.frame import Array
from geartrack.tolerances import TOLERANCES
from geartrack.units import Units, parse_angle, parse_clock, parse_length

Give = Literal["radius", "wall"]

FEWEST, MOST, MOST_BYTES = 6, 2000, 1_000_000
"""Readings in a table at least and at most, and bytes in its file at most."""

MOST_OF_BORE = 2.7
"""No boss stands out further from its bore's axis than this many times the bore's radius; from memory."""

_RIGHT = "station_in, clock_deg, radius_in or the same with _mm, wall in place of radius, or clock_oclock"
_NAME = re.compile(r"(station|radius|wall)(?:_(in|mm))?|(clock)(?:_(deg|oclock))?")
_LENGTH_UNITS, _CLOCK_UNITS = ("in", "mm"), ("deg", "oclock", "o'clock")
_HAIR = 1e-9


@dataclass(frozen=True, eq=False)
class StationTable:
    """Readings of a boss's outside about the bore axis, in the real part's hand (see geartrack.frame).

    station_mm, radius_mm : (n,) float [mm]; clock : (n,) float [rad], in (-pi, pi], all different places
    length_mm : the boss's length in from the pinion-side end face [mm]; source : the file's name
    """

    station_mm: Array
    clock: Array
    radius_mm: Array
    length_mm: float
    source: str = "station table"

    def __post_init__(self) -> None:
        columns = (self.station_mm, self.clock, self.radius_mm)
        if {column.shape for column in columns} != {(len(self.clock),)} or len(self.clock) < FEWEST:
            raise refuse(self.source, f"{len(self.clock)} readings", f"at least {FEWEST}, every column as long")
        if not all(np.isfinite(column).all() for column in columns):
            raise refuse(self.source, "a reading is not a finite number", "finite numbers only")


@dataclass(frozen=True)
class _Columns:
    """Where each column stands, and the unit of its bare numbers."""

    index: dict[str, int]
    unit: dict[str, str | None]
    give: Give


def read_stations(path: str | Path, *, bore: Bore, give: Give | None = None, length_mm: float) -> StationTable:
    """The station table of a CSV file.

    give: what the third column must hold; None takes what its name says. A wall is over the bore, radius = wall +
    bore radius. length_mm: the boss's length in from the pinion-side end face [mm]. Raises InputError with everything
    that is wrong, one line each, rows counted as a text editor counts lines.
    """
    name = Path(path).name
    try:
        with Path(path).open("rb") as file:
            raw = file.read(MOST_BYTES + 1)
    except OSError as error:
        raise refuse(name, f"cannot be read: {(error.strerror or 'no reason given').lower()}", "a CSV file") from None
    if len(raw) > MOST_BYTES:
        raise refuse(name, f"larger than {MOST_BYTES // 1000} kB", f"a table of up to {MOST} readings")
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise refuse(name, "is not plain text", "a CSV file saved as UTF-8") from None
    return parse_stations(text, bore=bore, give=give, length_mm=length_mm, source=name)


def parse_stations(
    text: str, *, bore: Bore, give: Give | None = None, length_mm: float, source: str = "station table"
) -> StationTable:
    """The station table of a CSV file's text; see `read_stations`. length_mm: the boss's length [mm].

    >>> bore = Bore(45.0, 20.0, 1.0, 18.0)
    >>> rows = [f"{s}, {h}, 27.5" for s in (1, 4) for h in (11, "12:30", 2)]
    >>> table = parse_stations("\\n".join(["station_mm, clock_oclock, radius_mm", *rows]), bore=bore, length_mm=22.0)
    >>> table.clock.round(3).tolist()[:3]
    [-0.524, 0.262, 1.047]
    """
    findings = bore_findings(bore)
    if not 0 < length_mm <= LARGEST_MM:
        findings.append(Finding(source, f"a boss {said(length_mm)} long", "a length greater than 0"))
    if findings:
        raise InputError(*findings)
    rows = _rows(text, source)
    columns, rows = _columns(rows, give, source)
    readings: dict[tuple[float, float], tuple[int, tuple[float, float, float]]] = {}
    for line, cells in rows:
        try:
            reading = _reading(cells, columns, bore, length_mm, f"{source} row {line}")
        except InputError as error:
            findings += error.findings
            continue
        place = (round(reading[0], 6), round(reading[1], 9))
        if place in readings:
            what = f"the same station and clock angle as row {readings[place][0]}"
            findings.append(Finding(f"{source} row {line}", what, "one row for each place, the mean of its readings"))
        readings.setdefault(place, (line, reading))
    if len(rows) < FEWEST:
        findings.append(Finding(source, f"{len(rows)} readings", f"at least {FEWEST}"))
    if findings:
        raise InputError(*findings)
    station, clock, radius = np.array([reading for _, reading in readings.values()]).T
    return StationTable(station, clock, radius, length_mm, source)


def as_csv(table: StationTable) -> str:
    """A station table as the text of a CSV file that reads back the same (radii, mm and degrees)."""
    rows = zip(table.station_mm, np.degrees(table.clock), table.radius_mm, strict=True)
    lines = [f"{s:.9f},{t:.11f},{q:.9f}" for s, t, q in rows]
    return "\n".join(["station_mm,clock_deg,radius_mm", *lines, ""])


def _rows(text: str, source: str) -> list[tuple[int, list[str]]]:
    """Line number and cells of every row that holds anything."""
    if "\0" in text:
        raise refuse(source, "is not plain text", "a CSV file saved as UTF-8")
    reader = csv.reader(io.StringIO(text, newline=""), strict=True)
    rows = []
    try:
        for cells in reader:
            trimmed = [cell.strip() for cell in cells]
            if any(trimmed):
                rows.append((reader.line_num, trimmed))
            if len(rows) > MOST + 2:
                raise refuse(source, f"more than {MOST} readings", "fewer readings, or the scan itself as STL or PLY")
    except csv.Error as error:
        raise refuse(f"{source} row {reader.line_num}", f"is not CSV: {error}", "cells between commas") from None
    if not rows:
        raise refuse(source, "is empty", f"a first line such as {_RIGHT}")
    return rows


def _columns(
    rows: list[tuple[int, list[str]]], give: Give | None, source: str
) -> tuple[_Columns, list[tuple[int, list[str]]]]:
    """What the first line says, and the rows that hold readings."""
    line, names = rows[0]
    where = f"{source} row {line}"
    matches = [_NAME.fullmatch(name.lower()) for name in names]
    kinds = [match and (match[1] or match[3]) for match in matches]
    if sorted(map(str, kinds)) not in (["clock", "radius", "station"], ["clock", "station", "wall"]):
        shown = ", ".join(names)[:60]
        hint = "columns are divided by commas; " if len(names) == 1 and re.search("[;\t]", names[0]) else ""
        raise refuse(where, f"the columns are named {shown!r}", f"{hint}type {_RIGHT}")
    found: Give = "wall" if "wall" in kinds else "radius"
    if give and give != found:
        raise refuse(where, f"the column is named {found}, but the job says {give}", "the same word in both")
    index = {str(kind): i for i, kind in enumerate(kinds)}
    unit = {str(kind): match and (match[2] or match[4]) for kind, match in zip(kinds, matches, strict=True)}
    rest = rows[1:]
    if rest and _is_unit_line(rest[0][1], kinds):
        for kind, typed in zip(kinds, rest[0][1], strict=True):
            if unit[str(kind)] not in (None, _plain(typed)):
                raise refuse(f"{source} row {rest[0][0]}", f"{typed} under {names[index[str(kind)]]}", "one unit")
            unit[str(kind)] = _plain(typed)
        rest = rest[1:]
    return _Columns(index, unit, found), rest


def _plain(unit: str) -> str:
    return unit.lower().replace("'", "")


def _is_unit_line(cells: Sequence[str], kinds: Sequence[str | None]) -> bool:
    return len(cells) == len(kinds) and all(
        cell.lower() in (_CLOCK_UNITS if kind == "clock" else _LENGTH_UNITS)
        for cell, kind in zip(cells, kinds, strict=True)
    )


def _reading(
    cells: Sequence[str], columns: _Columns, bore: Bore, length_mm: float, where: str
) -> tuple[float, float, float]:
    """Station [mm], clock angle [rad] and radius [mm] of one row; raises with everything wrong in it."""
    if len(cells) != len(columns.index):
        raise refuse(where, f"{len(cells)} cells", f"{len(columns.index)}, one under each name")
    values: dict[str, float] = {}
    findings: list[Finding] = []
    for name, i in columns.index.items():
        try:
            values[name] = _value(name, cells[i], columns.unit[name], f"{where}, {name}")
        except InputError as error:
            findings += error.findings
    if values.get("station", 0.0) > length_mm + TOLERANCES.mesh_mm:
        right = f"0 to {said(length_mm)} from the pinion-side end"
        findings.append(Finding(f"{where}, station", f"{said(values['station'])} is beyond the boss's end", right))
    size, wall = values.get(columns.give, math.nan), columns.give == "wall"
    radius = size + (bore.diameter_mm / 2 if wall else 0.0)
    largest = MOST_OF_BORE * bore.diameter_mm / 2
    if columns.give in values and not bore.diameter_mm / 2 < radius <= largest:
        least = "more than 0" if wall else f"more than the bore's radius, {said(bore.diameter_mm / 2)}"
        right = f"{least}, and at most {said(largest)}; was the other unit meant, or half of it?"
        findings.append(Finding(f"{where}, {columns.give}", f"{said(size)} cannot be", right))
    if findings:
        raise InputError(*findings)
    return values["station"], values["clock"], radius


def _value(name: str, cell: str, unit: str | None, where: str) -> float:
    if name != "clock":
        return parse_length(cell, where=where, default_unit=cast(Units | None, unit))
    if "clock" in cell or unit == "oclock":
        return parse_clock(cell if "clock" in cell else f"{cell} o'clock", where=where)
    angle = parse_angle(cell, where=where, default_unit="deg" if unit else None)
    if not -math.pi - _HAIR <= angle <= 2 * math.pi + _HAIR:
        raise refuse(where, f"a clock angle of {math.degrees(angle):g} deg", "from -180 to 360 deg")
    turned = math.remainder(angle, 2 * math.pi)
    return math.pi if turned <= -math.pi else turned
