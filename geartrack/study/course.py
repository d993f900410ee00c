"""How far the work in passes has come, and what the readings at its fit checks make of the rest."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from statistics import NormalDist

from geartrack.errors import refuse
from geartrack.job import TOOLS
from geartrack.quantity import Quantity
from geartrack.relief import even_steps, full_steps
from geartrack.study.answer import Answer
from geartrack.study.grindable import cuts_to_grind, stop_of
from geartrack.units import parse_length, show_both

FAR_OFF = 5  # times the gap wanted, above any gap to expect: a slip of the pen, not a reading
HEAVIEST_MM = parse_length("0.010 in")  # a pass is 0.005 to 0.010 in: common practice, no source
SMALL_MM = 1e-6
_USUAL = 97.5  # chance, in percent, that a give or take stands for on one side


def _sigmas(chance: float) -> float:
    """How many standard deviations of a normal leave a chance [%] to one side."""
    return NormalDist().inv_cdf(chance / 100)


@dataclass(frozen=True)
class Course:
    """How far the work has come: clearances cut for, the last reading, and what they make of the rest.

    cuts: each pass made: its clearance [mm], and whether it was only for a gap that read short. expected: what the gap
    should have read after each, with low and high [mm]. spread: down and up, of the gap to expect [mm]. placed: a
    reading has told where the ring stands. margin_mm: what the cut to hold the gap takes beyond the one to reach it.
    """

    answer: Answer
    depth_mm: float | None
    grown_mm: float
    cuts: tuple[tuple[float, bool], ...]
    expected: tuple[tuple[float, float, float], ...]
    read: tuple[Quantity | None, ...]
    cut_mm: float
    nearer_mm: float
    spread: tuple[float, float]
    placed: bool = False
    now: Quantity | None = None
    flagged: tuple[str, ...] = field(default=())
    margin_mm: float = 0.0

    @classmethod
    def begun(cls, answer: Answer, depth_mm: float | None) -> Course:
        """Before any pass."""
        grown = cuts_to_grind(answer).nominal.clearance_mm - answer.target_mm
        gap, band = answer.gap.nominal_mm, answer.band
        down, up = gap - band.low, band.high - gap
        if band.after is not None:
            down, up = max(down, answer.target_mm - band.after.low), max(up, band.after.high - answer.target_mm)
        return cls(answer, depth_mm, grown, (), (), (), gap + grown, 0.0, (down, up), margin_mm=band.margin)

    @property
    def calculated_mm(self) -> float:
        """The gap as calculated for the boss as cut so far, had the ring stood as calculated."""
        return self.cut_mm - self.grown_mm

    @property
    def to_mm(self) -> float:
        """The clearance that gives the gap wanted with the ring where it stands."""
        return self.answer.target_mm + self.grown_mm + self.nearer_mm

    @property
    def hold_mm(self) -> float:
        """The clearance that holds the gap wanted with the job's chance."""
        return self.to_mm + max(self.margin_mm, 0.0)

    @property
    def stop_mm(self) -> float:
        """The clearance of STOP."""
        return stop_of(cuts_to_grind(self.answer)).clearance_mm

    def reads(self, clearance_mm: float) -> tuple[float, float, float]:
        """What the gap should read after the cut for a clearance, its low and its high [mm]."""
        gap = clearance_mm - self.grown_mm - self.nearer_mm
        return gap, gap - self.spread[0], gap + self.spread[1]

    def ahead(self) -> list[tuple[float, bool]]:
        """The clearances of the passes from here, and whether each is only for a gap that still reads short."""
        to = min(self.to_mm, self.stop_mm)
        hold = min(self.hold_mm, self.stop_mm)
        parts = ((self.cut_mm, to, False), (max(to, self.cut_mm), hold, True))
        return [(each, short) for start, end, short in parts for each in self._steps(start, end)]

    def _steps(self, from_mm: float, to_mm: float) -> list[float]:
        if to_mm <= from_mm + SMALL_MM:
            return []
        boss, section = self.answer.boss, self.answer.section
        if self.depth_mm is None:
            found = even_steps(boss, section, from_mm=from_mm, to_mm=to_mm, most_mm=HEAVIEST_MM)
        else:
            found = full_steps(boss, section, from_mm=from_mm, to_mm=to_mm, depth_mm=self.depth_mm)
        return [float(each) for each in found]

    def made_more(self, count: int) -> Course:
        """After the next passes; none is read yet."""
        ahead = self.ahead() if count else []
        if count > len(ahead):
            what = f"{len(self.cuts) + count} passes made, but {len(self.cuts) + len(ahead)} were planned"
            raise refuse(self.answer.job.name, what, "a reading for each pass made, in order")
        more = tuple(ahead[:count])
        return replace(
            self,
            cuts=self.cuts + more,
            expected=self.expected + tuple(self.reads(clearance) for clearance, _ in more),
            read=self.read + (None,) * count,
            cut_mm=more[-1][0] if more else self.cut_mm,
        )

    def told(self, reading: Quantity) -> Course:
        """After a gap was read with the cut as it is."""
        give = reading.spread or TOOLS["feeler"].two_sigma_mm
        self._refuse_slips(reading.value)
        nearer, low = self.calculated_mm - reading.value, give
        if reading.value <= 0:  # touching: the gap is no more than nothing
            furthest = self.nearer_mm + self.spread[0]
            low = max(give, furthest - nearer)
        course = replace(
            self,
            read=(*self.read[:-1], reading) if self.read else (),
            now=reading,
            flagged=self.flagged + self._doubts(reading.value, give),
        )
        if reading.value <= 0 and nearer <= self.nearer_mm:
            return course  # which was known
        margin = low * _sigmas(self.answer.job.target.confidence) / _sigmas(_USUAL)
        return replace(course, nearer_mm=nearer, spread=(low, give), placed=True, margin_mm=margin)

    def _refuse_slips(self, read_mm: float) -> None:
        """Raises InputError for a reading that no cut of this job could give."""
        units, (_, _, high) = self.answer.job.units, self.reads(self.cut_mm)
        if read_mm > max(high, 0.0) + FAR_OFF * self.answer.target_mm:
            what = f"a gap of {show_both(read_mm, units)} is far over the {show_both(max(high, 0.0), units)} to expect"
            raise refuse("", what, "the gap that was read; was the decimal point meant further left?")

    def _doubts(self, read_mm: float, give_mm: float) -> tuple[str, ...]:
        """What a reading does not go with: the range of the gap, or what the last pass should have given."""
        gap, low, high = self.reads(self.cut_mm)
        before = self.cuts[-2][0] if len(self.cuts) > 1 else self.answer.gap.nominal_mm + self.grown_mm
        loose = give_mm + ((self.cut_mm - before) / 2 if self.placed else 0.0)
        if low - loose <= read_mm <= high + loose or (read_mm <= 0 and low <= 0):
            return ()
        units = self.answer.job.units
        read = show_both(read_mm, units)
        if self.placed:
            expected = show_both(max(gap, 0.0), units)
            said = f"it reads {read}, where {expected} was to be expected after the reading before"
            return (f"{said}: was the pass cut as planned, and does nothing else touch?",)
        ends = f"{show_both(low, units)} to {show_both(high, units)}"
        said = f"{read} lies outside the low to high of this job after this cut, {ends}"
        return (f"{said}: read it again; if it stays, stop and put it into the job under [[readings]]",)
