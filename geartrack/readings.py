"""What bench readings say of where the teeth run: each turned into the height of the toe tips (DESIGN 2.3, 5).

A reading against the boss (a gap, a touch, a wind-over) says what the gap is when the ring stands some way back from
where it will run; the height at which the worked gap is that, less the way back, is its evidence. A sideways travel is
never taken for a gap: the certified gap itself turns it. A bar to the toe says the height outright.
Heights are z above the pinion's centre line [mm]; spreads are 2-sigma.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from math import hypot, radians

from geartrack.errors import Finding, refuse
from geartrack.frame import oclock
from geartrack.gearset.place import Evidence, Placement, weigh
from geartrack.inputs import bench_reading
from geartrack.job import BarToToe, GapReading, Job, Taken, TouchReading, WindOver, locate
from geartrack.job.tools import TOOLS
from geartrack.quantity import Origin, Quantity, give_or_take
from geartrack.units import Units, parse_length, show_both

# How far the ring may stand from where it will run where a reading does not say how the axle stood; from memory.
CAPS_MM, PRELOAD_MM, BEARINGS_MM = (parse_length(text) for text in ("0.002 in", "0.003 in", "0.002 in"))
BACKLASH_MM = parse_length("0.004 in")  # of the backlash at a reading that does not say it
BY_EYE = radians(3)  # a clock angle that may be off by more was not read in degrees
NOTCH = 0.25  # of the notches counted
FLATTEST = 0.02  # least change of the gap for a change of height that a spread is divided by
_NO_TOOL = "clay"  # the widest of the tools that read a gap stands for one that is not named
_ZERO = give_or_take(0.0, 0.0, Origin.MEASURED)
_STEP_MM, _HEIGHT_MM = 0.05, 1e-4
_REACH_MM = 60.0  # no ring stands further from its worked height than this


@dataclass(frozen=True)
class OnBoss:
    """A place on the boss: at a clock angle [rad], and at a station [mm]; no station: all of that clock ray."""

    clock: float
    station: float | None = None


@dataclass(frozen=True)
class AgainstBoss:
    """A reading against the boss: the gap while the ring stood `back` further from the pinion than it will run.

    place: where it was read; None for the least over all of the boss. ends: places it may have been in its stead, in
    pairs.
    """

    name: str
    gap: Quantity
    back: Quantity
    place: OnBoss | None = None
    ends: tuple[tuple[OnBoss, OnBoss], ...] = ()


@dataclass(frozen=True)
class Way:
    """How readings reach the final setting.

    backlash_factor: the ring's travel for a change of backlash [-]. later_mm: how much further back than its weighed
    height the ring is set in the end. now, final: backlash while measuring and when running [mm], None where not said.
    pinion_mm: how much further back the ring goes for the pinion moved after the readings.
    """

    backlash_factor: float
    later_mm: float
    now: Quantity | None
    final: Quantity | None
    pinion_mm: float = 0.0

    def back(self, reading: Taken) -> Quantity:
        """How far back the ring stood for the backlash of the reading, wider for all that it does not say [mm]."""
        then, final = reading.backlash or self.now, self.final
        if isinstance(reading, TouchReading):
            then = reading.backlash_at_touch
        off = [CAPS_MM] if not reading.caps_torqued else []
        off += [PRELOAD_MM] if not reading.final_preload else []
        off += [BEARINGS_MM] if reading.bearings != "final" else []
        if then is None:
            unsaid = hypot(*off, self.backlash_factor * BACKLASH_MM)
            return give_or_take(-self.pinion_mm, unsaid, Origin.MEASURED)
        change = self.backlash_factor * (then.value - final.value) if final else 0.0
        read = self.backlash_factor * hypot(then.reach, final.reach if final else 0.0)
        return give_or_take(change - self.pinion_mm, hypot(*off, read), Origin.MEASURED)


def against_boss(reading: Taken, way: Way) -> AgainstBoss | None:
    """A reading as the gap at some way back; None for one that is not against the boss."""
    back = way.back(reading)
    if isinstance(reading, GapReading):
        gap = reading.gap if reading.gap.reach else _by(reading.gap, TOOLS[_NO_TOOL].two_sigma_mm)
        return AgainstBoss(_gap_name(reading), gap, back, *_place(reading))
    if isinstance(reading, TouchReading):
        return AgainstBoss("the backlash at touch", _ZERO, back)
    if isinstance(reading, WindOver):
        travel = wound_over(reading)
        nearer = give_or_take(back.value - travel.value, hypot(back.reach, travel.reach), Origin.MEASURED)
        return AgainstBoss("the wind-over", _ZERO, nearer)
    return None


def _gap_name(reading: GapReading) -> str:
    return "the gap read" if reading.clock is None else f"the gap read at {oclock(reading.clock.value)}"


def _place(reading: GapReading) -> tuple[OnBoss | None, tuple[tuple[OnBoss, OnBoss], ...]]:
    """Where a gap was read, and the ends of where it may have been read."""
    clock, station = reading.clock, bench_reading(reading.station) if reading.station else None
    if clock is None:
        return None, ()
    at = station.value if station else None
    turned = OnBoss(clock.low, at), OnBoss(clock.high, at)
    if station is None:
        return OnBoss(clock.value), (turned,)
    along = OnBoss(clock.value, max(station.low, 0.0)), OnBoss(clock.value, station.high)
    return OnBoss(clock.value, at), (turned, along)


def wound_over(reading: WindOver) -> Quantity:
    """The sideways travel of a wind-over: the dial's, or notches x thread pitch / notches per turn [mm].

    >>> wound_over(WindOver(notches=give_or_take(6, 0), thread_pitch=give_or_take(1.5, 0),
    ...     notches_per_turn=give_or_take(24, 0)))
    Quantity(value=0.375, low=0.359375, high=0.390625, origin=<Origin.MEASURED: 'measured'>, source='',
        shape=<Shape.NORMAL: 'normal'>)
    """
    if reading.travel is not None:
        return reading.travel if reading.travel.reach else _by(reading.travel, TOOLS["dial"].two_sigma_mm)
    notches, pitch, turn = reading.notches, reading.thread_pitch, reading.notches_per_turn
    if notches is None or pitch is None or turn is None:
        raise refuse("readings", "a wind-over without a travel", "a dial's travel, or notches with their thread")
    travel = notches.value * pitch.value / turn.value
    spread = hypot(max(notches.reach, NOTCH) * pitch.value / turn.value, notches.value * pitch.reach / turn.value)
    return give_or_take(travel, spread, Origin.MEASURED)


def from_bar(reading: BarToToe, way: Way) -> Evidence:
    """What a bar to the toe says: the gauge and half the bar, less the way back."""
    gauge, bar, back = reading.gauge, reading.bar_diameter, way.back(reading)
    gauge = gauge if gauge.reach else _by(gauge, TOOLS["telescoping gauge"].two_sigma_mm)
    height = gauge.value + bar.value / 2 - back.value - way.later_mm
    spread = hypot(gauge.reach, bar.reach / 2, back.reach)
    return Evidence("bar to toe", give_or_take(height, spread, Origin.MEASURED, gauge.source or "telescoping gauge"))


def from_boss(read: AgainstBoss, gap_at: Callable[[float], float], start_mm: float) -> tuple[Evidence, float]:
    """What a reading against the boss says, and the gap's change for a change of height there.

    gap_at: the worked gap [mm] with the toe tips at a height [mm]; it rises with the height. start_mm: where to look
    first. Raises InputError where no height gives the reading.
    """
    from scipy.optimize import brentq

    def over(height_mm: float) -> float:
        return gap_at(height_mm) - read.gap.value

    off = there_off = over(start_mm)
    there, step = start_mm, max(1.0, abs(off))
    while off * there_off > 0:
        if step > _REACH_MM:
            what = f"no place of the ring gives {show_both(read.gap.value, 'in')}"
            raise refuse("readings", what, "the boss where it is, and the gap between its metal and the ring")
        there, step = there + (step if off < 0 else -step), 2 * step
        there_off = over(there)
    height = float(brentq(over, *sorted((start_mm, there)), xtol=_HEIGHT_MM)) if off else start_mm
    slope = (over(height + _STEP_MM) - over(height - _STEP_MM)) / (2 * _STEP_MM)
    spread = hypot(read.gap.reach / max(slope, FLATTEST), read.back.reach)
    quantity = give_or_take(height - read.back.value, spread, Origin.MEASURED, read.gap.source or read.name)
    return Evidence(read.name, quantity), slope


def pinned(before: Placement, read: Sequence[Evidence], boss_spread_mm: float) -> Placement:
    """All evidence by weight where some was read against the boss.

    Such a reading says nothing of where the ring or the boss stands, only how they stand to each other: whatever the
    boss and the ring's section are off by is in it already. The rest knows the ring's height without it, so toward the
    boss it is off by that too: `boss_spread_mm` more, as a change of height. Weighed so, those errors are counted once:
    in full where the rest decides, not at all where the reading does, and the caller leaves them out of the range.
    """
    rest = before.toe_tip
    worked = give_or_take(rest.value, hypot(rest.reach, boss_spread_mm), rest.origin, rest.source)
    found = weigh([Evidence("ring and boss as worked out", worked), *read], ask="was one of them read or typed wrong?")
    said = before.disagreement or found.disagreement
    return Placement(found.toe_tip, (*before.evidence, *read), said)


def missing(job: Job) -> tuple[str, ...]:
    """What each reading does not say of how the axle stood, a line to a reading; such a reading counts as wider."""
    lines = []
    for number, reading in enumerate(job.readings, 1):
        if not isinstance(reading, Taken):
            continue
        lacks = [] if reading.caps_torqued else ["caps torqued"]
        lacks += [] if reading.final_preload else ["final preload"]
        lacks += [] if reading.bearings == "final" else ["final bearings"]
        touch = isinstance(reading, TouchReading)
        lacks += [] if touch or reading.backlash or job.running.backlash_now else ["the backlash then"]
        tool = isinstance(reading, GapReading) and not reading.gap.reach
        lacks += ["how it was taken"] if tool else []
        eye = isinstance(reading, GapReading) and reading.clock is not None and reading.clock.reach > BY_EYE
        lacks += ["its clock angle in degrees"] if eye else []
        if lacks:
            lines.append(f"reading {number}, {reading.kind}, counts as wider without: {', '.join(lacks)}")
    return tuple(lines)


def likely_slips(job: Job, *, tooth_mm: float, toe_tip_mm: float) -> list[Finding]:
    """Readings that cannot be of this set: a gap larger than a tooth, a bar to the toe that is a tooth off.

    tooth_mm: whole depth of a tooth at the heel; toe_tip_mm: height of the toe tips by the rest of the job.
    """
    found = []
    for number, reading in enumerate(job.readings):
        if not isinstance(reading, Taken) or reading.gears == "old set":
            continue
        if isinstance(reading, GapReading) and reading.gap.value > tooth_mm:
            what = f"a gap of {show_both(reading.gap.value, job.units)} is larger than a tooth"
            right = (
                f"these teeth are {show_both(tooth_mm, job.units)} deep; inch typed as mm, or read at another place?"
            )
            found.append(Finding(locate(job, f"readings.{number}.gap"), what, right))
        if isinstance(reading, BarToToe):
            slip = _bar_slip(reading, tooth_mm, toe_tip_mm, job.units)
            found += [Finding(locate(job, f"readings.{number}.gauge"), *slip)] if slip else []
    return found


def _bar_slip(reading: BarToToe, tooth_mm: float, toe_tip_mm: float, units: Units) -> tuple[str, str] | None:
    half = reading.bar_diameter.value / 2
    height = reading.gauge.value + half
    off = height - toe_tip_mm
    if abs(off) <= tooth_mm:
        return None
    what = f"half the bar and the gauge put the toe {show_both(height, units)} above the pinion's centre line"
    right = f"about {show_both(toe_tip_mm, units)} by the tooth counts; read to the heel, or to the back face?"
    if abs(off - 2 * half) <= tooth_mm:
        right = "was it read over the far side of the bar? From the near side to the toe belongs here"
    elif abs(off - half) <= tooth_mm:
        right = "was half the bar counted already? The gauge alone belongs here"
    return what, right


def _by(quantity: Quantity, spread_mm: float) -> Quantity:
    return replace(quantity, low=quantity.value - spread_mm, high=quantity.value + spread_mm)
