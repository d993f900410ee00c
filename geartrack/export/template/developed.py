"""A cut on the paper: its outline, its depth contours and the outline of STOP, in millimetres."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from geartrack.boss.mesh import BossMesh
from geartrack.export.figure import Curve, Layer, Spot
from geartrack.export.template.levels import Steps, contours
from geartrack.export.template.unroll import Unrolled, unroll
from geartrack.frame import Array
from geartrack.relief import Relief


@dataclass(frozen=True, eq=False)
class Developed:
    """The patch on the strip.

    flat: how the strip is unrolled, width_mm: how wide it is. low, high: clock angles between which anything may be
    ground, STOP counted; middle: of the cut's outline [rad]. outlines, stops: closed curves; depths: number of each
    contour, and its course. centre, deepest: places (across, up) on the paper [mm].
    """

    flat: Unrolled
    width_mm: float
    low: float
    high: float
    middle: float
    outlines: tuple[Curve, ...]
    stops: tuple[Curve, ...]
    depths: tuple[tuple[int, Curve], ...]
    centre: Spot
    deepest: Spot
    deepest_mm: float
    stop_mm: float

    @property
    def curves(self) -> tuple[Curve, ...]:
        """All of it, the cut's area first."""
        shades = (Curve(Layer.SHADE, curve.points, True) for curve in self.outlines)
        return (*shades, *(curve for _, curve in self.depths), *self.stops, *self.outlines)


def developed(mesh: BossMesh, cut: Relief, stop: Relief, steps: Steps, *, width_mm: float) -> Developed:
    """The cut and STOP of a boss on a strip of this width [mm]."""
    around = np.concatenate([*cut.outline, *stop.outline])
    deep, low, high = float(around[:, 0].max()), float(around[:, 1].min()), float(around[:, 1].max())
    flat = unroll(mesh, clocks=(low, high), deep_mm=deep, width_mm=width_mm)
    own = np.concatenate(cut.outline)
    middle = (own.min(axis=0) + own.max(axis=0)) / 2
    turns = 2 * np.pi * round((middle[1] - cut.depth_radial_clock) / (2 * np.pi))
    grid = cut.clocks, cut.stations_mm, cut.depth_radial_mm
    return Developed(
        flat=flat,
        width_mm=width_mm,
        low=low,
        high=high,
        middle=float(middle[1]),
        outlines=tuple(Curve(Layer.PATCH, flat.on_paper(*curve.T), True) for curve in cut.outline),
        stops=tuple(Curve(Layer.STOP, flat.on_paper(*curve.T), True) for curve in stop.outline),
        depths=tuple(
            (i, Curve(steps.layer(i), flat.on_paper(*course.T[::-1]))) for i, course in contours(*grid, steps)
        ),
        centre=_spot(flat.on_paper(*middle)),
        deepest=_spot(flat.on_paper(cut.depth_radial_station_mm, cut.depth_radial_clock + turns)),
        deepest_mm=cut.depth_radial_max_mm,
        stop_mm=stop.depth_radial_max_mm,
    )


def _spot(point: Array) -> Spot:
    return float(point[0]), float(point[1])
