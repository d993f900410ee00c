"""The tones and hatches of a cut's depth: darker and denser is deeper, in grey as in colour."""

from __future__ import annotations

import numpy as np

from geartrack.draw import ink
from geartrack.frame import Array
from geartrack.relief import Relief
from geartrack.study.answer import Answer
from geartrack.units import Units
from geartrack.verdict import Code
from geartrack.words import metal

TONES = ("#f8e3d3", "#eeb993", "#d98647", "#aa561c", "#6b2f08")
HATCHES = ("", "/", "///", "xx", "xxxx")
TOO_CLOSE = "closer than\nwanted"


def shown(answer: Answer) -> Relief | None:
    """The cut that figures show, the calculated one; None where none is needed or the case is not to be ground."""
    cuts = answer.cuts
    return cuts.nominal if cuts and depth_given(answer) and not cuts.nominal.empty else None


def depth_given(answer: Answer) -> bool:
    """Whether a depth and STOP may be shown at all: never beside a verdict not to grind or not to use the case."""
    refused = answer.verdict.code in (Code.DONT_GRIND, Code.DONT_USE)
    return answer.cuts is not None and answer.cuts.at_stop is not None and not refused


def cut_words(answer: Answer) -> str:
    """What the hatched metal is called."""
    return f"{metal(answer)}\nto remove" if answer.verdict.grinds and shown(answer) else TOO_CLOSE


def levels(depth_mm: Array, units: Units) -> Array:
    """Round depths [mm] from just over zero to past the deepest."""
    deepest = float(depth_mm.max())
    step = ink.round_step(max(deepest, 1e-3), units, parts=len(TONES))
    steps = step * np.arange(max(int(np.ceil(deepest / step)), 1) + 1, dtype=np.float64)
    steps[0] = step / 1000  # what is not cut at all has no tone
    return steps
