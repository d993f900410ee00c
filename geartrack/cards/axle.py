"""What a customer says of the axle: its name in the shop's list, or its ring diameter and its pilot bearing."""

from __future__ import annotations

import re
from dataclasses import dataclass

from geartrack.errors import refuse
from geartrack.units import Units, parse_length, show_both

_RING_LIMITS = ("4 in", "20 in")
_PILOT: dict[str, bool | None] = {
    **dict.fromkeys(("yes", "pilot", "with pilot"), True),
    **dict.fromkeys(("no", "no pilot", "without pilot"), False),
    **dict.fromkeys(("don't know", "do not know", "not known"), None),
}


@dataclass(frozen=True)
class Ring:
    """An axle that no list has: its ring diameter, as typed too, and whether it has a pilot bearing (None: unknown)."""

    diameter_mm: float
    typed: str
    pilot: bool | None


def read_axle(text: str, where: str, units: Units | None) -> str | Ring:
    """A name of the shop's list, or a ring diameter and whether the pinion has a pilot bearing.

    >>> read_axle("9 in, no pilot", "axle", None), read_axle("Larch 240", "axle", None)
    (Ring(diameter_mm=228.6, typed='9 in', pilot=False), 'Larch 240')
    """
    said = " ".join(text.replace("’", "'").split())
    if not re.match(r"[\d.]", said):
        return said
    size, _, rest = said.partition(",")
    words = rest.strip().lower()
    if not rest and (match := re.fullmatch(rf"(.*?[\d\w\"])\s+({'|'.join(_PILOT)})", said, re.IGNORECASE)):
        size, words = match[1], match[2].lower()
    if words and words not in _PILOT:
        raise refuse(where, f"{words!r} is not an answer", "a ring diameter, then pilot, no pilot or don't know")
    diameter = parse_length(size, where=where, default_unit=units)
    low, high = (parse_length(limit) for limit in _RING_LIMITS)
    if not low <= diameter <= high:
        right = f"a ring diameter between {show_both(low, units or 'in')} and {show_both(high, units or 'in')}"
        raise refuse(where, f"{show_both(diameter, units or 'in')} is not likely", f"{right}; inch or millimetre?")
    return Ring(diameter, size if not units or re.search(r"[a-z\"']", size) else f"{size} {units}", _PILOT.get(words))
