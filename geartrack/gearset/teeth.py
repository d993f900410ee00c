"""Tooth counts: reading what a builder types, and the pairs that give a wanted ratio."""

from __future__ import annotations

import re
from dataclasses import dataclass
from math import ceil, floor, gcd

from geartrack.errors import refuse

# Counts outside these are slips of the pen, not gears; what a rear axle really uses is far inside them.
PINION_TEETH = (3, 60)
RING_TEETH = (8, 200)
RATIO = (1.0, 12.0)
_PAIR = re.compile(r"(\d+)\s*([/xX×:])\s*(\d+)")
_RATIO = re.compile(r"(\d+\.?\d*|\.\d+)(\s*:\s*1(\.0*)?)?")
_HOW = "write pinion/ring such as 8/39, or ring:pinion such as 39:8"


@dataclass(frozen=True, order=True)
class ToothPair:
    """Teeth on the pinion and on the ring.

    >>> ToothPair(8, 39).ratio, str(ToothPair(8, 39)), ToothPair(7, 35).hunting
    (4.875, '8/39', False)
    """

    pinion: int
    ring: int

    def __post_init__(self) -> None:
        _check_counts("gears.teeth", str(self), self.pinion, self.ring)

    def __str__(self) -> str:
        return f"{self.pinion}/{self.ring}"

    @property
    def ratio(self) -> float:
        return self.ring / self.pinion

    @property
    def hunting(self) -> bool:
        """True where no common divisor exists, so that every pinion tooth meets every ring tooth."""
        return gcd(self.pinion, self.ring) == 1

    @property
    def notes(self) -> tuple[str, ...]:
        """What a builder should be told about these counts, if anything."""
        if self.hunting:
            return ()
        common = gcd(self.pinion, self.ring)
        return (f"{self} is not a hunting pair (both counts divide by {common}): the same teeth meet again and again",)


def parse_teeth(text: str, where: str = "gears.teeth") -> ToothPair | float:
    """What a builder types for the teeth: a pair, or a ratio.

    text: pinion first with `/` or `x` (8/39, 8x39), ring first with `:` (39:8), or a ratio (4.875, 4.875:1).
    where: named in the error (file and key).

    Returns the pair, or the ratio as a float. Raises InputError for anything else; counts written the other way
    round are refused with the right spelling, never turned silently.

    >>> parse_teeth("39:8"), parse_teeth("4.875")
    (ToothPair(pinion=8, ring=39), 4.875)
    """
    typed = text.strip()
    if match := _PAIR.fullmatch(typed):
        first, mark, second = int(match[1]), match[2], int(match[3])
        if mark == ":" and second == 1:
            return _check_ratio(where, typed, float(first))
        pinion, ring = (second, first) if mark == ":" else (first, second)
        if 0 < ring < pinion:
            order = "the ring" if mark == ":" else "the pinion"
            raise refuse(
                where,
                f"{typed} puts {pinion} teeth on the pinion and {ring} on the ring, since {order} comes first",
                f"write {ring}/{pinion} or {pinion}:{ring} if the ring has {pinion}",
            )
        _check_counts(where, typed, pinion, ring)
        return ToothPair(pinion, ring)
    if match := _RATIO.fullmatch(typed):
        return _check_ratio(where, typed, float(match[1]))
    raise refuse(where, f"cannot read {typed!r} as tooth counts or a ratio", f"{_HOW}, or a ratio such as 4.875")


def usual_pinion_teeth(ratio: float) -> float:
    """Teeth most pinions of this ratio carry: about 40 teeth on the ring whatever the ratio.

    From memory: 13 to 14 at 3.0, 9 to 11 at 4.1, 7 to 8 at 5, 6 at 6.5.
    """
    return 40.0 / ratio


def pairs_for_ratio(
    ratio: float, *, tolerance: float = 0.005, pinion: tuple[int, int] = (5, 16)
) -> tuple[ToothPair, ...]:
    """Every pair within `tolerance` of a ratio, the most used first (nearest to the usual pinion count).

    ratio: z2/z1 [-]; tolerance: largest difference of ratio [-]; pinion: least and most pinion teeth. The
    default tolerance lets 4.88 stand for 8/39 (4.875).

    >>> [str(pair) for pair in pairs_for_ratio(4.875)]
    ['8/39', '16/78']
    """
    slack = tolerance + 1e-9  # 4.88 - 4.875 is a hair over 0.005 in binary
    pairs = [
        ToothPair(z1, z2)
        for z1 in range(pinion[0], pinion[1] + 1)
        for z2 in range(ceil(z1 * (ratio - slack)), floor(z1 * (ratio + slack)) + 1)
        if z2 >= max(z1, RING_TEETH[0])
    ]
    return tuple(sorted(pairs, key=lambda p: (abs(p.pinion - usual_pinion_teeth(ratio)), abs(p.ratio - ratio))))


def one_pair(text: str, where: str = "gears.teeth") -> ToothPair:
    """The one pair that was meant; a ratio that several pairs give is refused with the list.

    Raises InputError: unreadable, no pair within 0.005 of the ratio (the nearest is named), or several.
    """
    typed = parse_teeth(text, where)
    if isinstance(typed, ToothPair):
        return typed
    pairs = pairs_for_ratio(typed)
    if len(pairs) == 1:
        return pairs[0]
    if not pairs:
        near = min(pairs_for_ratio(typed, tolerance=0.5), key=lambda p: abs(p.ratio - typed))
        raise refuse(where, f"no pair of 5 to 16 pinion teeth gives {typed:g}", f"nearest is {near} ({near.ratio:.3f})")
    listed = ", ".join(f"{p} (hunting)" if p.hunting else str(p) for p in pairs)
    raise refuse(where, f"{typed:g} is given by {listed}", "say which")


def _check_counts(where: str, typed: str, pinion: int, ring: int) -> None:
    for what, count, (least, most) in (("pinion", pinion, PINION_TEETH), ("ring", ring, RING_TEETH)):
        if not least <= count <= most:
            raise refuse(where, f"{typed} has {count} teeth on the {what}", f"{least} to {most} are possible; {_HOW}")
    _check_ratio(where, typed, ring / pinion)


def _check_ratio(where: str, typed: str, ratio: float) -> float:
    if not RATIO[0] <= ratio <= RATIO[1]:
        raise refuse(
            where, f"{typed} is a ratio of {ratio:.4g}", f"ratios run from {RATIO[0]:g} to {RATIO[1]:g}; {_HOW}"
        )
    return ratio
