"""The readings a bench can still take: what each costs in minutes, how far it may be out, what it would show."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from math import hypot

import numpy as np

from geartrack.assembly import FORM_MM, WEIGHED, Plan, assemble
from geartrack.clearance import boss_gap
from geartrack.frame import Array, polar
from geartrack.gearset.place import ADJUSTER_TRAVEL, ROOT_SPREAD_MM
from geartrack.job import TOOLS
from geartrack.spread.band import LOW, slopes_of
from geartrack.spread.draws import SIGMAS
from geartrack.spread.posterior import Posterior
from geartrack.spread.worth import Worth, worth

CALIPER, DEPTH, DIAL = (TOOLS[name].two_sigma_mm for name in ("caliper", "depth micrometer", "dial"))
FEELER, BAR = TOOLS["feeler"].two_sigma_mm, TOOLS["telescoping gauge"].two_sigma_mm
DEGREE_MM = 0.25  # 2-sigma: what a degree of clock does to the gap near the nearest place, as in the demo
LEAST_WORTH = 0.05  # a reading that settles the verdict less often than this settles nothing (DESIGN 6)


@dataclass(frozen=True)
class BenchReading:
    """A reading: its name in a builder's words, minutes of bench time (from memory), what it may be out by [mm].

    shows: what it shows in each draw, without its own error (n,) [mm], or None where it is taken already or cannot be.
    """

    name: str
    minutes: float
    two_sigma_mm: float
    shows: Callable[[Plan, Posterior], Array | None]


@dataclass(frozen=True)
class NextReading:
    """A reading not yet taken, and what it is worth."""

    name: str
    minutes: float
    worth: Worth

    @property
    def settles(self) -> bool:
        """Whether it would settle the verdict often enough to be asked for."""
        return self.worth.settles >= LEAST_WORTH


def next_readings(plan: Plan, found: Posterior, target_mm: float) -> tuple[NextReading, ...]:
    """Every reading not yet taken, the one worth most per minute first; target_mm: wanted set-up gap [mm].

    Worth is the fall in the chance of a wrong word; readings that leave it as it is follow by what they take off low to
    high. The error of each reading is drawn in.
    """
    gap = (found.low + found.high) / 2
    ranked = []
    for number, each in enumerate(READINGS):
        shown = each.shows(plan, found)
        if shown is None or np.ptp(shown) == 0:
            continue
        error = each.two_sigma_mm / SIGMAS * np.random.default_rng(number).normal(size=len(shown))
        value = worth(gap, shown + error, found.weights, target_mm)
        if value.half_after < (1 - LOW) * value.half_now:
            ranked.append(NextReading(each.name, each.minutes, value))
    return tuple(sorted(ranked, key=_rank))


def _rank(each: NextReading) -> tuple[float, float]:
    fall = each.worth.wrong_now - each.worth.wrong_after
    narrowed = 1 - each.worth.half_after / each.worth.half_now
    return (-round(fall, 3) / each.minutes, -narrowed / each.minutes)


def _input(name: str) -> Callable[[Plan, Posterior], Array | None]:
    return lambda plan, found: found.values.get(name)


def _effect(*names: str) -> Callable[[Plan, Posterior], Array | None]:
    """What several inputs read at once do to the gap together, as one length."""

    def shows(plan: Plan, found: Posterior) -> Array | None:
        given = [found.values[name] for name in names if name in found.values]
        if not given:
            return None
        columns = np.stack([each - each.mean() for each in given], axis=1)
        slopes = np.linalg.lstsq(columns, found.low - found.low.mean(), rcond=None)[0]
        along: Array = columns @ slopes / (np.linalg.norm(slopes) or 1.0)
        return along

    return shows


def _ring_height(plan: Plan, found: Posterior) -> Array | None:
    """The ring's height at the toe: says where the teeth run as well as it is known where the back face runs."""
    read = plan.job.gears.measured
    if read.toe_height is not None or read.back_face is None:
        return None
    travel = plan.job.axle.adjuster_travel
    adjusters = 0.0 if read.back_face_from == "this set" else travel.value if travel else ADJUSTER_TRAVEL.high
    carried = hypot(read.back_face.reach, adjusters)
    return found.values[WEIGHED] + carried / SIGMAS * np.random.default_rng(99).normal(size=len(found.low))


def _back_face(plan: Plan, found: Posterior) -> Array | None:
    read = plan.job.gears.measured
    return None if read.back_face_from == "this set" and read.toe_height is not None else found.values[WEIGHED]


def _roots(plan: Plan, found: Posterior) -> Array | None:
    return None if plan.job.gears.measured.pinion_toe_root_diameter is not None else found.values[WEIGHED]


def _bar(plan: Plan, found: Posterior) -> Array | None:
    return None if any(each.name == "bar to toe" for each in plan.heights) else found.values[WEIGHED]


def _wall(plan: Plan, found: Posterior) -> Array | None:
    """The wall where the teeth come nearest, as far as the boss's outside may be off."""
    now = assemble(plan)
    point = boss_gap(now.boss, now.section).point
    clock = float(polar(now.boss.seat.to_boss(point))[2])
    parts = {
        "case.outside_size": 1.0,
        "boss.readings": 1.0,
        "case.outside_off_centre_across": np.sin(clock),
        "case.outside_off_centre_toward": np.cos(clock),
    }
    given = [share * found.values[name] for name, share in parts.items() if name in found.values]
    shown: Array | None = sum(given, np.zeros(len(found.low))) if given else None
    return shown


def _gap(plan: Plan, found: Posterior) -> Array | None:
    return None if any(each.place is None for each in plan.against) else (found.low + found.high) / 2


def _gap_at_a_place(plan: Plan, found: Posterior) -> Array | None:
    """The gap without what runout makes of it: one place of the turn does not show that."""
    if plan.against:
        return None
    gap = (found.low + found.high) / 2
    turning = [found.values[name] for name in ("running.runout", "running.radial_runout") if name in found.values]
    columns = np.stack([np.ones(len(gap)), *turning], axis=1)
    slopes = slopes_of(columns, gap, found.weights)
    shown: Array = gap - columns[:, 1:] @ slopes[1:]
    return shown


READINGS: tuple[BenchReading, ...] = (
    BenchReading("height of the new ring at the toe, back face on a plate", 3, DEPTH, _ring_height),
    BenchReading("root diameter of the pinion at the toe, by caliper", 2, hypot(CALIPER, ROOT_SPREAD_MM), _roots),
    BenchReading("edge break at the boss's pinion-side end, by caliper", 1, 2 * CALIPER, _input("boss.edge_break")),
    BenchReading("outside of the boss on this case, by caliper", 2, CALIPER, _input("case.outside_size")),
    BenchReading(
        "wall of the boss at four places on this case, by ball caliper",
        4,
        CALIPER,
        _effect("case.outside_off_centre_across", "case.outside_off_centre_toward"),
    ),
    BenchReading(
        "wall of the boss where the teeth come near, by ball caliper",
        2,
        hypot(CALIPER, FORM_MM),
        _wall,
    ),
    BenchReading("boss's end face to the ring's centre line", 6, 2 * CALIPER, _input("boss.end_face")),
    BenchReading("face width of the ring, by caliper", 2, 2 * CALIPER, _input("gears.face_width")),
    BenchReading("hypoid offset, by bar over bar", 8, 2 * CALIPER, _input("axle.offset")),
    BenchReading("chamfer at the ring's toe, by caliper", 1, 2 * CALIPER, _input("gears.toe_chamfer")),
    BenchReading("bar to the toe: gauge from a bar in the pilot bore up to the ring's toe", 20, BAR, _bar),
    BenchReading(
        "ring's height at the toe, and its back face above the pinion's centre line at final backlash",
        30,
        hypot(DEPTH, DEPTH),
        _back_face,
    ),
    BenchReading("backlash at four places, by dial", 5, DIAL, _input("running.backlash")),
    BenchReading("back-face runout over a full turn, by dial", 5, DIAL, _input("running.runout")),
    BenchReading("radial runout of the ring over a full turn, by dial", 5, DIAL, _input("running.radial_runout")),
    BenchReading(
        "the gap at one clock angle in degrees, by feeler, the ring not turned",
        35,
        hypot(FEELER, DEGREE_MM),
        _gap_at_a_place,
    ),
    BenchReading("the gap itself, by feeler or solder, at final backlash over a full turn", 40, FEELER, _gap),
)
"""Minutes are from memory; errors are the tools' (job/tools.py), twice a caliper's where two edges are found."""
