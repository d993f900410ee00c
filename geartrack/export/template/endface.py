"""The cut on the boss's pinion-side end face, true scale, as seen from the pinion-nut end."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

import numpy as np

from geartrack.export.figure import Curve, Figure, Label, Layer, circle, line
from geartrack.export.template.levels import Steps, contours
from geartrack.frame import Array, from_polar
from geartrack.relief import Relief
from geartrack.relief.crossings import radii
from geartrack.relief.rays import cut_stations
from geartrack.relief.sweep_field import GrownSweep
from geartrack.study.answer import Answer
from geartrack.units import show_length

_RADII, _CLOCKS, _STATIONS = 81, 121, 17
_JUST_MM = 1e-6
_ROUND_MM = 8.0  # room for the clock


def end_face(answer: Answer, cut: Relief, stop: Relief, steps: Steps) -> Figure:
    """The end face: bore, outside, clock marks, the cut's outline, its depths along the bore, and STOP's outline."""
    mesh = answer.boss.mesh
    turns = np.linspace(-np.pi, np.pi, 720, endpoint=False)
    outside = radii(mesh, np.zeros(1), turns)[1][0]
    rim = Curve(Layer.BOSS, _flat(outside, turns), True)
    reach = float(np.median(outside))
    half = max(float(outside.max()), reach + _ROUND_MM)
    curves = [rim, circle(Layer.CUT_LINE, mesh.bore.diameter_mm / 2), *_cross(), *_ticks(reach)]
    curves += [Curve(Layer.STOP, area, True) for area in _areas(answer, stop)]
    areas = list(_areas(answer, cut))
    curves += [Curve(Layer.PATCH, area, True) for area in areas]
    shades = [Curve(Layer.SHADE, area, True) for area in areas]
    curves += _depths(answer, cut, steps)
    deep = show_length(cut.depth_axial_max_mm, steps.units, rounding="up")
    labels = [*_hours(reach), *_sides(answer, half)]
    labels.append(Label(f"o: deepest {deep}", (0.0, -0.35 * mesh.bore.diameter_mm / 2), 2.4, "middle"))
    labels.append(Label("in along the bore", (0.0, -0.35 * mesh.bore.diameter_mm / 2 - 3.0), 2.4, "middle"))
    name = "End face, true scale, from the pinion-nut end"
    return Figure(name, (-half, -half, half, half), (*shades, *curves), tuple(labels))


def _flat(radius: Array, turns: Array) -> Array:
    return np.stack([radius * np.sin(turns), radius * np.cos(turns)], axis=-1)


def _cross() -> list[Curve]:
    return [line(Layer.CENTRE, (-4.0, 0.0), (4.0, 0.0)), line(Layer.CENTRE, (0.0, -4.0), (0.0, 4.0))]


def _ticks(reach: float) -> list[Curve]:
    """A mark every half hour outside the boss, longer at the hours."""
    turns = np.radians(np.arange(0, 360, 15))
    longer = np.where(np.arange(len(turns)) % 2 == 0, 3.0, 1.5)
    return [
        Curve(Layer.MARKS, _flat(np.array([reach + 0.5, reach + 0.5 + more]), np.full(2, turn)))
        for turn, more in zip(turns, longer, strict=True)
    ]


def _hours(reach: float) -> list[Label]:
    spots = _flat(np.full(12, reach + 5.6), np.radians(30.0 * np.arange(1, 13)))
    return [
        Label(str(hour), (float(x), float(y) - 0.9), 2.6, "middle", bold=hour == 12)
        for hour, (x, y) in enumerate(spots, start=1)
    ]


def _sides(answer: Answer, half: float) -> list[Label]:
    """Which way the ring's centre line lies, where there is an offset."""
    if answer.hand is None or answer.boss.seat.offset_mm == 0:
        return []
    right, left = ("away from", "toward") if answer.hand.sign > 0 else ("toward", "away from")
    line_two = "the ring's centre line"
    return [
        *(Label(text, (half, -half + up), 2.2, "right") for text, up in ((f"{right} >", 3.2), (line_two, 0.6))),
        *(Label(text, (-half, -half + up), 2.2, "left") for text, up in ((f"< {left}", 3.2), (line_two, 0.6))),
    ]


def _grid(answer: Answer, cut: Relief) -> tuple[Array, Array]:
    """Radii and clock angles of places on the end face, (nq, nt) [mm] and [rad], about the cut."""
    mesh = answer.boss.mesh
    clocks = np.linspace(cut.clocks[0], cut.clocks[-1], _CLOCKS)
    outside, bore = radii(mesh, np.zeros(1), clocks)[1][0], mesh.bore.diameter_mm / 2
    shares = np.linspace(0.0, 1.0, _RADII)[:, None]
    return bore + shares * (outside - bore), np.broadcast_to(clocks, (_RADII, _CLOCKS))


def _areas(answer: Answer, cut: Relief) -> Iterator[Array]:
    """Outlines (k, 2) [mm] of where the end face is cut."""
    from contourpy import FillType, contour_generator

    if cut.empty:
        return
    radius, clocks = _grid(answer, cut)
    points = answer.boss.seat.to_axle(from_polar(np.zeros(1), radius, clocks))
    apart = GrownSweep(answer.section, cut.clearance_mm).distance(points)
    x, y = np.moveaxis(_flat(radius, clocks), -1, 0)
    made = contour_generator(x, y, apart, fill_type=FillType.OuterOffset)
    for spots, starts in zip(*made.filled(float(apart.min()) - 1.0, 0.0), strict=True):
        yield from (np.asarray(spots[a : b - 1]) for a, b in pairwise(starts))


def _depths(answer: Answer, cut: Relief, steps: Steps) -> list[Curve]:
    """Contours of the depth in along the bore, and a ring where it is deepest."""
    mesh, (radius, clocks) = answer.boss.mesh, _grid(answer, cut)
    stations = np.linspace(0.0, cut.stations_mm[-1], _STATIONS)
    cast = radii(mesh, stations, clocks[0])[1]
    metal = np.broadcast_to(cast[:, None, :], (_STATIONS, *radius.shape)) >= radius - _JUST_MM
    depth = cut_stations(
        GrownSweep(answer.section, cut.clearance_mm),
        answer.boss.seat,
        radius=radius.ravel(),
        clocks=clocks.ravel(),
        stations=stations,
        metal=metal.reshape(_STATIONS, -1),
    ).reshape(radius.shape)
    x, y = np.moveaxis(_flat(radius, clocks), -1, 0)
    deepest = np.unravel_index(depth.argmax(), depth.shape)
    lines = [Curve(steps.layer(index), spots) for index, spots in contours(x, y, depth, steps)]
    return [*lines, circle(Layer.MARKS, 0.4, (float(x[deepest]), float(y[deepest])), 36)]
