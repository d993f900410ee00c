"""The parts a boss is put together from, and what can be wrong with them before any solid is made."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, fields

from geartrack.boss.facets import LARGEST_MM, said
from geartrack.errors import Finding
from geartrack.tolerances import TOLERANCES


@dataclass(frozen=True)
class Cylinder:
    """Round about the bore axis between two stations."""

    diameter_mm: float
    start_mm: float
    end_mm: float


@dataclass(frozen=True)
class Cone:
    """Round about the bore axis, its diameter changing evenly between two stations."""

    diameter_start_mm: float
    diameter_end_mm: float
    start_mm: float
    end_mm: float


@dataclass(frozen=True)
class Pad:
    """Metal from the bore axis out to a flat: clock [rad] is where the flat faces, distance_mm from the bore axis.

    A straight block, half of `width_mm` to either side of its clock angle.
    """

    clock: float
    distance_mm: float
    width_mm: float
    start_mm: float
    end_mm: float


@dataclass(frozen=True)
class Rib:
    """A straight web from the bore axis out: clock [rad] is its middle, reach_mm from the bore axis to its crest.

    The crest is taken as flat, its corners a little further out than `reach_mm`: more metal than a rounded one has.
    """

    clock: float
    width_mm: float
    reach_mm: float
    start_mm: float
    end_mm: float


@dataclass(frozen=True)
class Fillet:
    """A hollow rounding in the corner where a cylinder of `diameter_mm` meets a larger round part's end at `at_mm`.

    It lies on the smaller part: toward the pinion-side end if the larger part starts at `at_mm`, further in if it ends
    there. It runs out into the cylinder, and into the larger part's end, at `radius_mm` from the corner.
    """

    radius_mm: float
    at_mm: float
    diameter_mm: float


@dataclass(frozen=True)
class Cut:
    """A flat cut: metal beyond a flat is gone; clock [rad] is where the flat faces, distance_mm from the bore axis."""

    clock: float
    distance_mm: float
    start_mm: float
    end_mm: float


Block = Pad | Rib
Round = Cylinder | Cone
Part = Cylinder | Cone | Pad | Rib | Fillet | Cut


def end_radii(part: Round) -> tuple[float, float]:
    """The radius of a round part at its start and at its end [mm]."""
    if isinstance(part, Cylinder):
        return part.diameter_mm / 2, part.diameter_mm / 2
    return part.diameter_start_mm / 2, part.diameter_end_mm / 2


def top_mm(part: Block) -> float:
    """How far a pad's flat or a rib's crest stands from the bore axis [mm]."""
    return part.distance_mm if isinstance(part, Pad) else part.reach_mm


def fillet_side(fillet: Fillet, parts: Sequence[Part]) -> int:
    """-1: toward the pinion-side end of `at_mm`; +1: further in; 0: there is no such corner among the parts."""
    for side in (-1, 1):
        outer = fillet.at_mm + side * fillet.radius_mm
        low, high = min(fillet.at_mm, outer), max(fillet.at_mm, outer)
        if any(_carries(part, fillet.diameter_mm, low, high) for part in parts) and any(
            _rises(part, fillet, side) for part in parts
        ):
            return side
    return 0


def _carries(part: Part, diameter_mm: float, low: float, high: float) -> bool:
    near = TOLERANCES.mesh_mm
    return (
        isinstance(part, Cylinder)
        and abs(part.diameter_mm - diameter_mm) <= near
        and part.start_mm <= low + near
        and part.end_mm >= high - near
    )


def _rises(part: Part, fillet: Fillet, side: int) -> bool:
    """Whether a round part's end at the corner is high enough for the fillet."""
    if not isinstance(part, Round):
        return False
    station, radius = [(part.start_mm, end_radii(part)[0]), (part.end_mm, end_radii(part)[1])][side > 0]
    near = TOLERANCES.mesh_mm
    return abs(station - fillet.at_mm) <= near and radius >= fillet.diameter_mm / 2 + fillet.radius_mm - near


def part_findings(parts: Sequence[Part], edge_break_mm: float) -> list[Finding]:
    """Everything wrong with the list of parts and the edge break, one finding each, parts counted from 1."""
    found = []
    if not 0 <= edge_break_mm <= LARGEST_MM:
        found.append(Finding("boss.edge_break", f"{said(edge_break_mm)} is no edge break", "0 or a small length"))
    if not parts:
        return [*found, Finding("boss.parts", "the list is empty", "at least one cylinder, cone, pad or rib")]
    sizes = [list(_size_findings(part, f"boss.parts {i}")) for i, part in enumerate(parts, 1)]
    found += [finding for findings in sizes for finding in findings]
    if found:
        return found
    for i, part in enumerate(parts, 1):
        found += _joint_findings(part, f"boss.parts {i}", parts, edge_break_mm)
    solid = [part for part in parts if isinstance(part, Block | Round)]
    if not solid:
        found.append(Finding("boss.parts", "nothing but cuts or fillets", "at least one cylinder, cone, pad or rib"))
    elif (nearest := min(part.start_mm for part in solid)) > 0:
        what = f"no part at station 0: the boss starts {said(nearest)} from the face that stations are measured from"
        found.append(Finding("boss.parts", what, "a part that starts at 0"))
    return found


def _size_findings(part: Part, where: str) -> Iterator[Finding]:
    kind = type(part).__name__.lower()
    for field in fields(part):
        value, name = getattr(part, field.name), field.name.removesuffix("_mm").replace("_", " ")
        if field.name == "clock":
            if not -math.pi < value <= math.pi:
                what = f"{kind} at a clock angle of {math.degrees(value):g} deg"
                yield Finding(where, what, "above -180 deg and up to 180 deg")
        elif not abs(value) <= LARGEST_MM:
            yield Finding(where, f"{kind}: {name} {said(value)}", f"at most {said(LARGEST_MM)}")
        elif field.name in ("start_mm", "at_mm"):
            if value < 0:
                what = f"{kind} at {said(value)}, outside the pinion-side end face"
                yield Finding(where, what, "0 or more, measured in from that face")
        elif field.name != "end_mm" and not value > 0:
            yield Finding(where, f"{kind}: {name} {said(value)} holds no metal", "more than 0")
    if not isinstance(part, Fillet) and not part.end_mm > part.start_mm:
        what = f"{kind} ends at {said(part.end_mm)} but starts at {said(part.start_mm)}"
        yield Finding(where, what, "an end further in than the start")


def _joint_findings(part: Part, where: str, parts: Sequence[Part], edge_break_mm: float) -> Iterator[Finding]:
    if isinstance(part, Fillet):
        if not fillet_side(part, parts):
            what = f"no corner for a fillet of {said(part.radius_mm)} at {said(part.at_mm)} on {said(part.diameter_mm)}"
            right = "a cylinder of that diameter that meets the end of a part larger by twice the fillet radius or more"
            yield Finding(where, what, right)
    elif edge_break_mm and part.start_mm == 0 and not isinstance(part, Cut):
        top, last = (top_mm(part),) * 2 if isinstance(part, Block) else end_radii(part)
        length = part.end_mm - part.start_mm
        if not (edge_break_mm < top and last - top < length - edge_break_mm):
            what = f"an edge break of {said(edge_break_mm)} takes off more than the {type(part).__name__.lower()} has"
            yield Finding(where, what, "a smaller edge break, or 0 where the end already slopes")
