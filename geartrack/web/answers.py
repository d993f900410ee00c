"""An answer as the page shows it: words and numbers as text, nothing left to work out."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from geartrack import words
from geartrack.study.answer import Answer, RatioTable
from geartrack.study.passes import PassPlan
from geartrack.units import Rounding, Units, show_both, show_length
from geartrack.verdict import Code

TONES = {
    Code.CLEARS: "clear",
    Code.NOT_EXPECTED: "clear",
    Code.GRIND: "cut",
    Code.HITS: "cut",
    Code.MEASURE: "read",
    Code.CANT_SAY: "read",
    Code.LIKELY: "read",
    Code.DONT_GRIND: "halt",
    Code.DONT_USE: "halt",
}
"""Which of four looks a verdict has; its words say it first."""
OTHER: dict[Units, Units] = {"in": "mm", "mm": "in"}


@dataclass(frozen=True)
class Row:
    """A number in both units, and a word beside it; sub: it belongs to the row above."""

    name: str
    first: str
    second: str = ""
    note: str = ""
    sub: bool = False


@dataclass(frozen=True)
class Origin:
    """Where a value of the job comes from, and how it is taken where it was not typed."""

    origin: str
    value: str
    give: str
    source: str


@dataclass(frozen=True)
class Scale:
    """Low, now, high, wanted and touching along one line, as shares of its length [-]."""

    low: float
    now: float
    high: float
    wanted: float
    touching: float


@dataclass(frozen=True)
class AnswerView:
    """Everything that the page shows of a check. drawn: low to high rests on draws, else on the straight sum."""

    name: str
    teeth: str
    ratio: str
    verdict: str
    tone: str
    sentence: str
    reason: str
    next_reading: str
    drawn: bool
    how_drawn: str
    gap: str
    low: str
    high: str
    wanted: str
    where: str
    scale: Scale
    rows: tuple[Row, ...]
    grinds: bool
    depth: str
    stop: str
    stop_limit: str
    wall: str
    minimum: str
    notes: tuple[str, ...]
    alternatives: tuple[tuple[str, str], ...]
    metal: tuple[str, ...]
    cautions: tuple[str, ...]
    for_this_case: str
    origins: dict[str, Origin]
    budget: tuple[tuple[str, str, str, str, str], ...]
    readings: tuple[tuple[str, str, str, str, str], ...]


def answer_view(answer: Answer) -> AnswerView:
    """The answer in the words of the bench and the units of its job."""
    units, cuts, verdict, band = answer.job.units, answer.cuts, answer.verdict, answer.band
    stop = cuts.at_stop if cuts and verdict.grinds else None
    deep = cuts.nominal.depth_radial_max_mm if cuts and not cuts.hold.empty else 0.0
    limit = "the minimum wall" if cuts and cuts.stop and cuts.stop.limited_by == "wall" else "nothing gained deeper"
    return AnswerView(
        name=answer.job.name,
        teeth=str(answer.pair),
        ratio=f"{answer.pair.ratio:.2f}:1",
        verdict=verdict.words,
        tone=TONES[verdict.code],
        sentence=words.sentence(answer, units),
        reason=f"{verdict.reason[:1].upper()}{verdict.reason[1:].rstrip('.')}.",
        next_reading=verdict.next_reading or "",
        drawn=bool(band.draws),
        how_drawn=words.drawn(band, units) if band.draws else "",
        gap=show_both(answer.gap.lower_mm, units, rounding="down"),
        low=show_both(band.low, units, rounding="down"),
        high=show_both(band.high, units, rounding="down"),
        wanted=show_both(answer.target_mm, units),
        where=words.where(answer.place, answer.hand, units),
        scale=_scale(answer),
        rows=tuple(_rows(answer, units)),
        grinds=verdict.grinds,
        depth=show_both(deep, units, rounding="up") if deep else "",
        stop=show_both(stop.depth_radial_max_mm, units, rounding="down") if stop else "",
        stop_limit=limit if stop else "",
        wall=show_both(cuts.wall.left_mm, units, rounding="down") if cuts else "",
        minimum=words.minimum_words(answer, units).removeprefix("minimum "),
        notes=answer.notes,
        alternatives=tuple((each.words, str(each.pair) if each.pair else "") for each in answer.alternatives),
        metal=tuple(words.metal_lines(answer)) if verdict.grinds else (),
        cautions=words.CAUTIONS,
        for_this_case=words.for_this_case(answer),
        origins=_origins(answer, units),
        budget=tuple(_budget(answer, units)),
        readings=tuple(_readings(answer, units)),
    )


def _scale(answer: Answer) -> Scale:
    band = answer.band
    values = (band.low, answer.gap.lower_mm, band.high, answer.target_mm, 0.0)
    least, most = min(values), max(values)
    room = 0.08 * (most - least or 1.0)
    return Scale(*((value - least + room) / (most - least + 2 * room) for value in values))


def _rows(answer: Answer, units: Units) -> Iterator[Row]:
    def row(name: str, mm: float | None, way: Rounding = "nearest", note: str = "", sub: bool = False) -> Row:
        if mm is None:
            return Row(name, "not known", "", note, sub)
        first, second = (show_length(mm, unit, rounding=way) for unit in (units, OTHER[units]))
        return Row(name, first, second, note, sub)

    band, cuts = answer.band, answer.cuts
    yield row("Gap now", answer.gap.lower_mm, "down", f"{answer.gap.zone} of the ring")
    yield row("low", band.low, "down", "39 of 40 are higher" if band.draws else "every limit at its worst", True)
    yield row("high", band.high, "down", "39 of 40 are lower" if band.draws else "", True)
    yield row("Wanted", answer.target_mm)
    if band.p_target is not None and band.p_contact is not None:
        yield Row("Chance that the gap wanted is there", words.percent(band.p_target), "", "as set up")
        yield Row("Chance that the teeth touch", words.percent(band.p_contact), "", "running")
    yield row("Running gap, low", answer.running_low_mm, "down", "against zero")
    if cuts and not cuts.hold.empty:
        yield row("Depth toward the pinion", cuts.nominal.depth_radial_max_mm, "up", "as calculated")
        yield row("if the gap is at its high end", cuts.least.depth_radial_max_mm, "up", "", True)
        yield row("if the gap is at its low end", cuts.hold.depth_radial_max_mm, "up", "", True)
        yield row("Depth on the end face", cuts.nominal.depth_axial_max_mm, "up")
        yield Row(
            "To remove", words.mass(answer.work.mass_g[1]), f"{cuts.nominal.volume_mm3:.1f} mm3", words.metal(answer)
        )
    yield row("Wall now, thinnest over the bearing", answer.wall_before.before_mm, "down")
    if cuts:
        yield row("Wall left", cuts.wall.left_mm, "down")
        yield row("low", cuts.wall_low_mm, "down", "", True)
        yield row("high", cuts.wall_high_mm, "down", "", True)
        if answer.verdict.grinds and cuts.stop is not None:
            yield row("at STOP", cuts.stop.wall_left_mm, "down", "", True)
    minimum = answer.minimum_wall
    yield row("Minimum wall", minimum.value if minimum else None, "up", str(minimum.origin) if minimum else "")
    yield row("Pinion toe end to boss", answer.pinion_gap.lower_mm, "down")
    for name, gap in answer.by_body.items():
        if name != "ring":
            cured = "not cured by grinding here" if gap.lower_mm < answer.target_mm else ""
            yield row(f"{name[:1].upper()}{name[1:]} to boss", gap.lower_mm, "down", cured)


def _origins(answer: Answer, units: Units) -> dict[str, Origin]:
    found = {}
    for name, quantity in answer.inputs.items():
        value, give = words.shown(name, quantity, units)
        found[name] = Origin(str(quantity.origin), value, "" if give == "-" else give, quantity.source)
    return found


def _budget(answer: Answer, units: Units) -> Iterator[tuple[str, str, str, str, str]]:
    parts = {part.name: f"{round(100 * part.share)} %" for part in answer.band.budget}
    for share in answer.band.shares[:8]:
        moves = (show_both(share.down, units), show_both(share.up, units))
        yield (words.input_name(share.name), *moves, parts.get(share.name, ""), str(share.origin))


def _readings(answer: Answer, units: Units) -> Iterator[tuple[str, str, str, str, str]]:
    for each in answer.next_readings:
        halves = (show_both(each.worth.half_now, units), show_both(each.worth.half_after, units))
        yield (each.name, f"{each.minutes:g}", *halves, words.settles(answer, each))


@dataclass(frozen=True)
class RatioRow:
    """A tooth pair as the page lists it; state: "clear", "less" than wanted, or "touch"."""

    teeth: str
    ratio: str
    gap: str
    low: str
    high: str
    depth: str
    wall: str
    state: str


@dataclass(frozen=True)
class RatioView:
    """A comparison of tooth pairs: its rows, and where the gap is lost, in words."""

    rows: tuple[RatioRow, ...]
    lost: tuple[str, ...]
    wanted: str


def ratio_rows(table: RatioTable) -> RatioView:
    """A comparison of ratios in the words of the bench."""
    units = table.job.units
    rows = tuple(
        RatioRow(
            str(row.pair),
            f"{row.pair.ratio:.3f}",
            show_both(row.gap.lower_mm, units, rounding="down"),
            show_length(row.band_low_mm, units, rounding="down"),
            show_length(row.band_high_mm, units, rounding="down"),
            show_both(row.depth_mm, units, rounding="up") if row.depth_mm > 0 else "",
            show_length(row.wall_left_mm, units, rounding="down"),
            "touch" if row.gap.lower_mm < 0 else "less" if row.gap.lower_mm < table.target_mm else "clear",
        )
        for row in table.rows
    )
    return RatioView(rows, tuple(words.crossings(table, units)), show_both(table.target_mm, units))


@dataclass(frozen=True)
class PassView:
    """A pass plan: what to do in lines, its rows, the fit check after each."""

    lines: tuple[str, ...]
    why: str
    doubts: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    fit_check: tuple[str, ...]


def pass_view(plan: PassPlan) -> PassView:
    """A pass plan in the words of the bench."""
    units = plan.answer.job.units
    rows = []
    for each in (*plan.made, *plan.left):
        low, high = (show_length(mm, units, rounding="down") for mm in (each.reads_low_mm, each.reads_high_mm))
        note = "made" if each in plan.made else "if still short" if each.if_short else ""
        deepest: Rounding = "down" if each.clearance_mm >= plan.stop_mm else "up"
        rows.append(
            (
                f"{each.number} {note}".strip(),
                show_length(each.new_depth_mm, units, rounding="up"),
                show_length(each.depth_mm, units, rounding=deepest),
                words.mass(each.mass_g),
                show_length(each.wall_left_mm, units, rounding="down"),
                f"{low if each.reads_low_mm > 0 else 'touches'} to {high}" if each.reads_high_mm > 0 else "touches",
            )
        )
    return PassView(tuple(words.to_take(plan, units)), plan.why, plan.flagged, tuple(rows), words.FIT_CHECK)
