"""Turning torque with the seal in and out: with seal = without seal + seal drag (common practice, no source)."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from statistics import fmean

from geartrack.job import Setup, TorqueReading, Turned
from geartrack.quantity import Quantity
from geartrack.units import parse_torque

GIVE_NM = parse_torque("1 lb-in")  # a reading of a dial or beam wrench, where no give or take is typed: from memory


@dataclass(frozen=True)
class Drag:
    """What the seal adds: nm, low_nm, high_nm [N.m], from so many pairs of readings with equal bearings and stage."""

    nm: float
    low_nm: float
    high_nm: float
    pairs: int


def give_of(torque: Quantity) -> float:
    """How far a torque reading may be out [N.m]: as typed, or what a wrench is taken to give."""
    return torque.spread or GIVE_NM


def seal_drag(readings: Sequence[TorqueReading]) -> Drag | None:
    """With-seal minus without-seal, for bearings and a stage of which there are both; None where there is no pair."""
    found: list[tuple[float, float]] = []
    for kind in dict.fromkeys((each.bearings, each.stage) for each in readings):
        alike = [each for each in readings if (each.bearings, each.stage) == kind]
        sides = [[each.torque for each in alike if each.seal == seal] for seal in ("in", "out")]
        if all(sides):
            middles = [fmean(torque.value for torque in side) for side in sides]
            found.append((middles[0] - middles[1], sum(max(give_of(t) for t in side) for side in sides)))
    if not found:
        return None
    lows, highs = ([drag + sign * give for drag, give in found] for sign in (-1, 1))
    return Drag(fmean(drag for drag, _ in found), min(lows), max(highs), len(found))


def bearings_alone(turned: Turned, drag: Drag | None) -> float | None:
    """The torque of the bearings alone [N.m]; None where the seal was in and its drag is not known."""
    if turned.seal == "out":
        return turned.torque.value
    return None if drag is None else turned.torque.value - drag.nm


def target_alone(setup: Setup, drag: Drag | None) -> tuple[float, float] | None:
    """The maker's range for the bearings alone [N.m]; None where there is none, or the drag in it is not known."""
    if setup.target is None or (setup.target_seal == "in" and drag is None):
        return None
    less = drag.nm if setup.target_seal == "in" and drag else 0.0
    low, high = (end.value - less for end in setup.target)
    return low, high
