"""The boss put together from parts: cylinders, cones, pads, ribs and fillets joined, flats and bore cut out.

All stations are in from the pinion-side end face [mm], all clock angles as seen from the pinion-nut end [rad], in the
hand of the real part (geartrack.frame). Every part but a cut is filled to the bore axis; cuts come after all of them,
the bore last. Round faces are faceted so that they err by less than `Tolerances.facet_mm`, and the error is said.
Triangles are left long: cutting their edges to 10 ... 1 mm cost the gap search up to 20 times the evaluations.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

import numpy as np

from geartrack.boss.bored import as_solid, bored
from geartrack.boss.facets import bore_circle_mm, bore_findings, facets_per_turn, lathe, sagitta_mm, said
from geartrack.boss.mesh import Bore, BossMesh
from geartrack.boss.shapes import (
    Block,
    Cone,
    Cut,
    Cylinder,
    Fillet,
    Pad,
    Part,
    Rib,
    Round,
    end_radii,
    fillet_side,
    part_findings,
    top_mm,
)
from geartrack.errors import InputError, refuse
from geartrack.frame import Array
from geartrack.tolerances import TOLERANCES, Tolerances

if TYPE_CHECKING:
    from manifold3d import Manifold

__all__ = ["Cone", "Cut", "Cylinder", "Fillet", "Pad", "Part", "Rib", "boss_from_parts"]


def boss_from_parts(
    parts: Sequence[Part], bore: Bore, *, edge_break_mm: float = 0.0, tolerances: Tolerances = TOLERANCES
) -> BossMesh:
    """One closed solid from parts, the pilot bore cut out.

    edge_break_mm: 45-degree break of the outer edge at the pinion-side end, this much off both faces [mm]. It is taken
        off every cylinder, cone and pad or rib crest that starts at station 0; edges made by cuts and the sides of
        pads and ribs stay sharp (more metal than a broken one has).

    `short_mm` of the result holds for every round face, the bore's too (its facets lie outside its circle, so the wall
    is never drawn thicker than it is); `proud_mm` for the hollow of fillets. Both are what the facets really err by.
    Raises InputError with everything that is wrong, one line each.

    >>> boss = boss_from_parts([Cylinder(54.0, 0.0, 22.0)], Bore(45.0, 20.0, 1.0, 18.0))
    >>> boss.origin, boss.vertices.min(axis=0).round(3).tolist(), boss.short_mm < 0.0005
    ('parts, 1', [-22.0, -27.0, -27.0], True)
    """
    findings = [*bore_findings(bore), *part_findings(parts, edge_break_mm)]
    if findings:
        raise InputError(*findings)
    facets = facets_per_turn(max(_radii(parts, bore)), tolerances.facet_mm)
    solid = _joined(parts, edge_break_mm, facets, tolerances)
    vertices, triangles = bored(solid, bore, facets, tolerances)
    hollows = [part.radius_mm for part in parts if isinstance(part, Fillet)]
    return BossMesh(
        vertices=vertices,
        triangles=triangles,
        bore=bore,
        short_mm=sagitta_mm(max(*_radii(parts, bore), bore_circle_mm(bore, facets)), facets),
        proud_mm=max((sagitta_mm(radius, 4 * _hollow_steps(radius, tolerances)) for radius in hollows), default=0.0),
        origin=f"parts, {len(parts)}",
    )


def _radii(parts: Sequence[Part], bore: Bore) -> Iterator[float]:
    """The radius of every round face [mm]."""
    yield bore.diameter_mm / 2
    for part in parts:
        if isinstance(part, Fillet):
            yield part.diameter_mm / 2 + part.radius_mm
        elif isinstance(part, Round):
            yield max(end_radii(part))


def _joined(parts: Sequence[Part], edge_break_mm: float, facets: int, tolerances: Tolerances) -> Manifold:
    """All parts as one solid, cuts taken out, the bore not yet."""
    from manifold3d import Manifold, OpType

    solids = []
    for part in parts:
        if isinstance(part, Fillet):
            profile = _hollow_profile(part, fillet_side(part, parts), _hollow_steps(part.radius_mm, tolerances))
            solids.append(as_solid(*lathe(*profile, facets)))
        elif isinstance(part, Block | Round):
            broken = edge_break_mm if part.start_mm == 0 else 0.0
            solids.append(
                _block(part, broken)
                if isinstance(part, Block)
                else as_solid(*lathe(*_round_profile(part, broken), facets))
            )
    solid = Manifold.batch_boolean(solids, OpType.Add)
    _one_piece(solid)
    far = 2 * max(abs(edge) for edge in solid.bounding_box())
    for cut in (part for part in parts if isinstance(part, Cut)):
        low, high, flat = cut.start_mm, cut.end_mm, cut.distance_mm
        solid -= _prism(cut.clock, far, np.array([low, low, high, high]), np.array([flat, far, flat, far]))
    return solid


def _round_profile(part: Round, broken_mm: float) -> tuple[Array, Array]:
    """Stations and radii [mm] of a round part, the edge at its start broken along radius = start radius - break + s."""
    first, last = end_radii(part)
    if not broken_mm:
        return np.array([part.start_mm, part.end_mm]), np.array([first, last])
    rise = (last - first) / (part.end_mm - part.start_mm)
    meets = broken_mm / (1 - rise)
    return np.array([0.0, meets, part.end_mm]), np.array([first - broken_mm, first + rise * meets, last])


def _hollow_profile(part: Fillet, side: int, steps: int) -> tuple[Array, Array]:
    """Stations in rising order and radii [mm] of a fillet: chords of its arc, on the side of more metal."""
    angle = np.linspace(0.0, math.pi / 2, steps + 1)[::-side]
    along, out = part.radius_mm * (1 - np.sin(angle)), part.radius_mm * (1 - np.cos(angle))
    return part.at_mm + side * along, part.diameter_mm / 2 + out


def _hollow_steps(radius_mm: float, tolerances: Tolerances) -> int:
    return facets_per_turn(radius_mm, tolerances.facet_mm) // 4


def _block(part: Block, broken_mm: float) -> Manifold:
    low, high, top = part.start_mm, part.end_mm, top_mm(part)
    stations = np.array([low, low, low + broken_mm, high, high])
    return _prism(part.clock, part.width_mm / 2, stations, np.array([0.0, top - broken_mm, top, top, 0.0]))


def _prism(clock: float, half_mm: float, station_mm: Array, height_mm: Array) -> Manifold:
    """The hull of corners (station, height along the clock angle) that runs `half_mm` to either side."""
    from manifold3d import Manifold

    up = np.array([0.0, math.sin(clock), math.cos(clock)])
    across = np.array([0.0, math.cos(clock), -math.sin(clock)])
    middle = station_mm[:, None] * np.array([-1.0, 0.0, 0.0]) + height_mm[:, None] * up
    return Manifold.hull_points(np.concatenate([middle - half_mm * across, middle + half_mm * across]))


def _one_piece(solid: Manifold) -> None:
    """No cut can part the boss: it is filled to the bore axis and no flat lies on that."""
    pieces = solid.decompose()
    if len(pieces) > 1:
        spans = sorted((0.0 - box[3], -box[0]) for box in (piece.bounding_box() for piece in pieces))
        places = " and ".join(f"{said(start)} to {said(end)}" for start, end in spans)
        what = f"the parts do not all touch one another: {len(pieces)} pieces, {places} from the pinion-side end"
        raise refuse("boss.parts", what, "one solid that hangs together")
