"""The torque after each pull on the nut over a crush sleeve: it only rises; a sleeve that went too far is spent."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

State = Literal["pull on", "in range", "overshot", "fell", "cannot tell"]
NEVER_BACK_OFF = "never back the nut off: a crushed sleeve does not come back; fit a new sleeve and start again"


@dataclass(frozen=True)
class Pulled:
    """One pull on a sleeve: torque_nm of the bearings alone, give or take give_nm [N.m].

    None where the seal was in and its drag is not known.
    """

    sleeve: int
    torque_nm: float | None
    give_nm: float


@dataclass(frozen=True)
class Crush:
    """How the last sleeve stands: after how many pulls on it, at torque_nm of the bearings alone [N.m].

    gain_nm: what the last pull added [N.m]. next_overshoots: another pull that adds as much would go past the range.
    """

    sleeve: int
    pulls: int
    torque_nm: float | None
    gain_nm: float | None
    state: State
    next_overshoots: bool


def crush_log(pulls: Sequence[Pulled], target_nm: tuple[float, float] | None) -> Crush | None:
    """Where the last sleeve stands against the range [N.m]; None where there was no pull.

    A sleeve that was once past the range, or whose torque fell by more than its readings' give or take, stays spent
    whatever it reads later.
    """
    if not pulls:
        return None
    mine = [each for each in pulls if each.sleeve == pulls[-1].sleeve]
    known = [(each.torque_nm, each.give_nm) for each in mine if each.torque_nm is not None]
    now = mine[-1].torque_nm
    gain = known[-1][0] - known[-2][0] if len(known) > 1 and now is not None else None
    state = _state([torque for torque, _ in known], [give for _, give in known], now, target_nm)
    near = bool(target_nm and state == "pull on" and gain and now is not None and now + gain > target_nm[1])
    return Crush(mine[-1].sleeve, len(mine), now, gain, state, near)


def _state(
    torques: Sequence[float], gives: Sequence[float], now: float | None, target_nm: tuple[float, float] | None
) -> State:
    highest = -1.0
    for number, (torque, give) in enumerate(zip(torques, gives, strict=True)):
        if target_nm and torque > target_nm[1]:
            return "overshot"
        if number and torque < highest - give - max(gives[:number]):
            return "fell"
        highest = max(highest, torque)
    if target_nm is None or now is None:
        return "cannot tell"
    return "in range" if now >= target_nm[0] else "pull on"
