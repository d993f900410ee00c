"""The difference method: the new set's gap from the old set's, measured in the same case, and two ring heights.

The boss is not known, so a family of bosses stands in for it: about the pinion axis, round or with a flat toward the
ring, the pinion-side end from just behind the pinion's toe to well behind it, each as thick as makes its gap to the old
set the measured one. Then the new set takes the old one's place, its toe tips where ring heights and tooth counts
together put them, and its gap is read.
Any member may be the boss on the bench, so low to high spans all of them; within one, what was read and what is usual
moves by quasi-random draws (DESIGN 5, 12). Angles in radians.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from geartrack.cards.toe import SET_INPUTS, Bosses, Rings, drawn, radius_for_gap, rings, toe_gap, with_toe_diameter
from geartrack.errors import refuse
from geartrack.frame import Array
from geartrack.gearset.place import Evidence, Placement, weigh
from geartrack.gearset.teeth import ToothPair
from geartrack.inputs import MODEL
from geartrack.quantity import Origin, Quantity, give_or_take
from geartrack.units import show_both

DRAWS = 128
# How far behind the pinion's toe the boss's pinion-side end lies: least, and most over ring diameter; from memory.
BEHIND_LEAST_MM, BEHIND_MOST = 2.0, 0.08
ROUND, FLAT = math.inf, 0.9  # a flat's distance from the pinion axis over the boss's radius; from memory
# The family: share of the way from least to most behind, where a flat faces [deg], its distance. Tried on invented
# axles half of which have a flat: round bosses alone cover 95 %, with these flats 97 to 98 %; more members add nothing.
FAMILY = (
    (0.0, 0.0, ROUND),
    (0.5, 0.0, ROUND),
    (1.0, 0.0, ROUND),
    (0.0, 0.0, FLAT),
    (1.0, 0.0, FLAT),
    (0.0, 40.0, FLAT),
    (1.0, 40.0, FLAT),
)
RADIUS_OVER_RING = 0.12  # of a usual boss; from memory, only where the search starts
TIP_OVER_OUTSIDE = 0.7  # radius of the toe over that of the back face, where runout is read; about, from memory
_FEWEST = 0.5  # of a member's draws that must have a boss for it to count
_OTHERS = 12  # drawn besides the two sets' own
_TINY = 1e-9
_SEED = 20  # of the scrambled points: any, but always the same


@dataclass(frozen=True)
class Readings:
    """What the method starts from; every quantity in mm.

    gap: tightest between the old ring's toe and the boss. backlash: final less that at which the gap was read.
    thicker: how much nearer the pinion the new ring's height and the carrier put the toe tips, the back face running as
    the old one's; None where nothing says so. travel: how far else the back face may run. runout: of the back face,
    total reading, of either set. toe_diameters: across the toe ends, of the old ring and of the new; None: as usual.
    """

    old: ToothPair
    new: ToothPair
    ring_diameter: Quantity
    offset: Quantity
    gap: Quantity
    backlash: Quantity
    thicker: Quantity | None
    travel: Quantity
    runout: Quantity
    toe_diameters: tuple[Quantity, Quantity] | None = None


@dataclass(frozen=True)
class Member:
    """One boss that fits the old set's gap, and what it says: the gap with usual values, and its low to high.

    flat_clock: where its flat faces [rad]; flat_mm: the flat's distance from the pinion axis, None for a round boss.
    """

    end_face_mm: float
    radius_mm: float
    flat_clock: float
    flat_mm: float | None
    gap_mm: float
    low_mm: float
    high_mm: float


@dataclass(frozen=True)
class NewGap:
    """The new set's gap.

    low_mm, high_mm: over all members. members: by gap, least first. placement: of the new toe tips above the pinion's
    centre line at final backlash, from tooth counts and ring heights by weight. old_tip_mm: of the old ones, as read
    from tooth counts. rise_mm: how much nearer the pinion the new ones stand. model_spread_mm: give or take of the old
    ones' height. tooth_mm: depth of an old tooth.
    """

    readings: Readings
    low_mm: float
    high_mm: float
    members: tuple[Member, ...]
    placement: Placement
    old_tip_mm: float
    rise_mm: float
    model_spread_mm: float
    tooth_mm: float

    @property
    def middle(self) -> Member:
        """The round member whose gap lies in the middle, the one to draw and to cut; any where none is round."""
        members = [member for member in self.members if member.flat_mm is None] or self.members
        return members[len(members) // 2]

    @property
    def new_tip_mm(self) -> float:
        """Height of the new toe tips above the pinion's centre line, at final backlash [mm]."""
        return self.old_tip_mm - self.rise_mm

    @property
    def half_range_mm(self) -> float:
        return (self.high_mm - self.low_mm) / 2


@dataclass(frozen=True, eq=False)
class _Drawn:
    """All draws of everything, (n,) each, the usual values first; old and new at the backlash they are seen at."""

    old: Rings
    new: Rings
    offset_mm: Array
    gap_mm: Array
    later_mm: Array  # travel of the ring between the reading and the final setting: backlash and runout
    by_counts_mm: Array  # change of toe tip height, by tooth counts
    by_heights_mm: Array | None


def new_gap(readings: Readings, *, draws: int = DRAWS) -> NewGap:
    """The gap that the new set will have. Raises InputError where no boss fits the old gap.

    draws: a power of two.
    """
    made = _draw(readings, draws)
    placement, changes = _changes(made)
    bosses = _family(readings, made)
    start = RADIUS_OVER_RING * readings.ring_diameter.value
    radius, fits = radius_for_gap(made.old.toe, made.gap_mm, bosses, start_mm=start)
    moves = [made.old.tip_mm + change + made.later_mm - made.new.tip_mm for change in changes]
    gaps = [toe_gap(made.new.moved(move), bosses, radius) for move in moves]
    found = sorted(
        (_member(bosses, radius, [g[i, fits[i]] for g in gaps], i) for i in range(len(FAMILY)) if _counts(fits[i])),
        key=lambda member: member.gap_mm,
    )
    if not found:
        what = f"no usual boss stands {show_both(readings.gap.value, 'in')} from the toe of this ring"
        raise refuse("gap", what, "the tightest gap between the ring's toe and the boss, and the ring's own diameter")
    return NewGap(
        readings,
        low_mm=min(member.low_mm for member in found),
        high_mm=max(member.high_mm for member in found),
        members=tuple(found),
        placement=placement,
        old_tip_mm=float(made.old.tip_mm[0]),
        rise_mm=float(-changes[0][0] - made.later_mm[0]),
        model_spread_mm=_spread(made.old.tip_mm),
        tooth_mm=float(made.old.tooth_mm[0]),
    )


def _family(readings: Readings, made: _Drawn) -> Bosses:
    """The family's bosses but for their radius, (members, n)."""
    along, clock, share = (np.array(column)[:, None] for column in zip(*FAMILY, strict=True))
    behind = BEHIND_LEAST_MM + along * (BEHIND_MOST * readings.ring_diameter.value - BEHIND_LEAST_MM)
    end = np.minimum(made.old.pinion_toe_mm, made.new.pinion_toe_mm) - behind
    return Bosses(end, made.offset_mm, np.radians(clock), share)


def _counts(fits: NDArray[np.bool_]) -> bool:
    return bool(fits[0]) and float(fits.mean()) >= _FEWEST


def _member(bosses: Bosses, radius_mm: Array, gaps_mm: list[Array], i: int) -> Member:
    """Member i with its ends: the 2.5 and 97.5 % ones over draws, the widest where there are several accounts."""
    ends = [np.percentile(each[1:], [2.5, 97.5]) for each in gaps_mm]
    radius, clock, share = float(radius_mm[i, 0]), float(bosses.flat_clock[i, 0]), float(bosses.flat_share[i, 0])
    return Member(
        end_face_mm=float(bosses.end_mm[i, 0]),
        radius_mm=radius,
        flat_clock=clock,
        flat_mm=share * radius if share < 1 else None,
        gap_mm=float(gaps_mm[0][0]),
        low_mm=float(min(low for low, _ in ends)),
        high_mm=float(max(high for _, high in ends)),
    )


def _draw(readings: Readings, draws: int) -> _Drawn:
    from scipy.stats import qmc

    shares = np.clip(qmc.Sobol(2 * SET_INPUTS + _OTHERS, seed=_SEED).random(draws), _TINY, 1 - _TINY)
    rest = iter(shares[:, 2 * SET_INPUTS :].T)

    def values(quantity: Quantity) -> Array:
        return drawn(quantity, next(rest))

    size = {"ring_diameter_mm": values(readings.ring_diameter), "offset_mm": values(readings.offset)}
    old = rings(readings.old, **size, shares=shares[:, :SET_INPUTS])
    new = rings(readings.new, **size, shares=shares[:, SET_INPUTS : 2 * SET_INPUTS])
    old, new = (replace(each, toe=each.moved(values(MODEL))) for each in (old, new))
    if readings.toe_diameters:
        across = readings.toe_diameters
        old, new = with_toe_diameter(old, values(across[0])), with_toe_diameter(new, values(across[1]))
    nearer = (values(readings.runout) - values(readings.runout)) * TIP_OVER_OUTSIDE / 2
    later = new.backlash_factor * values(readings.backlash) - nearer
    by_heights = values(readings.travel) - values(readings.thicker) if readings.thicker else None
    return _Drawn(old, new, size["offset_mm"], values(readings.gap), later, new.tip_mm - old.tip_mm, by_heights)


def _changes(made: _Drawn) -> tuple[Placement, list[Array]]:
    """The change of toe tip height (n,) by weight of both accounts; each account beside it where they do not agree."""
    old = float(made.old.tip_mm[0])
    accounts = {"tooth counts": made.by_counts_mm}
    if made.by_heights_mm is not None:
        accounts["ring heights"] = made.by_heights_mm
    spreads = [_spread(each) for each in accounts.values()]
    evidence = [
        Evidence(
            name,
            give_or_take(old + float(each[0]), spread, Origin.MEASURED if name != "tooth counts" else Origin.DEFAULT),
        )
        for (name, each), spread in zip(accounts.items(), spreads, strict=True)
    ]
    placement = weigh(evidence)
    weights = np.array([spread**-2 for spread in spreads])
    joint = sum(w * each for w, each in zip(weights / weights.sum(), accounts.values(), strict=True))
    return placement, [joint, *accounts.values()] if placement.disagreement else [joint]


def _spread(values: Array) -> float:
    """2-sigma of drawn values, the first of which is not drawn."""
    return 1.96 * float(values[1:].std())
