"""A month of the shop's book on a sheet: jobs by month, hours quoted and taken, gaps read against gaps said."""

from __future__ import annotations

from calendar import month_abbr
from textwrap import fill, shorten

from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import MaxNLocator

from geartrack.draw import ink
from geartrack.shopbook.report import Month, Report
from geartrack.shopbook.summary import GapPair
from geartrack.units import Units, show_both

_SIZE = (11.0, 6.9)  # inches: a laptop's screen
_LINES, _PAIRS, _NAME = 8, 30, 30
_ADDED: ink.Style = {"facecolor": "white", "edgecolor": ink.INK, "linewidth": 1.0}
_WON: ink.Style = {"facecolor": "#4f6f8a", "edgecolor": ink.INK, "linewidth": 1.0}
_LOST: ink.Style = {"facecolor": "#f0dcc8", "edgecolor": ink.INK, "linewidth": 1.0, "hatch": "////"}
_MEAN: ink.Style = {"facecolor": "#dfe7ee", "edgecolor": "#7ba3c4", "linewidth": 0.8, "hatch": "\\\\"}


def report_figure(made: Report, units: Units) -> Figure:
    """The report of a month, with the year up to it and every gap up to its end."""
    title, sentence = f"The shop's book, {made.month}", _sentence(made, units)
    figure = Figure(figsize=_SIZE, facecolor="white", label=f"{title}. {sentence}")
    figure.suptitle(title, x=0.03, y=0.965, ha="left", va="top", fontsize=18, fontweight="bold", color=ink.INK)
    figure.text(0.03, 0.895, fill(sentence, 142), va="top", fontsize=ink.TEXT, color=ink.INK, linespacing=1.35)
    months_view(figure.add_axes((0.06, 0.475, 0.36, 0.275)), made.months)
    hours_view(figure.add_axes((0.65, 0.475, 0.32, 0.275)), made)
    gaps_view(figure.add_axes((0.09, 0.095, 0.88, 0.255)), made, units)
    return figure


def months_view(ax: Axes, months: tuple[Month, ...]) -> Axes:
    """Jobs added, quotes won and quotes lost, by month."""
    looks = (("added", _ADDED), ("won", _WON), ("lost", _LOST))
    for n, (name, look) in enumerate(looks):
        heights = [getattr(month, name) for month in months]
        ax.bar([x + 0.28 * (n - 1) for x in range(len(months))], heights, width=0.26, label=name, gid=name, **look)
    ax.set_xticks(range(len(months)), [_month_name(n, month) for n, month in enumerate(months)])
    ax.yaxis.set_major_locator(MaxNLocator(5, integer=True))
    ax.set_ylim(0, 1.28 * max(1, *(max(m.added, m.won, m.lost) for m in months)))
    ax.legend(loc="upper left", ncols=3, frameon=False, fontsize=ink.SMALL, labelcolor=ink.INK)
    _titled(ax, "Jobs and quotes by month")
    return ax


def _month_name(n: int, month: Month) -> str:
    """Such as Mar; with the year below in January, and in the first where no January comes right after it."""
    year, number = month.month.split("-")
    name = month_abbr[int(number)]
    return f"{name}\n{year}" if number == "01" or (n == 0 and number != "12") else name


def hours_view(ax: Axes, made: Report) -> Axes:
    """Hours of the jobs finished this month by line: quoted as an outline, taken filled; the most taken on top."""
    lines = made.lines[:_LINES]
    _titled(ax, "Hours a job, jobs finished this month")
    if not lines:
        return _nothing(ax, "no job of this month has its hours yet")
    for row, each in enumerate(lines):
        ax.barh(row, each.taken_hours, height=0.44, gid=f"{each.line} taken", **_WON)
        ax.barh(row, each.quoted_hours, height=0.74, facecolor="none", edgecolor=ink.INK, linewidth=1.2, gid=each.line)
        beyond = max(each.taken_hours, each.quoted_hours)
        words = f"{each.quoted_hours:.2f} quoted, {each.taken_hours:.2f} taken"
        ink.beside(ax, beyond, row, words, (5, 0), ha="left", va="center")
    ax.set_yticks(range(len(lines)), [shorten(each.line, _NAME, placeholder=" …") for each in lines])
    ax.set_ylim(len(lines) - 0.4, -0.6)
    ax.set_xlim(0, 1.9 * max(max(each.taken_hours, each.quoted_hours) for each in lines) or 1.0)
    ax.set_xlabel("hours: outline quoted, filled taken", fontsize=ink.SMALL, color=ink.INK)
    return ax


def gaps_view(ax: Axes, made: Report, units: Units) -> Axes:
    """Each gap read less the gap said, against the low to high that was said; and the mean's 95 % interval."""
    pairs = made.pairs[-_PAIRS:]
    _titled(ax, "Gap read less gap said, job by job: bars are the low to high that was said")
    if not pairs:
        return _nothing(ax, "no gap was both said and read yet")
    ax.axhline(0.0, color=ink.INK, linewidth=1.2, zorder=1, gid="as said")
    ends = [[pair.said_mm - pair.low_mm for pair in pairs], [pair.high_mm - pair.said_mm for pair in pairs]]
    bars: ink.Style = {"fmt": "none", "ecolor": ink.SOFT, "elinewidth": 1.1, "capsize": 4}
    ax.errorbar(range(len(pairs)), [0.0] * len(pairs), yerr=ends, **bars)
    for inside, marker, name in ((True, "o", "within low to high"), (False, "X", "outside")):
        chosen = [(x, pair.error_mm) for x, pair in enumerate(pairs) if pair.inside is inside]
        if chosen:
            xs, ys = zip(*chosen, strict=True)
            ax.plot(xs, ys, marker, color=ink.INK, markersize=8, label=name, gid=name, zorder=3)
    _gap_window(ax, pairs, units)
    mean, (bottom, top) = made.all_gaps.error if made.all_gaps else None, ax.get_ylim()
    if mean and mean.low is not None and mean.high is not None and bottom < mean.low < mean.high < top:
        ax.axhspan(mean.low, mean.high, zorder=0, gid="mean", label="mean of all, 95 % sure", **_MEAN)
    ax.legend(loc="upper right", ncols=3, frameon=False, fontsize=ink.SMALL, labelcolor=ink.INK)
    return ax


def _gap_window(ax: Axes, pairs: tuple[GapPair, ...], units: Units) -> None:
    low = min(0.0, *(min(pair.low_mm - pair.said_mm, pair.error_mm) for pair in pairs))
    high = max(0.0, *(max(pair.high_mm - pair.said_mm, pair.error_mm) for pair in pairs))
    tall = high - low or 1.0
    ax.set_ylim(low - 0.1 * tall, high + 0.32 * tall)
    ax.set_xlim(-0.6, max(len(pairs), 6) - 0.4)
    ax.set_xticks(range(len(pairs)), [pair.at[5:10] for pair in pairs], rotation=90 if len(pairs) > 16 else 0)
    ax.set_xlabel("month and day of the reading", fontsize=ink.SMALL, color=ink.INK)
    ink.ruled_axis(ax.yaxis, ax.get_ylim(), units, "more gap than said")


def _titled(ax: Axes, title: str) -> None:
    ax.set_title(title, loc="left", fontsize=ink.TITLE, fontweight="bold", color=ink.INK)
    ink.plain(ax)
    for side in ("top", "right"):
        ax.spines[side].set_visible(False)


def _nothing(ax: Axes, words: str) -> Axes:
    ax.set_xticks([])
    ax.set_yticks([])
    ax.text(0.5, 0.5, words, transform=ax.transAxes, ha="center", va="center", fontsize=ink.TEXT, color=ink.SOFT)
    return ax


def _sentence(made: Report, units: Units) -> str:
    this = made.this
    decided = this.won + this.lost
    said = [
        f"Jobs added: {this.added}; {this.won} of {decided} quotes decided were won."
        if decided
        else f"Jobs added: {this.added}."
    ]
    if made.hours_words:
        said.append(made.hours_words)
    if made.all_gaps:
        error, inside = made.all_gaps.error, made.all_gaps.inside
        way = "more" if error.mean >= 0 else "less"
        said.append(f"Gaps read: on average {show_both(abs(error.mean), units)} {way} than said;")
        said.append(f"{inside} of {error.n} lay within low to high.")
    return " ".join(said)
