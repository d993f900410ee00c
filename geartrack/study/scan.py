"""A scan looked at: its health, its unit, the datums found in it, what is missing, and the job it makes."""

from __future__ import annotations

import os
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from geartrack.boss.mesh import Bore
from geartrack.boss.scan.datums import Datums, located
from geartrack.boss.scan.files import ScanMesh, read_scan
from geartrack.boss.scan.finish import Outside
from geartrack.boss.scan.from_scan import bore_differs, outside_of
from geartrack.boss.scan.health import Health, health
from geartrack.boss.scan.picks import NONE, read_picks
from geartrack.boss.scan.pose import Registration, register
from geartrack.errors import InputError, refuse
from geartrack.frame import Hand
from geartrack.inputs import bench_reading
from geartrack.job import Job
from geartrack.job.model import EITHER
from geartrack.units import show_both

SUPPORT = "pinion support's face, by its lean"
_LEAST_BORE = "the pilot bore is the least one found: --bore-diameter or --job holds it against the one measured"
_STALE = (*EITHER, "edge_break", "length", "stations_give", "scan_unit", "scan_picks")


@dataclass(frozen=True)
class Fitted:
    """One datum as found.

    rms_mm: of its points; share: of the points tried that are on it; turn: how much of its turn is seen, None: a face;
    give_mm: by how much its place may move the gap at most, to either side, None where the frame is not set [mm].
    """

    name: str
    rms_mm: float
    share: float
    turn: float | None
    give_mm: float | None


@dataclass(frozen=True, eq=False)
class ScanSheet:
    """What a scan shows.

    bore_diameter_mm, bore_depth_mm: as seen. offset_mm, end_face_mm: each with its give or take, None where the ring
    axis is not in the scan. support_beyond_mm, support_mm: the pinion support's face from the end face and from the
    ring axis, as those. hand: as the scan shows it, told_by: how. missing: what a check still needs, a line each.
    differs: what was typed otherwise. picks: the file of picked points. found: the datums and the frame themselves.
    """

    scan: ScanMesh
    health: Health
    path: Path
    picks: Path | None
    datums: tuple[Fitted, ...]
    bore_diameter_mm: float
    bore_depth_mm: float
    offset_mm: tuple[float, float] | None
    end_face_mm: tuple[float, float] | None
    support_beyond_mm: tuple[float, float] | None
    support_mm: tuple[float, float] | None
    hand: Hand | None
    told_by: str
    missing: tuple[str, ...]
    differs: tuple[str, ...]
    notes: tuple[str, ...]
    found: Registration


def look_at_scan(
    path: Path,
    *,
    unit: str | None = None,
    bore_diameter_mm: float | None = None,
    hand: Hand | None = None,
    picks: Path | None = None,
    job: Job | None = None,
) -> ScanSheet:
    """A scan's sheet; what is not said is taken from the job, if there is one.

    bore_diameter_mm: the pilot bore's, as measured [mm]. Raises InputError where no bore is found.
    """
    scan = read_scan(path, unit=unit)
    picked = read_picks(picks, scan.unit) if picks else NONE
    if job is not None:
        bore_diameter_mm = bore_diameter_mm or job.boss.bore_diameter.value
        hand = hand or job.axle.hand
    try:
        seen, datums = located(scan.vertices, scan.triangles, bore_diameter_mm=bore_diameter_mm, picks=picked)
    except InputError as fault:
        raise refuse(scan.file, fault.findings[0].what, fault.findings[0].right) from None
    ring = job.axle.ring_diameter.value if job else None
    found = register(seen, datums, hand=hand, ring_diameter_mm=ring, picks=picked)
    return ScanSheet(
        scan=scan,
        health=health(scan),
        path=path,
        picks=picks,
        datums=_fitted(datums, found),
        bore_diameter_mm=2 * datums.bore.radii_mm[0],
        bore_depth_mm=found.bore_depth_mm,
        offset_mm=found.offset_mm,
        end_face_mm=found.end_face_mm,
        support_beyond_mm=found.support.beyond_mm if found.support else None,
        support_mm=found.support_mm,
        hand=found.hand,
        told_by=found.told_by,
        missing=found.missing,
        differs=(*bore_differs(datums.bore, bore_diameter_mm), *_differs(found, hand, job)),
        notes=(*scan.notes, *found.notes, *(() if bore_diameter_mm else (_LEAST_BORE,))),
        found=found,
    )


def outside_seen(sheet: ScanSheet, job: Job | None = None) -> Outside | None:
    """The boss's outside as a check would have it from the scan; None where the frame is not set or it is not seen."""
    if sheet.found.pose is None:
        return None
    bore = Bore(sheet.bore_diameter_mm, sheet.bore_depth_mm, 0.0, sheet.bore_depth_mm)
    end_face = sheet.end_face_mm[0] if sheet.end_face_mm else None
    length = job.boss.length.value if job and job.boss.length else None
    try:
        scan = sheet.scan
        return outside_of(sheet.found, scan.vertices, scan.triangles, bore, end_face_mm=end_face, length_mm=length)
    except InputError:
        return None


def _fitted(datums: Datums, found: Registration) -> tuple[Fitted, ...]:
    bore, ring, pose = datums.bore, datums.ring, found.pose
    place = max(pose.across_mm, pose.toward_mm) if pose else None
    rows = [Fitted("pilot bore", bore.rms_mm, bore.share, bore.turn, place)]
    if found.end is not None:
        rows.append(Fitted("end face", found.end.rms_mm, found.end.share, None, pose.along_mm if pose else None))
    if ring is not None:
        give = found.end_face_mm[1] if found.end_face_mm else None
        name = "ring axis, two side-bearing bores" if len(ring.radii_mm) > 1 else "ring axis, one side-bearing bore"
        rows.append(Fitted(name, ring.rms_mm, ring.share, ring.turn, give))
    if found.support is not None:
        face = found.support
        rows.append(
            Fitted(SUPPORT, face.plane.rms_mm, face.plane.share, face.turn, sum(face.moves_mm) if pose else None)
        )
    return tuple(rows)


def _differs(found: Registration, hand: Hand | None, job: Job | None) -> tuple[str, ...]:
    lines = []
    if hand is not None and found.hand is not None and hand is not found.hand:
        lines.append(
            f"wrong hand: the scan shows a pinion {found.hand} the ring's centre line (by {found.told_by}), not {hand}"
        )
    if job is None:
        return tuple(lines)
    pairs = (
        ("axle.offset", job.axle.offset, found.offset_mm),
        ("boss.end_face", bench_reading(job.boss.end_face), found.end_face_mm),
    )
    for key, typed, seen in pairs:
        if seen is not None and abs(typed.value - seen[0]) > typed.reach + seen[1]:
            sizes = f"{show_both(typed.value, 'in')} in the job, {show_both(seen[0], 'in')} in the scan"
            lines.append(f"{key} is {sizes}")
    return tuple(lines)


def scan_changes(sheet: ScanSheet, folder: Path) -> dict[str, dict[str, Any]]:
    """What a job in a folder gets from a scan: keys by table. Raises InputError while something is missing."""
    if sheet.missing:
        raise refuse(sheet.scan.file, f"it does not show {sheet.missing[0]}", "a job once it is there")
    boss: dict[str, Any] = {"scan": _from(folder, sheet.path), "scan_unit": sheet.scan.unit}
    if sheet.picks:
        boss["scan_picks"] = _from(folder, sheet.picks)
    if sheet.end_face_mm is not None:
        boss["end_face"] = _measured(*sheet.end_face_mm)
    axle = {} if sheet.hand is None else {"hand": sheet.hand.value}
    return {"axle": axle, "case": {"measured": "this case"}, "boss": boss}


def with_scan(document: Any, changes: Mapping[str, Mapping[str, Any]]) -> None:
    """Put a scan's keys into a job's document; how the boss was given before goes, what else was typed stays."""
    for table, keys in changes.items():
        holder = document.setdefault(table, {})
        if table == "boss":
            for key in _STALE:
                holder.pop(key, None)
        for key, value in keys.items():
            holder[key] = value


def _measured(value_mm: float, give_mm: float) -> dict[str, str]:
    return {
        "value": f"{value_mm:.3f} mm",
        "give_or_take": f"{max(give_mm, 0.001):.3f} mm",
        "origin": "measured",
        "how": "scan",
    }


def _from(folder: Path, path: Path) -> str:
    """A file's name as a job in a folder says it."""
    try:
        return Path(os.path.relpath(path.resolve(), folder.resolve())).as_posix()
    except ValueError:  # another drive
        return path.resolve().as_posix()
