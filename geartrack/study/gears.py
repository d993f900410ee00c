"""gear_dimensions: every dimension of a gear set from what was typed, defaults filled in and named."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from geartrack.errors import refuse
from geartrack.gearset.blank import GearDesign, as_dict, bench_names, blanks
from geartrack.gearset.defaults import default_design
from geartrack.gearset.depth import Taper
from geartrack.gearset.pitch import BEVEL_BELOW_MM
from geartrack.gearset.teeth import ToothPair, one_pair
from geartrack.quantity import Quantity
from geartrack.units import parse_angle, parse_length

ASKED = ("face_width", "pinion_spiral", "cutter_radius")


@dataclass(frozen=True)
class GearLine:
    """One dimension: dotted key, bench name, and its value [any], its unit by the key's suffix."""

    key: str
    bench_name: str
    value: float

    @property
    def is_length(self) -> bool:
        """Whether the value is in millimetres."""
        return self.key.endswith("_mm")


@dataclass(frozen=True)
class GearSheet:
    """All dimensions of one pair, what was taken by default, and what must be said."""

    pair: ToothPair
    lines: tuple[GearLine, ...]
    defaults: dict[str, Quantity]
    notes: tuple[str, ...]


def gear_dimensions(typed: Mapping[str, str]) -> GearSheet:
    """The dimensions for typed teeth, ring_diameter, offset, face_width, pinion_spiral, cutter_radius, taper, kind.

    Raises InputError where one cannot be read or where no such gear set exists.
    """
    pair = one_pair(typed["teeth"], where="--teeth")
    ring, offset = (parse_length(typed[name], where=_flag(name)) for name in ("ring_diameter", "offset"))
    if not ring > 0:
        raise refuse("--ring-diameter", f"{typed['ring_diameter']!r}", 'the outer pitch diameter, such as "240 mm"')
    given = {
        name: parse_length(typed[name], where=_flag(name)) for name in ("face_width", "cutter_radius") if name in typed
    }
    if "pinion_spiral" in typed:
        given["pinion_spiral"] = parse_angle(typed["pinion_spiral"], where="--pinion-spiral")
    _check_kind(typed.get("kind"), offset)
    if typed.get("kind") == "straight bevel":
        given.setdefault("pinion_spiral", 0.0)
    defaults = {name: q for name, q in default_design(pair, ring, offset).items() if name not in given}
    value = {name: q.value for name, q in defaults.items()} | given
    design = GearDesign(
        pair=pair,
        ring_diameter_mm=ring,
        offset_mm=offset,
        face_width_mm=value["face_width"],
        pinion_spiral=value["pinion_spiral"],
        cutter_radius_mm=value["cutter_radius"],
        taper=Taper(typed.get("taper", "standard")),
    )
    made = blanks(design)
    nested = as_dict(made)
    lines = [
        GearLine(f"{group}.{name}", bench_names[f"{group}.{name}"], number)
        for group, numbers in nested.items()
        for name, number in numbers.items()
    ]
    named: dict[str, Quantity] = {name: q for name, q in defaults.items() if name in ASKED}
    return GearSheet(pair, tuple(lines), named, made.notes)


def _flag(name: str) -> str:
    return f"--{name.replace('_', '-')}"


def _check_kind(kind: str | None, offset_mm: float) -> None:
    if kind and (kind == "hypoid") != (offset_mm >= BEVEL_BELOW_MM):
        right = "a hypoid set has an offset, a bevel set has none"
        raise refuse("--kind", f"{kind} with an offset of {offset_mm:g} mm", right)
