"""The fields of a job, in the order in which a bench finds them out; read from a document as typed, and back into one.

What a field does not change is left as it stands in the document, so that nothing is lost by opening a job.
"""

from __future__ import annotations

import copy
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Literal, get_args, get_origin

from geartrack.job.fields import Measure, Money, Plain
from geartrack.job.keys import KEYS, Key
from geartrack.job.read import TABLES

Kind = Literal["measure", "text", "choice", "tick"]
GIVE, HOW = "~give", "~how"
"""What is put behind a field's name for its give or take, and for the tool it was read with."""


@dataclass(frozen=True)
class Field:
    """One field: its dotted key in a job; label and means in words; what may be chosen; common: shown at once."""

    key: str
    label: str
    means: str
    example: str
    kind: Kind
    choices: tuple[str, ...] = ()
    common: bool = False


@dataclass(frozen=True)
class Group:
    """Fields that are found out together."""

    name: str
    title: str
    fields: tuple[Field, ...]

    @property
    def common(self) -> list[Field]:
        """What is shown at once."""
        return [each for each in self.fields if each.common]

    @property
    def rare(self) -> list[Field]:
        """What is folded away."""
        return [each for each in self.fields if not each.common]


@dataclass(frozen=True)
class Shown:
    """What stands in a field: as typed, its give or take, and the tool."""

    value: str = ""
    give: str = ""
    how: str = ""


_LABELS = {
    "name": "Job",
    "units": "Units shown first",
    "gears.name": "Gear set",
    "axle.name": "Axle",
    "case.name": "Case",
    "gears.set": "Thick or thin set",
    "axle.hand": "Pinion lies",
    "case.bore": "Pilot bore is",
    "case.measured": "Boss was read on",
    "target.gap": "Gap wanted",
    "target.allowance": "Past the gap wanted, at most",
    "target.confidence": "How sure, percent",
    "shop.name": "Shop",
    "shop.rate": "Rate, an hour",
    "gears.taper": "Taper of the teeth",
    "boss.end_face": "End face to ring's centre line",
    "case.makers_minimum_wall": "Maker's minimum wall",
    "shop.if_found.grind": "If found before assembly: grind",
    "shop.if_found.late": "If found after assembly: go on",
    "old_gears.teeth": "Old set's teeth",
    "old_gears.face_width": "Old set's face width",
    "old_gears.pinion_spiral": "Old set's pinion spiral",
    "old_gears.toe_height": "Old set's toe height",
    "setup.target_seal": "Maker's torque is with the seal",
    "setup.target_from": "Maker's torque stands in",
    "setup.bearings": "Pinion bearings that go in",
}
_SAID = Key("", "the customer's answer, for the quote")
_GROUPS: tuple[tuple[str, str, str, str], ...] = (
    ("asked", "What is asked", "name gears.teeth target.gap units", ""),
    (
        "gears",
        "Gear set",
        "gears.name gears.face_width gears.pinion_spiral",
        "gears.cutter_radius gears.kind gears.taper gears.set gears.set_thickness gears.made_for_flange_height"
        " gears.depth_factor gears.addendum_factor gears.clearance_factor",
    ),
    (
        "axle",
        "Axle",
        "axle.name axle.ring_diameter axle.offset axle.hand",
        "axle.pinion_stub_diameter axle.carrier_flange_height axle.ring_spacer axle.adjuster_travel",
    ),
    (
        "case",
        "Case",
        "case.mark case.material case.measured case.minimum_wall",
        "case.name case.makers_minimum_wall case.bore case.bore_put_right case.cracked case.welded"
        " case.ground_before case.wall_in_old_scallop case.outside_off_centre case.outside_size case.bore_off_axis",
    ),
    (
        "boss",
        "Boss",
        "boss.end_face boss.bore_diameter boss.bore_depth boss.edge_break",
        "boss.seat_from boss.seat_to boss.length boss.stations_give boss.scan_unit",
    ),
    (
        "ring",
        "Ring and pinion as read",
        "gears.measured.toe_height gears.measured.heel_height gears.measured.outside_diameter"
        " gears.measured.toe_inside_diameter gears.measured.back_face gears.measured.back_face_from",
        "gears.toe_chamfer gears.tip_chamfer gears.toe_end_angle gears.measured.pinion_toe_root_diameter"
        " gears.measured.pinion_heel_root_diameter gears.measured.old_flange_height gears.measured.old_ring_spacer",
    ),
    (
        "running",
        "Setting and running",
        "running.backlash_now running.backlash_final",
        "running.runout running.deflection running.heat running.settling",
    ),
    (
        "target",
        "Grinding and quote",
        "target.allowance shop.rate",
        "target.confidence shop.name shop.currency shop.consumables shop.crack_check_fee shop.minimum_hours"
        " shop.tax_percent shop.if_found.grind shop.if_found.late note",
    ),
    (
        "old",
        "Old gears, for readings taken with them",
        "",
        "old_gears.teeth old_gears.face_width old_gears.pinion_spiral old_gears.toe_height",
    ),
    (
        "setup",
        "Pinion support log",
        "",
        "setup.spacer setup.bearings setup.target_seal setup.target_from setup.shims_read_with",
    ),
)


def _field(key: str, common: bool) -> Field:
    about = KEYS.get(key, _SAID)
    name = key.rpartition(".")[2].replace("_", " ")
    label = _LABELS.get(key, name[:1].upper() + name[1:])
    kind, choices = _kind(key)
    return Field(key, label, about.means, about.example.strip('"'), kind, choices, common)


def _kind(key: str) -> tuple[Kind, tuple[str, ...]]:
    """How a key is typed, from the model that reads it."""
    if key == "units":
        return "choice", ("in", "mm")
    table, _, name = key.partition(".")
    if not name:
        return "text", ()
    model: Any = TABLES[table]
    *within, name = name.split(".")
    for step in within:
        inner = model.model_fields[step].annotation
        model = next(iter(get_args(inner)), inner)
    about = model.model_fields[name]
    marks = [*about.metadata, *_marks(about.annotation)]
    if any(isinstance(mark, Measure) for mark in marks):
        return "measure", ()
    if any(isinstance(mark, Plain | Money) for mark in marks):
        return "text", ()
    choices = tuple(_choices(about.annotation))
    if choices:
        return "choice", choices
    return ("tick" if about.annotation is bool else "text"), ()


def _marks(annotation: Any) -> list[Any]:
    found = list(getattr(annotation, "__metadata__", ()))
    return found + [mark for each in get_args(annotation) for mark in _marks(each)]


def _choices(annotation: Any) -> list[str]:
    if get_origin(annotation) is Literal:
        return [str(each) for each in get_args(annotation)]
    if isinstance(annotation, type) and hasattr(annotation, "__members__"):
        return [str(each.value) for each in annotation.__members__.values()]
    return [choice for each in get_args(annotation) for choice in _choices(each)]


GROUPS: tuple[Group, ...] = tuple(
    Group(
        name,
        title,
        (*(_field(key, True) for key in common.split()), *(_field(key, False) for key in rare.split())),
    )
    for name, title, common, rare in _GROUPS
)
FIELDS: Mapping[str, Field] = {each.key: each for group in GROUPS for each in group.fields}


def get(document: Mapping[str, Any], key: str) -> Any:
    """A dotted key's value in a document; None where it is not given."""
    found: Any = document
    for step in key.split("."):
        if isinstance(found, list):
            found = found[int(step)] if step.isdecimal() and int(step) < len(found) else None
        else:
            found = found.get(step) if isinstance(found, Mapping) else None
    return found


def shown(value: Any) -> Shown:
    """A document's value as its field shows it."""
    if isinstance(value, Mapping):
        ends = [str(value[key]) for key in ("low", "high") if key in value]
        give = f"{ends[0]} to {ends[1]}" if len(ends) == 2 else str(value.get("give_or_take", ""))
        return Shown(str(value.get("value", "")), give, str(value.get("how", "")))
    if isinstance(value, bool):
        return Shown("true" if value else "")
    return Shown("" if value is None else str(value))


def changed(document: Mapping[str, Any], form: Mapping[str, str]) -> tuple[dict[str, Any], list[str]]:
    """The document with what a whole form says, and the keys that it changes."""
    new, keys = copy.deepcopy(dict(document)), []
    for each in FIELDS.values():
        if each.key in form or each.kind == "tick":
            before = get(document, each.key)
            after = _value(each.kind, before, form, each.key)
            if after != before and not (before is None and after in (None, False)):
                _put(new, each.key, after)
                keys.append(each.key)
    return new, keys


def measured(before: Any, form: Mapping[str, str], name: str) -> Any:
    """What a measure's fields say: the value as it stood where they say the same."""
    typed = Shown(*(form.get(f"{name}{end}", "").strip() for end in ("", GIVE, HOW)))
    if before is not None and typed == shown(before):
        return before
    if not typed.value:
        return None
    if not typed.give and not typed.how:
        return typed.value
    low, to, high = typed.give.partition(" to ")
    ends: dict[str, str] = {"low": low.strip(), "high": high.strip()} if to else {"give_or_take": typed.give}
    kept = {"origin": before["origin"]} if isinstance(before, Mapping) and _keeps_origin(before, typed) else {}
    return {"value": typed.value} | (ends if typed.give else {}) | ({"how": typed.how} if typed.how else {}) | kept


def _keeps_origin(before: Mapping[str, Any], typed: Shown) -> bool:
    return "origin" in before and typed.how == shown(before).how


def _value(kind: Kind, before: Any, form: Mapping[str, str], key: str) -> Any:
    if kind == "measure":
        return measured(before, form, key)
    if kind == "tick":
        return key in form and form[key] == "true"
    typed = form[key].strip()
    return before if before is not None and typed == shown(before).value.strip() else typed or None


def _put(document: dict[str, Any], key: str, value: Any) -> None:
    *tables, last = key.split(".")
    for step in tables:
        inner = document.get(step)
        document[step] = inner if isinstance(inner, dict) else {}
        document = document[step]
    if value is None:
        document.pop(last, None)
    else:
        document[last] = value


@dataclass(frozen=True)
class Faults:
    """Faults by the field they belong to, and those that belong to none."""

    by_key: Mapping[str, list[str]] = field(default_factory=dict)
    others: tuple[str, ...] = ()

    def __bool__(self) -> bool:
        return bool(self.by_key or self.others)
