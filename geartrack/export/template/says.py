"""The words on a template: whose it is, what its lines mean, how it is put on."""

from __future__ import annotations

from geartrack import words
from geartrack.export.figure import Figure
from geartrack.export.picture import which_way
from geartrack.export.template.outline import Template
from geartrack.study.answer import Answer
from geartrack.units import show_both

TITLE = "Template to wrap round the boss, true scale"
CLOSE_MM = 0.25
"""A patch whose marks may come to lie further out than this is better laid out by the depth table."""


def whose(answer: Answer) -> str:
    """The job, the pair, the case and the verdict."""
    mark = answer.job.case.mark or "no mark given"
    return f"{answer.job.name} · {answer.pair} = {answer.pair.ratio:.2f}:1 · case {mark} · {answer.verdict.words}"


def about(made: Template) -> str:
    """What the sheet is, for those who cannot see it."""
    place = words.where(made.answer.place, made.answer.hand, made.answer.job.units)
    return f"{TITLE}. {words.sentence(made.answer, made.answer.job.units)} Nearest place: {place}."


def key(made: Template) -> list[str]:
    """What the lines mean and how deep they go."""
    units, cuts = made.answer.job.units, made.answer.cuts
    assert cuts is not None
    assert cuts.stop is not None
    step = f"{made.steps.name(1)} {units}"
    deepest = show_both(made.cut.depth_radial_max_mm, units, rounding="up")
    wall = show_both(cuts.stop.wall_left_mm, units, rounding="down")
    why = "the minimum wall" if cuts.stop.limited_by == "wall" else "nothing gained deeper"
    lines = [
        f"Outline: where the cut ends. Thin lines: its depth toward the pilot bore's axis every {step}, each"
        f" {made.steps.major}th heavier. o: deepest, {deepest}, as calculated.",
        f"Dashes: STOP, {show_both(made.stop.depth_radial_max_mm, units, rounding='down')} at its deepest"
        f" ({why}; wall left there {wall}). Nothing outside the dashes is ever ground.",
    ]
    if made.end is not None:
        axial = show_both(made.cut.depth_axial_max_mm, units, rounding="up")
        lines.append(f"End face: its thin lines are depths in along the bore, deepest {axial}; same cut, seen end on.")
    return lines + _fit(made)


def _fit(made: Template) -> list[str]:
    """From what the strip is unrolled, and how well it fits."""
    units, flat = made.answer.job.units, made.patch.flat
    body = "cylinder" if flat.slope == 0 else "cone"
    size = show_both(2 * flat.radius_mm, units)
    at = "" if flat.slope == 0 else " at the end face"
    worst = show_both(flat.worst_mm, units, rounding="up")
    lines = [
        f"Unrolled from a {body} {size} across{at}: laid right, a mark of the patch lies within {worst} of its place."
    ]
    if flat.worst_mm > CLOSE_MM:
        lines.append(
            "That is much: the boss is not round enough for paper. Lay the cut out by the depth table instead."
        )
    if flat.whole:
        lines.append(
            "The strip closes: if its end lines miss each other by more than 0.5 mm (0.020 in), print or boss is not"
            " the one meant: do not use it. Where a rib is in its way, cut it off there; the clock marks hold."
        )
    return lines


def picture(made: Template) -> Figure:
    """How the strip is put on, as a small picture."""
    answer, patch = made.answer, made.patch
    offset = answer.boss.seat.offset_mm > 0
    return which_way(answer.hand, offset=offset, clocks=(patch.low, patch.high), strip=True)


def steps_to_put_on(made: Template) -> list[str]:
    """How the template is put on the boss."""
    tab = "glue the tab under the other end" if made.patch.flat.whole else "tape both tabs down"
    lines = [
        "1. Measure the bars above. Cut the strip out along its outer line.",
        "2. Scribe 12 o'clock on the boss: from the pilot bore's centre straight toward the ring gear, parallel to a"
        " straight bar lying in both side-bearing saddles.",
        "3. Wrap the strip round, printed side outward, its lower edge flush with the pinion-side end, its 12 on the"
        f" scribed line; {tab}. Seen from the pinion-nut end the hours run clockwise.",
        "4. Scribe or punch through outline and dashes, take the paper off, grind inside the outline only.",
        "5. The gap decides, not the paper: fit the gears, read the gap, and at STOP no more comes off.",
    ]
    if made.end is not None:
        lines[3:3] = ["   End face: cut out the bore circle, lay it on with 12 on the same line, printed side to you."]
    return lines


def cautions(made: Template) -> list[str]:
    """What is not shown and what may hurt."""
    notes = [f"The boss: {note}." for note in made.answer.boss.mesh.notes]
    return [*notes, *words.metal_lines(made.answer), *words.CAUTIONS]
