"""A small invented job and strategies for arbitrary ones, shared by the tests of job files."""

import copy
import math
from decimal import Decimal

from hypothesis import strategies as st

from geartrack.frame import Hand
from geartrack.job import (
    Axle,
    BarToToe,
    Boss,
    Case,
    Cone,
    Correlated,
    Cut,
    Cylinder,
    Fillet,
    GapReading,
    Gears,
    Job,
    Measured,
    OldGears,
    Pad,
    Pull,
    Rib,
    Running,
    Setup,
    Shop,
    Stack,
    Target,
    TorqueReading,
    TouchReading,
    Turning,
    WallReading,
    WindOver,
)
from geartrack.quantity import Origin, Quantity, Shape, give_or_take

TEXT = """\
# An invented job.
format = 1
name = "demo"

[axle]
ring_diameter = "240 mm"
offset = { value = "54 mm", how = "caliper" }
hand = "below"

[gears]
teeth = "7/35"
face_width = "37 mm"

[gears.measured]
outside_diameter = "241 mm"

[case]
mark = "A-1"

[boss]
end_face = "50 mm +/- 0.2 mm"
bore_diameter = "45 mm"
bore_depth = "20 mm"
parts = [
  { kind = "cylinder", diameter = "54 mm", from = "0 mm", to = "22 mm" },
  { kind = "rib", clock = "90 deg", width = "8 mm", reach = "40 mm", from = "4 mm", to = "22 mm" },
]

[target]
gap = "0.020 in"

[[turning]]
name = "bolts"
section = [["60 mm", "70 mm"], ["80 mm", "70 mm"], ["80 mm", "80 mm"]]

[shop]
rate = 110
"""

DOCUMENT = {
    "name": "demo",
    "axle": {"ring_diameter": "240 mm", "offset": "54 mm"},
    "gears": {"teeth": "7/35"},
    "boss": {
        "end_face": "50 mm",
        "bore_diameter": "45 mm",
        "bore_depth": "20 mm",
        "parts": [{"kind": "cylinder", "diameter": "54 mm", "from": "0 mm", "to": "22 mm"}],
    },
}


def document(changes=()):
    """A copy of DOCUMENT with some dotted keys set; None takes a key away."""
    changed = copy.deepcopy(DOCUMENT)
    for dotted, value in dict(changes).items():
        *tables, last = dotted.split(".")
        place = changed
        for step in tables:
            place = place.setdefault(step, {})
        if value is None:
            del place[last]
        else:
            place[last] = value
    return changed


words = st.text(max_size=12)
names = st.text(min_size=1, max_size=12)
sums = st.none() | st.decimals(min_value=0, max_value=100, places=2)


def made(model, **fields):
    """Instances of a model with these fields; unlike st.builds it does not look at the model's own signature."""
    return st.fixed_dictionaries(fields).map(lambda given: model(**given))


def floats(low, high):
    """Floats in a range, none so small that it has a power of ten of three digits."""
    return st.floats(low, high).map(lambda x: x if abs(x) > 1e-90 else max(float(low), 0.0))


@st.composite
def quantities(draw, low, high):
    """Quantities of every origin and form whose value lies in a range and whose limits do not leave it by much."""
    value = draw(floats(low, high))
    below, above = (draw(st.just(0.0) | floats(0, 0.04 * (high - low))) for _ in range(2))
    how = draw(st.sampled_from(["", "caliper", "phone scan", "drawing of 1961"]))
    origin, shape = draw(st.sampled_from(Origin)), draw(st.sampled_from(Shape))
    return Quantity(value, value - below, value + above, origin, how, shape)


def maybe(low, high):
    """Such a quantity or none."""
    return st.none() | quantities(low, high)


clocks = floats(-3.14, math.pi)
spans = {"start": floats(0, 10), "end": floats(11, 60)}
outsides = floats(60, 120)
widths = floats(1, 40)
parts = st.one_of(
    made(Cylinder, diameter=outsides, **spans),
    made(Cone, diameter_from=outsides, diameter_to=outsides, **spans),
    made(Pad, clock=clocks, distance=outsides, width=widths, **spans),
    made(Rib, clock=clocks, reach=outsides, width=widths, **spans),
    made(Fillet, radius=widths, at=floats(0, 60), diameter=outsides),
    made(Cut, clock=clocks, distance=outsides, **spans),
)
points = st.tuples(floats(0, 300), floats(-100, 100))
turnings = made(Turning, name=names, section=st.lists(points, min_size=3, max_size=5).map(tuple))
measured = made(
    Measured,
    toe_height=maybe(20, 60),
    outside_diameter=maybe(239, 241),
    back_face=maybe(40, 80),
    back_face_from=st.sampled_from(["this set", "old set"]),
)
gears = made(
    Gears,
    name=words,
    teeth=st.sampled_from(["8/39", "39:8", "4.875"]),
    kind=st.sampled_from([None, "hypoid"]),  # the offset below is never none
    face_width=maybe(20, 80),
    pinion_spiral=maybe(0.1, 1.0),
    depth_factor=maybe(0.5, 4),
    set=st.just("thick"),
    set_thickness=quantities(0, 20),
    toe_end_angle=maybe(-0.5, 0.5),
    measured=measured,
)
axles = made(
    Axle,
    name=words,
    ring_diameter=quantities(230, 250),
    offset=quantities(1, 100),
    hand=st.none() | st.sampled_from(Hand),
    adjuster_travel=maybe(0, 5),
)
cases = made(
    Case,
    mark=words,
    material=st.sampled_from(["nodular", "grey", "aluminium", "not known"]),
    cracked=st.booleans(),
    makers_minimum_wall=st.just("not known") | maybe(1, 20),
    outside_off_centre=st.none() | floats(0, 2).map(lambda spread: give_or_take(0.0, spread)),
)
bosses = made(
    Boss,
    end_face=quantities(20, 100),
    bore_diameter=quantities(20, 50),
    bore_depth=quantities(10, 40),
    edge_break=maybe(0, 5),
    parts=st.lists(parts, min_size=1, max_size=4).map(tuple),
)
told = {
    "caps_torqued": st.none() | st.booleans(),
    "final_preload": st.none() | st.booleans(),
    "bearings": st.sampled_from([None, "final", "set-up"]),
    "backlash": maybe(0, 2),
    "date": st.none() | st.dates(),
    "by": st.sampled_from(["", "JK"]),
}
readings = st.one_of(
    made(GapReading, gap=quantities(0, 25), **told),
    made(TouchReading, backlash_at_touch=quantities(0, 2), **told),
    made(WindOver, travel=quantities(0, 25), **told),
    made(
        WindOver,
        notches=quantities(0, 500),
        thread_pitch=quantities(0.2, 6),
        notches_per_turn=quantities(1, 200),
        **told,
    ),
    made(BarToToe, bar_diameter=quantities(5, 100), gauge=quantities(1, 150), **told),
    made(
        WallReading,
        wall=quantities(1, 49),
        station=maybe(0.1, 10),
        clock=maybe(-2, 2),
        date=st.none() | st.dates(),
    ),
)
turned = {
    "torque": quantities(0, 15),
    "seal": st.sampled_from(["in", "out"]),
    "date": st.none() | st.dates(),
    "by": st.sampled_from(["", "JK"]),
}
shims = st.lists(quantities(0.1, 3), min_size=1, max_size=3).map(tuple)
setups = made(
    Setup,
    spacer=st.just("solid"),
    bearings=st.sampled_from([None, "new", "used"]),
    target=st.none() | st.tuples(quantities(0, 2), quantities(3, 5)),
    target_seal=st.sampled_from(["in", "out"]),
    target_from=words,
    shims_read_with=st.just("micrometer"),
    shims=shims,
    readings=st.lists(made(TorqueReading, bearings=st.sampled_from(["new", "used"]), **turned), max_size=2).map(tuple),
    stacks=st.lists(made(Stack, shims=shims, play=maybe(0, 1), **turned), max_size=2).map(tuple),
) | made(
    Setup,
    spacer=st.just("crush"),
    crush=st.lists(made(Pull, sleeve=st.just(1.0), **turned), max_size=3).map(tuple),
)
shops = made(Shop, name=words, rate=sums, tax_percent=sums, crack_check_fee=st.just(Decimal("0.10")))
_jobs = made(
    Job,
    name=names,
    note=words,
    units=st.sampled_from(["in", "mm"]),
    axle=axles,
    gears=gears,
    case=cases,
    boss=bosses,
    target=made(Target, gap=quantities(0.1, 3)),
    running=made(Running, backlash_final=quantities(0, 2), runout=maybe(0, 1), heat=maybe(-1, 1)),
    readings=st.lists(readings, max_size=3).map(tuple),
    turning=st.lists(turnings, max_size=2).map(tuple),
    old_gears=made(OldGears, teeth=st.sampled_from(["9/35", "3.89"]), toe_height=maybe(20, 60)),
    correlated=st.lists(
        made(Correlated, first=names, second=names, by=st.sampled_from([-1.0, -0.25, 0.5, 1.0])), max_size=2
    ).map(tuple),
    setup=setups,
    shop=shops,
)


@st.composite
def jobs(draw):
    """Jobs with values of every kind (a composite, so that a failing test does not print every strategy inside)."""
    return draw(_jobs)
