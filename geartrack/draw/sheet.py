"""Whole figures: the views of one answer with its words and numbers, and the ratios of a table."""

from __future__ import annotations

from textwrap import fill

from matplotlib.figure import Figure

from geartrack import words
from geartrack.draw import ink
from geartrack.draw.depths import depth_given, shown
from geartrack.draw.end import end_view
from geartrack.draw.patchmap import patch_view
from geartrack.draw.ratio import ratio_view
from geartrack.draw.side import near_view, side_view
from geartrack.draw.sure import budget_view, readings_view
from geartrack.errors import refuse
from geartrack.study.answer import Answer, RatioTable
from geartrack.units import Units, show_both, show_length

_PORTRAIT, _LANDSCAPE = (8.5, 11.0), (11.0, 8.5)  # inches: a letter sheet upright and on its side


def check_figure(answer: Answer, units: Units) -> Figure:
    """One answer on a sheet: the verdict and its sentence, side view, nearest place, end view, patch, numbers."""
    sentence = f"{words.sentence(answer, units)} {_next(answer)}"
    figure, top = _sheet(_PORTRAIT, answer.verdict.words, sentence, _whose(answer), describe(answer))
    relief, high = shown(answer), min(0.3, top - 0.515)
    side_view(figure.add_axes((0.085, top - high, 0.53, high)), answer, units)
    near_view(figure.add_axes((0.7, top - high, 0.285, high)), answer, units)
    end_view(figure.add_axes((0.03, top - high - 0.315, 0.53 if relief else 0.94, 0.235)), answer, units)
    if relief:
        patch_view(figure.add_axes((0.655, top - high - 0.285, 0.22, 0.19)), answer, units)
    _numbers(figure, answer, units, top - high - 0.345)
    figure.text(0.03, 0.012, fill(words.for_this_case(answer), 112), fontsize=ink.SMALL, color=ink.SOFT, va="bottom")
    return figure


def ratio_figure(table: RatioTable, units: Units) -> Figure:
    """The comparison of tooth pairs on a sheet, with where the gap is lost in words below."""
    lost = words.crossings(table, units)
    rows = "; ".join(f"{row.pair}: {show_both(row.gap.lower_mm, units, rounding='down')}" for row in table.rows)
    title = "Gap at the boss, by ratio"
    sentence = f"Gap wanted {show_both(table.target_mm, units)}. Gears from tooth counts; bars run from low to high."
    description = f"{title}: {table.job.name}. {sentence} {rows}. {' '.join(lost)}"
    figure, top = _sheet(_LANDSCAPE, title, sentence, table.job.name, description)
    below = 0.105 + 0.0242 * len(lost)
    ratio_view(figure.add_axes((0.08, below, 0.9, top - below + 0.02)), table, units)
    foot = 0.02 + 0.0242 * len(lost)
    figure.text(0.03, foot, "\n".join(lost), fontsize=ink.SMALL, color=ink.INK, va="top", linespacing=1.4)
    return figure


def sure_figure(answer: Answer, units: Units) -> Figure:
    """What makes an answer's low to high, and what each reading still to take would leave of it."""
    if not answer.band.budget or not answer.next_readings:
        raise refuse("figure", "there is nothing left to narrow", "a job with readings still to take")
    low, high = (show_length(end, units, rounding="down") for end in (answer.band.low, answer.band.high))
    title = "How sure is it, and what to read next"
    sentence = f"{answer.verdict.words}. Gap {low} to {high}; wanted {show_both(answer.target_mm, units)}."
    parts = "; ".join(f"{words.input_name(part.name)}: {round(100 * part.share)} %" for part in answer.band.budget[:6])
    ranked = "; ".join(f"{n}. {each.name}" for n, each in enumerate(answer.next_readings, 1))
    figure, top = _sheet(_LANDSCAPE, title, sentence, _whose(answer), f"{title}. {sentence} {parts}. {ranked}.")
    upper, lower = 0.4 * (top - 0.18), 0.6 * (top - 0.18)
    budget_view(figure.add_axes((0.32, top - upper, 0.64, upper)), answer)
    readings_view(figure.add_axes((0.32, 0.075, 0.64, lower)), answer, units)
    return figure


def describe(answer: Answer) -> str:
    """What the figure of an answer shows, in words, for those who cannot see it; in the units of its job."""
    units = answer.job.units
    said = [
        f"{_whose(answer)}: {answer.verdict.words}.",
        words.sentence(answer, units),
        _next(answer),
        "The side view shows the ring gear, the boss and the gap between them; the end view shows the boss from the"
        " pinion-nut end, 12 o'clock straight at the ring gear, and the nearest place"
        f" {words.where(answer.place, answer.hand, units)}.",
    ]
    return " ".join([*said, words.for_this_case(answer)])


def _next(answer: Answer) -> str:
    why, reading = f"Why: {answer.verdict.reason}.", answer.verdict.next_reading
    return f"{why} Next reading: {reading}." if reading else why


def _whose(answer: Answer) -> str:
    return f"{answer.job.name} · {answer.pair} = {answer.pair.ratio:.2f}:1"


def _sheet(size: tuple[float, float], title: str, sentence: str, whose: str, description: str) -> tuple[Figure, float]:
    """An empty sheet and where its views may start; its label is the text equivalent that `save` writes."""
    width, height = size
    figure = Figure(figsize=size, facecolor="white", label=description)
    figure.text(0.03, 1 - 0.2 / height, whose, va="top", fontsize=ink.TEXT, color=ink.SOFT)
    figure.suptitle(
        title, x=0.03, y=1 - 0.42 / height, ha="left", va="top", fontsize=18, fontweight="bold", color=ink.INK
    )
    wrapped = fill(sentence, int(12.9 * width))
    figure.text(0.03, 1 - 0.85 / height, wrapped, va="top", fontsize=ink.TEXT, color=ink.INK, linespacing=1.35)
    return figure, 1 - (0.85 + 0.19 * (wrapped.count("\n") + 1) + 0.35) / height


def _numbers(figure: Figure, answer: Answer, units: Units, top: float) -> None:
    """The numbers of the answer in two columns at the foot of the sheet."""
    lines = _lines(answer, units)
    half = (len(lines) + 1) // 2
    while half < len(lines) and lines[half][0].startswith(" "):  # its own line's low to high stays under it
        half += 1
    for left, column in ((0.03, lines[:half]), (0.53, lines[half:])):
        for index, (name, value) in enumerate(column):
            y = top - 0.0195 * index
            figure.text(left, y, name, fontsize=ink.TEXT, color=ink.SOFT, va="center")
            figure.text(left + 0.44, y, value, fontsize=ink.TEXT, color=ink.INK, va="center", ha="right")


def _lines(answer: Answer, units: Units) -> list[tuple[str, str]]:
    def down(mm: float) -> str:
        return show_length(mm, units, rounding="down")

    def up(mm: float) -> str:
        return show_length(mm, units, rounding="up")

    cuts = answer.cuts
    lines = [
        ("gap now", show_both(answer.gap.lower_mm, units, rounding="down")),
        ("low to high", f"{down(answer.band.low)} to {down(answer.band.high)}"),
        ("wanted", show_both(answer.target_mm, units)),
        ("running gap, low", down(answer.running_low_mm)),
    ]
    if cuts and cuts.at_stop and depth_given(answer) and not cuts.hold.empty:
        least, most = cuts.least.depth_radial_max_mm, cuts.hold.depth_radial_max_mm
        lines += [
            ("depth toward the pinion", up(cuts.nominal.depth_radial_max_mm)),
            ("  low to high", f"{up(least)} to {up(most)}"),
        ]
        if answer.verdict.grinds:
            lines.append(("STOP", down(cuts.at_stop.depth_radial_max_mm)))
    lines.append(("wall now", down(answer.wall_before.before_mm)))
    if cuts and not cuts.hold.empty:
        lines.append(("wall left", down(cuts.wall.left_mm)))
        lines.append(("  low to high", f"{down(cuts.wall_low_mm)} to {down(cuts.wall_high_mm)}"))
    lines.append(("minimum wall", words.minimum_words(answer, units).removeprefix("minimum ")))
    return lines
