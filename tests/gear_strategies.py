"""Random gear designs for hypothesis: ring and offset like a rear axle's, everything else spread wide."""

from __future__ import annotations

import math

from hypothesis import assume
from hypothesis import strategies as st

from geartrack.errors import OutOfRangeError
from geartrack.gearset.blank import GearBlanks, GearDesign, blanks
from geartrack.gearset.depth import Taper
from geartrack.gearset.teeth import ToothPair


@st.composite
def designs(draw: st.DrawFn, *, offset_part: tuple[float, float] = (0.02, 0.26)) -> GearDesign:
    pinion = draw(st.integers(5, 16))
    ratio = draw(st.floats(2.5, 7.0))
    ring = draw(st.floats(120.0, 350.0))
    return GearDesign(
        pair=ToothPair(pinion, round(pinion * ratio)),
        ring_diameter_mm=ring,
        offset_mm=ring * draw(st.floats(*offset_part)),
        face_width_mm=ring * draw(st.floats(0.11, 0.17)),
        pinion_spiral=math.radians(draw(st.floats(32.0, 56.0))),
        cutter_radius_mm=ring * draw(st.floats(0.3, 0.6)),
        taper=draw(st.sampled_from([Taper.STANDARD, Taper.UNIFORM])),
    )


@st.composite
def sets(draw: st.DrawFn) -> GearBlanks:
    """Blanks of a random design; the one in a thousand without pitch cones is left out."""
    design = draw(designs())
    try:
        return blanks(design)
    except OutOfRangeError:
        assume(False)
        raise
