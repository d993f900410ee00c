"""Relief, wall and stop on a boss made whole from part of a scan: against the same boss by parts, and manifold3d.

The scan is the invented demo boss of parts in 1.1 mm triangles, made by manifold3d so that neighbours share vertices.
"""

from __future__ import annotations

from functools import lru_cache
from typing import Any

import numpy as np
import pytest
from boss_truth import BORE, DEMO
from relief_shapes import RING, solid, swept

from geartrack.boss.bored import as_solid
from geartrack.boss.mesh import BossMesh, PlacedBoss
from geartrack.boss.parts import boss_from_parts
from geartrack.boss.scan.files import ScanMesh
from geartrack.boss.scan.heal import Healed
from geartrack.boss.scan.health import health
from geartrack.boss.scan.solid import boss_solid
from geartrack.clearance import boss_gap
from geartrack.errors import InputError
from geartrack.frame import Hand, Seat, polar
from geartrack.relief import relief, stop_clearance, wall_before, wall_left
from geartrack.sweep import grown

SEAT = Seat(54.0, 50.0, Hand.BELOW)
LENGTH, OUT, CLEARANCE = 25.0, 33.0, 1.0
FACE_MM = 1e-3  # of a scan without noise


@lru_cache
def closed() -> BossMesh:
    return boss_from_parts(DEMO, BORE)


@lru_cache
def true() -> Any:
    """The closed boss, and what is said of it: its relief, gap, and wall before and after."""
    boss = PlacedBoss(closed(), SEAT)
    return boss, relief(boss, RING, CLEARANCE), boss_gap(boss, RING), wall_left(boss, RING, CLEARANCE)


@lru_cache
def scan() -> tuple[Any, Any]:
    """Vertices and triangles of an open crop: nothing further in than 26.5 mm or out than 35."""
    fine = as_solid(closed().vertices, closed().triangles).refine_to_length(1.1).to_mesh64()
    vertices, faces = np.array(fine.vert_properties)[:, :3], np.array(fine.tri_verts).astype(np.int32)
    station, radius, _ = polar(vertices)
    return vertices, faces[((station < 26.5) & (radius < 35.0))[faces].all(axis=1)]


def whole(vertices: Any, faces: Any, **said: float) -> tuple[PlacedBoss, Healed]:
    said = {"face_mm": FACE_MM, **said}
    mesh, made = boss_solid(vertices, faces, BORE, length_mm=LENGTH, out_mm=OUT, **said)
    return PlacedBoss(mesh, SEAT), made


def lost(share_mm: float, clock_deg: float, station_mm: float = 5.0) -> Any:
    """The scan with a round hole in the boss's outside."""
    vertices, faces = scan()
    t = np.radians(clock_deg)
    away = np.linalg.norm(vertices - [-station_mm, 27.2 * np.sin(t), 27.2 * np.cos(t)], axis=1)
    return vertices, faces[~(away < share_mm)[faces].any(axis=1)]


def test_an_open_crop_gives_what_the_closed_boss_gives() -> None:
    """All that relief says, with a fifth of the triangles turned round.

    The scan's vertices lie on the facets of the boss by parts, so the answers agree within their own errors, the
    search's 0.005 mm for walls, and what a kernel shifts vertices by.
    """
    vertices, faces = scan()
    back = np.random.default_rng(8).random(len(faces)) < 0.2
    faces = np.where(back[:, None], faces[:, ::-1], faces)
    boss, made = whole(vertices, faces)
    real, theirs, real_gap, real_wall = true()
    assert len(made.fills) == 2  # the deep end, and the rib's, though its rim runs into that one
    assert boss.mesh.short_mm == 0.0  # none of them on the boss
    mine = relief(boss, RING, CLEARANCE)
    assert mine.volume_mm3 == pytest.approx(theirs.volume_mm3, abs=mine.volume_error_mm3 + theirs.volume_error_mm3)
    assert mine.area_mm2 == pytest.approx(theirs.area_mm2, rel=1e-3)
    assert mine.depth_radial_max_mm == pytest.approx(theirs.depth_radial_max_mm, abs=0.005)
    assert mine.depth_axial_max_mm == pytest.approx(theirs.depth_axial_max_mm, abs=0.01)
    assert mine.depth_max_mm == pytest.approx(
        theirs.depth_max_mm, abs=mine.depth_max_error_mm + theirs.depth_max_error_mm
    )
    assert boss_gap(boss, RING).nominal_mm == pytest.approx(real_gap.nominal_mm, abs=0.002)
    assert wall_before(boss).before_mm == pytest.approx(real_wall.before_mm, abs=0.005)
    assert wall_left(boss, RING, CLEARANCE).left_mm == pytest.approx(real_wall.left_mm, abs=0.005)
    stops = [stop_clearance(b, RING, clearance_mm=1.0, allowance_mm=1.0, minimum_wall_mm=6.3) for b in (boss, real)]
    assert stops[0].limited_by == stops[1].limited_by == "wall"
    assert stops[0].clearance_mm == pytest.approx(stops[1].clearance_mm, abs=0.005)


def test_its_volume_by_manifold3d() -> None:
    """As in test_relief_kernels: twice the facets, and a third of the last step."""
    boss, _ = whole(*scan())
    shape, body = grown(RING, CLEARANCE, arc_segments=64), solid(boss)
    coarse, fine = ((body ^ swept(shape, around)).volume() for around in (360, 720))
    cut = relief(boss, RING, CLEARANCE)
    within = cut.volume_error_mm3 + abs(fine - coarse) / 3 + 1e-4 * CLEARANCE * cut.area_mm2
    assert cut.volume_mm3 == pytest.approx(fine + (fine - coarse) / 3, abs=within)
    assert cut.volume_mm3 > 5.0


@pytest.mark.parametrize(("wide", "clock"), [(3.0, 0.0), (3.0, 20.0), (6.0, 20.0), (8.0, -15.0)])
def test_a_hole_in_the_patch_is_within_its_own_error(wide: float, clock: float) -> None:
    """Volume, depth and gap of the closed boss lie within what the filled one says of itself, also where the hole takes
    in the edge of the end face."""
    boss, made = whole(*lost(wide, clock))
    _, theirs, real_gap, real_wall = true()
    mine = relief(boss, RING, CLEARANCE)
    assert boss.mesh.short_mm > 0.01
    assert mine.volume_mm3 == pytest.approx(theirs.volume_mm3, abs=mine.volume_error_mm3 + theirs.volume_error_mm3)
    assert mine.depth_max_mm == pytest.approx(
        theirs.depth_max_mm, abs=mine.depth_max_error_mm + theirs.depth_max_error_mm
    )
    assert boss_gap(boss, RING).lower_mm - 0.002 <= real_gap.nominal_mm
    assert wall_left(boss, RING, CLEARANCE).left_mm <= real_wall.left_mm + 0.005
    assert any(fill.across_mm > 2 * wide for fill in made.fills)


@pytest.mark.parametrize("seed", range(2))
def test_noise_moves_it_by_no_more_than_the_noise(seed: int) -> None:
    """sigma = 0.01 mm on every vertex. The gap is the least over hundreds of vertices, so it may fall by 4 sigma."""
    vertices, faces = scan()
    sigma = 0.01
    noisy = vertices + np.random.default_rng(seed).normal(scale=sigma, size=vertices.shape)
    said = health(ScanMesh(noisy, faces, "mm", "said", "")).scatter_mm
    assert said == pytest.approx(sigma, rel=0.2)
    boss, _ = whole(noisy, faces, face_mm=0.06, noise_mm=2 * sigma)
    _, theirs, real_gap, real_wall = true()
    mine = relief(boss, RING, CLEARANCE)
    assert mine.volume_mm3 == pytest.approx(theirs.volume_mm3, abs=mine.volume_error_mm3 + theirs.volume_error_mm3)
    assert mine.depth_radial_max_mm == pytest.approx(theirs.depth_radial_max_mm, abs=4 * sigma)
    assert mine.depth_axial_max_mm > theirs.depth_axial_max_mm - 0.5
    gap = boss_gap(boss, RING)
    assert real_gap.nominal_mm - 4 * sigma < gap.nominal_mm < real_gap.nominal_mm + 2 * sigma
    assert wall_before(boss).before_mm == pytest.approx(real_wall.before_mm, abs=4 * sigma)
    assert wall_left(boss, RING, CLEARANCE).left_mm == pytest.approx(real_wall.left_mm, abs=0.01)


def test_what_holds_no_solid_is_refused() -> None:
    vertices, faces = scan()
    with pytest.raises(InputError, match="no solid round the bore"):
        whole(vertices, faces[:0])
    with pytest.raises(InputError, match="no solid round the bore"):
        whole(vertices - np.array([200.0, 0, 0]), faces)
