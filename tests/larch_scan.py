"""Makes the demo's scan, data/cases/larch-scan.stl: an invented casting as a scanner might see it, its pose known here.

The boss is that of data/cases/larch-nodular.toml. Beside it stand the saddles of the two side bearings, caps off, on
their legs, and the flange that the pinion support bolts to. A part of the boss away from the ring is missing, and some
spots, none of them near the place that the teeth come nearest to; a few vertices stray, a few triangles are turned
round, and all of it has 0.02 mm of noise. Run from the project's folder: python tests/larch_scan.py
"""

from __future__ import annotations

import struct
from pathlib import Path
from typing import Any

import numpy as np
from manifold3d import CrossSection, Manifold

OFFSET, END_FACE, SIDE_RADIUS = 54.0, 50.0, 31.0
SUPPORT_FACE, NEAREST_DEG = 88.0, 33.0  # beyond the end face; the clock angle at which the teeth come nearest
NOISE_MM, SEED = 0.02, 240
ROTATION_VECTOR, SHIFT = np.array([0.7, -0.4, 1.1]), np.array([112.0, -61.0, 35.0])
FILE = Path(__file__).parents[1] / "data" / "cases" / "larch-scan.stl"


def rotation() -> Any:
    """Rodrigues' formula for ROTATION_VECTOR: boss frame to the scan's place."""
    angle = np.linalg.norm(ROTATION_VECTOR)
    x, y, z = ROTATION_VECTOR / angle
    cross = np.array([[0, -z, y], [z, 0, -x], [-y, x, 0]])
    return np.eye(3) + np.sin(angle) * cross + (1 - np.cos(angle)) * cross @ cross


def along_bore(radius: Any, start: float, end: float) -> Any:
    """A cylinder or cone about the bore from one station to another, in the boss frame."""
    low, high = radius if isinstance(radius, tuple) else (radius, radius)
    facets = 4 * round(2 * np.pi * max(low, high) / 1.5 / 4)
    return Manifold.cylinder(end - start, low, high, facets).rotate([0, -90, 0]).translate([-start, 0, 0])


def block(clock_deg: float, width: float, reach: float, start: float, end: float) -> Any:
    """A pad or rib: from the bore axis out to `reach` at a clock angle."""
    box = Manifold.cube([end - start, width, reach]).translate([-end, -width / 2, 0])
    return box.rotate([-clock_deg, 0, 0])


def boss() -> Any:
    metal = along_bore(27.2, 0, 22) + along_bore(31.0, 22, 27) + along_bore((27.2, 31.0), 18, 22)
    metal += block(150, 9, 40, 6, 27) + block(-115, 16, 29, 4, 27)
    return metal - along_bore(19.0, -1, 20)


def saddle(start: float, end: float, *, leg: tuple[float, float]) -> Any:
    """Half a side-bearing bore about the ring axis, on a leg that runs toward the pinion's end."""
    bore = CrossSection.circle(SIDE_RADIUS, 130).translate([-END_FACE, -OFFSET])
    block = CrossSection.square([38, 88]).translate([-END_FACE, -OFFSET - 44]) - bore
    arm = CrossSection.square([76, 24]).translate([-14, -OFFSET - 12]) - bore
    parts = ((block, (start, end)), (arm, leg))
    high, low = (shape.extrude(far - near).translate([0, 0, near]) for shape, (near, far) in parts)
    return high + low


def flange() -> Any:
    """What the pinion support bolts to: a ring with six bolt holes, its face the side further from the boss."""
    outline = CrossSection.circle(64.0, 48) - CrossSection.circle(43.0, 36)
    for turn in np.arange(6) * np.pi / 3:
        outline -= CrossSection.circle(5.0, 8).translate([54 * np.sin(turn), 54 * np.cos(turn)])
    return outline.extrude(12).rotate([0, 90, 0]).translate([SUPPORT_FACE - 12, 0, 0])


def seen() -> tuple[Any, Any]:
    """Vertices and triangles in the scan's place."""
    rng = np.random.default_rng(SEED)
    parts = [boss().refine_to_length(1.9), flange().refine_to_length(14.0)]
    parts += [each.refine_to_length(4.6) for each in (saddle(66, 82, leg=(66, 82)), saddle(-70, -54, leg=(-70, -38)))]
    points, faces, start = [], [], 0
    for part in parts:
        mesh = part.to_mesh64()
        corners = np.array(mesh.vert_properties[:, :3])
        points.append(corners)
        faces.append(np.array(mesh.tri_verts, dtype=np.int64) + start)
        start += len(corners)
    vertices, triangles = np.concatenate(points), np.concatenate(faces)
    station, clock = -vertices[:, 0], np.degrees(np.arctan2(vertices[:, 1], vertices[:, 2]))
    on_boss = np.hypot(vertices[:, 1], vertices[:, 2]) < 45
    lost = on_boss & (station > 9) & (np.abs((clock - 195 + 180) % 360 - 180) < 32)
    elsewhere = on_boss & (np.abs((clock - NEAREST_DEG + 180) % 360 - 180) > 75)
    for centre in rng.choice(np.flatnonzero(elsewhere), 14, replace=False):
        lost |= ((vertices - vertices[centre]) ** 2).sum(axis=1) < rng.uniform(0.8, 1.8) ** 2
    noisy = vertices + rng.normal(scale=NOISE_MM, size=vertices.shape)
    stray = rng.random(len(vertices)) < 0.004
    noisy[stray] += rng.uniform(-2, 2, (int(stray.sum()), 3))
    inside = (on_boss & (station > 26.99))[triangles].all(axis=1)  # the boss runs into the web there
    triangles = triangles[~lost[triangles].any(axis=1) & ~inside]
    turned = rng.random(len(triangles)) < 0.02
    triangles[turned] = triangles[turned][:, ::-1]
    return noisy @ rotation().T + SHIFT, triangles


def write(path: Path, vertices: Any, triangles: Any) -> None:
    """A binary STL file, its head saying that it is invented."""
    corners = vertices[triangles].astype("<f4")
    record = np.zeros(len(triangles), np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("spare", "<u2")]))
    normal = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    record["normal"] = normal / np.maximum(np.linalg.norm(normal, axis=1), 1e-12)[:, None]
    record["corners"] = corners
    head = b"Invented: a scan of the Larch 240 case, nodular, millimetres. No such casting exists.".ljust(80)[:80]
    path.write_bytes(head + struct.pack("<I", len(triangles)) + record.tobytes())


if __name__ == "__main__":
    write(FILE, *seen())
