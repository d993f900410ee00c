"""The pinion support on the bench sheet: the maker's range, what was tried, what to try next."""

from __future__ import annotations

from geartrack.setup_log import SetupAnswer
from geartrack.setup_log.says import both_fine, crush_lines, drag_line, makers_range, next_stack_lines
from geartrack.sheets.model import Cell, Section, Table, Words
from geartrack.units import Units, show_torques


def support(answer: SetupAnswer, units: Units) -> Section:
    """What the readings on the pinion support say, and room for the stacks still to be tried."""
    lines = [f"The maker's specification comes first; this is a help. {makers_range(answer, units)}"]
    lines += [f"Look at this: {doubt}." for doubt in answer.flagged]
    if answer.drag:
        lines.append(drag_line(answer.drag, units))
    lines += [*next_stack_lines(answer, units), *crush_lines(answer, units)]
    tried = [
        (
            Cell(str(number), strong=True),
            Cell(both_fine(each.thickness_mm, units)),
            Cell(show_torques(each.torque_nm, units)),
            Cell(both_fine(each.play_mm, units) if each.play_mm is not None else "-"),
        )
        for number, each in enumerate(answer.tried, 1)
    ]
    rooms = [(Cell(str(len(tried) + n), strong=True), *(Cell(room=True) for _ in range(3))) for n in (1,)]
    heads = ("Stack", "shims, together", "torque, bearings alone", "play")
    table = Table("Pinion support (retainer)", heads, (*tried, *rooms), (0.4, 1.2, 1.6, 1.2), quiet=True)
    solid = answer.job.setup.kind == "solid"
    return Section("Pinion support (retainer)", (Words(tuple(lines)), *((table,) if solid else ())))
