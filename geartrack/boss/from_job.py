"""The boss a job describes: its bore, and its parts, its station table, its scan or its drawings."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache

import geartrack.job as job_file
from geartrack.boss import shapes
from geartrack.boss.mesh import Bore, BossMesh
from geartrack.boss.parts import boss_from_parts
from geartrack.boss.readings import StationTable, read_stations
from geartrack.boss.scan.from_scan import Scanned, boss_from_scan
from geartrack.boss.stations import boss_from_stations
from geartrack.boss.trace.solid import boss_from_trace
from geartrack.frame import Hand
from geartrack.quantity import give_or_take
from geartrack.tolerances import TOLERANCES

_FROM = {"file": "its file says so", "inferred": "by its size; scan_unit under [boss] says which"}

AsRead = StationTable | Scanned
"""What a boss that was read or scanned is worked from; one from parts or drawings has none."""

ANYWHERE = give_or_take(0.0, 0.0)  # in its own frame a boss stands nowhere along the pinion
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


def as_read(job: job_file.Job) -> AsRead | None:
    """The readings or the scan that the boss is given by; None for one made from parts or drawings."""
    boss = job.boss
    if boss.scan is None:
        return station_table(boss)
    about = boss.scan.path.stat() if boss.scan.path.is_file() else None
    key = (about.st_mtime_ns, about.st_size) if about else (0, 0)
    hand, ring = job.axle.hand, job.axle.ring_diameter.value
    return _scanned(boss, hand, ring, key)


@lru_cache(maxsize=2)
def _scanned(boss: job_file.Boss, hand: Hand | None, ring_diameter_mm: float, stamp: tuple[int, int]) -> Scanned:
    """A scan as worked out once; the stamp is its file's, so that a file written anew is read anew."""
    from geartrack.boss.scan.files import read_scan, unit_name
    from geartrack.boss.scan.picks import NONE, read_picks

    assert boss.scan is not None
    scan = read_scan(boss.scan.path, unit=boss.scan_unit)
    picks = read_picks(boss.scan_picks.path, scan.unit) if boss.scan_picks else NONE
    return boss_from_scan(
        scan.vertices,
        scan.triangles,
        bore_of(boss),
        hand=hand,
        ring_diameter_mm=ring_diameter_mm,
        end_face_mm=boss.end_face.value,
        length_mm=boss.length.value if boss.length else None,
        picks=picks,
        source=scan.file,
        notes=()
        if scan.unit_from == "said"
        else (f"the scan is taken to be in {unit_name(scan.unit)} ({_FROM[scan.unit_from]})",),
    )


def boss_mesh(
    boss: job_file.Boss, readings: AsRead | None, edge_break_mm: float, facet_mm: float = TOLERANCES.facet_mm
) -> BossMesh:
    """The boss in its own frame, its pinion-side edge broken by this much [mm]; a scan shows its own edge.

    facet_mm: how far round faces of parts may stand out beyond their facets [mm].
    """
    return _mesh(boss.model_copy(update={"end_face": ANYWHERE}), readings, edge_break_mm, facet_mm)


@lru_cache(maxsize=24)
def _mesh(boss: job_file.Boss, readings: AsRead | None, edge_break_mm: float, facet_mm: float) -> BossMesh:
    """The mesh, made once and the same object again wherever the boss stands along the pinion."""
    if isinstance(readings, Scanned):
        return readings.mesh
    if readings is not None:
        return boss_from_stations(readings, bore_of(boss), edge_break_mm=edge_break_mm)
    if boss.trace is not None:
        length = boss.length.value if boss.length else boss.bore_depth.value
        return boss_from_trace(boss.trace, bore_of(boss), length_mm=length)
    parts = [_part(part) for part in boss.parts or ()]
    tolerances = replace(TOLERANCES, facet_mm=facet_mm)
    return boss_from_parts(parts, bore_of(boss), edge_break_mm=edge_break_mm, tolerances=tolerances)


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
