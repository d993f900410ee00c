"""A scan made whole: wound one way, without specks, its holes filled flat, and what each filling may be off by."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from geartrack.boss.mesh import Triangles
from geartrack.boss.scan.edges import Edges, Index, Mask, edges
from geartrack.frame import Array

_SPECK = 0.01  # a shell of less than this share of the largest one's area is a speck
_ROUNDS = 12
_ALIKE = 0.98  # cosine between the planes of rims that are filled as one
_HIGH = 0.9  # the share of a rim's places whose bulge is no more than what is said


@dataclass(frozen=True)
class Fill:
    """A filled hole, or the end at which the scan was cut off: flat across its rim.

    centre_mm: middle of the rim; across_mm: its longest extent; area_mm2: of the filling.
    off_mm: how far from it the true surface may lie: what it bulges by if it goes on as it comes to the rim, and how
        far the rim itself is from flat. Exact for a round hole in a sphere.
    """

    centre_mm: tuple[float, float, float]
    across_mm: float
    area_mm2: float
    off_mm: float


@dataclass(frozen=True, eq=False)
class Healed:
    """A mesh made whole. vertices : (n, 3) float [mm]; triangles : (m, 3) int32, wound outward where `closed`.

    closed: along every edge as many triangles run one way as the other. fills: the widest first.
    notes: what was done, one line each.
    """

    vertices: Array
    triangles: Triangles
    closed: bool
    fills: tuple[Fill, ...]
    notes: tuple[str, ...]


def healed(vertices: Array, triangles: Triangles, *, beyond: Mask | None = None) -> Healed:
    """A mesh, vertices (n, 3) [mm] and triangles (m, 3), made whole: a scan, or a part cut from one.

    Triangles wound against the rest of their shell are turned round; those at edges that three share are taken out;
    specks are left out; every rim is filled, rims one within another in one plane as one; shells that would hold a
    negative volume are turned round, so none may be a hollow inside another. What comes in is not changed. A mesh that
    has no inside, or nothing left, comes back not closed.

    beyond (n,): vertices past where it will be cut off. Where a rim runs out past it and back, as round a rib that was
    cut across, that part is filled by itself, flat across the rib, and the rest of the rim straight on.
    """
    notes: list[str] = []
    faces = _unforked(triangles)
    lost, turned, specks = len(triangles) - len(faces), 0, 0
    fills: list[Fill] = []
    if len(faces):
        faces, turned, specks = _sound(vertices, faces)
        vertices, faces, found, was = _parted(vertices, faces)
        out = np.zeros(len(vertices), bool) if beyond is None else beyond[was]
        rims = [part for rim in _rims(found) for part in _divided(rim, out)]
        patches = [_filled(vertices, faces, some) for some in _together(vertices, rims)]
        faces = np.concatenate([faces, *(patch for patch, _ in patches)])
        fills = sorted((fill for _, fill in patches), key=lambda fill: -fill.across_mm)
    closed = len(faces) > 0 and _balanced(faces)
    if closed:
        faces = _outward(vertices, faces)
    if turned:
        notes.append(f"{turned:,} triangles wound against the rest were turned round")
    if lost:
        notes.append(f"{lost:,} triangles at edges that more than two share were taken out")
    if specks:
        notes.append(f"{specks:,} specks were left out")
    if fills:
        notes.append(f"{len(fills):,} open rims were filled flat, the widest {fills[0].across_mm:.1f} mm across")
    return Healed(vertices, faces, closed, tuple(fills), tuple(notes))


def _unforked(faces: Triangles) -> Triangles:
    """Without the triangles at edges that more than two share, till there are none."""
    for _ in range(_ROUNDS):
        if not len(faces):
            break
        found = edges(faces)
        if not len(found.branching):
            break
        marked = np.zeros(int(faces.max()) + 1, np.int8)
        marked[found.branching] = 1
        faces = faces[marked[faces].sum(axis=1) < 2]
    return faces


def _sound(vertices: Array, faces: Triangles) -> tuple[Triangles, int, int]:
    """Each shell wound one way, as most of it was, without specks; how many triangles were turned, how many specks."""
    found = edges(faces)
    turned = found.turned
    area = np.bincount(found.shells, weights=np.linalg.norm(_spanned(vertices, faces), axis=1))
    small = area < _SPECK * area.max()
    keep = ~small[found.shells]
    return np.where(turned[:, None], faces[:, ::-1], faces)[keep], int(turned[keep].sum()), int(small.sum())


def _parted(vertices: Array, faces: Triangles) -> tuple[Array, Triangles, Edges, Index]:
    """Each fan of triangles about a vertex with a vertex of its own, so that rims meet in none; and which it was."""
    found = edges(faces)
    fans = found.fans
    _, first = np.unique(fans, return_index=True)
    was = faces.ravel()[first]
    ends = [fans[found.owner, (found.side + i) % 3] for i in (0, 1)]
    return vertices[was], fans, replace(found, open=np.stack(ends, axis=1)), was


def _spanned(vertices: Array, faces: Triangles) -> Array:
    """Normals (m, 3), as long as twice the triangles' areas [mm2]."""
    a, b, c = (vertices[faces[:, i]] for i in range(3))
    crossed: Array = np.cross(b - a, c - a)
    return crossed


@dataclass(frozen=True, eq=False)
class _Rim:
    """A closed rim: corners (n,), against the run of the triangles along it, and those triangles (k,)."""

    corners: Index
    owners: Index


def _rims(found: Edges) -> Iterator[_Rim]:
    """Rims, from open edges that follow one another; those that come to no close are left."""
    before = {int(end): i for i, end in enumerate(found.open[:, 1])}
    starts = found.open[:, 0].tolist()
    waiting = set(range(len(starts)))
    while waiting:
        first = at = waiting.pop()
        loop = [first]
        while (at := before.get(starts[at], -1)) in waiting:
            waiting.remove(at)
            loop.append(at)
        if at == first and len(loop) > 2:
            yield _Rim(found.open[loop, 1], found.owner[loop])


def _divided(rim: _Rim, out: Mask) -> Iterator[_Rim]:
    """A rim, or its parts that lie beyond, each closed straight across, and what is left without them."""
    beyond = out[rim.corners]
    if beyond.all() or not beyond.any():
        yield rim
        return
    turn = int(np.flatnonzero(beyond & ~np.roll(beyond, 1))[0])
    corners, owners = np.roll(rim.corners, -turn), np.roll(rim.owners, -turn)
    beyond = np.roll(beyond, -turn)
    keep = np.ones(len(corners), bool)
    firsts = np.flatnonzero(beyond & ~np.roll(beyond, 1))
    lasts = np.flatnonzero(beyond & ~np.roll(beyond, -1))
    for first, last in zip(firsts, lasts, strict=True):
        if last - first > 1:
            keep[first + 1 : last] = False
            yield _Rim(corners[first : last + 1], owners[first : last + 1])
    if keep.sum() > 2:
        yield _Rim(corners[keep], owners[keep])


def _together(vertices: Array, rims: list[_Rim]) -> list[list[_Rim]]:
    """Rims to be filled as one: each outer one with those that lie within it in its plane and run the other way."""
    places = [vertices[rim.corners] for rim in rims]
    spans = [_span(each) for each in places]
    areas = np.array([float(np.linalg.norm(span)) for span in spans])
    inside: dict[int, list[int]] = {i: [] for i in range(len(rims))}
    taken = set()
    for outer in np.argsort(-areas).tolist():
        if outer in taken or not areas[outer] > 0:
            continue
        for inner in range(len(rims)):
            if inner not in taken and inner != outer and areas[inner] < areas[outer] and not inside[inner]:
                facing = float(spans[inner] @ spans[outer]) < -_ALIKE * areas[inner] * areas[outer]
                if facing and _within(places[inner], places[outer], spans[outer]):
                    inside[outer].append(inner)
                    taken.add(inner)
    return [[rims[i], *(rims[j] for j in inner)] for i, inner in inside.items() if i not in taken]


def _span(rim: Array) -> Array:
    """The area that a rim (n, 3) spans, as a normal (3,) twice as long [mm2]."""
    away = rim - rim.mean(axis=0)
    total: Array = np.cross(away, np.roll(away, -1, axis=0)).sum(axis=0)
    return total


def _within(inner: Array, outer: Array, normal: Array) -> bool:
    """Whether a rim lies within another, and near its plane: no further from it than a tenth of its own extent."""
    import shapely

    axes = _axes(normal)
    centre = outer.mean(axis=0)
    flat = (outer - centre) @ axes.T
    there = (inner - centre) @ axes.T
    high = abs(float(np.median(there[:, 2])) - float(np.median(flat[:, 2])))
    near = high < 0.1 * float(np.ptp(there[:, :2], axis=0).max())
    return near and bool(shapely.contains_xy(shapely.Polygon(flat[:, :2]).buffer(0), *there[:, :2].T).all())


def _axes(normal: Array) -> Array:
    """Rows: two directions across a normal and the normal itself, right-handed; any where it has no length."""
    length = float(np.linalg.norm(normal))
    n = normal / length if length > 0 else np.array([0.0, 0.0, 1.0])
    u = np.cross(n, np.eye(3)[np.abs(n).argmin()])
    u /= np.linalg.norm(u)
    return np.stack([u, np.cross(n, u), n])


def _filled(vertices: Array, faces: Triangles, rims: Sequence[_Rim]) -> tuple[Triangles, Fill]:
    """Triangles across one rim, or between one and those within it."""
    from manifold3d import triangulate

    points = [vertices[rim.corners] for rim in rims]
    normal = np.sum([_span(each) for each in points], axis=0)
    axes = _axes(normal)
    flat = [each @ axes.T for each in points]
    number = np.concatenate([rim.corners for rim in rims])
    patch: Triangles = number[np.asarray(triangulate([each[:, :2] for each in flat]), dtype=np.intp).reshape(-1, 3)]
    area = float(np.linalg.norm(normal)) / 2
    own = _spanned(vertices, faces[np.concatenate([rim.owners for rim in rims])])
    lean = own @ axes[2] / np.maximum(np.linalg.norm(own, axis=1), 1e-300)
    bulge = _width(flat) * np.tan(np.arccos(np.clip(lean, 0.0, 1.0)) / 2)
    heights = np.concatenate([each[:, 2] for each in flat])
    off = float(np.quantile(bulge, _HIGH)) + 2 * float(heights.std())
    x, y, z = points[0].mean(axis=0).tolist()
    return patch, Fill((x, y, z), _across(points[0]), area, off)


def _width(rims: Sequence[Array]) -> float:
    """Twice the area within rims over their length, teeth smoothed away [mm]: a circle's radius, a ring's width."""
    import shapely

    outer, *inner = (shapely.MultiPoint(rim[:, :2]).convex_hull for rim in rims)
    area = max(outer.area - sum(each.area for each in inner), 0.0)
    return float(2 * area / (outer.length + sum(each.length for each in inner)))


def _across(points: Array) -> float:
    """Longest extent along the points' own main direction [mm]."""
    centred = points - points.mean(axis=0)
    return float(np.ptp(centred @ np.linalg.svd(centred.T @ centred)[0][:, 0]))


def _balanced(faces: Triangles) -> bool:
    """Whether as many triangles run one way along every edge as the other."""
    start, end = faces.T.ravel().astype(np.int64), faces[:, [1, 2, 0]].T.ravel().astype(np.int64)
    key = np.minimum(start, end) << 32 | np.maximum(start, end)
    return bool(np.array_equal(np.sort(key[start < end]), np.sort(key[start > end])))


def _outward(vertices: Array, faces: Triangles) -> Triangles:
    """Shells that hold a negative volume turned round."""
    shells = edges(faces).shells
    a, b, c = (vertices[faces[:, i]] - vertices[faces[0, 0]] for i in range(3))
    volume = np.bincount(shells, weights=np.einsum("ij,ij->i", a, np.cross(b, c)))
    outward: Triangles = np.where((volume < 0)[shells][:, None], faces[:, ::-1], faces)
    return outward
