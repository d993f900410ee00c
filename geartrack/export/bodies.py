"""A named solid to put in a file; boss frame of geartrack.frame, the real part's hand."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from geartrack.boss.mesh import Triangles
from geartrack.frame import Array


@dataclass(frozen=True, eq=False)
class Body:
    """A named solid to put in a file.

    vertices: (n, 3) [mm]; triangles: (m, 3), wound outward; colours: (n, 4) red, green, blue, opacity from 0 to 255
    of each vertex [-], or None.
    """

    name: str
    vertices: Array
    triangles: Triangles
    colours: NDArray[np.uint8] | None = None
