"""Solids to take away: the metal to remove, the boss before and after, the ring; in the real part's hand.

All stand in one frame, the boss frame of geartrack.frame: the bore's axis is X, +X out of the pinion-side end face
toward the pinion nut, origin in that face, +Z at 12 o'clock, straight at the ring gear. The metal to remove is what a
sheet's depth and mass tell of: the least cut for the gap wanted, as calculated (`cuts.nominal`). Facets hold all of the
sweep, so what is said to be removed is never too little.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from geartrack.boss.mesh import PlacedBoss
from geartrack.export.bodies import Body
from geartrack.export.grindable import cuts_to_grind, hand_of
from geartrack.export.mesh_files import file_name, glb, stl, three_mf
from geartrack.frame import Array, polar
from geartrack.relief import Relief
from geartrack.relief.solid import as_solid, of_triangles, ring, sweep_over, triangles_of
from geartrack.study.answer import Answer
from geartrack.units import show_both

if TYPE_CHECKING:
    from manifold3d import Manifold

REMOVED, CAST, RELIEVED, RING = "metal to remove", "boss as cast", "boss as relieved", "ring gear, swept"
FRAME = "bore axis X, +X out of the pinion-side end face; 12 o'clock, straight at the ring, up"
_RAMP = np.array([[250, 226, 196], [236, 178, 130], [214, 128, 62], [160, 76, 20], [88, 34, 4]], float)
_METAL, _STEEL = (158, 162, 168, 255), (96, 116, 146, 110)
_FINE_MM = 0.3


@dataclass(frozen=True, eq=False)
class Solids:
    """What there is to take away.

    bodies: uncoloured, closed, for STL and 3MF. scene: coloured by depth, for GLB: what is removed, the boss after it
    and the ring. before: the boss as cast, for a GLB of its own, since it fills the same room.
    volume_mm3: of the metal to remove, in facets; over_mm: by how much the facets stand over the grown sweep at most.
    depths: in words, what the colours run from and to.
    """

    bodies: tuple[Body, ...]
    scene: tuple[Body, ...]
    before: Body
    volume_mm3: float
    over_mm: float
    depths: str


def solids(answer: Answer) -> Solids:
    """The solids of an answer that may be ground by.

    Raises InputError, in one line, where no depth may be given, nothing is to be cut, the hand of the axle is not
    known, or the boss's surface is not closed.
    """
    cut, _ = cuts_to_grind(answer).nominal, hand_of(answer)
    boss = answer.boss
    cast = as_solid(boss.mesh, answer.job.name)
    sweep, over = sweep_over(boss, answer.section, cut.clearance_mm)
    removed, relieved, turns = cast ^ sweep, cast - sweep, ring(answer.section, boss.seat)
    named = ((REMOVED, removed), (CAST, cast), (RELIEVED, relieved), (RING, turns))
    bodies = tuple(Body(name, *triangles_of(solid)) for name, solid in named)
    deepest = show_both(cut.depth_radial_max_mm, answer.job.units, rounding="up")
    return Solids(
        bodies=bodies,
        scene=(_removed(cut, removed), _relieved(boss, cut, relieved, sweep), ring_ghosted(bodies[3])),
        before=as_cast(bodies[1]),
        volume_mm3=float(removed.volume()),
        over_mm=over,
        depths=f"pale is no depth, dark is {deepest} toward the bore",
    )


def solid_files(made: Solids) -> dict[str, bytes]:
    """The solids as files by name: an STL each; all in one 3MF; coloured GLBs of the boss before and after."""
    files = {f"{file_name(body.name)}.stl": stl(body) for body in made.bodies}
    about = f"Metal to remove, boss as relieved, ring gear; {made.depths}. {FRAME}."
    return files | {
        "solids.3mf": three_mf(made.bodies),
        "solids.glb": glb(made.scene, about),
        f"{file_name(CAST)}.glb": glb([made.before], f"Boss as cast. {FRAME}."),
    }


def as_cast(body: Body) -> Body:
    """A boss in the colour of plain metal."""
    return _plain(body, _METAL)


def ring_ghosted(body: Body) -> Body:
    """A ring gear that one sees through."""
    return _plain(body, _STEEL)


def _plain(body: Body, colour: tuple[int, int, int, int]) -> Body:
    return Body(body.name, body.vertices, body.triangles, np.tile(np.array(colour, np.uint8), (len(body.vertices), 1)))


def _removed(cut: Relief, removed: Manifold) -> Body:
    vertices, triangles = triangles_of(removed)
    fine = of_triangles(vertices, triangles).refine_to_length(_FINE_MM).to_mesh64()
    vertices = np.array(fine.vert_properties)[:, :3]
    return Body(REMOVED, vertices, np.array(fine.tri_verts).astype(np.int32), _by_depth(cut, vertices))


def _relieved(boss: PlacedBoss, cut: Relief, relieved: Manifold, sweep: Manifold) -> Body:
    """The boss after the cut, its cut face coloured; corners along the face's rim stand twice, once in each colour."""
    mesh = relieved.to_mesh64()
    vertices, triangles = np.array(mesh.vert_properties)[:, :3], np.array(mesh.tri_verts).astype(np.int32)
    on_cut = np.zeros(len(triangles), bool)
    bounds = np.array(mesh.run_index).astype(int) // 3
    for first, last, origin in zip(bounds[:-1], bounds[1:], mesh.run_original_id, strict=True):
        on_cut[first:last] = origin == sweep.original_id()
    grey = np.tile(np.array(_METAL, np.uint8), (len(vertices), 1))
    colours = np.concatenate([grey, _by_depth(cut, vertices)])
    both = np.where(on_cut[:, None], triangles + len(vertices), triangles).astype(np.int32)
    used, inverse = np.unique(both, return_inverse=True)
    doubled = np.concatenate([vertices, vertices])
    return Body(RELIEVED, doubled[used], inverse.reshape(-1, 3).astype(np.int32), colours[used])


def _by_depth(cut: Relief, points: Array) -> NDArray[np.uint8]:
    """Colours (n, 4) of points (n, 3) [mm], boss frame, by how deep the cut is along their clock ray."""
    share = radial_depth(cut, points) / cut.depth_radial_max_mm
    steps = np.linspace(0, 1, len(_RAMP))
    rgb = np.stack([np.interp(share, steps, channel) for channel in _RAMP.T], axis=-1)
    return np.concatenate([rgb, np.full((len(points), 1), 255.0)], axis=1).round().astype(np.uint8)


def radial_depth(cut: Relief, points: Array) -> Array:
    """How deep a cut is along the clock ray through points (n, 3), boss frame [mm]; (n,) [mm], 0 outside the cut.

    Linear between the rays of the relief.
    """
    station, _, clock = polar(points)
    stations, clocks = cut.stations_mm, cut.clocks
    middle = (clocks[0] + clocks[-1]) / 2
    clock = middle + (clock - middle + np.pi) % (2 * np.pi) - np.pi
    inside = (clock >= clocks[0]) & (clock <= clocks[-1]) & (station <= stations[-1])
    i, u = _place(stations, station)
    j, v = _place(clocks, clock)
    d = cut.depth_radial_mm
    found = (1 - u) * ((1 - v) * d[i, j] + v * d[i, j + 1]) + u * ((1 - v) * d[i + 1, j] + v * d[i + 1, j + 1])
    return np.where(inside, found, 0.0)


def _place(axis: Array, at: Array) -> tuple[NDArray[np.intp], Array]:
    i = np.clip(np.searchsorted(axis, at) - 1, 0, len(axis) - 2)
    return i, np.clip((at - axis[i]) / (axis[i + 1] - axis[i]), 0.0, 1.0)
