"""The pinion support on the bench sheet: the maker's range, what was tried, what to try next."""

from __future__ import annotations

from geartrack.setup_log import SetupAnswer
from geartrack.setup_log.says import crush_lines, drag_line, makers_range
from geartrack.sheets.common import OTHER
from geartrack.sheets.model import Cell, Section, Table, Words
from geartrack.units import Units, show_fine, show_torques


def support(answer: SetupAnswer, units: Units) -> Section:
    """What the readings on the pinion support say, and room for the stacks still to be tried."""
    lines = [f"The maker's specification comes first; this is a help. {makers_range(answer, units)}"]
    lines += [f"Look at this: {doubt}." for doubt in answer.flagged]
    if answer.drag:
        lines.append(drag_line(answer.drag, units))
    lines += [*_next(answer, units), *crush_lines(answer, units)]
    tried = [
        (
            Cell(str(number), strong=True),
            Cell(_fine(each.thickness_mm, units)),
            Cell(show_torques(each.torque_nm, units)),
            Cell(_fine(each.play_mm, units) if each.play_mm is not None else "-"),
        )
        for number, each in enumerate(answer.tried, 1)
    ]
    rooms = [(Cell(str(len(tried) + n), strong=True), *(Cell(room=True) for _ in range(3))) for n in (1,)]
    heads = ("Stack", "shims, together", "torque, bearings alone", "play")
    table = Table("Pinion support (retainer)", heads, (*tried, *rooms), (0.4, 1.2, 1.6, 1.2), quiet=True)
    solid = answer.job.setup.kind == "solid"
    return Section("Pinion support (retainer)", (Words(tuple(lines)), *((table,) if solid else ())))


def _next(answer: SetupAnswer, units: Units) -> list[str]:
    after = answer.next
    if after is None:
        return []
    if after.basis == "in range":
        return ["The last stack turned in the range: nothing to change. Turn it a few times more and read it again."]
    give = ""
    if after.low_mm is not None and after.high_mm is not None:
        give = f", {_fine(after.low_mm, units)} to {_fine(after.high_mm, units)} by what the readings give or take"
    said = [f"Next stack: {_fine(after.wanted_mm, units)}{give}; {after.why}."]
    if after.basis == "outside the stacks tried":
        said.append(
            "WARNING: outside the stacks tried. Thinner preloads more, and fast: tighten by stages, keep turning."
        )
    if answer.combinations:
        made = answer.combinations[0]
        shims = " + ".join(_fine(shim, units) for shim in made.shims_mm)
        said.append(f"Nearest of the shims on hand: {shims} = {_fine(made.total_mm, units)}.")
    return said


def _fine(mm: float, units: Units) -> str:
    return f"{show_fine(mm, units)} ({show_fine(mm, OTHER[units])})"
