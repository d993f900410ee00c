"""Closed shapes to plant faults in."""

from __future__ import annotations

from typing import Any

import numpy as np
import trimesh


def ball(radius: float = 45.0, fine: int = 5) -> Any:
    return trimesh.creation.icosphere(subdivisions=fine, radius=radius)


def without(triangles: Any, *lost: int) -> Any:
    """Triangles but those about some vertices."""
    return triangles[~np.isin(triangles, lost).any(axis=1)]
