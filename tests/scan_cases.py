"""Random scans of made-up bosses whose true gap is known, and whether the gap from the scan holds it."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np
import scan_castings as castings
from relief_shapes import RING

from geartrack.boss.mesh import Bore, BossMesh, PlacedBoss
from geartrack.boss.scan.from_scan import boss_from_scan
from geartrack.clearance import boss_gap
from geartrack.frame import Hand, Seat

BORE = Bore(castings.BORE_DIAMETER, castings.BORE_DEPTH, 1.5, 18.0)
SEAT = Seat(castings.OFFSET, castings.END_FACE, Hand.BELOW)
SHAPES = tuple({"radius": r, "edge": e} for r in (26.0, 27.2, 28.4) for e in (0.0, 0.6, 1.2))
NOISE_MM, STRAYS = 0.02, 0.2


@dataclass(frozen=True)
class Held:
    """One case: error of the gap, its stated give or take [mm], whether that holds the truth, whether it was said that
    the scan does not show the nearest place."""

    seed: int
    error_mm: float
    give_mm: float
    held: bool
    unseen: bool


@lru_cache(maxsize=len(SHAPES))
def true_gap(shape: int) -> Any:
    """The gap of a very fine mesh of the shape in its true place."""
    points, faces = castings.clean_scan("boss", 0.5, **SHAPES[shape])
    return boss_gap(PlacedBoss(BossMesh(points, faces, BORE), SEAT), RING)


def case(seed: int, size: float) -> Held:
    """A scan with 0.02 mm of noise in a random pose: whole, with 20 % strays, with its far half missing, or with both.

    Half: the far side of a plane through the bore's axis, so turned that the nearest place stays seen.
    """
    rng = np.random.default_rng(10_000 + seed)
    shape = int(rng.integers(len(SHAPES)))
    truth = true_gap(shape)
    points, faces = castings.clean_scan("boss", size, **SHAPES[shape])
    near = truth.point - [castings.END_FACE, castings.OFFSET, 0]
    lost = None
    if seed % 4 >= 2:
        away = math.atan2(near[1], near[2]) + math.pi + rng.uniform(-1.2, 1.2)
        lost = np.cos(np.arctan2(points[:, 1], points[:, 2]) - away) > 0
    vertices, triangles, rotation, shift = castings.scanned(
        points,
        faces,
        seed=20_000 + seed,
        noise=NOISE_MM,
        strays=STRAYS if seed % 2 else 0.0,
        stray_mm=rng.uniform(0.5, 5.0),
        lost=lost,
        flipped=float(rng.choice([0.0, 0.1, 1.0])),
    )
    toward = rotation @ np.array([-10.0, 0.0, 6000.0]) + shift  # so far off that the turn is as good as known
    found = boss_from_scan(
        vertices,
        triangles,
        BORE,
        hand=Hand.BELOW,
        end_face_mm=castings.END_FACE,
        picks={"ring side": toward[None]},
    )
    gap = boss_gap(PlacedBoss(found.mesh, SEAT), RING)
    pose = found.pose
    give = found.surface_mm + pose.across_mm + pose.toward_mm + pose.along_mm
    place = gap.point - [castings.END_FACE, castings.OFFSET, 0]
    unseen = found.unseen(-float(place[0]), math.atan2(place[1], place[2]))
    held = gap.lower_mm - give <= truth.upper_mm and (unseen or gap.upper_mm + give >= truth.lower_mm)
    return Held(seed, gap.nominal_mm - truth.nominal_mm, give, held, unseen)
