"""Bosses and rings shared by the relief's tests, and what general-purpose kernels make of their cut. All invented."""

from __future__ import annotations

from typing import Any

import numpy as np
from gap_shapes import section

from geartrack.boss.mesh import Bore, BossMesh, PlacedBoss
from geartrack.frame import Hand, Seat, from_polar
from geartrack.section import Section

RADIUS, BORE, LENGTH, OFFSET, END_FACE = 27.0, 18.0, 22.0, 54.0, 50.0

# The sketch of DESIGN 12 in the large: the toe's tooth tips reach over the edge of the boss's end face.
RING = section(
    *((84, 22.8), (120, 30), (120, 48), (80, 48), (80, 40), (81.5, 34.5)),
    edges=("tooth tips", "heel", "back face", "bore", "bore", "toe"),
)


def flat(z_mm: float, inner_mm: float = 10.0, outer_mm: float = 200.0) -> Section:
    """A ring whose teeth end in a flat face at z."""
    points = ((inner_mm, z_mm), (outer_mm, z_mm), (outer_mm, z_mm + 60), (inner_mm, z_mm + 60))
    return section(*points, edges=("tooth tips", "heel", "back face", "toe"))


SLOPE = np.radians(10.0)
TOWARD = np.array([np.sin(SLOPE), np.cos(SLOPE)])  # (r, z) of the ring's inward normal at the boss's edge


def sloping(gap: float) -> Section:
    """A ring whose tooth tips run at 10 degrees to the bore, `gap` above the edge of the boss's end face at E = 0."""
    along = np.array([TOWARD[1], -TOWARD[0]])
    edge = np.array([END_FACE, RADIUS]) + gap * TOWARD
    points = [edge - 45 * along, edge + 45 * along, edge + 45 * along + 40 * TOWARD, edge - 45 * along + 40 * TOWARD]
    return Section(np.array(points), ("tooth tips", "heel", "back face", "toe"))


def lathed(profile: Any, around: int, *, shift: tuple[float, float] = (0.0, 0.0)) -> tuple[Any, Any]:
    """A closed outline of (station, radius) turned about the bore axis: vertices, triangles wound outward, boss frame.

    shift: (y, z) of the points further out than the bore, for an outside that does not run true.
    """
    outline = np.asarray(profile, float)
    turn = 2 * np.pi * np.arange(around) / around
    vertices = from_polar(outline[:, 0], outline[:, 1], turn[:, None])
    vertices[:, outline[:, 1] > outline[:, 1].min() + 1e-9, 1:] += shift
    i, j = np.meshgrid(np.arange(around), np.arange(len(outline)), indexing="ij")
    a, b = i * len(outline) + j, (i + 1) % around * len(outline) + j
    c, d = (n - j + (j + 1) % len(outline) for n in (a, b))
    triangles = np.concatenate([np.stack(three, axis=-1).reshape(-1, 3) for three in ((a, b, c), (b, d, c))])
    flat_vertices = vertices.reshape(-1, 3)
    corners = flat_vertices[triangles]
    inside_out = np.einsum("ij,ij->i", corners[:, 0], np.cross(corners[:, 1], corners[:, 2])).sum() < 0
    return flat_vertices, np.ascontiguousarray(triangles[:, ::-1] if inside_out else triangles).astype(np.int32)


def tube(
    *,
    radius: float = RADIUS,
    bore: float = BORE,
    length: float = LENGTH,
    around: int = 520,
    along: int = 1,
    seat: tuple[float, float] = (2.0, 18.0),
    offset: float = OFFSET,
    end_face: float = END_FACE,
    hand: Hand = Hand.BELOW,
    shift: tuple[float, float] = (0.0, 0.0),
) -> PlacedBoss:
    """A plain boss, bored right through."""
    stations = np.linspace(0, length, along + 1)
    profile = [(s, radius) for s in stations] + [(s, bore) for s in stations[::-1]]
    vertices, triangles = lathed(profile, around, shift=shift)
    return PlacedBoss(BossMesh(vertices, triangles, Bore(2 * bore, length, *seat)), Seat(offset, end_face, hand))


def placed(vertices: Any, triangles: Any, *, bore: Bore, seat: Seat) -> PlacedBoss:
    return PlacedBoss(BossMesh(np.asarray(vertices, float), np.asarray(triangles, np.int32), bore), seat)


def solid(boss: PlacedBoss) -> Any:
    """The boss as manifold3d sees it, axle frame."""
    from manifold3d import Manifold, Mesh64

    made = Manifold(Mesh64(vert_properties=boss.vertices, tri_verts=boss.triangles.astype(np.uint64)))
    assert made.volume() > 0
    return made


def swept(shape: Section, around: int) -> Any:
    """The half turn of a section on the boss's side (x > 0), `around` facets a whole turn, axle frame.

    The corners lie on the true surface, so between them it is off by up to r (1 - cos(pi / around)).
    """
    from manifold3d import CrossSection

    return CrossSection([shape.points]).revolve(around // 2, 180.0).rotate((0.0, 0.0, -90.0))
