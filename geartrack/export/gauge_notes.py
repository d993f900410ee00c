"""What goes with a printed gauge, as plain text: how to print, measure and use it, and what it tells."""

from __future__ import annotations

import math
from textwrap import wrap

from geartrack import words
from geartrack.export.gauge import Gauge
from geartrack.study.answer import Answer
from geartrack.units import Rounding, show_both

PRINT_MM = 0.1
"""Give or take of a careful print over a few centimetres [mm]; practice of 3D printing, from memory."""
_COLUMNS = 96


def print_notes(answer: Answer, go: Gauge, stop: Gauge) -> str:
    """The notes of a pair of gauges."""
    sections = [
        (f"Sweep gauges: {answer.job.name}", [words.for_this_case(answer), _what(go)]),
        ("Print", _print()),
        ("Measure before use", [*_measure(answer, go), *_apart(answer, go, stop)]),
        ("Use", _use(answer, go)),
        ("What it tells", _tells(answer, go, stop)),
        ("Before you grind", [*words.metal_lines(answer), *words.CAUTIONS]),
    ]
    lines = []
    for title, paragraphs in sections:
        lines += [title, "-" * len(title)]
        for text in paragraphs:
            lines += wrap(text, _COLUMNS, subsequent_indent="   " if text[:1].isdigit() else "")
        lines.append("")
    return "\n".join(lines)


def _both(answer: Answer, mm: float, rounding: Rounding = "nearest") -> str:
    return show_both(mm, answer.job.units, rounding=rounding)


def _what(gauge: Gauge) -> str:
    at = words.oclock(gauge.shape.window.clock)
    return (
        "Each sits in the pilot bore, its head on the boss's pinion-side end face, and carries at"
        f" {at} (seen from the pinion-nut end) a still piece of what the ring gear sweeps, grown by the gap."
        " The ring turns about its own centre line, not about the bore: do not turn a gauge round in the bore to rub"
        " the boss, it would rub off more than has to go. GO has one notch at 6 o'clock, STOP has two; the V is at 12."
        " The groove in the outer face points at the patch."
    )


def _print() -> list[str]:
    return [
        "As it stands in the file: head flat on the bed, spigot up, no supports. At 100 %, no scaling, no shrinkage"
        " allowance but what your printer is set up for. Layers 0.1 to 0.15 mm, four walls or more, 40 % filling; a"
        " plastic that stays stiff (PETG, ABS, nylon or resin), since rubbing warms it. Practice of 3D printing, from"
        " memory.",
    ]


def _measure(answer: Answer, gauge: Gauge) -> list[str]:
    shape = gauge.shape
    return [
        f"1. Over the two long edges: {_both(answer, shape.across_mm)}. Thickness of the head: "
        f"{_both(answer, shape.head_mm)}. Off by more than {_both(answer, PRINT_MM)}, the scale is wrong: throw it"
        " away.",
        f"2. Spigot, square to the groove: {_both(answer, shape.spigot_mm)}, that is {_both(answer, gauge.fit_mm)} of"
        " play all round in the bore of the job. Print it a little over and sand it to a running fit, never loose.",
        f"3. A pin of {_both(answer, shape.pin_mm)}, such as the shank of a drill, laid in the spigot's groove: over"
        f" the spigot's far side and the pin {_both(answer, shape.over_pin_mm)}. Scrape the groove's bottom until it"
        " is.",
    ]


def _apart(answer: Answer, go: Gauge, stop: Gauge) -> list[str]:
    apart = stop.clearance_mm - go.clearance_mm
    if apart >= 2 * PRINT_MM:
        return []
    return [
        f"GO and STOP are {_both(answer, apart, 'down')} apart, less than two prints can tell: go by the gap as read."
    ]


def _use(answer: Answer, gauge: Gauge) -> list[str]:
    shape = gauge.shape
    long = 2 * math.sqrt(shape.head_radius_mm**2 - (shape.across_mm / 2) ** 2)
    turns = " and ".join(f"{math.degrees(turn):.1f}" for turn in gauge.turns)
    return [
        "1. Pinion, pilot bearing and ring gear are out; bore and end face clean, no burr on their edges.",
        "2. Lay a straight bar in both side-bearing saddles. The gauge's long edges run parallel to it, the V toward"
        f" the ring gear: {_both(answer, long * math.tan(math.radians(1)))} from one end of an edge to the other is one"
        f" degree, and one degree moves the face by up to {_both(answer, gauge.per_degree_mm, 'up')}. Scribe the"
        " boss at the V, and go by the scribed line from then on.",
        "3. Blue the working face thinly. Put the gauge in, held off the patch (the spigot is cut back there by"
        f" {_both(answer, shape.lift_mm)}), until its head lies on the end face; then press it toward the patch's side,"
        " square to the bore, groove foremost on the metal.",
        "4. Where the blue comes off on the boss is where metal still has to go. Take a little, wipe, try again.",
        "5. It is down when the head lies on the end face all round and the pin goes in beside the spigot, through its"
        " hole, by its own weight or a finger's push. Without the pin a gauge tells nothing: it can ride high.",
        f"6. Down, in a finished relief, it moves freely within its play, which is a turn of {turns} degrees to either"
        " side and no more. One that binds is not finished; one that turns much further has room it should not have.",
    ]


def _tells(answer: Answer, go: Gauge, stop: Gauge) -> list[str]:
    least = max(go.clearance_mm - go.fit_mm, 0.0)
    return [
        f"GO down, pin in: the cut for a gap of {_both(answer, go.clearance_mm)} as calculated is there, short by no"
        f" more than its play of {_both(answer, go.fit_mm)}; that is {_both(answer, least, 'down')} or more, give or"
        f" take the print ({_both(answer, PRINT_MM)}, from memory). It touches {words.percent(go.felt)} of the patch's"
        " area; the rim, where the cut runs out to nothing, it leaves.",
        f"STOP must not go down. If its pin goes in, the cut is at {_both(answer, stop.clearance_mm, 'down')} or within"
        f" {_both(answer, stop.fit_mm)} of it: no more metal comes off.",
        "Gauges repeat what was calculated. Whether ring and boss really stand so is told by the gap, read with the"
        " gears in at final backlash over a full turn: that reading decides.",
    ]
