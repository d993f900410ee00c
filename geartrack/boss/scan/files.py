"""A scan's file, read safely: whatever it holds, it gives one mesh or one line that says why not."""

from __future__ import annotations

import stat
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO, Literal

import numpy as np
from numpy.typing import NDArray

from geartrack.boss.mesh import Triangles
from geartrack.boss.scan.limits import FURTHEST_MM, MOST_FILE_BYTES, MOST_TRIANGLES, PLAUSIBLE_MM, POSSIBLE_MM
from geartrack.boss.scan.raw import WHOLE, Raw, too_many
from geartrack.errors import InputError, refuse
from geartrack.frame import Array
from geartrack.units import UNIT_WORDS, parse_length, show_both

UNITS = ("mm", "in", "m")
"""Units that a scan without one may be in."""

_SAID = "mm, in or m (--unit; in a job: scan_unit under [boss])"
_STRAY = 0.002  # share of the vertices that may be strays, left out of the size that tells the unit
_SAMPLE = 200_000
_SPREAD = tuple(np.uint64(k) for k in (0x9E3779B97F4A7C15, 0xC2B2AE3D27D4EB4F, 0x165667B19E3779F9))
"""Odd multipliers that spread bits: the golden ratio's, and two primes known from hash functions (from memory)."""


@dataclass(frozen=True, eq=False)
class ScanMesh:
    """A scan as read: equal vertices made one, triangles with two corners alike left out; nothing repaired.

    vertices : (n, 3) float [mm], in the scan's own place; triangles : (m, 3) int32, wound as in the file
    unit : of the file's numbers; unit_from : "said" by the caller, stated in the "file", or "inferred" from the size
    file : its name; notes : what was done, one line each
    """

    vertices: Array
    triangles: Triangles
    unit: str
    unit_from: Literal["said", "file", "inferred"]
    file: str
    notes: tuple[str, ...] = ()


def read_scan(path: Path | str, *, unit: str | None = None) -> ScanMesh:
    """Read an STL (binary or text), PLY, OBJ or 3MF file, told apart by the name's ending.

    unit: of its numbers, "mm", "in" or "m"; None: as the file states (3MF), else told by the size of what it holds.
    Never opens any other file. Raises InputError for what is no such file, is too large (geartrack.boss.scan.limits),
    is cut short or spoilt, or is of no plausible size.
    """
    path = Path(path)
    where = path.name or str(path)
    if unit is not None and unit not in UNITS:
        raise refuse("unit", f"{unit!r} is no unit of a scan", f"one of these: {', '.join(UNITS)}")
    reader = _reader(path, where)
    try:
        about = path.stat()
        if not stat.S_ISREG(about.st_mode):
            raise refuse(where, "is a folder" if path.is_dir() else "is no plain file", "the scan's own file")
        if not 0 < about.st_size <= MOST_FILE_BYTES:
            if not about.st_size:
                raise refuse(where, "is empty", "a scan of the case, saved as STL, PLY, OBJ or 3MF")
            what = f"is {about.st_size / 2**30:.1f} GiB, more than is read"
            raise refuse(where, what, f"at most {MOST_FILE_BYTES / 2**30:.0f} GiB")
        with path.open("rb") as stream:
            raw = reader(stream, about.st_size, where)
    except OSError as fault:
        raise refuse(where, f"cannot be read: {fault.strerror or fault}", "a scan's file") from None
    except MemoryError:
        raise refuse(where, "needs more memory than there is", "fewer triangles") from None
    return _scan(raw, unit, where)


def _reader(path: Path, where: str) -> Callable[[BinaryIO, int, str], Raw]:
    match path.suffix.lower():
        case ".stl":
            from geartrack.boss.scan.stl import read_stl

            return read_stl
        case ".ply":
            from geartrack.boss.scan.ply import read_ply

            return read_ply
        case ".obj":
            from geartrack.boss.scan.obj import read_obj

            return read_obj
        case ".3mf":
            from geartrack.boss.scan.threemf import read_3mf

            return read_3mf
    raise refuse(where, "is no scan by its name", "a name that ends in .stl, .ply, .obj or .3mf")


def _scan(raw: Raw, unit: str | None, where: str) -> ScanMesh:
    """Raises InputError where a file's own numbers make no mesh of plausible size."""
    vertices, triangles = raw.vertices, raw.triangles
    count = len(vertices) // 3 if triangles is None else len(triangles)
    if not count:
        what = "has points but no triangles" if len(vertices) else "has no triangles in it"
        raise refuse(where, what, "a scan exported as a mesh")
    if count > MOST_TRIANGLES or len(vertices) > 3 * MOST_TRIANGLES:
        raise too_many(where, max(count, len(vertices) // 3))
    if not all(np.isfinite(vertices[:, i]).all() for i in range(3)):
        raise refuse(where, "has a vertex that is not a finite number", WHOLE)
    if triangles is not None and (triangles.min() < 0 or triangles.max() >= len(vertices)):
        raise refuse(where, "has a triangle that points at a vertex it does not hold", WHOLE)
    points, number = merged(vertices)
    faces: Triangles = (number if triangles is None else number[triangles]).reshape(-1, 3)
    faces, notes = _whole(faces)
    if not len(faces):
        raise refuse(where, "has no triangle with three corners apart", WHOLE)
    name, came, factor = _unit(points, unit, raw.unit, where)
    placed = points.astype(float)
    placed *= factor
    if not max(abs(float(placed.min())), abs(float(placed.max()))) <= FURTHEST_MM:
        raise refuse(where, "has vertices a kilometre and more from its zero", "its zero near the casting")
    return ScanMesh(placed, faces, name, came, where, notes)


def _whole(faces: Triangles) -> tuple[Triangles, tuple[str, ...]]:
    a, b, c = faces.T
    whole = (a != b) & (b != c) & (c != a)
    lost = len(faces) - int(whole.sum())
    if not lost:
        return faces, ()
    return faces[whole], (f"{lost:,} of its {len(faces):,} triangles have two corners in one place and were left out",)


def merged(vertices: NDArray[np.floating]) -> tuple[NDArray[np.floating], NDArray[np.int32]]:
    """Equal points, vertices (n, 3) [any], made one: the points (k, 3) in no order [any], and each one's number, (n,).

    Points are sorted by a hash, whose last bits make room for the point's own number, so that one fast sort of integers
    does it; where two different points share what is left of the hash they are told apart afterwards. Ten times as fast
    as sorting points (np.unique) or as the mesh library's way, and a third of the time of a sort by three keys.
    """
    count = len(vertices)
    low = np.uint64(count.bit_length())
    key = np.zeros(count, np.uint64)
    for axis in range(3):
        column = np.ascontiguousarray(vertices[:, axis]) + vertices.dtype.type(0)  # -0 becomes 0
        key ^= column.view(f"u{column.itemsize}")
        key *= _SPREAD[axis]
        key ^= key >> np.uint64(32)
    key >>= low
    key <<= low
    key |= np.arange(count, dtype=np.uint64)
    key.sort()
    order = (key & ((np.uint64(1) << low) - np.uint64(1))).astype(np.int32)
    key >>= low
    first = np.ones(count, bool)
    np.not_equal(key[1:], key[:-1], out=first[1:])
    del key
    number = np.empty(count, np.int32)
    number[order] = np.cumsum(first, dtype=np.int32) - np.int32(1)
    points = vertices[order[first]]
    return _told_apart(vertices, points, number)


def _told_apart(
    vertices: NDArray[np.floating], points: NDArray[np.floating], number: NDArray[np.int32]
) -> tuple[NDArray[np.floating], NDArray[np.int32]]:
    """Points of their own for vertices that were taken for another's (all that are equal were taken for the same)."""
    wrong = np.zeros(len(vertices), bool)
    for axis in range(3):
        wrong |= np.ascontiguousarray(points[:, axis])[number] != vertices[:, axis]
    if wrong.any():
        own, which = np.unique(vertices[wrong], axis=0, return_inverse=True)
        number[wrong] = len(points) + which.ravel()
        points = np.concatenate([points, own])
    return points, number


def _unit(
    points: NDArray[np.floating], said: str | None, stated: str, where: str
) -> tuple[str, Literal["said", "file", "inferred"], float]:
    """The unit, where it is from, and its length [mm]."""
    sizes = _longest_side(points, 0.0), _longest_side(points, _STRAY)
    if said or stated:
        name = said or stated
        factor = parse_length(f"1 {name}", where=where)
        longest = sizes[1] * factor
        if not POSSIBLE_MM[0] <= longest <= POSSIBLE_MM[1]:
            what = f"is {show_both(longest, 'in')} long if its numbers are in {unit_name(name)}"
            right = f"say what they are in, {_SAID}" if said is None else "the unit that it was exported in"
            raise refuse(where, what, right)
        return name, "said" if said else "file", factor
    found = {name for name in UNITS if all(_plausible(size * parse_length(f"1 {name}")) for size in sizes)}
    if len(found) != 1:
        raise _unit_unknown(sizes[0], where)
    name = found.pop()
    return name, "inferred", parse_length(f"1 {name}")


def _plausible(longest_mm: float) -> bool:
    return PLAUSIBLE_MM[0] <= longest_mm <= PLAUSIBLE_MM[1]


def _longest_side(points: NDArray[np.floating], stray: float) -> float:
    """Longest side of the box round the points, (n, 3) [any], a share of them at each end left out, in their unit."""
    if not stray:
        return max(float(points[:, i].max()) - float(points[:, i].min()) for i in range(3))
    some = points[:: max(len(points) // _SAMPLE, 1)]
    low, high = np.quantile(some, [stray, 1 - stray], axis=0)
    return float((high - low).max())


def unit_name(unit: str) -> str:
    """What a unit of a scan is called where "in" would read as a word.

    >>> unit_name("in"), unit_name("m"), unit_name("micron")
    ('inch', 'metre', 'micron')
    """
    return {"in": UNIT_WORDS["in"], "m": "metre"}.get(unit, unit)


def _unit_unknown(longest: float, where: str) -> InputError:
    sizes = ", ".join(
        f"{show_both(longest * parse_length(f'1 {name}'), 'in')} if in {unit_name(name)}" for name in UNITS
    )
    return refuse(where, f"does not tell its unit: it is {sizes}", f"say what its numbers are in, {_SAID}")
