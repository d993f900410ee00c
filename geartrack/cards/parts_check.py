"""The parts check before the order: does what lies there, or was ordered, belong together at all? Before any gap."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from geartrack.cards.answer import PartLine, PartsAnswer
from geartrack.cards.entries import Card, Entry, Setting, Slip, length, one_of, read_entries
from geartrack.inputs import LEAST_SHARE, LEAST_WALL_MM
from geartrack.units import Units, parse_length, show_both

PRESS_MM = parse_length("0.002 in")  # a race on its stub: published 0.0006 to 0.0019 in press, a heavy truck's axle
SHAKE_MM = parse_length("0.004 in")  # a stub looser than this in its bearing is another size; from memory
SAME_BORE_MM = parse_length("0.002 in")  # outer ring in its bore: published +0.0009 to -0.0007 in, the same axle
_SAID = one_of(yes="yes, y", no="no, n", not_seen="not seen, don't know")
_WORDS = {"yes": "yes", "no": "no", "not_seen": "not seen"}


@dataclass(frozen=True)
class Question:
    """A yes-or-no line: what it is called, what is asked, what to do at no and at not seen, whether no stops it all."""

    key: str
    part: str
    question: str
    if_no: str
    if_not_seen: str
    stops: bool


QUESTIONS = (
    Question(
        "numbers",
        "Numbers",
        "Do the numbers etched on ring and pinion match?",
        "not one matched set: send it back",
        "read the numbers on both; they are lapped as a pair",
        True,
    ),
    Question(
        "teeth",
        "Teeth",
        "Counted on ring and pinion, are the teeth what was ordered?",
        "the wrong ratio: send it back",
        "count both; boxes are mislabelled",
        True,
    ),
    Question(
        "depth",
        "Depth",
        "Was the depth stamped on the pinion read and written down?",
        "read it and write it down with its sign",
        "read it and write it down with its sign",
        False,
    ),
    Question(
        "retained",
        "Pilot held",
        "Is the pilot bearing held on its stub by a stake or a ring?",
        "it must be held before it runs: a ring or a new stake",
        "look for the ring or the stake",
        True,
    ),
    Question(
        "spline",
        "Spline",
        "Does the pinion's spline fit the yoke or flange?",
        "another yoke or another pinion",
        "count the splines on both",
        True,
    ),
    Question(
        "offset",
        "Offset",
        "Is the set made for this axle's hypoid offset?",
        "it cannot mesh in this case: send it back",
        "ask the maker, or read it by bar over bar (geartrack quick bare-case)",
        True,
    ),
    Question(
        "bolts",
        "Ring bolts",
        "Do bolt circle and thread of the ring fit the carrier?",
        "another carrier, or bolts and spacers that its maker allows",
        "offer the ring up to the carrier with one bolt",
        True,
    ),
    Question(
        "cross_pin",
        "Cross pin",
        "Does the cross pin come out past this ring?",
        "the pin goes in before the ring, or a ring made with room for it",
        "offer a rod of the pin's size up past the ring's teeth",
        False,
    ),
    Question(
        "flange",
        "Carrier",
        "Does the carrier's ring-flange height fit the set (standard, thick or thin)?",
        "the carrier or the thick or thin set that belongs to it, or a ring spacer",
        "read the flange height, and ask which one the set is made for",
        True,
    ),
)
SIZES = (
    Entry(
        "stub",
        "Pinion stub diameter",
        "Micrometer or caliper on the stub where the pilot bearing sits.",
        "whether it goes into the bearing is not known",
        length,
        8.0,
        100.0,
        (Slip(4.0, 8.0, "was a radius read?"),),
    ),
    Entry(
        "bearing_bore",
        "Pilot bearing's bore",
        "Caliper, or the bearing's number.",
        "whether the stub goes in is not known",
        length,
        8.0,
        100.0,
    ),
    Entry(
        "bearing_outside",
        "Pilot bearing's outside diameter",
        "Micrometer, or the bearing's number.",
        "whether it fits this case is not known",
        length,
        15.0,
        120.0,
        (Slip(7.0, 15.0, "was a radius read?"),),
    ),
    Entry(
        "bearing_width",
        "Pilot bearing's width",
        "Caliper, or the bearing's number.",
        "whether it stands out of its bore is not known",
        length,
        5.0,
        60.0,
    ),
    Entry(
        "pilot_bore",
        "Pilot bore of this case",
        "Bore gauge or caliper, at two places square to each other.",
        "whether the bearing fits is not known",
        length,
        15.0,
        120.0,
        (Slip(7.0, 15.0, "was a radius read?"),),
    ),
    Entry(
        "bore_depth",
        "Depth of that bore",
        "Depth rod from the pinion-side end.",
        "whether the bearing stands out is not known",
        length,
        3.0,
        90.0,
    ),
    Entry(
        "wall",
        "Thinnest wall round that bore now",
        "Ball caliper round the pinion-side end.",
        "the wall round another bore is not known",
        length,
        1.0,
        40.0,
        method="wall",
    ),
)
ENTRIES = (
    *SIZES,
    *(Entry(q.key, f"{q.question} yes / no / not seen", q.if_not_seen, "not seen", _SAID) for q in QUESTIONS),
)


def work(typed: Mapping[str, str], setting: Setting) -> PartsAnswer:
    """The parts check from typed texts. Raises InputError with every fault."""
    said = read_entries(ENTRIES, typed, setting.bare)
    sizes = [*_stub(said, setting.units), *_bearing(said, setting.units)]
    lines = (*sizes, *(_line(question, said.get(question.key, "not_seen")) for question in QUESTIONS))
    wall = _wall_mm(said)
    return PartsAnswer(
        "parts", lines, any(line.stops for line in lines), _sentence(lines), _sums(said, wall, setting.units), wall
    )


CARD = Card("parts", ENTRIES, work)


def _sentence(lines: tuple[PartLine, ...]) -> str:
    stops = [f"{line.part.lower()}: {line.todo}" for line in lines if line.stops]
    if stops:
        return f"Cannot be built as it lies: {'; '.join(stops)}."
    unseen = [line.part.lower() for line in lines if line.said == "not seen"]
    wrong = [line.part.lower() for line in lines if line.todo and line.said != "not seen"]
    said = [f"to put right: {', '.join(wrong)}"] if wrong else ["nothing against it in what was seen"]
    said += [f"not seen: {', '.join(unseen)}"] if unseen else []
    return f"{'; '.join(said)}.".capitalize()


def _line(question: Question, said: str) -> PartLine:
    todo = {"yes": "", "no": question.if_no, "not_seen": question.if_not_seen}[said]
    return PartLine(question.part, _WORDS[said], todo, stops=question.stops and said == "no")


def _stub(said: Mapping[str, Any], units: Units) -> Iterator[PartLine]:
    """The stub in its bearing, and in this case's bore: too big is the end of it, before any gap."""
    stub, race, bore = (said.get(key) for key in ("stub", "bearing_bore", "pilot_bore"))
    if stub is None or (race is None and bore is None):
        yield PartLine("Stub", "not seen", "read the stub and the pilot bearing's bore")
        return
    size = show_both(stub, units)
    if bore is not None and stub >= bore:
        yield PartLine("Stub", f"{size} in a case bored {show_both(bore, units)}", "too big for this case", True)
    elif race is None:
        yield PartLine("Stub", size, "read the pilot bearing's bore")
    else:
        into = f"{size} in {show_both(race, units)}"
        if stub > race + PRESS_MM:
            yield PartLine("Stub", into, "too big for this pilot bearing: another bearing, if one fits", True)
        elif stub < race - SHAKE_MM:
            yield PartLine("Stub", into, "loose on this stub: another pilot bearing", True)
        else:
            yield PartLine("Stub", into, "")


def _bearing(said: Mapping[str, Any], units: Units) -> Iterator[PartLine]:
    """The bearing in this case: the same size, another bore with another wall, or a sleeve."""
    outside, bore = said.get("bearing_outside"), said.get("pilot_bore")
    if outside is None or bore is None:
        yield PartLine("Pilot bearing", "not seen", "read the bearing's outside and this case's bore")
    else:
        into = f"{show_both(outside, units)} in {show_both(bore, units)}"
        if abs(outside - bore) <= SAME_BORE_MM:
            yield PartLine("Pilot bearing", into, "")
        elif outside < bore:
            yield PartLine("Pilot bearing", into, "smaller than this bore: the bearing of this bore, or a sleeve")
        else:
            yield _bored_out(said, into, units)
    width, depth = said.get("bearing_width"), said.get("bore_depth")
    if width is not None and depth is not None and width > depth:
        wide = f"{show_both(width, units)} wide in {show_both(depth, units)}"
        yield PartLine("Bearing width", wide, "stands out of its bore toward the pinion: room there, or a narrower one")


def _bored_out(said: Mapping[str, Any], into: str, units: Units) -> PartLine:
    wall, now = _wall_mm(said), said.get("wall")
    if wall is None or now is None:
        return PartLine("Pilot bearing", into, "another bore, so another wall: read the thinnest wall now")
    if wall <= 0:
        return PartLine("Pilot bearing", into, "the larger bore leaves no wall", True)
    least = max(LEAST_WALL_MM, LEAST_SHARE * now)
    left = f"another bore: wall {show_both(wall, units, rounding='down')} left"
    short = f", under {show_both(least, units, rounding='up')} (default, from memory)" if wall < least else ""
    return PartLine("Pilot bearing", into, f"{left}{short}; then every wall is read again before any grinding")


def _wall_mm(said: Mapping[str, Any]) -> float | None:
    """The wall left round a larger bearing's bore: the wall now less half of what the bore grows [mm]."""
    if not {"wall", "bearing_outside", "pilot_bore"} <= said.keys():
        return None
    grows = said["bearing_outside"] - said["pilot_bore"]
    return float(said["wall"] - grows / 2) if grows > SAME_BORE_MM else None


def _sums(said: Mapping[str, Any], wall: float | None, units: Units) -> tuple[str, ...]:
    if wall is None:
        return ()
    now, new, old = (show_both(said[key], units) for key in ("wall", "bearing_outside", "pilot_bore"))
    return (f"wall: {now} - ({new} - {old})/2 = {show_both(wall, units, rounding='down')}",)
