"""A month of the book: jobs, how many were won, hours quoted and taken, how the gaps said came out."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date

from geartrack.errors import refuse
from geartrack.shopbook.learn import GapBias, LineHours, gap_bias, line_hours
from geartrack.shopbook.summary import GapPair, Summary

MONTHS_BACK = 12


@dataclass(frozen=True)
class Month:
    """What happened in a month: jobs added, quotes won and lost, hours of the jobs finished [h].

    quoted_hours, taken_hours: of the lines that have both; other_hours: taken on what no quote named.
    """

    month: str
    added: int
    won: int
    lost: int
    quoted_hours: float
    taken_hours: float
    other_hours: float = 0.0


@dataclass(frozen=True)
class Report:
    """A month, the twelve up to it, and the gap over all time.

    jobs: those added, decided or finished in the month; lines: hours of those finished in it; gaps: read in it;
    pairs: every gap up to its end that was both said and read, in order of reading.
    """

    month: str
    jobs: tuple[Summary, ...]
    lines: tuple[LineHours, ...]
    gaps: GapBias | None
    all_gaps: GapBias | None
    pairs: tuple[GapPair, ...]
    months: tuple[Month, ...]

    @property
    def this(self) -> Month:
        """The month itself."""
        return self.months[-1]

    @property
    def hours_words(self) -> str:
        """Hours quoted and taken in the month; empty where none were taken."""
        this = self.this
        if not this.taken_hours and not this.other_hours:
            return ""
        said = f"Hours of the jobs finished, lines that have both: quoted {this.quoted_hours:.2f}, taken"
        other = f"; {this.other_hours:.2f} more on work that no quote named" if this.other_hours else ""
        return f"{said} {this.taken_hours:.2f}{other}."

    @property
    def states(self) -> Mapping[str, int]:
        """How the quotes of its jobs stand."""
        return Counter(job.state for job in self.jobs if job.state)


def report(jobs: Iterable[Summary], month: str | None = None) -> Report:
    """The report of a month such as "2026-03", or of the month in which anything last happened."""
    jobs = list(jobs)
    times = [at for job in jobs for at in _times(job)]
    if not times:
        raise refuse("report", "the book has no jobs yet", "`geartrack book add JOB`")
    month = checked_month(month) if month else max(times)[:7]
    finished = [job for job in jobs if _in(job.finished, month)]
    pairs = sorted((job.gap for job in jobs if job.gap and job.gap.at[:7] <= month), key=lambda pair: pair.at)
    return Report(
        month,
        tuple(job for job in jobs if any(_in(at, month) for at in _times(job))),
        line_hours(finished),
        gap_bias([pair for pair in pairs if _in(pair.at, month)]),
        gap_bias(pairs),
        tuple(pairs),
        tuple(_month(jobs, each) for each in months_to(month)),
    )


def checked_month(text: str) -> str:
    """A month as typed; InputError for what is none."""
    try:
        if len(text) == 7:
            return date.fromisoformat(f"{text}-01").isoformat()[:7]
    except ValueError:
        pass
    raise refuse("--month", f"{text[:20]!r} is no month", "year and month, such as 2026-03")


def months_to(month: str) -> list[str]:
    """The twelve months up to this one.

    >>> months_to("2026-03")[0], len(months_to("2026-03"))
    ('2025-04', 12)
    """
    last = int(month[:4]) * 12 + int(month[5:]) - 1
    return [f"{n // 12:04d}-{n % 12 + 1:02d}" for n in range(max(last - MONTHS_BACK + 1, 12), last + 1)]


def _month(jobs: Iterable[Summary], month: str) -> Month:
    jobs = list(jobs)
    decided = [job.won for job in jobs if _in(job.decided, month)]
    lines = [
        (job.quoted[line][1], hours)
        for job in jobs
        if _in(job.finished, month)
        for line, hours in job.taken.items()
        if line in job.quoted
    ]
    other = [
        hours for job in jobs if _in(job.finished, month) for line, hours in job.taken.items() if line not in job.quoted
    ]
    return Month(
        month,
        sum(_in(job.added, month) for job in jobs),
        decided.count(True),
        decided.count(False),
        sum(quoted for quoted, _ in lines),
        sum(taken for _, taken in lines),
        sum(other),
    )


def _times(job: Summary) -> list[str]:
    return [at for at in (job.added, job.decided, job.finished, job.gap and job.gap.at) if at]


def _in(at: str | None, month: str) -> bool:
    return at is not None and at.startswith(month)
