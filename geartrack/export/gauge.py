"""A printable gauge that sits in the pilot bore and carries the grown ring over the patch: GO and STOP.

What is geometrically so. The ring turns about the ring axis, the gauge sits in the bore, and the two axes pass each
other at a distance: a gauge turned about the bore sweeps another surface than the ring does, and would ask for more
metal than has to go. But the ring's sweep is carried into itself by turning about the ring axis, so a *still* piece of
its surface, held where it belongs, touches just the metal that the turning ring would come too near to. So the gauge is
held by the bore, by the end face, and at 12 o'clock by its long edges; it tests the whole patch at once, and its only
turning is what its play gives.

Play and clearance are one number, the fit: the spigot is that much smaller than the bore all round, and the working
face that much short of the growth it stands for. So a gauge in the middle of the bore clears a finished relief by the
fit everywhere; pushed any way it still does not bind, and pushed against the metal it stands at the full growth. In an
unfinished relief it binds or does not come home. `turns` says how far it turns in a finished one before it touches.

The tooth tips lie over part of the patch, so seen along the bore some of it is undercut: a round spigot could not bring
the face in. The spigot is therefore cut back on the patch's side: the gauge goes in lifted off the patch, and is
pressed down on it when its head lies on the end face. That way in is tried here, against the relief as it will be. A
gauge that stays lifted would tell a lie, so a pin has to go in beside the spigot, on the patch's side: it goes in when
the gauge is down, and not before.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from geartrack.boss.mesh import PlacedBoss
from geartrack.errors import refuse
from geartrack.export.bodies import Body
from geartrack.export.gauge_shape import Shape, Window, made_up, to_print
from geartrack.export.grindable import cuts_to_grind, hand_of, stop_of
from geartrack.export.mesh_files import file_name, glb, stl, three_mf
from geartrack.export.solids import FRAME, solids
from geartrack.frame import Array, polar
from geartrack.job import Job
from geartrack.relief import Relief, relief
from geartrack.relief.crossings import radii
from geartrack.relief.grid import ends
from geartrack.relief.solid import as_solid, sweep_over, sweep_under, triangles_of
from geartrack.relief.sweep_field import GrownSweep
from geartrack.relief.triangles import halved
from geartrack.study.answer import Answer
from geartrack.units import Units, parse_length, show_both

if TYPE_CHECKING:
    from manifold3d import Manifold

FIT_MM = 0.05
"""Default fit [mm]: a printed spigot sanded to a running fit; practice of 3D printing, from memory."""
MOST_FIT_MM = 0.3
_WALL_MM, _SPARE_MM, _PAST_MM = 6.0, 4.0, 1.5  # of metal outside the boss; either side of the patch; past its far end
_LIFTS_MM = (0.5, 1.0, 1.5, 2.0, 3.0, 4.0, 5.0)
_STEP_MM, _FINE_MM, _SAME_MM, _LEAST_MM3 = 0.2, 0.5, 1e-3, 1.0
_SHOWN = (214, 176, 84, 255)
_TURN, _TURNS = np.radians(0.02), 250  # tried a step at a time, to 5 degrees


@dataclass(frozen=True, eq=False)
class Gauge:
    """One gauge, where it stands in the boss, and what is known of it.

    name: "GO" or "STOP". body: boss frame, in place. clearance_mm: the growth it stands for; fit_mm: see above.
    shape: its sizes. turns: how far it turns each way (anticlockwise,
    clockwise, from the pinion-nut end) in a relief of just its clearance [rad]. felt: share of the patch's area that it
    touches on the boss as cast [-]. per_degree_mm: how much the face moves against the metal where it is set one degree
    off the clock, at most.
    """

    name: str
    body: Body
    clearance_mm: float
    fit_mm: float
    shape: Shape
    turns: tuple[float, float]
    felt: float
    per_degree_mm: float

    @property
    def for_print(self) -> Body:
        """The gauge standing on the outer face of its head, spigot up, as it is printed."""
        return Body(self.body.name, to_print(self.body.vertices, self.shape.head_mm), self.body.triangles)


def gauges(answer: Answer, fit_mm: float = FIT_MM) -> tuple[Gauge, Gauge]:
    """The GO gauge (the gap wanted, as calculated: the depth that is cut) and the STOP gauge.

    Raises InputError where no depth may be given, the hand of the axle is not known, the fit is none, or there is no
    way in for a gauge.
    """
    cuts, _ = cuts_to_grind(answer), hand_of(answer)
    where, stop = f"{answer.job.name}, gauge", stop_of(cuts)
    if not 0 < fit_mm <= MOST_FIT_MM:
        most = show_both(MOST_FIT_MM, answer.job.units)
        raise refuse(where, f"a fit of {show_both(fit_mm, answer.job.units)}", f"more than nothing, at most {most}")
    if cuts.nominal.clearance_mm < 2 * fit_mm:
        what = f"a fit of {show_both(fit_mm, answer.job.units)} is over half of the gap wanted"
        raise refuse(where, what, "a smaller fit")
    if stop.clearance_mm <= cuts.nominal.clearance_mm:
        raise refuse(where, "STOP comes before the gap wanted is reached", "nothing to make a gauge for")
    return (
        _gauge(answer, cuts.nominal, name="GO", notches=1, fit_mm=fit_mm),
        _gauge(answer, stop, name="STOP", notches=2, fit_mm=fit_mm),
    )


def typed_fit(job: Job, fit: str | None, spigot: str | None) -> float:
    """The fit [mm] by the typed play, or by the typed diameter of the spigot; else the default."""
    if fit is not None and spigot is not None:
        raise refuse("--fit, --spigot", "both typed", "one of them: either gives the other")
    if spigot is None:
        return FIT_MM if fit is None else parse_length(fit, where="--fit")
    typed, bore = parse_length(spigot, where="--spigot"), job.boss.bore_diameter.value
    if typed >= bore:
        raise refuse("--spigot", f"{show_both(typed, job.units)} does not go in", f"under {show_both(bore, job.units)}")
    return (bore - typed) / 2


def gauge_files(answer: Answer, made: tuple[Gauge, Gauge]) -> dict[str, bytes]:
    """Both gauges as files by name: an STL each and one 3MF to print, a GLB of GO in place, and the notes."""
    from geartrack.export.gauge_notes import print_notes

    beds = [gauge.for_print for gauge in made]
    aside = np.array([2 * made[1].shape.window.outer_mm + 20.0, 0.0, 0.0])
    relieved = solids(answer).scene[1]
    go = made[0].body
    shown = Body(go.name, go.vertices, go.triangles, np.tile(np.array(_SHOWN, np.uint8), (len(go.vertices), 1)))
    return {f"{file_name(bed.name)}.stl": stl(bed) for bed in beds} | {
        "sweep-gauges.3mf": three_mf(beds, [np.zeros(3), aside]),
        "in-place.glb": glb([relieved, shown], f"GO gauge in the boss as relieved. {FRAME}."),
        "print-notes.txt": print_notes(answer, *made).encode("utf-8"),
    }


def _gauge(answer: Answer, cut: Relief, *, name: str, notches: int, fit_mm: float) -> Gauge:
    boss, section, bore = answer.boss, answer.section, answer.boss.mesh.bore
    where = f"{answer.job.name}, {name} gauge"
    cast = as_solid(boss.mesh, answer.job.name)
    face, window = GrownSweep(section, cut.clearance_mm - fit_mm), _window(boss, cut)
    relieved = cast - sweep_over(boss, section, cut.clearance_mm)[0]
    metal = _surface(relieved, window)
    lift = _lift(boss, face, window, metal)
    if lift is None:
        raise refuse(where, "there is no way in along the bore for a gauge of this patch", "go by the template")
    shape = Shape(
        spigot_mm=bore.diameter_mm - 2 * fit_mm,
        length_mm=min(bore.seat_to_mm, bore.depth_mm - 0.5),
        end_face_mm=_end_radius(boss, cut),
        lift_mm=lift,
        pin_mm=_pin(lift, answer.job.units),
        window=window,
        notches=notches,
    )
    made = made_up(shape, sweep_under(boss, section, cut.clearance_mm - fit_mm))
    _check(made, relieved, where)
    least = relief(boss, section, cut.clearance_mm - fit_mm)
    return Gauge(
        name=name,
        body=Body(f"sweep gauge {name}", *triangles_of(made)),
        clearance_mm=cut.clearance_mm,
        fit_mm=fit_mm,
        shape=shape,
        turns=(_room(boss, face, window, metal, -1.0), _room(boss, face, window, metal, 1.0)),
        felt=least.area_mm2 / cut.area_mm2,
        per_degree_mm=_per_degree(boss, face, metal, fit_mm),
    )


def _window(boss: PlacedBoss, cut: Relief) -> Window:
    """Where the gauge carries the ring: over the cut, with a little to spare at every side."""
    touched = cut.depth_radial_mm > 0
    rows, columns = touched.any(axis=1), touched.any(axis=0)
    out = float(cut.cast_radius_mm[:, columns].max())
    spare = _SPARE_MM / out
    low, high = float(cut.clocks[columns][0]) - spare, float(cut.clocks[columns][-1]) + spare
    if high - low > np.pi:
        what = "the patch goes more than half round the boss"
        raise refuse("gauge", what, "go by the template: no gauge can be put on it")
    return Window(
        clock_from=low,
        clock_to=high,
        end_mm=float(cut.stations_mm[rows][-1]) + _PAST_MM,
        inner_mm=boss.mesh.bore.diameter_mm / 2,
        outer_mm=out + _WALL_MM,
    )


def _pin(lift_mm: float, units: Units) -> float:
    """The pin that tells whether the gauge is down: of a common size, and thicker than the lift."""
    small, large = (parse_length("1/8 in"), parse_length("1/4 in")) if units == "in" else (3.0, 6.0)
    return small if lift_mm <= small - 1.0 else large


def _end_radius(boss: PlacedBoss, cut: Relief) -> float:
    """The outside of the end face at the patch's clock angles, at its furthest [mm]."""
    return float(radii(boss.mesh, np.array([ends(boss.mesh)[0]]), cut.clocks)[1].max())


def _surface(relieved: Manifold, window: Window) -> Array:
    """Places (n, 3) on the relieved boss's surface near the window, boss frame [mm]; about half a millimetre apart."""
    from manifold3d import Manifold

    reach = window.outer_mm + _SPARE_MM
    box = Manifold.cube((window.end_mm + 8.0, 2 * reach, 2 * reach)).translate((-window.end_mm - 7.0, -reach, -reach))
    vertices, triangles = triangles_of(relieved ^ box)
    _, radius, _ = polar(vertices)
    corners = vertices[triangles[(radius > window.inner_mm + 0.5)[triangles].any(axis=1)]]
    done = []
    while len(corners):
        spans = np.linalg.norm(corners - np.roll(corners, 1, axis=1), axis=2).max(axis=1)
        small = (spans <= _FINE_MM) | ~_near(corners, window)
        done.append(corners[small])
        corners = halved(corners[~small])
    points = np.concatenate(done).reshape(-1, 3)
    keys = np.round(points / _SAME_MM).astype(np.int64) @ np.array([1 << 42, 1 << 21, 1])
    return points[np.unique(keys, return_index=True)[1]]


def _near(corners: Array, window: Window) -> NDArray[np.bool_]:
    """Which triangles (n, 3, 3) may have something in the room that the face passes through."""
    middle, (y, z) = corners.mean(axis=1), window.middle
    reach = np.linalg.norm(corners - middle[:, None], axis=2).max(axis=1)
    along, across = middle[:, 1:] @ np.array([y, z]), np.abs(middle[:, 1:] @ np.array([z, -y]))
    wide = window.outer_mm * np.sin(min(window.half + _TURN * _TURNS, np.pi / 2))
    low, high = window.inner_mm * np.cos(window.half + _TURN * _TURNS), window.outer_mm + max(_LIFTS_MM)
    near: NDArray[np.bool_] = (across - reach < wide) & (along + reach > low) & (along - reach < high)
    near &= -middle[:, 0] - reach < window.end_mm
    return near


def _clear(boss: PlacedBoss, face: GrownSweep, window: Window, moved: Array) -> float:
    """Least distance of the metal to the face when metal stands `moved` against the gauge, (n, 3) boss frame [mm]."""
    inside = window.holds(moved)
    return float(face.distance(boss.seat.to_axle(moved[inside])).min()) if inside.any() else np.inf


def _lift(boss: PlacedBoss, face: GrownSweep, window: Window, metal: Array) -> float | None:
    """The least lift off the patch at which the face comes in along the bore and goes down; None where none does."""
    off, along = np.array([0.0, *window.middle]), np.array([1.0, 0.0, 0.0])
    ways = np.arange(0.0, window.end_mm + _STEP_MM, _STEP_MM)
    for lift in _LIFTS_MM:
        down = np.linspace(0.0, lift, int(np.ceil(lift / _STEP_MM)) + 1)
        path = [d * off for d in down] + [lift * off + way * along for way in ways]
        if all(_clear(boss, face, window, metal - step) >= 0 for step in path):
            return lift
    return None


def _room(boss: PlacedBoss, face: GrownSweep, window: Window, metal: Array, way: float) -> float:
    """How far the gauge turns in the relief before it touches [rad]; way: +1 clockwise from the pinion-nut end."""
    for step in range(1, _TURNS + 1):
        if _clear(boss, face, window, _turned(metal, -way * step * _TURN)) < 0:
            return float((step - 1) * _TURN)
    return float(_TURNS * _TURN)


def _turned(points: Array, by: float) -> Array:
    """Points (n, 3), boss frame, turned about the bore, clockwise from the pinion-nut end [rad]."""
    x, y, z = points.T
    c, s = np.cos(by), np.sin(by)
    return np.stack([x, c * y + s * z, c * z - s * y], axis=-1)


def _per_degree(boss: PlacedBoss, face: GrownSweep, metal: Array, fit_mm: float) -> float:
    """How far the face moves at most against the cut metal when turned by a degree [mm]."""
    at = face.distance(boss.seat.to_axle(metal))
    cut = metal[np.abs(at - fit_mm) < 0.005]
    ways = [face.distance(boss.seat.to_axle(_turned(cut, np.radians(way)))) - fit_mm for way in (-1, 1)]
    return float(np.abs(ways).max(initial=0.0))


def _check(made: Manifold, relieved: Manifold, where: str) -> None:
    """Raises InputError if the gauge is not one closed solid, or anything but the patch stands in its way."""
    if made.is_empty() or made.volume() <= 0 or len(made.decompose()) != 1:
        raise refuse(where, "the patch is too small or too far out for a gauge in one piece", "go by the template")
    meets = (made.translate((_STEP_MM, 0.0, 0.0)) ^ relieved).volume()
    if meets > _LEAST_MM3:
        what = f"the boss stands in the gauge's way past its pinion-side end face, {meets:.0f} mm3 of it"
        raise refuse(where, what, "go by the template")
