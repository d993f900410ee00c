"""The developed figure of a cut as plain geometry in millimetres: strip for the outside, end face, larger patch."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from geartrack.export.figure import Figure
from geartrack.export.grindable import cuts_to_grind, hand_of, stop_of
from geartrack.export.template.developed import Developed, developed
from geartrack.export.template.endface import end_face
from geartrack.export.template.larger import larger
from geartrack.export.template.levels import Steps, steps_for
from geartrack.export.template.strip import strip
from geartrack.relief import Relief
from geartrack.study.answer import Answer

_ABOVE_MM, _NARROWEST_MM = 9.0, 14.0


@dataclass(frozen=True, eq=False)
class Template:
    """What is printed of one cut: three figures, and what they rest on.

    strip, end: true scale, for the outside and for the pinion-side end face (None: nothing is cut there).
    larger: the patch `times` larger, to read the depths. patch: the cut on the paper; steps: depths of its contours.
    """

    answer: Answer
    cut: Relief
    stop: Relief
    patch: Developed
    steps: Steps
    strip: Figure
    end: Figure | None
    larger: Figure
    times: int


def template(answer: Answer) -> Template:
    """The template of an answer's nominal cut, the one that its figures show, with the outline of STOP round it.

    Raises InputError where there is nothing to grind by, or the hand of the axle is not given.
    """
    cuts = cuts_to_grind(answer)
    hand_of(answer)
    cut, stop, steps = cuts.nominal, stop_of(cuts), steps_for(answer.job.units)
    deep = max(float(curve[:, 0].max()) for curve in (*cut.outline, *stop.outline))
    length = float(np.ptp(answer.boss.mesh.vertices[:, 0]))
    patch = developed(answer.boss.mesh, cut, stop, steps, width_mm=min(max(deep + _ABOVE_MM, _NARROWEST_MM), length))
    figure, times = larger(patch, steps)
    return Template(
        answer=answer,
        cut=cut,
        stop=stop,
        patch=patch,
        steps=steps,
        strip=strip(patch, steps, answer),
        end=end_face(answer, cut, stop, steps) if cut.depth_axial_max_mm > 0 else None,
        larger=figure,
        times=times,
    )
