"""The boss a job describes: its bore, and its parts, its station table or its drawings."""

from __future__ import annotations

from functools import lru_cache

import geartrack.job as job_file
from geartrack.boss import shapes
from geartrack.boss.mesh import Bore, BossMesh
from geartrack.boss.parts import boss_from_parts
from geartrack.boss.readings import StationTable, read_stations
from geartrack.boss.stations import boss_from_stations
from geartrack.boss.trace.solid import boss_from_trace

SEAT_LEAD_MM = 1.0  # of a bearing seat that was not typed: this far in from each end of the bore; from memory


def bore_of(boss: job_file.Boss) -> Bore:
    """The pilot bore; a bearing seat that was not typed runs the bore's whole depth but for a lead at each end."""
    depth = boss.bore_depth.value
    lead = min(SEAT_LEAD_MM, depth / 4)
    return Bore(
        boss.bore_diameter.value,
        depth,
        boss.seat_from.value if boss.seat_from else lead,
        boss.seat_to.value if boss.seat_to else depth - lead,
    )


def station_table(boss: job_file.Boss) -> StationTable | None:
    """The readings of a boss that is given by a station table; None for one made from parts."""
    if boss.stations is None:
        return None
    length = boss.length.value if boss.length else boss.bore_depth.value
    return read_stations(boss.stations.path, bore=bore_of(boss), give=boss.stations_give, length_mm=length)


@lru_cache(maxsize=24)
def boss_mesh(boss: job_file.Boss, readings: StationTable | None, edge_break_mm: float) -> BossMesh:
    """The boss in its own frame, its pinion-side edge broken by this much [mm]."""
    if readings is not None:
        return boss_from_stations(readings, bore_of(boss), edge_break_mm=edge_break_mm)
    if boss.trace is not None:
        length = boss.length.value if boss.length else boss.bore_depth.value
        return boss_from_trace(boss.trace, bore_of(boss), length_mm=length)
    return boss_from_parts([_part(part) for part in boss.parts or ()], bore_of(boss), edge_break_mm=edge_break_mm)


def _part(part: job_file.Part) -> shapes.Part:
    match part:
        case job_file.Cylinder():
            return shapes.Cylinder(part.diameter, part.start, part.end)
        case job_file.Cone():
            return shapes.Cone(part.diameter_from, part.diameter_to, part.start, part.end)
        case job_file.Pad():
            return shapes.Pad(part.clock, part.distance, part.width, part.start, part.end)
        case job_file.Rib():
            return shapes.Rib(part.clock, part.width, part.reach, part.start, part.end)
        case job_file.Fillet():
            return shapes.Fillet(part.radius, part.at, part.diameter)
        case job_file.Cut():
            return shapes.Cut(part.clock, part.distance, part.start, part.end)
