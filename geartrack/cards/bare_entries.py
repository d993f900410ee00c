"""What the bare-case card asks, sixteen entries, and what no single one of them shows."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from geartrack.cards.bare_sums import ring_below_mm
from geartrack.cards.case import read_case
from geartrack.cards.entries import Entry, Slip, length, lengths, one_of, teeth
from geartrack.errors import Finding
from geartrack.units import Units, show_both

FIT_MM = 0.1  # a bar may be read this much larger than the bore it sits in
_MOST_OFFSET = 0.35  # of the ring diameter; usual 0.10 to 0.25, from memory
_DEEP = (0.3, 0.9)  # h over D: a saddle is about half a bore
_NOTHING = ("none", "no", "flat", "a flat")


def _stands_out(text: str, where: str, units: Units | None) -> float:
    said = text.strip().lower()
    return 0.0 if said in (*_NOTHING, "0") else length(text, where, units)


_WHOLE_BAR = "was the whole bar taken, or the radius?"
ENTRIES = (
    Entry(
        "teeth",
        "Teeth of the new set (such as 7/36), or its ratio",
        "Count them, or the maker's figures.",
        "no answer without them",
        teeth,
    ),
    Entry(
        "ring_diameter",
        "Ring gear diameter",
        "Across the outside of the ring gear, or the maker's figure.",
        "no answer without it",
        length,
        100.0,
        500.0,
    ),
    Entry(
        "case",
        "Case: nodular, grey, aluminium or don't know; ever ground, cracked or welded?",
        "Casting mark, magnet and file; look along the boss for a scallop, a weld or a crack.",
        "the metal is taken as not known",
        read_case,
    ),
    Entry(
        "square",
        "Is the caps' parting face square to the pinion's bores: yes or no?",
        "A square on the parting face against a bar in the pinion's bores.",
        "taken as square, give or take half a degree (from memory)",
        one_of(yes="yes, y", no="no, n"),
        method="saddle-depth",
    ),
    Entry(
        "saddle_depth",
        "h: parting face to the saddle's bottom",
        "Straightedge on both parting faces of one saddle, depth rod to the lowest place; take off the straightedge.",
        "no answer without it",
        length,
        15.0,
        110.0,
        (Slip(110.0, 200.0, "was the straightedge's height left in?"),),
        "saddle-depth",
    ),
    Entry(
        "saddle_bore",
        "D: saddle bore, caps on and torqued",
        "Bore gauge or caliper across the saddle bore, caps torqued.",
        "no answer without it; it is never taken as twice h",
        length,
        30.0,
        160.0,
        (Slip(15.0, 30.0, "was a radius read?"),),
        "saddle-depth",
    ),
    Entry(
        "boss_depth",
        "k: parting face to the near end of the boss",
        "Straightedge from saddle to saddle over the boss, depth rod to the end you see; take off the straightedge.",
        "no answer without it",
        length,
        0.0,
        200.0,
        (),
        "saddle-depth",
    ),
    Entry(
        "boss_length",
        "L: length of the boss, near end to pinion-side end",
        "Caliper along the boss.",
        "no answer without it",
        length,
        8.0,
        90.0,
        (),
        "saddle-depth",
    ),
    Entry(
        "over_bars",
        "c: caliper over both bars, one in the saddles, one in the pilot bore",
        "Rock the caliper and keep the least.",
        "no answer without it",
        length,
        20.0,
        300.0,
        (),
        "bar-over-bar",
    ),
    Entry(
        "saddle_bar",
        "s: diameter of the bar in the saddles, where the caliper touches",
        "Caliper on the bar.",
        "taken as large as the saddle bore",
        length,
        8.0,
        160.0,
        (Slip(4.0, 8.0, _WHOLE_BAR),),
        "bar-over-bar",
    ),
    Entry(
        "pilot_bar",
        "p: diameter of the bar in the pilot bore, where the caliper touches",
        "Caliper on the bar.",
        "taken as large as the pilot bore",
        length,
        8.0,
        120.0,
        (Slip(4.0, 8.0, _WHOLE_BAR),),
        "bar-over-bar",
    ),
    Entry(
        "hand",
        "Hand: from the pinion-nut end, ring gear at the top, is the ring's centre line left (A) or right (B) of it?",
        "A: left, the pinion lies below the ring's centre line. B: right, it lies above.",
        "both hands are worked and the closer one is answered",
        one_of(below="a, left, below", above="b, right, above"),
        method="clock",
    ),
    Entry(
        "pilot_bore",
        "Pilot bore diameter",
        "Bore gauge or caliper, at two places square to each other.",
        "no answer without it",
        length,
        15.0,
        120.0,
        (Slip(7.0, 15.0, "was a radius read?"),),
    ),
    Entry(
        "bore_depth",
        "Depth of the pilot bore from the pinion-side end",
        "Depth rod.",
        "taken as long as the boss",
        length,
        3.0,
        90.0,
    ),
    Entry(
        "walls",
        "Wall at the pinion-side end at 10, 11, 12, 1 and 2 o'clock (five values, spaces between)",
        "12 o'clock is straight toward the ring gear, seen from the pinion-nut end; the others 30 and 60 deg each way.",
        "taken as 0.35 in, 0.25 to 0.45 in (low confidence, from memory)",
        lengths(5),
        2.0,
        30.0,
        (Slip(30.0, 100.0, "was it read across the bore?"),),
        "wall",
    ),
    Entry(
        "stands_out",
        "Any rib or lip on the ring's side: how far it stands out (0 for none or for a flat)",
        "A finger round the boss from 9 to 3 o'clock, then a caliper.",
        "taken as up to 2 mm (from memory)",
        _stands_out,
        0.0,
        15.0,
    ),
)
NEEDED = tuple(entry.key for entry in ENTRIES if entry.blank.startswith("no answer"))


def checks(said: Mapping[str, Any]) -> Iterator[Finding]:
    """The faults between entries, each with its likely slip."""
    for check in (_saddle, _bars, _end_face, _offset, _bore):
        try:
            yield from check(said)
        except KeyError:  # an entry it needs was left blank, or did not read
            continue


def _saddle(said: Mapping[str, Any]) -> Iterator[Finding]:
    h, bore = said["saddle_depth"], said["saddle_bore"]
    low, high = (share * bore for share in _DEEP)
    if not low <= h <= high:
        right = f"between {show_both(low, 'in')} and {show_both(high, 'in')} for this bore"
        slip = "was the straightedge's height left in, or D read as a radius?" if h > high else "was D read loose?"
        yield Finding("saddle depth", f"h of {show_both(h, 'in')} does not go with D", f"{right}; {slip}")


def _bars(said: Mapping[str, Any]) -> Iterator[Finding]:
    for bar, bore in (("saddle_bar", "saddle_bore"), ("pilot_bar", "pilot_bore")):
        if bar in said and bore in said and said[bar] > said[bore] + FIT_MM:
            what = f"{show_both(said[bar], 'in')} does not go into the {bore.replace('_', ' ')}"
            yield Finding(
                bar.replace("_", " "), what, f"at most {show_both(said[bore], 'in')}; were the two bars swapped?"
            )


def _end_face(said: Mapping[str, Any]) -> Iterator[Finding]:
    below = ring_below_mm(said["saddle_depth"], said["saddle_bore"])
    far = said["boss_depth"] - below + said["boss_length"]
    half = said["ring_diameter"] / 2
    if not 5.0 <= far < half:
        what = f"puts the boss's pinion-side end {show_both(far, 'in')} from the ring's centre line"
        right = f"between 0.200 in (5.08 mm) and {show_both(half, 'in')}; was k read to the other end of the boss?"
        yield Finding("boss depth", what, right)


def _offset(said: Mapping[str, Any]) -> Iterator[Finding]:
    bars = [said.get("saddle_bar", said["saddle_bore"]), said.get("pilot_bar", said["pilot_bore"])]
    offset, most = said["over_bars"] - sum(bars) / 2, _MOST_OFFSET * said["ring_diameter"]
    if not -FIT_MM <= offset <= most:
        what = f"leaves a hypoid offset of {show_both(offset, 'in')}"
        right = f"between 0 and {show_both(most, 'in')}; was c read over the outer sides, less half of each bar?"
        yield Finding("over bars", what, right)


def _bore(said: Mapping[str, Any]) -> Iterator[Finding]:
    if said["bore_depth"] > said["boss_length"] + FIT_MM:
        right = f"at most the boss's length, {show_both(said['boss_length'], 'in')}; were the two swapped?"
        yield Finding("bore depth", f"{show_both(said['bore_depth'], 'in')} is deeper than the boss is long", right)
