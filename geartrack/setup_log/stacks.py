"""The next shim stack beside a solid spacer, from the shop's own stacks and the torque found with each.

A thinner stack preloads more: torque never rises with thickness, and that alone is laid through the readings (isotonic
regression, then a monotone curve). What lies outside the stacks tried is said to, and is never more than a small step.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from statistics import fmean
from typing import Literal

import numpy as np

from geartrack.frame import Array
from geartrack.units import parse_length

STEP_MM, HALF_STEP_MM = parse_length("0.002 in"), parse_length("0.001 in")  # common practice, no source
PRACTICE = " (common practice, no source)"
_ALIKE_MM = 1e-6
_NONE_NM = 1e-9

Basis = Literal["in range", "between stacks tried", "outside the stacks tried"]


@dataclass(frozen=True)
class Tried:
    """A stack: thickness_mm, the torque_nm of the bearings alone [N.m], give or take give_nm [N.m]; play_mm as read."""

    thickness_mm: float
    torque_nm: float
    give_nm: float
    play_mm: float | None = None


@dataclass(frozen=True)
class NextStack:
    """The thickness to try next: wanted_mm, from low_mm to high_mm by the readings' give or take (None: not measured).

    basis: whether stacks on both sides were tried. why: in words, without its numbers. disagree: a thinner stack turned
    more easily than a thicker one by more than the readings' give or take.
    """

    wanted_mm: float
    low_mm: float | None
    high_mm: float | None
    basis: Basis
    why: str
    disagree: bool


def next_stack(tried: Sequence[Tried], target_nm: tuple[float, float]) -> NextStack | None:
    """The stack to try next for a torque in the middle of a range [N.m]; None where none was tried, or none is left."""
    if not tried:
        return None
    thickness, torque = _merged(tried)
    fitted = _never_rising(torque)
    give = max(each.give_nm for each in tried)
    disagree = bool(np.abs(fitted - torque).max() > give)
    low, high = target_nm
    last = tried[-1]
    if low <= last.torque_nm <= high:
        return NextStack(last.thickness_mm, None, None, "in range", "the last stack turned in range", disagree)
    middle = (low + high) / 2
    if not _within(fitted, middle):
        wanted, why = _outside(tried, thickness, fitted, middle)
        if wanted <= 0:
            return None  # less than no shim at all: another spacer, or a reading that is wrong
        return NextStack(wanted, None, None, "outside the stacks tried", why, disagree)
    curve = _curve(thickness, fitted)
    aims = (middle + give, middle - give)
    thin, thick = (_where(curve, thickness, aim) if _within(fitted, aim) else None for aim in aims)
    why = "between the stacks tried, thinner preloads more"
    return NextStack(_where(curve, thickness, middle), thin, thick, "between stacks tried", why, disagree)


def _merged(tried: Sequence[Tried]) -> tuple[Array, Array]:
    """Thicknesses, rising, and the mean torque at each."""
    kinds: dict[int, list[Tried]] = {}
    for each in sorted(tried, key=lambda one: one.thickness_mm):
        kinds.setdefault(round(each.thickness_mm / _ALIKE_MM), []).append(each)
    groups = list(kinds.values())
    return np.array([g[0].thickness_mm for g in groups]), np.array([fmean(e.torque_nm for e in g) for g in groups])


def _never_rising(torque: Array) -> Array:
    """The nearest torques that never rise with thickness."""
    from scipy.optimize import isotonic_regression

    fitted: Array = np.asarray(isotonic_regression(torque, increasing=False).x)
    return fitted


def _curve(thickness: Array, fitted: Array) -> Callable[[float], float]:
    from scipy.interpolate import PchipInterpolator

    curve = PchipInterpolator(thickness, fitted)
    return lambda at: float(curve(at))


def _within(fitted: Array, aim: float) -> bool:
    return bool(fitted[-1] <= aim <= fitted[0])


def _where(curve: Callable[[float], float], thickness: Array, aim: float) -> float:
    from scipy.optimize import brentq

    return float(brentq(lambda at: curve(at) - aim, thickness[0], thickness[-1], xtol=1e-6))


def _outside(tried: Sequence[Tried], thickness: Array, fitted: Array, middle: float) -> tuple[float, str]:
    """A small step past the thinnest or the thickest stack tried: by the last slope, where there is one."""
    if fitted[0] <= _NONE_NM:
        thinnest = [each for each in tried if abs(each.thickness_mm - thickness[0]) < _ALIKE_MM]
        play = min(each.play_mm or 0.0 for each in thinnest)
        return float(thickness[0] - play - STEP_MM), f"no preload yet: less the play and a small step{PRACTICE}"
    thinner = middle >= fitted[0]
    end, inner = (0, 1) if thinner else (-1, -2)
    step, why = HALF_STEP_MM, f"no slope to go by yet: a small step{PRACTICE}"
    if len(thickness) > 1 and fitted[end] != fitted[inner]:
        slope = abs(fitted[end] - fitted[inner]) / abs(thickness[end] - thickness[inner])
        step = min(STEP_MM, abs(middle - fitted[end]) / slope)
        why = "by the slope of the last two stacks, a small step at most"
    return float(thickness[end] + (-step if thinner else step)), why
