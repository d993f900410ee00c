"""The boss from a scan: its datums set the frame, its outside is drawn as the scan shows it, its bore as measured.

A scan is full of holes and noise and need not be closed. What is worked with is a closed boss about the bore's axis,
cut off at the length seen, whose outside runs through the scan: gap, depths, volume and wall are as for any boss.
Where the scan shows nothing, the boss is drawn at the largest radius seen about there, so that no gap is made up, and
`Scanned.unseen` says so.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from geartrack.boss.facets import LARGEST_MM, bore_circle_mm, lathe, sagitta_mm
from geartrack.boss.mesh import Bore, BossMesh, Triangles
from geartrack.boss.readings import MOST_OF_BORE
from geartrack.boss.scan.datums import located
from geartrack.boss.scan.finish import Outside
from geartrack.boss.scan.fits import Cylinder
from geartrack.boss.scan.picks import NONE, Picks
from geartrack.boss.scan.pose import Pose, Registration, register
from geartrack.boss.scan.surface import SKIN_MM, outside
from geartrack.errors import Finding, InputError, refuse
from geartrack.frame import Array, Hand, polar
from geartrack.quantity import Quantity
from geartrack.tolerances import TOLERANCES
from geartrack.units import show_both

_ROUND_SEEN = 0.25
_SECTORS, _FEWEST_SECTORS = 24, 3  # of a turn; a boss is no longer than three of them show it
_SPARE_MM = 4.0
_BEFORE_RING_MM = 2.0  # and ends this much before the ring's centre line
_LEAST_WALL_MM = 0.05
_SCALE_MM = 0.1  # a bore's diameter that the scan has so far off, give or take aside, must be said
_UNSEEN_SHARE = 0.005


@dataclass(frozen=True, eq=False)
class Scanned:
    """A boss from a scan, and how well it is known.

    surface_mm: 2-sigma of the outside about the mesh, the scan's noise and what its turn is not known by [mm].
    source: the file's name.
    """

    mesh: BossMesh
    outside: Outside
    registration: Registration
    pose: Pose
    surface_mm: float
    source: str

    def unseen(self, station_mm: float, clock: float) -> bool:
        """Whether the scan shows nothing of the outside at a station and clock [rad], or beside them."""
        shown = self.outside
        row = int(np.abs(shown.station_mm - station_mm).argmin())
        turned = np.remainder(shown.clock - clock + math.pi, 2 * math.pi) - math.pi
        column = int(np.abs(turned).argmin())
        rows = slice(max(row - 1, 0), row + 2)
        columns = np.arange(column - 1, column + 2) % len(shown.clock)
        return not bool(shown.seen[rows][:, columns].all())


def disagreements(scanned: Scanned, *, end_face: Quantity, offset: Quantity) -> tuple[str, ...]:
    """What the scan's ring axis contradicts of what was typed [mm], beyond the give or take of both, a line each."""
    found = scanned.registration
    pairs = (("boss.end_face", end_face, found.end_face_mm), ("axle.offset", offset, found.offset_mm))
    return tuple(
        f"{name} is {show_both(typed.value, 'in')} as typed, but {show_both(seen[0], 'in')} in the scan"
        for name, typed, seen in pairs
        if seen is not None and abs(typed.value - seen[0]) > typed.reach + seen[1] + TOLERANCES.mesh_mm
    )


def boss_from_scan(
    vertices: Array,
    triangles: Triangles,
    bore: Bore,
    *,
    hand: Hand | None,
    ring_diameter_mm: float | None = None,
    end_face_mm: float | None = None,
    length_mm: float | None = None,
    picks: Picks = NONE,
    source: str = "scan",
    notes: tuple[str, ...] = (),
) -> Scanned:
    """A closed boss from a scan's vertices (n, 3) [mm], wherever it lies, and its triangles.

    bore: the pilot bore as measured. hand: of the axle, as typed. end_face_mm: the boss's pinion-side end face from the
    ring axis, if known: no boss reaches that far. length_mm: of the boss; None: as far as it is seen.
    Raises InputError: no bore, a datum missing, a hand that the scan contradicts, nothing seen of the outside.
    """
    seen, datums = located(vertices, triangles, bore_diameter_mm=bore.diameter_mm, picks=picks)
    found = register(seen, datums, hand=hand, ring_diameter_mm=ring_diameter_mm, picks=picks)
    if found.pose is None or found.end is None:
        raise InputError(*(Finding(source, f"it does not show {line}") for line in found.missing))
    if hand is not None and found.hand is not None and found.hand is not hand:
        what = f"it shows a pinion {found.hand} the ring's centre line (by {found.told_by}), but the job says {hand}"
        raise refuse(source, what, "the axle's own hand under [axle], and a scan that is no mirror image")
    shown = outside_of(found, vertices, triangles, bore, end_face_mm=end_face_mm, length_mm=length_mm)
    surface = 2 * max(datums.bore.rms_mm, shown.rms_mm) + _by_turn_mm(shown, found.pose.clock_give)
    mesh = _closed(shown, bore, source, surface, (*notes, *found.notes, *_notes(found, bore, shown)))
    return Scanned(mesh, shown, found, found.pose, surface, source)


def outside_of(
    found: Registration,
    vertices: Array,
    triangles: Triangles,
    bore: Bore,
    *,
    end_face_mm: float | None = None,
    length_mm: float | None = None,
) -> Outside:
    """The boss's outside in a scan that stands in its frame; vertices (n, 3) [mm], lengths as in `boss_from_scan` [mm].

    Raises InputError where nothing of it is seen.
    """
    assert found.pose is not None
    assert found.end is not None
    out_mm = MOST_OF_BORE * bore.diameter_mm / 2
    most = min(LARGEST_MM, math.inf if end_face_mm is None else max(end_face_mm - _BEFORE_RING_MM, 1.0))
    placed, triangles = _cropped(found.pose, vertices, triangles, out_mm, min(most, 3 * bore.depth_mm))
    length = min(length_mm or _length_seen(placed, bore, out_mm), most)
    shown = outside(
        placed,
        triangles,
        bore_radius_mm=bore.diameter_mm / 2,
        length_mm=length,
        out_mm=out_mm,
        face_mm=max(0.05, 4 * found.end.rms_mm),
    )
    return shown if length_mm else _trimmed(shown)


def _cropped(
    pose: Pose, vertices: Array, triangles: Triangles, out_mm: float, long_mm: float
) -> tuple[Array, Triangles]:
    """What lies about the boss, in its frame: triangles near the bore's axis, and no further along it [mm]."""
    station = (pose.origin - vertices) @ pose.rotation[0]
    near = (station > -_SPARE_MM) & (station < long_mm + _SPARE_MM)
    away = vertices[near] - pose.origin
    near[near] = np.einsum("ij,ij->i", away, away) - station[near] ** 2 < (out_mm + _SPARE_MM) ** 2
    kept = triangles[near[triangles[:, 0]] | near[triangles[:, 1]] | near[triangles[:, 2]]]
    used = np.zeros(len(vertices), bool)
    used[kept] = True
    number = np.cumsum(used, dtype=np.int32) - 1
    return pose.to_boss(vertices[used]), number[kept]


def _length_seen(placed: Array, bore: Bore, out_mm: float) -> float:
    """How far in from the end face the scan shows an outside without a break [mm]."""
    station, radius, clock = polar(placed)
    near = (radius > bore.diameter_mm / 2 + SKIN_MM) & (radius < out_mm) & (station > 0.1)
    near &= station < 3 * bore.depth_mm
    if not near.any():
        raise refuse("scan", "shows nothing of the boss's outside", "a scan of the boss from outside too")
    step = np.floor(station[near]).astype(np.intp)
    sector = np.floor(np.remainder(clock[near], 2 * np.pi) / (2 * np.pi) * _SECTORS).astype(np.intp) % _SECTORS
    shown = np.zeros((int(step.max()) + 2, _SECTORS), bool)
    shown[step, sector] = True
    enough = shown.sum(axis=1) >= _FEWEST_SECTORS
    last = int(enough.argmin()) if enough[0] else int(step.max()) + 1  # the first millimetre without
    return min(float(last), float(np.quantile(station[near], 0.999)))


def _trimmed(shown: Outside) -> Outside:
    """Without the last stations, of which less than a quarter of the turn is seen: strays past the boss's end."""
    enough = np.flatnonzero(shown.seen.mean(axis=1) > _ROUND_SEEN)
    rows = max(int(enough[-1]) + 1, 2) if len(enough) else len(shown.station_mm)
    return replace(shown, station_mm=shown.station_mm[:rows], radius_mm=shown.radius_mm[:rows], seen=shown.seen[:rows])


def _by_turn_mm(shown: Outside, give: float) -> float:
    """What a turn about the bore by so much [rad] does to the radius on the ring's side, in nine places of ten [mm]."""
    columns = math.ceil(give / (2 * math.pi / len(shown.clock)))
    if columns == 0:
        return 0.0
    toward = np.cos(shown.clock) > -0.2
    moved = [np.abs(np.roll(shown.radius_mm, by, axis=1) - shown.radius_mm) for by in (columns, -columns)]
    return float(np.quantile(np.maximum(*moved)[:, toward], 0.9))


def _closed(shown: Outside, bore: Bore, source: str, surface_mm: float, notes: tuple[str, ...]) -> BossMesh:
    """The outside, the end face and the bore as one closed surface."""
    facets, length = len(shown.clock), float(shown.station_mm[-1])
    circle = bore_circle_mm(bore, facets)
    least = float(shown.radius_mm.min())
    if least < circle + _LEAST_WALL_MM:
        what = f"no wall is left round the bore of {show_both(bore.diameter_mm, 'in')} where it is thinnest"
        raise refuse(source, what, "the diameter of the bore that is in the scan, and its unit")
    through = bore.depth_mm >= length - TOLERANCES.mesh_mm
    stations = np.concatenate([[length if through else bore.depth_mm, 0.0], shown.station_mm])
    radii = np.concatenate([np.full((2, facets), circle), shown.radius_mm])
    vertices, triangles = lathe(stations, radii, facets, closed=through)
    return BossMesh(
        vertices=vertices,
        triangles=triangles,
        bore=bore,
        short_mm=sagitta_mm(float(shown.radius_mm.max()), facets),
        origin=f"scan, {source}",
        interpolation_mm=surface_mm,
        interpolated=True,
        notes=notes,
    )


def _notes(found: Registration, bore: Bore, shown: Outside) -> tuple[str, ...]:
    lines = []
    unseen = 1 - float(shown.seen.mean())
    if unseen > _UNSEEN_SHARE:
        lines.append(
            f"{100 * unseen:.0f} % of the boss's outside is not in the scan and is drawn at the largest radius"
            " seen about there: a pad or a rib is not seen"
        )
    if found.hand is None:
        lines.append("the hand of the axle does not show in the scan and could not be checked against it")
    return (*lines, *bore_differs(found.datums.bore, bore.diameter_mm))


def bore_differs(seen: Cylinder, said_mm: float | None) -> tuple[str, ...]:
    """What is said where the bore in the scan is not of the diameter that was measured [mm], None: it was not."""
    measured = 2 * seen.radii_mm[0]
    if said_mm is None or abs(measured - said_mm) <= _SCALE_MM + 2 * seen.rms_mm:
        return ()
    sizes = f"{show_both(measured, 'in')} in the scan, {show_both(said_mm, 'in')} typed"
    return (f"the pilot bore is {sizes}: is the scan in scale?",)
