"""A boss from its traced views.

Both views are outlines as seen, so on their own they bound the metal from outside and say nothing of what lies behind
them. What is made of them is the largest solid that shows these views, the careful side for the gap; where nothing
but outlines is known, wall and gap are then bounds, and the notes say so. Only a profile that is said to hold all
round gives the metal itself.

- An end view alone: drawn the same over the whole length.
- A profile alone: turned about the bore's axis.
- Both, the side view an outline: the end view drawn along the bore where the side view drawn across it has metal too.
- Both, the side view a profile: metal where the end view and the turned profile both have it. What stands out from the
  profile's largest radius, such as a rib, is not in the profile: it is drawn along the whole length, down to the bore.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, Any

import numpy as np

from geartrack.boss.bored import as_solid, bored
from geartrack.boss.facets import bore_circle_mm, bore_findings, facets_per_turn, lathe, sagitta_mm, said
from geartrack.boss.mesh import Bore, BossMesh
from geartrack.boss.trace.drawing import read_drawing
from geartrack.boss.trace.measure import signed_area
from geartrack.boss.trace.views import EndView, SideView, end_view, side_view
from geartrack.errors import InputError, refuse
from geartrack.frame import Array
from geartrack.job import Trace
from geartrack.tolerances import TOLERANCES, Tolerances
from geartrack.units import show_both

if TYPE_CHECKING:
    from manifold3d import Manifold

MOST_OF_BORE = 2.7
"""No round boss stands out further from its bore's axis than this many times the bore's radius; from memory."""

MOST_CORNERS = 2_000
"""Corners of a profile that is turned; more would be noise."""

_WELL_OFF = 3.0  # times the give or take: views that disagree by more are not of one boss, or not to one scale
_X, _Y, _Z = np.eye(3)


def boss_from_trace(trace: Trace, bore: Bore, *, length_mm: float, tolerances: Tolerances = TOLERANCES) -> BossMesh:
    """The boss that a job's drawings show, the pilot bore cut out.

    length_mm: of the boss, where no side view shows it [mm].

    `interpolation_mm` is how well it was traced. `short_mm` and `proud_mm` hold for straight lines in place of curves,
    once when they are flattened and once when corners that change nothing are left out, and for the facets of what is
    turned. Raises InputError, one line each.
    """
    findings = bore_findings(bore)
    if findings:
        raise InputError(*findings)
    flat, give = tolerances.facet_mm, trace.give_mm
    end = end_view(read_drawing(trace.end_view.path), trace, bore, flat) if trace.end_view else None
    side = side_view(read_drawing(trace.side_view.path), trace, flat) if trace.side_view else None
    views = _Views(end, side, give, flat)
    solid, notes = _made(trace, views, bore, length_mm)
    if len(solid.decompose()) != 1:
        raise refuse("boss.trace", "the two views together leave no solid that hangs together", "views of one boss")
    circle = facets_per_turn(bore.diameter_mm / 2, flat)
    vertices, triangles = bored(solid, bore, circle, tolerances)
    said_first = [note for view in (end, side) if view for note in view.notes]
    within = f"curves are drawn as straight lines within {flat:.4f} mm; the tracing gives or takes"
    return BossMesh(
        vertices=vertices,
        triangles=triangles,
        bore=bore,
        short_mm=2 * flat + sagitta_mm(max(views.widest_mm, bore_circle_mm(bore, circle)), views.facets),
        proud_mm=2 * flat,
        origin=" and ".join(["trace, end view"] * (end is not None) + ["side view"] * (side is not None)),
        interpolation_mm=give,
        notes=(*said_first, *notes, f"{within} {show_both(give, 'in', rounding='up')}"),
    )


@dataclass(frozen=True, eq=False)
class _Views:
    """The views that there are, how well they were traced [mm], how far a straight line may stray [mm]."""

    end: EndView | None
    side: SideView | None
    give_mm: float
    flat_mm: float

    @property
    def widest_mm(self) -> float:
        """The largest distance from the bore axis that the side view shows, 0 without one [mm]."""
        return float(np.abs(self.side.points[:, 1]).max()) if self.side else 0.0

    @property
    def facets(self) -> int:
        """Facets round what is turned."""
        return facets_per_turn(max(self.widest_mm, 1.0), self.flat_mm)

    @property
    def outline(self) -> Any:
        """The end view's outline as a shapely polygon in boss-frame (y, z) [mm], needless corners left out."""
        from shapely import Polygon

        assert self.end is not None
        return Polygon(self.end.outline).simplify(self.flat_mm)


def _made(trace: Trace, views: _Views, bore: Bore, length_mm: float) -> tuple[Manifold, list[str]]:
    """The solid that the views make, the bore not yet cut, and what must be said of it."""
    if views.side is None:
        words = f"the end view is drawn the same over the whole length, {said(length_mm)}, its edges sharp"
        return _prism(views.outline, _Y, _Z, -length_mm, 0.0), [words, MOST_METAL]
    if trace.side_shows == "outline":
        clock = trace.side_up or 0.0
        up = np.array([0.0, math.sin(clock), math.cos(clock)])
        notes = _same_extent(views, up)
        across = _prism(_side_polygon(views), -_X, up, -_far(views), _far(views))
        return _prism(views.outline, _Y, _Z, -views.side.length_mm, 0.0) ^ across, [*notes, MOST_METAL]
    turned = as_solid(*lathe(*_profile(views, bore), views.facets))
    round_note = (
        f"the side view is taken as the same all round: a pad or a rib within its largest radius, "
        f"{said(views.widest_mm)}, is not seen"
    )
    if views.end is None:
        return turned, [round_note]
    return _within(views, turned, round_note)


MOST_METAL = "outlines show the most metal that there can be: the gap may be wider than said, and the wall thinner"


def _prism(polygon: Any, first: Array, second: Array, low_mm: float, high_mm: float) -> Manifold:
    """A polygon in the plane of two unit vectors drawn along their cross product from low to high."""
    from manifold3d import triangulate

    corners = np.asarray(polygon.exterior.coords)[:-1]
    corners = corners if signed_area(corners) > 0 else corners[::-1]
    flat = np.outer(corners[:, 0], first) + np.outer(corners[:, 1], second)
    normal = np.cross(first, second)
    n, cap = len(corners), np.asarray(triangulate([corners]))
    i = np.arange(n)
    j = (i + 1) % n
    walls = np.concatenate([np.stack([i, j, j + n], axis=1), np.stack([i, j + n, i + n], axis=1)])
    points = np.concatenate([flat + low_mm * normal, flat + high_mm * normal])
    return as_solid(points, np.concatenate([walls, cap[:, ::-1], cap + n]).astype(np.int32))


def _far(views: _Views) -> float:
    """A distance beyond everything in the end view [mm]."""
    return 2 * float(np.abs(views.outline.bounds).max())


def _side_polygon(views: _Views) -> Any:
    from shapely import Polygon

    assert views.side is not None
    return Polygon(views.side.points).simplify(views.flat_mm)


def _same_extent(views: _Views, up: Array) -> list[str]:
    """Whether both outlines reach as far along the direction that they share; they are one boss's only if they do."""
    assert views.side is not None
    assert views.end is not None
    shared, across = views.end.outline @ up[1:], views.side.points[:, 1]
    pairs = [(float(shared.max()), float(across.max())), (float(-shared.min()), float(-across.min()))]
    notes = []
    for where, (by_end, by_side) in zip(("above", "below"), pairs, strict=True):
        what = (
            f"the end view reaches {said(by_end)} from the bore axis on the side that the side view draws {where} it, "
            f"the side view {said(by_side)}"
        )
        if abs(by_end - by_side) > _WELL_OFF * views.give_mm:
            raise refuse("boss.trace", what, "two views of one boss, to scale; is side_up right?")
        if abs(by_end - by_side) > views.give_mm:
            notes.append(what)
    return notes


def _profile(views: _Views, bore: Bore) -> tuple[Array, Array]:
    """Stations and radii [mm] of the largest radius that the side view shows at each station, never less.

    Between two corners' stations the largest of several straight lines is a hollow curve, so its chord is no less.
    """
    from shapely import LineString

    assert views.side is not None
    most = MOST_OF_BORE * bore.diameter_mm / 2
    if views.widest_mm > most:
        what = f"the side view reaches {said(views.widest_mm)} from the bore's centre line"
        raise refuse("boss.trace", what, f"at most {said(most)} for this bore; was another unit or scale meant?")
    points = np.abs(views.side.points)
    points = np.concatenate([points, points[:1]]) if views.side.closed else points
    stations = np.unique(points[:, 0])
    start, end = np.zeros((2, len(stations) - 1))
    for (s0, r0), (s1, r1) in pairwise(points):
        if s0 == s1:
            continue
        a, b = np.searchsorted(stations, sorted((s0, s1)))
        radii = r0 + (r1 - r0) * (stations[a : b + 1] - s0) / (s1 - s0)
        start[a:b], end[a:b] = np.maximum(start[a:b], radii[:-1]), np.maximum(end[a:b], radii[1:])
    strung = np.stack([np.repeat(stations, 2)[1:-1], np.stack([start, end], axis=1).ravel()], axis=1)
    thin = np.asarray(LineString(strung).simplify(views.flat_mm).coords)
    if len(thin) > MOST_CORNERS:
        raise refuse("boss.trace", f"the side view's profile has {len(thin)} corners", "a smooth line along the boss")
    return thin[:, 0], np.maximum(thin[:, 1], views.flat_mm)


def _within(views: _Views, turned: Manifold, round_note: str) -> tuple[Manifold, list[str]]:
    """The turned profile within the end view, and what stands out from it drawn along the whole length."""
    from shapely import Point

    assert views.side is not None
    outline, reach = views.outline, views.widest_mm + views.give_mm
    nearest = float(outline.exterior.distance(Point(0, 0)))
    if nearest > views.widest_mm + _WELL_OFF * views.give_mm:
        what = (
            f"the end view's outline lies {said(nearest)} or more from the bore axis all round, "
            f"the side view reaches no further than {said(views.widest_mm)}"
        )
        raise refuse("boss.trace", what, "two views of one boss, to scale")
    notes = [round_note]
    if nearest < views.widest_mm - views.give_mm:
        notes.append(
            f"the end view comes within {said(nearest)} of the bore axis; where the views differ the inner is drawn"
        )
    length = views.side.length_mm
    solid = _prism(outline, _Y, _Z, -length, 0.0) ^ turned
    for piece in _standing_out(outline, reach):
        clock = math.degrees(math.atan2(piece.centroid.x, piece.centroid.y))
        notes.append(
            f"what stands out at about {clock:.0f} deg is drawn along the whole length, since no profile shows it"
        )
        solid += _prism(piece, _Y, _Z, -length, 0.0)
    return solid, notes


def _standing_out(outline: Any, reach_mm: float) -> list[Any]:
    """The parts of an outline beyond a radius, each with a strip as wide as itself down to the bore's axis."""
    from shapely import Point, Polygon

    beyond = outline.difference(Point(0, 0).buffer(reach_mm, quad_segs=64))
    found = []
    for part in getattr(beyond, "geoms", [beyond]):
        if part.is_empty or part.area < reach_mm * 1e-3:
            continue
        out = np.array([part.centroid.x, part.centroid.y])
        out /= np.hypot(*out)
        across = np.array([-out[1], out[0]])
        corners = np.asarray(part.exterior.coords)
        half, far = np.abs(corners @ across).max(), (corners @ out).max()
        strip = Polygon([-half * across, half * across, far * out + half * across, far * out - half * across])
        whole = strip.intersection(outline).union(part)
        found += [each for each in getattr(whole, "geoms", [whole]) if each.intersects(part)]
    return found
