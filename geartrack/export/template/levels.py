"""The depths at which contours are drawn: every 0.005 in or 0.1 mm, by the job's units."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from geartrack.export.figure import Layer
from geartrack.frame import Array
from geartrack.units import Units, in_units, parse_length

_STEPS: dict[Units, tuple[str, int]] = {"in": ("0.005 in", 4), "mm": ("0.1 mm", 5)}


@dataclass(frozen=True)
class Steps:
    """step_mm: from one contour to the next; every `major`th is drawn heavier; units: of their names."""

    step_mm: float
    major: int
    units: Units

    def layer(self, index: int) -> Layer:
        """The layer of the contour of that number, the first being 1."""
        return Layer.DEPTH if index % self.major else Layer.DEPTH_MAJOR

    def name(self, index: int) -> str:
        """The depth of the contour of that number, without its unit."""
        return f"{in_units(index * self.step_mm, self.units):.{3 if self.units == 'in' else 1}f}"


def steps_for(units: Units) -> Steps:
    """The steps of a job in these units."""
    text, major = _STEPS[units]
    return Steps(parse_length(text), major, units)


def contours(across: Array, up: Array, depth_mm: Array, steps: Steps) -> Iterator[tuple[int, Array]]:
    """Number and course (k, 2), across and up [any], of every contour of a grid of depths (n, m) [mm].

    across, up: (m,) and (n,), or both (n, m).
    """
    from contourpy import LineType, contour_generator

    made = contour_generator(across, up, depth_mm, line_type=LineType.Separate)
    for index in range(1, int(np.floor(depth_mm.max(initial=0.0) / steps.step_mm)) + 1):
        yield from ((index, np.asarray(course)) for course in made.lines(index * steps.step_mm))
