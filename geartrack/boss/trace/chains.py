"""Curves joined end to end, and the one chain of them that a view is about."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from geartrack.boss.trace.curves import Curve, size_of
from geartrack.boss.trace.drawing import Drawing
from geartrack.errors import InputError, refuse
from geartrack.frame import Array

JOINED = 5e-4
"""Ends nearer than this part of a drawing's size are one: 0.03 mm on a boss of 60 mm."""

MOST_CURVES = 5_000
"""Curves that are joined at most."""

_COARSE = 1e-3  # of a curve's size: fine enough to tell two drawn on top of each other
_NAMED = 8  # layers named in a message


@dataclass(frozen=True, eq=False)
class Chain:
    """Curves end to end, each with whether it runs backwards; closed if the last meets the first."""

    parts: tuple[tuple[Curve, bool], ...]
    closed: bool

    def flat(self, tolerance: float) -> Array:
        """Points (n, 2) along it, chords within a tolerance [any]; a closed one's first is not repeated."""
        runs = [curve.flat(tolerance)[:: -1 if back else 1] for curve, back in self.parts]
        points = np.concatenate([runs[0], *(run[1:] for run in runs[1:])])
        return points[:-1] if self.closed else points

    @property
    def layers(self) -> list[str]:
        """The layers it lies on."""
        return list(dict.fromkeys(curve.layer for curve, _ in self.parts))


def layers_of(curves: Iterable[Curve]) -> str:
    """The layers of curves for a message, the first few."""
    names = list(dict.fromkeys(curve.layer or "no name" for curve in curves))
    return ", ".join(names[:_NAMED]) + (f" and {len(names) - _NAMED} more" if len(names) > _NAMED else "")


def on_layer(drawing: Drawing, layer: str) -> tuple[Curve, ...]:
    """The curves on a layer or in a group of that name, whatever its case."""
    found = tuple(curve for curve in drawing.curves if layer.strip().lower() in curve.names)
    if not found:
        what = f"nothing drawn on a layer or in a group named {layer!r}"
        raise refuse(drawing.name, what, f"one of: {layers_of(drawing.curves)}")
    return found


def without(drawing: Drawing, *layers: str | None) -> tuple[Curve, ...]:
    """The curves that lie on none of these layers."""
    away = {layer.strip().lower() for layer in layers if layer}
    return tuple(curve for curve in drawing.curves if not away & curve.names)


def chains(curves: Sequence[Curve], name: str) -> list[Chain]:
    """Curves joined end to end, closed ones and open ones; a curve drawn twice counts once.

    Raises InputError where more than two ends meet in one place.
    """
    if not curves:
        return []
    if len(curves) > MOST_CURVES:
        what = f"{len(curves)} curves to join, of {MOST_CURVES} at most"
        raise refuse(name, what, "the boss's outline on a layer of its own, and that layer named")
    near = JOINED * size_of(curves)
    kept = _once(curves, near)
    runs = [curve.flat(_COARSE * max(curve.extent, near)) for curve in kept]
    found = [
        Chain(((curve, False),), True) for curve, run in zip(kept, runs, strict=True) if _meets(run[0], run[-1], near)
    ]
    open_ones = [(curve, run) for curve, run in zip(kept, runs, strict=True) if not _meets(run[0], run[-1], near)]
    if not open_ones:
        return found
    ends = np.array([run[[0, -1]] for _, run in open_ones]).reshape(-1, 2)
    return found + _strung([curve for curve, _ in open_ones], _knots(ends, near), ends, name)


def _meets(first: Array, last: Array, near: float) -> bool:
    return bool(np.hypot(*(last - first)) <= near)


def _once(curves: Sequence[Curve], near: float) -> list[Curve]:
    """The curves without those drawn on top of another, either way round."""
    kept: dict[tuple[float, ...], Curve] = {}
    for curve in curves:
        run = curve.flat(_COARSE * max(curve.extent, near))
        along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(run, axis=0).T))])
        places = np.array([np.interp(along[-1] * np.array([0.0, 0.4, 0.6, 1.0]), along, axis) for axis in run.T])
        marks = np.round(places.T / near)
        forth, back = tuple(marks.ravel()), tuple(marks[::-1].ravel())
        if back not in kept:
            kept.setdefault(forth, curve)
    return list(kept.values())


def _knots(ends: Array, near: float) -> list[int]:
    """The number of the place that each end lies in: ends within reach of each other share one."""
    from shapely import STRtree, points

    places = points(ends)
    first, second = STRtree(places).query(places, predicate="dwithin", distance=near)
    root = list(range(len(ends)))

    def top(i: int) -> int:
        while root[i] != i:
            root[i] = root[root[i]]
            i = root[i]
        return i

    for i, j in zip(first.tolist(), second.tolist(), strict=True):
        root[top(i)] = top(j)
    return [top(i) for i in range(len(ends))]


def _strung(curves: Sequence[Curve], knots: Sequence[int], ends: Array, name: str) -> list[Chain]:
    """Chains of open curves; curve i has the ends 2 i and 2 i + 1."""
    at: dict[int, list[int]] = defaultdict(list)
    for end, knot in enumerate(knots):
        at[knot].append(end)
    for knot, meeting in at.items():
        if len(meeting) > 2:
            x, y = ends[knot]
            what = f"{len(meeting)} lines meet at ({x:.4g}, {y:.4g}), on the layers {layers_of(curves)}"
            raise refuse(name, what, "the outline alone on a layer of its own, and that layer named")
    left = set(range(len(curves)))
    found = []
    starts = [meeting[0] for meeting in at.values() if len(meeting) == 1]
    for end in [*starts, *range(0, len(knots), 2)]:
        if end // 2 not in left:
            continue
        parts, here = [], end
        while here // 2 in left:
            left.discard(here // 2)
            parts.append((curves[here // 2], here % 2 == 1))
            far = here ^ 1
            here = next((other for other in at[knots[far]] if other != far), far)
        found.append(Chain(tuple(parts), here == end))
    return found


def one_chain(curves: Sequence[Curve], drawing: Drawing, key: str, layer: str | None) -> Chain:
    """The one chain that curves make. Raises InputError that asks for a layer (`key` names it) where there are more."""
    found = chains(curves, drawing.name)
    if len(found) == 1:
        return found[0]
    if not found:
        raise refuse(
            drawing.name, "nothing left in it for the outline", f"the outline drawn, and {key} naming its layer"
        )
    if layer is None:
        what = f"{len(found)} separate lines, on the layers {layers_of(curves)}: which is the outline?"
        raise refuse(drawing.name, what, f'{key} = "..." naming its layer')
    raise refuse(drawing.name, *_not_one(found, layer))


def _not_one(found: Sequence[Chain], layer: str) -> tuple[str, str]:
    open_ones = [chain for chain in found if not chain.closed]
    if len(open_ones) == len(found):
        (x, y), *_ = open_ones[0].flat(1.0)[-1:]
        return f"{len(found)} separate lines on layer {layer}; one ends at ({x:.4g}, {y:.4g})", "lines whose ends meet"
    return f"{len(found)} outlines on layer {layer}", "one outline on a layer of its own"


def opened(chain: Chain, drawing: Drawing) -> InputError:
    """The refusal of an outline that does not close: where its ends lie and how far apart."""
    first, last = chain.flat(1e-3 * size_of([curve for curve, _ in chain.parts]))[[0, -1]]
    apart = float(np.hypot(*(last - first)))
    what = f"the outline is open: its ends lie {apart:.4g} apart, at ({first[0]:.4g}, {first[1]:.4g})"
    return refuse(drawing.name, f"{what} and ({last[0]:.4g}, {last[1]:.4g})", "a closed outline")
