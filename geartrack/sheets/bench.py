"""The bench sheet: one verdict, what to take off and where to stop, and room for every reading; three pages at most."""

from __future__ import annotations

from geartrack import words
from geartrack.setup_log import SetupAnswer, setup_log
from geartrack.sheets.bench_tables import depths, plan_of_passes
from geartrack.sheets.bench_work import SIGNS, final_row, fit_check, if_then, order_of_work, readings
from geartrack.sheets.common import about, cautions, inputs, length_pair, minimum, picture, range_of, rooms, whose
from geartrack.sheets.model import Cell, Head, Listing, Pair, Section, Sheet, Table
from geartrack.sheets.support import support
from geartrack.study.answer import Answer
from geartrack.study.grindable import cuts_to_grind, stop_of
from geartrack.study.passes import PassPlan, pass_plan
from geartrack.units import Units
from geartrack.verdict import Code

_BLANKS = ("Job no.", "Date", "Customer, initials")


def bench_sheet(answer: Answer, plan: PassPlan | None = None, setup: SetupAnswer | None = None) -> Sheet:
    """The sheet of an answer, in the units of its job.

    plan: the passes, worked here where metal is to go and none are given. setup: the pinion support's log, worked here
    where the job has readings of it. Where the verdict allows no grinding there are neither depths nor passes.
    """
    units = answer.job.units
    if setup is None and _support_read(answer):
        setup = setup_log(answer.job)
    grinds = answer.verdict.grinds
    plan = (plan or pass_plan(answer)) if grinds else None
    sections = _to_grind(answer, plan, setup, units) if plan else _not_to_grind(answer, setup, units)
    return Sheet(
        title="Bench sheet",
        whose=whose(answer),
        fields=(*about(answer, units), *(Pair(name, "") for name in _BLANKS)),
        head=_head(answer, units),
        sections=sections,
        foot=words.for_this_case(answer),
        most_pages=3,
    )


def _support_read(answer: Answer) -> bool:
    setup = answer.job.setup
    return bool(setup.readings or setup.stacks or setup.crush)


def _head(answer: Answer, units: Units) -> Head:
    low_high = range_of(answer.band.low, answer.band.high, units)
    figures = [
        length_pair("Gap now", answer.gap.lower_mm, units, "down"),
        Pair("low to high", *low_high),
        length_pair("Wanted", answer.target_mm, units),
    ]
    place = f"Nearest {words.where(answer.place, answer.hand, units)}, against the {answer.gap.zone} of the ring."
    why = f"{answer.verdict.reason[:1].upper()}{answer.verdict.reason[1:].rstrip('?.')}. {place}"
    if not answer.verdict.grinds:
        figures.append(length_pair("Wall now", answer.wall_before.before_mm, units, "down"))
        return Head(
            answer.verdict.words, tuple(figures), (why, *_not_ground(answer)), answer.verdict.next_reading or ""
        )
    cuts = cuts_to_grind(answer)
    figures += [
        length_pair("Take off", cuts.nominal.depth_radial_max_mm, units, "up"),
        length_pair("STOP at", stop_of(cuts).depth_radial_max_mm, units, "down"),
        length_pair("Wall left", cuts.wall.left_mm, units, "down"),
    ]
    least, most = cuts.least.depth_radial_max_mm, cuts.hold.depth_radial_max_mm
    off, walls = range_of(least, most, units, up=True), range_of(cuts.wall_low_mm, cuts.wall_high_mm, units)
    ranges = f"Take off {' '.join(off)}; wall left {' '.join(walls)}, {minimum(answer, units)}."
    metal = " ".join(words.metal_lines(answer))
    return Head(answer.verdict.words, tuple(figures), (why, ranges, metal), "")


def _not_ground(answer: Answer) -> tuple[str, ...]:
    code = answer.verdict.code
    if code in (Code.CLEARS, Code.NOT_EXPECTED):
        return ("Nothing is ground by this sheet. Read the gap over a full turn at final backlash, and write it down.",)
    if code in (Code.DONT_GRIND, Code.DONT_USE):
        return ("No depth is given, and no burr goes near this case.",)
    return ("No depth is given before that is read. Enter the reading in the job, then print again.",)


def _to_grind(answer: Answer, plan: PassPlan, setup: SetupAnswer | None, units: Units) -> tuple[Section, ...]:
    from geartrack.draw.keep_off import keep_off_plate
    from geartrack.draw.plates import bench_plate

    where = picture("The cut: nearest place in section, and from the pinion-nut end", bench_plate(answer, units))
    keep = picture("Keep off: hatched and numbered", keep_off_plate())
    return (
        Section("Where it touches", (where,)),
        if_then(answer, plan, units),
        fit_check(),
        cautions(),
        depths(answer, units),
        plan_of_passes(plan, units),
        Section("Where no burr may go", (keep,)),
        order_of_work(answer),
        readings(answer, setup, after=True),
        *((support(setup, units),) if setup else ()),
        final_row(answer, units),
        inputs(answer, units),
    )


def _not_to_grind(answer: Answer, setup: SetupAnswer | None, units: Units) -> tuple[Section, ...]:
    from geartrack.draw.plates import section_plate

    spot = words.where(answer.place, answer.hand, units)
    says = f"Ring gear and boss in section, to scale, and the nearest place enlarged: {spot}. No depth stands on it."
    where = picture("Ring gear and boss in section, and the nearest place enlarged", section_plate(answer, units, says))
    fits = answer.verdict.code in (Code.CLEARS, Code.NOT_EXPECTED)
    return (
        Section("Where it is nearest", (where,)),
        *_to_read(answer),
        *_else_possible(answer),
        readings(answer, setup, after=fits),
        *((support(setup, units),) if fits and setup else ()),
        *((final_row(answer, units),) if fits else ()),
        cautions(),
        *(() if fits else (Section("Signed", (rooms("Signed", *SIGNS),)),)),
        inputs(answer, units),
    )


def _to_read(answer: Answer) -> tuple[Section, ...]:
    if not answer.next_readings or not answer.verdict.next_reading:
        return ()
    rows = tuple(
        (
            Cell(str(number), strong=True),
            Cell(each.name, strong=each.name == answer.verdict.next_reading),
            Cell(f"{each.minutes:g}"),
            Cell(words.percent(each.worth.settles)),
            Cell(room=True),
            Cell(room=True),
        )
        for number, each in enumerate(answer.next_readings[:6], 1)
    )
    heads = ("", "Reading", "minutes", "settles it", "read", "tool, initials")
    table = Table(
        "Readings still to take, the one worth most a minute first",
        heads,
        rows,
        (0.3, 3.2, 0.8, 0.9, 1.8, 1.4),
        tall=True,
    )
    return (Section("What to read next", (table,)),)


def _else_possible(answer: Answer) -> tuple[Section, ...]:
    if not answer.alternatives:
        return ()
    return (Section("What else is possible", (Listing(tuple(other.words for other in answer.alternatives)),)),)
