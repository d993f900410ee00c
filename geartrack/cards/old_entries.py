"""What the old-gears card asks, eleven entries, and what no single one of them shows."""

from __future__ import annotations

import re
from dataclasses import dataclass

from geartrack.cards.entries import Entry, Slip, length, lengths
from geartrack.errors import InputError, refuse
from geartrack.gearset.teeth import ToothPair, one_pair
from geartrack.units import Units, parse_length, show_both

NEEDED = ("old_teeth", "new_teeth", "axle", "gap")
TOGETHER = ("old_height", "new_height", "carrier", "set")  # they count together only
TAKEN_BY = ("feeler", "solder", "clay")
_RING_MM, _MOST_OFFSET = (100.0, 500.0), 0.35  # offset over ring diameter; usual 0.10 to 0.25, from memory


@dataclass(frozen=True)
class Size:
    """An axle that no list has: its ring diameter, and its hypoid offset where that was said; both as typed too."""

    ring_mm: float
    offset_mm: float | None
    typed: tuple[str, ...]


def _pair(text: str, where: str, units: Units | None) -> ToothPair:
    return one_pair(text, where)


def _axle(text: str, where: str, units: Units | None) -> str | Size:
    """A name of the shop's list, or ring diameter and offset.

    >>> _axle("9 in; offset 2 1/4 in", "axle", None)
    Size(ring_mm=228.6, offset_mm=57.15, typed=('9 in', '2 1/4 in'))
    """
    said = " ".join(text.split())
    if not re.match(r"[\d.]", said):
        return said
    pieces = [piece for piece in re.split(r"\s*;\s*(?:offset\s+)?|,?\s+offset\s+", said) if piece]
    if len(pieces) > 2:
        raise refuse(where, f"{len(pieces)} sizes", "ring diameter; hypoid offset, such as 9 in; 2.25 in")
    sizes = [parse_length(piece, where=where, default_unit=units) for piece in pieces]
    shown: Units = units or "in"
    low, high = _RING_MM
    if not low <= sizes[0] <= high:
        right = f"a ring diameter between {show_both(low, shown)} and {show_both(high, shown)}; inch or millimetre?"
        raise refuse(where, f"{show_both(sizes[0], shown)} is not likely", right)
    if len(sizes) > 1 and sizes[1] > _MOST_OFFSET * sizes[0]:
        right = f"an offset of at most {show_both(_MOST_OFFSET * sizes[0], shown)} for this ring"
        raise refuse(where, f"{show_both(sizes[1], shown)} is not likely", right)
    typed = tuple(piece if re.search(r"[^\d.,/ -]", piece) else f"{piece} {units}" for piece in pieces)
    return Size(sizes[0], sizes[1] if len(sizes) > 1 else None, typed)


def _gap(text: str, where: str, units: Units | None) -> tuple[float, str]:
    """The gap and what took it, "" where that was not said.

    >>> _gap("0.240 in, solder", "gap", None), _gap("6 mm", "gap", None)
    ((6.096, 'solder'), (6.0, ''))
    """
    said = " ".join(text.lower().split())
    match = re.fullmatch(rf"(.*?)[,;]?\s+(?:by\s+)?({'|'.join(TAKEN_BY)})s?", said)
    size, tool = (match[1], match[2]) if match else (said, "")
    try:
        return parse_length(size, where=where, default_unit=units), tool
    except InputError:
        if re.search(r"[a-z]{5,}$", size):
            right = f"then how it was taken, one of {', '.join(TAKEN_BY)}"
            raise refuse(where, f"{text.strip()!r} is not understood", f"a gap with its unit, {right}") from None
        raise


def _carrier(text: str, where: str, units: Units | None) -> float:
    """How much further from the pinion the carrier's ring flange stands than the old one's [mm], 0 for the same.

    >>> _carrier("same", "carrier", None), _carrier("0.4 in nearer", "carrier", None)
    (0.0, -10.16)
    """
    said = " ".join(text.lower().split())
    if said in ("same", "same carrier", "the same"):
        return 0.0
    match = re.fullmatch(r"(?:other,? )?(.*?),? (further|farther|nearer|closer)", said)
    if match is None:
        right = "same, or how much its ring flange stands further from the pinion or nearer: 0.4 in further"
        raise refuse(where, f"{text.strip()!r} is not understood", right)
    amount = parse_length(match[1], where=where, default_unit=units)
    return amount if match[2].startswith("f") else -amount


def _set(text: str, where: str, units: Units | None) -> float:
    """How much thicker than standard the new set is made [mm], negative for a thin one.

    >>> _set("standard", "set", None), _set("thick 0.4 in", "set", None)
    (0.0, 10.16)
    """
    said = " ".join(text.lower().split())
    if said in ("standard", "regular", "normal"):
        return 0.0
    match = re.fullmatch(r"(thick|thin),?(?: by)?(?: (.+))?", said)
    if match is None or not match[2]:
        right = "standard, or thick or thin and by how much: thick 0.4 in"
        raise refuse(where, f"{text.strip()!r} is not understood", right)
    return parse_length(match[2], where=where, default_unit=units) * (1 if match[1] == "thick" else -1)


_ON_A_PLATE = (
    "Lay the ring tooth side up on a flat plate, a straightedge across the teeth; depth rod from the straightedge to"
    " the plate, nothing of the straightedge left in."
)
_NOT_A_HEIGHT = (
    Slip(0.0, 15.0, "the height of the whole ring, from the plate to over the teeth; was a tooth's depth read?"),
    Slip(90.0, 400.0, "was a diameter read?"),
)
ENTRIES = (
    Entry(
        "old_teeth",
        "Teeth of the old set, pinion and ring (such as 9/35)",
        "Count the teeth on the old pinion and the old ring.",
        "no answer without them",
        _pair,
    ),
    Entry(
        "new_teeth",
        "Teeth of the new set, pinion and ring (such as 7/36)",
        "Count them, or the maker's figures.",
        "no answer without them",
        _pair,
    ),
    Entry(
        "axle",
        "Axle: its name in the shop's list, or ring diameter and hypoid offset if known (such as 9 in; 2.25 in)",
        "Ring diameter across the outside of the ring gear. Offset: from the pinion's centre line to the ring's.",
        "no answer without the ring diameter; an offset not said is taken as usual, and that is wide",
        _axle,
    ),
    Entry(
        "gap",
        "Tightest gap over a full turn, old ring's toe to the boss, and how taken (such as 0.240 in solder)",
        "Old gears set as they ran. Feeler, or soft solder or clay on the boss and the ring turned past it; the"
        " smallest of three.",
        "no answer without it; how it was taken left out counts as by clay, the widest",
        _gap,
        0.1,
        25.0,
        (Slip(25.0, 700.0, "larger than any tooth: inch typed as mm?"),),
        "solder",
    ),
    Entry(
        "backlash",
        "Backlash with the old set, as it was when the gap was taken",
        "Dial on a ring tooth's heel, square to it, pinion held.",
        "taken as what the new set will have, give or take 0.004 in (from memory)",
        length,
        0.02,
        1.3,
        (Slip(1.3, 40.0, "in thousandths of an inch? Type 8 thou"),),
    ),
    Entry(
        "old_height",
        "Height of the old ring on a flat plate, tooth side up: plate to a straightedge across the teeth",
        _ON_A_PLATE,
        "tooth counts stand in; both heights, carrier and set count only together",
        length,
        15.0,
        90.0,
        _NOT_A_HEIGHT,
        "ring-height",
    ),
    Entry(
        "new_height",
        "The same height of the new ring",
        _ON_A_PLATE,
        "tooth counts stand in; both heights, carrier and set count only together",
        length,
        15.0,
        90.0,
        _NOT_A_HEIGHT,
        "ring-height",
    ),
    Entry(
        "toe_diameters",
        "Inside diameter across the toe ends of the teeth: old ring, new ring (two, such as 6.72 6.67 in)",
        "Caliper inside, from toe to toe just below the tips, the largest reading.",
        "the teeth's length of both rings is taken as usual, and that is wide",
        lengths(2),
        50.0,
        400.0,
        (Slip(25.0, 50.0, "was a radius read?"),),
    ),
    Entry(
        "wall",
        "Thinnest wall of the boss beside the tightest spot",
        "Ball caliper, one leg in the pilot bore, clear of its lead-in.",
        "no wall left can be given, and no grinding promised",
        length,
        1.5,
        40.0,
        (Slip(40.0, 90.0, "was the boss's diameter read?"),),
        "wall",
    ),
    Entry(
        "carrier",
        "Carrier: same, or how much its ring flange stands further from the pinion or nearer (such as 0.4 in further)",
        "Depth rod from the ring flange to the carrier's bearing shoulder, on both carriers.",
        "ring heights cannot be used without it",
        _carrier,
        -40.0,
        40.0,
    ),
    Entry(
        "set",
        "New set: standard, or thick or thin and by how much (such as thick 0.4 in)",
        "The maker's list says it: a thick set is made for a carrier whose ring flange stands further away.",
        "ring heights cannot be used without it",
        _set,
        -30.0,
        30.0,
    ),
)
