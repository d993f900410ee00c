"""The lists of a job, the boss's parts and the gap readings, as rows of fields; and what the form does not show."""

from __future__ import annotations

import copy
import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from geartrack.errors import refuse
from geartrack.gearset.teeth import one_pair
from geartrack.job.findings import PARTS
from geartrack.job.keys import PART_KEYS, READING_KEYS, Key
from geartrack.job.readings import READINGS
from geartrack.web import forms
from geartrack.web.forms import Field

KINDS = {"boss.parts": tuple(PARTS), "readings": tuple(READINGS)}
_OF_ANY_SET = ("face_width", "pinion_spiral", "cutter_radius", "taper", "kind")  # as study.with_teeth keeps them
_NOT_SHARED = ("readings", "setup", "shop", "note", "name", "~now at")
_BESIDES = {
    "turning": "other bodies that turn with the ring",
    "setup.target": "maker's turning torque",
    "setup.shims": "shims on hand",
    "setup.readings": "turning torque as read",
    "setup.stacks": "shim stacks tried",
    "setup.crush": "pulls on the crush sleeve",
    "correlated": "inputs that err together",
}


@dataclass(frozen=True)
class Member:
    """One part or reading: where it stands in the job, its kind, its fields."""

    key: str
    kind: str
    fields: tuple[Field, ...]


def parts(document: Mapping[str, Any]) -> list[Member]:
    """The boss's parts."""
    return _members(document, "boss.parts")


def readings(document: Mapping[str, Any]) -> list[Member]:
    """The gap readings."""
    return _members(document, "readings")


def _members(document: Mapping[str, Any], name: str) -> list[Member]:
    found = forms.get(document, name)
    members = [each for each in found if isinstance(each, Mapping)] if isinstance(found, list) else []
    return [_member(f"{name}.{number}", name, each) for number, each in enumerate(members)]


def _member(key: str, name: str, table: Mapping[str, Any]) -> Member:
    kind = str(table.get("kind", ""))
    models, words = (PARTS, PART_KEYS) if name == "boss.parts" else (READINGS, READING_KEYS)
    model = models.get(kind)
    keys = [str(f.validation_alias or k) for k, f in model.model_fields.items()] if model else list(table)
    fields = tuple(_field(f"{key}.{each}", each, words) for each in keys if each != "kind")
    return Member(key, kind, fields)


def _field(key: str, name: str, words: Mapping[str, Key]) -> Field:
    about = words.get(name, Key("", ""))
    example = re.sub(r'.*value = "([^"]*)".*', r"\1", about.example).strip('"')
    kind: forms.Kind = "tick" if about.example in ("true", "false") else "measure" if _is_measure(about) else "text"
    label = name.replace("_", " ")
    return Field(key, label[:1].upper() + label[1:], about.means, example, kind, (), True)


def _is_measure(about: Key) -> bool:
    return bool(re.search(r'\d (mm|in)"', about.example))


def names(document: Mapping[str, Any]) -> list[str]:
    """The names of all fields of both lists."""
    return [field.key for member in (*parts(document), *readings(document)) for field in member.fields]


def changed(document: Mapping[str, Any], form: Mapping[str, str]) -> tuple[dict[str, Any], list[str]]:
    """The document with what a whole form says of the lists, and the keys that it changes."""
    new, keys = copy.deepcopy(dict(document)), []
    for member in (*parts(document), *readings(document)):
        table = forms.get(new, member.key)
        if f"{member.key}.kind" not in form:
            continue  # the form was made before this member was there
        for each in member.fields:
            name = each.key.rpartition(".")[2]
            before = table.get(name)
            if each.kind == "measure":
                after = forms.measured(before, form, each.key)
            elif each.kind == "tick":
                after = True if form.get(each.key) == "true" else None
            else:
                typed = form.get(each.key, "").strip()
                after = before if before is not None and typed == str(before) else _plain(typed)
            if after != before and not (before is False and after is None):
                keys.append(each.key)
                table.pop(name, None) if after is None else table.__setitem__(name, after)
    return new, keys


def _plain(typed: str) -> Any:
    """A text as a file would hold it: whole numbers as numbers."""
    return int(typed) if re.fullmatch(r"\d{1,6}", typed) else typed or None


def acted(document: Mapping[str, Any], act: str) -> dict[str, Any]:
    """The document after "add boss.parts cylinder", "add readings gap" or "drop boss.parts 2"; as it was without."""
    new = copy.deepcopy(dict(document))
    found = re.fullmatch(r"(add|drop) (boss\.parts|readings) (.{1,60})", act)
    if not found:
        return new
    verb, name, what = found.groups()
    *tables, last = name.split(".")
    holder = new
    for step in tables:
        holder = holder.setdefault(step, {})
    members = holder.setdefault(last, [])
    if verb == "add":
        if what not in KINDS[name]:
            raise refuse(name, f"there is no kind {what[:30]!r}", ", ".join(KINDS[name]))
        members.append({"kind": what})
    elif what.isdecimal() and int(what) < len(members):
        del members[int(what)]
    if not members:
        del holder[last]
    return new


def with_pair(document: Mapping[str, Any], teeth: str) -> dict[str, Any]:
    """The document with another tooth pair: what was read of the old set does not hold for it and is left out."""
    pair = one_pair(teeth, where="teeth")
    new = copy.deepcopy(dict(document))
    old = new.get("gears", {})
    new["gears"] = {key: old[key] for key in _OF_ANY_SET if key in old} | {"teeth": str(pair)}
    for read_of_it in ("readings", "~now at"):
        new.pop(read_of_it, None)
    return new


def for_ratios(document: Mapping[str, Any]) -> dict[str, Any]:
    """What a comparison of tooth pairs rests on: the document without what is one set's own, or only the shop's."""
    own = document.get("gears")
    gears = own if isinstance(own, Mapping) else {}
    kept = {key: gears[key] for key in (*_OF_ANY_SET, "teeth") if key in gears}
    rest = {key: value for key, value in document.items() if key not in _NOT_SHARED}
    return rest | {"name": "ratios", "gears": kept}


def boss_from(document: Mapping[str, Any]) -> str:
    """What gives the boss, in words; "" where its parts do."""
    boss = document.get("boss")
    given = boss if isinstance(boss, Mapping) else {}
    said = {"stations": "a table of readings", "scan": "a scan", "trace": "a tracing or drawing"}
    return next((words for key, words in said.items() if key in given), "")


def besides(document: Mapping[str, Any]) -> list[str]:
    """What is in the job that the form does not show, in words."""
    return [words for key, words in _BESIDES.items() if forms.get(document, key)]
