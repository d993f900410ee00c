"""The tones and hatches of a cut's depth: darker and denser is deeper, in grey as in colour."""

from __future__ import annotations

import numpy as np

from geartrack.draw import ink
from geartrack.frame import Array
from geartrack.relief import Relief
from geartrack.study.answer import Answer
from geartrack.units import Units
from geartrack.words import metal

TONES = ("#f8e3d3", "#eeb993", "#d98647", "#aa561c", "#6b2f08")
HATCHES = ("", "/", "///", "xx", "xxxx")


def shown(answer: Answer) -> Relief | None:
    """The cut that figures show, the calculated one; None where no depth may be given or none is needed."""
    cuts = answer.cuts
    return cuts.nominal if cuts and cuts.at_stop and not cuts.nominal.empty else None


def cut_words(answer: Answer) -> str:
    """What the hatched metal is called."""
    return f"{metal(answer)}\nto remove" if shown(answer) else "closer than\nwanted"


def levels(depth_mm: Array, units: Units) -> Array:
    """Round depths [mm] from just over zero to past the deepest."""
    deepest = float(depth_mm.max())
    step = ink.round_step(max(deepest, 1e-3), units, parts=len(TONES))
    steps = step * np.arange(max(int(np.ceil(deepest / step)), 1) + 1, dtype=np.float64)
    steps[0] = step / 1000  # what is not cut at all has no tone
    return steps
