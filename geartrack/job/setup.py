"""The pinion support (retainer) as it was set up on the bench: turning torque, shim stacks tried, pulls on a sleeve."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Sequence
from typing import Annotated, Literal

from pydantic import Field

from geartrack.job.fields import Measure, Plain
from geartrack.job.parts import Table
from geartrack.job.tools import tool_named
from geartrack.quantity import Origin, Quantity

Torque = Annotated[Quantity, Measure("torque", 0, 15)]
Shim = Annotated[Quantity, Measure("length", 0.02, 15)]
Play = Annotated[Quantity, Measure("length", 0, 2)]
Seal = Literal["in", "out"]
MOST_SHIMS = 20


class Turned(Table):
    """A turning torque as read, with the seal in or out; date, by: when and by whom (initials)."""

    torque: Torque
    seal: Seal
    date: dt.date | None = None
    by: Annotated[str, Field(max_length=4)] = ""


class TorqueReading(Turned):
    """The turning torque of the pinion with its bearings new or used, before or after the work."""

    bearings: Literal["new", "used"]
    stage: Literal["before", "after"] = "after"


class Stack(Turned):
    """A shim stack beside a solid spacer, and the torque found with it; play: how far the pinion moved end to end."""

    shims: tuple[Shim, ...]
    play: Play | None = None


class Pull(Turned):
    """The torque after one more pull on the nut over a crush sleeve; sleeve [-]: the first is 1, a new one 2."""

    sleeve: Annotated[float, Plain("number", 1, 20)] = 1.0


class Setup(Table):
    """target: lowest and highest turning torque of the maker's specification, for these bearings, seal in or out.

    shims: those on hand, each measured, those in the pinion now counted. shims_read_with: the tool for all of them.
    """

    spacer: Literal["solid", "crush"] | None = None
    bearings: Literal["new", "used"] | None = None
    target: tuple[Torque, Torque] | None = None
    target_seal: Seal = "out"
    target_from: str = ""
    shims_read_with: str = ""
    shims: tuple[Shim, ...] = ()
    readings: tuple[TorqueReading, ...] = ()
    stacks: tuple[Stack, ...] = ()
    crush: tuple[Pull, ...] = ()

    @property
    def kind(self) -> str | None:
        """The spacer, as said or as what was read gives it away."""
        return self.spacer or ("solid" if self.stacks else "crush" if self.crush else None)

    def measured(self, shim: Quantity) -> Quantity:
        """A shim with the give or take of the tool that all were read with, where it has none of its own."""
        tool = tool_named(self.shims_read_with)
        if tool is None or shim.spread or shim.origin is Origin.MEASURED:
            return shim
        value, give = shim.value, tool.two_sigma_mm
        return Quantity(value, value - give, value + give, Origin.MEASURED, self.shims_read_with)


def setup_faults(setup: Setup) -> Iterator[tuple[tuple[str | int, ...], str, str]]:
    """Keys of [setup] that need each other: (key, what is wrong, what would be right)."""
    if setup.target and setup.target[0].value >= setup.target[1].value:
        yield ("target",), "its low end is not below its high end", 'such as target = ["14 lb-in", "19 lb-in"]'
    for key, kind in (("stacks", "solid"), ("crush", "crush")):
        if getattr(setup, key) and setup.kind != kind:
            what = f"given, but the spacer is a {'crush sleeve' if setup.spacer == 'crush' else 'solid one'}"
            yield (key,), what, f'spacer = "{kind}"'
    if setup.shims_read_with and tool_named(setup.shims_read_with) is None:
        what = f"{setup.shims_read_with[:30]!r} is no tool with a known give or take"
        yield ("shims_read_with",), what, 'such as "micrometer"'
    if len(setup.shims) > MOST_SHIMS:
        yield ("shims",), f"{len(setup.shims)} shims", f"the {MOST_SHIMS} nearest in size at most"
    yield from _unmeasured(setup, ("shims",), setup.shims)
    for number, stack in enumerate(setup.stacks):
        if not stack.shims:
            yield ("stacks", number, "shims"), "no shims", 'such as shims = ["0.010 in", "0.008 in"]'
        yield from _unmeasured(setup, ("stacks", number, "shims"), stack.shims)
    for number, pull in enumerate(setup.crush):
        if pull.sleeve != int(pull.sleeve):
            yield ("crush", number, "sleeve"), f"{pull.sleeve:g} of a sleeve", "1 for the first, 2 for a new one"
    for number, (before, pull) in enumerate(zip(setup.crush, setup.crush[1:], strict=False), 1):
        if pull.sleeve < before.sleeve:
            yield ("crush", number, "sleeve"), "an earlier sleeve than the pull before it", "pulls in order"


def _unmeasured(
    setup: Setup, steps: tuple[str | int, ...], shims: Sequence[Quantity]
) -> Iterator[tuple[tuple[str | int, ...], str, str]]:
    for number, shim in enumerate(shims):
        if setup.measured(shim).origin is not Origin.MEASURED and not setup.shims_read_with:
            right = '{ value = "0.0102 in", how = "micrometer" }, or shims_read_with = "micrometer" for all of them'
            yield (*steps, number), "a shim not measured: its marked size is not its thickness", right
