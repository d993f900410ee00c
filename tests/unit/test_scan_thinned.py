"""A thinned scan: few triangles, every corner one of the scan's own, the shape kept within a cell."""

import numpy as np
import pytest
import trimesh

from geartrack.boss.scan.thinned import thinned


@pytest.fixture(scope="module")
def ball():
    return trimesh.creation.icosphere(subdivisions=6, radius=30.0)  # 81,920 triangles


@pytest.mark.parametrize("most", [2_000, 20_000])
def test_a_ball_stays_a_ball(ball, most):
    vertices, triangles = thinned(ball.vertices, ball.faces.astype(np.int32), most)
    assert most / 4 < len(triangles) <= most
    own = {tuple(row) for row in ball.vertices}
    assert all(tuple(row) in own for row in vertices)
    left = trimesh.Trimesh(vertices, triangles)
    assert left.area == pytest.approx(4 * np.pi * 30.0**2, rel=0.05)


def test_what_is_small_enough_stays_as_it_is(ball):
    vertices, triangles = thinned(ball.vertices, ball.faces.astype(np.int32), len(ball.faces))
    assert vertices is ball.vertices
    assert len(triangles) == len(ball.faces)
