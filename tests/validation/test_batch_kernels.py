"""The gaps of many placements against FCL, a general-purpose collision library, one placement at a time.

FCL's ring has 1440 facets a turn, which lie inside the true ring by R (1 - cos(pi / 1440)) = 0.0003 mm at R = 122; it
tells contact, no depth. Here every placement has a ring of its own and a boss moved off its place.
"""

from __future__ import annotations

from typing import Any

import fcl
import numpy as np
import trimesh
from gap_shapes import RING, box, cylinder, joined

from geartrack.clearance import batch_gap, prepare

FACETS = 1440
INSIDE_MM = 125 * (1 - np.cos(np.pi / FACETS))
BOSS = joined(cylinder(27, 28, 50, 120), box((30, 60, -4), (46, 82, 18)))
COUNT = 24


def body(vertices: Any, triangles: Any, shift: Any = (0.0, 0.0, 0.0)) -> Any:
    model = fcl.BVHModel()
    model.beginModel(len(vertices), len(triangles))
    model.addSubModel(np.ascontiguousarray(vertices, float), np.ascontiguousarray(triangles, np.int32))
    model.endModel()
    return fcl.CollisionObject(model, fcl.Transform(np.array(shift, float)))


def test_fcl_agrees_on_every_distance_and_every_contact() -> None:
    rng = np.random.default_rng(12)
    corners = RING.points + rng.normal(0, 0.2, (COUNT, len(RING.points), 2))
    corners[..., 1] += rng.normal(-1.0, 0.8, (COUNT, 1))
    shifts = rng.normal(0, 0.6, (COUNT, 3))
    low, high = batch_gap(prepare(*BOSS), corners, shifts)
    assert (high < 0).sum() > COUNT / 8
    assert (low > 0).sum() > COUNT / 8
    for i in range(COUNT):
        ring = trimesh.creation.revolve(np.vstack([corners[i], corners[i, :1]]), sections=FACETS)
        one, other = body(ring.vertices, ring.faces), body(*BOSS, shifts[i])
        touches = fcl.collide(one, other, fcl.CollisionRequest(), fcl.CollisionResult()) > 0
        assert touches or high[i] > -INSIDE_MM
        assert not touches or low[i] <= 0
        if not touches:
            apart = fcl.distance(one, other, fcl.DistanceRequest(), fcl.DistanceResult())
            assert low[i] - 1e-6 <= apart <= high[i] + INSIDE_MM + 1e-6
