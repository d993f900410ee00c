"""The bench sheet's course of work: steps to tick, readings to write down, what to do if, and the final row."""

from __future__ import annotations

from geartrack import words
from geartrack.materials import FACTS, Material
from geartrack.setup_log import SetupAnswer
from geartrack.sheets.common import minimum, rooms
from geartrack.sheets.model import Cell, Listing, Section, Table, Words
from geartrack.study.answer import Answer
from geartrack.study.passes import PassPlan
from geartrack.units import Units, show_both, show_torques

SHIM_RULE = (
    "Sign of a pinion depth shim. BETWEEN RETAINER AND CASE: more shim moves the pinion AWAY from the ring's centre"
    " line. UNDER THE HEAD: more shim moves it TOWARD it. Tick which it is below, before a shim is changed."
)
NUT = (
    "Pinion nut: torque per maker",
    "Ring bolts: torque per maker",
    "Caps: torque per maker",
    "Thread locker: which, where",
)
SIGNS = ("Ground by, date", "Checked by, date", "Not done, and why")
_FINAL = (
    "backlash",
    "caps torqued",
    "preload",
    "smallest of 3 gaps over 4 turns of the ring",
    "wall left",
    "dye: rub?",
    "photos",
    "initials",
)


def order_of_work(answer: Answer) -> Section:
    """The steps of a job that is ground, each with a box to tick."""
    facts = FACTS[Material(answer.job.case.material)]
    steps = (
        "Mark on the casting is the one on this sheet: for this case only.",
        "Readings BEFORE are in the table.",
        "Caps marked to their saddles, left and right, before they are removed.",
        "Photos before: boss, web, saddles, dye mark.",
        f"Crack check before: {facts.crack_check}.",
        "Bearings, cups, pilot and seal out or bagged before a burr runs.",
        "Template (geartrack template JOB OUT) on: bar measured, edge flush with the pinion-side end, 12 straight at"
        " the ring gear. Outline and STOP scribed.",
        f"Grind inside the outline, pass by pass; {facts.burr}. A fit check after each, entered with --now-at.",
        "Edges of the patch blended by hand, no sharp corner, no deeper than STOP.",
        "Washed twice, magnet, fresh oil. Crack check after, bore read after.",
        "Pinion support in: depth shims as read, turning torque in the maker's range, nut torque per maker, thread"
        " locker.",
        "Ring and carrier in: caps torqued, preload, final backlash in four places, runout.",
        "Gap at three places over 4 turns of the ring. Photos after. Final row.",
    )
    return Section("Order of work", (Listing(steps, "box", 2),))


def fit_check() -> Section:
    """What a fit check is."""
    return Section("Fit check, after every pass", (Listing(words.FIT_CHECK, "number", 2),))


def if_then(answer: Answer, plan: PassPlan, units: Units) -> Section:
    """What to do if."""
    wanted = show_both(answer.target_mm, units)
    stop = show_both(plan.stop_depth_mm, units, rounding="down")
    at_stop = show_both(plan.gap_at_stop_mm, units, rounding="down")
    rows = (
        ("this sheet and the dye disagree", "believe the dye, stop, enter the reading, print again"),
        (f"the gap reads {wanted} or more", "take no more off"),
        ("the dye shows a rub", "stop, enter 0 as the gap read, print again"),
        (
            f"STOP ({stop}) is reached and the gap is short",
            f"stop: it should read {at_stop} there; see what else is possible",
        ),
        (f"the wall reads under the {minimum(answer, units)}", "stop, whatever the gap reads"),
        ("a line shows at the boss, web or saddle", "stop: the case is scrap"),
        ("the pilot bore reads other than before", "stop: it has to be put right before the case is used"),
        ("backlash, shims or bearings are changed", "read the gap again at three places"),
    )
    cells = [(Cell(case, strong=True), Cell(deed)) for case, deed in rows]
    half = len(cells) // 2
    paired = tuple((*left, *right) for left, right in zip(cells[:half], cells[half:], strict=True))
    heads = ("If", "then", "If", "then")
    return Section("If - then", (Table("If - then", heads, paired, (1.0, 1.1, 1.0, 1.1), quiet=True),), framed=True)


def readings(answer: Answer, setup: SetupAnswer | None, *, after: bool, fresh: bool = False) -> Section:
    """Room for every reading, before the work and after it; what the job has already stands in it."""
    grid = [
        ("Backlash, four places", ("1", "2", "3", "4")),
        ("Back-face runout (TIR)", ("reading", "at radius", "tool", "")),
        ("Gap at three places, 4 turns", ("1", "2", "3", "tool")),
        ("Pilot bore, 2 stations, 2 directions", ("end, 12-6", "end, 3-9", "deep, 12-6", "deep, 3-9")),
        ("Turning torque of the pinion", ("torque", "bearings new / used", "seal in / out", "")),
        ("Crack check", ("method", "result", "initials", "date")),
        ("Pinion depth shims", ("stack, read", "retainer to case", "under the head", "mark on pinion")),
    ]
    stages = ("before", "after") if after else ("before",)
    rows = []
    for name, labels in grid:
        torques = name.startswith("Turning")
        sets = [_torque(setup, stage, labels, answer.job.units) if torques else _rooms(labels) for stage in stages]
        rows.append((Cell(name, strong=True), *(cell for each in sets for cell in each)))
    heads = ("Reading", *([""] * (4 * len(stages))))
    widths = (1.7, *([1.0] * (4 * len(stages))))
    groups = (("", 1), *((stage.upper(), 4) for stage in stages))
    title = "Readings to write down"
    table = Table(title, heads, tuple(rows), widths, tall=True, quiet=True, groups=groups)
    return Section(title, (table, Words((SHIM_RULE,), strong=True)), fresh=fresh)


def _rooms(labels: tuple[str, ...]) -> tuple[Cell, ...]:
    return tuple(Cell(label, room=True) for label in labels)


def _torque(setup: SetupAnswer | None, stage: str, labels: tuple[str, ...], units: Units) -> tuple[Cell, ...]:
    """The last torque that was read at that stage, else room for it."""
    known = [each.reading for each in setup.readings if each.reading.stage == stage] if setup else []
    if not known:
        return _rooms(labels)
    last = known[-1]
    torque, bearings, seal, _ = labels
    return (
        Cell(torque, show_torques(last.torque.value, units), room=True),
        Cell(bearings, last.bearings, room=True),
        Cell(seal, last.seal, room=True),
        Cell("", room=True),
    )


def final_row(answer: Answer, units: Units) -> Section:
    """What it is fastened with, the last row of readings that the axle leaves the bench with, and who signs."""
    wanted = f"wanted {show_both(answer.target_mm, units)}"
    notes = {
        "caps torqued": "yes / no",
        "smallest of 3 gaps over 4 turns of the ring": wanted,
        "wall left": minimum(answer, units),
        "dye: rub?": "yes / no",
        "photos": "before / after",
    }
    row = tuple(Cell(notes.get(head, ""), room=True) for head in _FINAL)
    widths = (1.0, 1.0, 1.0, 1.9, 1.3, 0.9, 1.0, 0.9)
    last = Table("Final row", _FINAL, (row,), widths, tall=True, quiet=True)
    return Section("Final row", (rooms("Fastened", *NUT), last, rooms("Signed", *SIGNS)), framed=True)
