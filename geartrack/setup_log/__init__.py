"""The pinion support (retainer) on the bench: what its torque readings say and what to try next. A help, no more.

The maker's specification comes first: its range is typed into the job, and nothing here stands in for it.
"""

from __future__ import annotations

from collections.abc import Sequence

from geartrack.errors import refuse
from geartrack.job import Job, Setup, TorqueReading
from geartrack.setup_log.answer import Judged, SetupAnswer
from geartrack.setup_log.crush import NEVER_BACK_OFF, Crush, Pulled, crush_log
from geartrack.setup_log.drag import GIVE_NM, Drag, bearings_alone, give_of, seal_drag, target_alone
from geartrack.setup_log.shims import Combination, combine
from geartrack.setup_log.stacks import STEP_MM, NextStack, Tried, next_stack

__all__ = [
    "GIVE_NM",
    "NEVER_BACK_OFF",
    "STEP_MM",
    "Combination",
    "Crush",
    "Drag",
    "Judged",
    "NextStack",
    "Pulled",
    "SetupAnswer",
    "Tried",
    "bearings_alone",
    "combine",
    "crush_log",
    "next_stack",
    "seal_drag",
    "setup_log",
    "target_alone",
]


def setup_log(job: Job) -> SetupAnswer:
    """What a job's readings on its pinion support say, and what to try next.

    Raises InputError where nothing was read yet.
    """
    setup = job.setup
    if not (setup.readings or setup.stacks or setup.crush):
        right = 'such as readings = [{ torque = "25 lb-in", bearings = "new", seal = "out" }] under [setup]'
        raise refuse(f"{job.name}, setup", "nothing was read on the pinion support yet", right)
    drag = seal_drag(setup.readings)
    target = target_alone(setup, drag)
    tried = tuple(_tried(setup, drag))
    pulls = [Pulled(int(p.sleeve), bearings_alone(p, drag), give_of(p.torque)) for p in setup.crush]
    suggested = next_stack(tried, target) if target else None
    shims = [setup.measured(shim) for shim in setup.shims]
    wanted = suggested if suggested and suggested.basis != "in range" else None
    return SetupAnswer(
        job=job,
        drag=drag,
        target_nm=target,
        target_seal_in_nm=(target[0] + drag.nm, target[1] + drag.nm) if target and drag else None,
        readings=tuple(_judged(each, setup, drag, target) for each in setup.readings),
        tried=tried,
        next=suggested,
        combinations=combine(shims, wanted.wanted_mm) if wanted and shims else (),
        crush=crush_log(pulls, target),
        flagged=tuple(_flagged(setup, drag, target, tried, suggested)),
    )


def _tried(setup: Setup, drag: Drag | None) -> list[Tried]:
    """The stacks whose torque without the seal is known."""
    found = []
    for stack in setup.stacks:
        alone = bearings_alone(stack, drag)
        if alone is not None:
            thickness = sum(shim.value for shim in stack.shims)
            found.append(Tried(thickness, alone, give_of(stack.torque), stack.play.value if stack.play else None))
    return found


def _judged(reading: TorqueReading, setup: Setup, drag: Drag | None, target: tuple[float, float] | None) -> Judged:
    alone = bearings_alone(reading, drag)
    if alone is None or target is None or reading.stage == "before" or reading.bearings != setup.bearings:
        return Judged(reading, alone, "cannot tell")
    return Judged(reading, alone, "under" if alone < target[0] else "over" if alone > target[1] else "in range")


def _flagged(
    setup: Setup,
    drag: Drag | None,
    target: tuple[float, float] | None,
    tried: Sequence[Tried],
    suggested: NextStack | None,
) -> list[str]:
    said = []
    if setup.target is None:
        said.append('no range by the maker\'s specification is typed: target = ["14 lb-in", "19 lb-in"] under [setup]')
    elif target is None:
        said.append("the maker's range is with the seal in, and the seal's drag is not known: read once with it out")
    elif target[0] < 0:
        said.append("the seal's drag is more than the low end of the maker's range: was one of them typed wrong?")
    if drag and drag.nm < 0:
        said.append("it turned more easily with the seal in than without: read both again")
    if any(each.bearings != setup.bearings for each in setup.readings if each.stage == "after"):
        said.append("a reading is of other bearings than those that go in (bearings under [setup]); it is not judged")
    if len(tried) < len(setup.stacks) or (drag is None and any(p.seal == "in" for p in setup.crush)):
        said.append("the seal was in for some, and its drag is not known: read once with the seal out")
    if any(each.torque_nm < -each.give_nm for each in tried):
        said.append(
            "the seal's drag is more than a stack turned with the seal in: read it again, or drag with this seal"
        )
    if tried and target and suggested is None:
        said.append("no shim is left to take out: was the play or a shim typed wrong, or is it another spacer's?")
    if suggested and suggested.disagree:
        said.append("a thinner stack turned more easily than a thicker one: was each seated, and turned a few times?")
    return said
