"""A validation error as one line in a builder's words."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from difflib import get_close_matches
from types import MappingProxyType
from typing import Any, get_args

from pydantic import BaseModel

from geartrack.errors import Finding, InputError
from geartrack.job.parts import Part
from geartrack.job.source import Key, Source

KINDS: Mapping[str, type[BaseModel]] = MappingProxyType(
    {kind.model_fields["kind"].default: kind for kind in get_args(get_args(Part)[0])}
)
EXAMPLES: Mapping[str, str] = MappingProxyType(
    {
        "ring_diameter": '"9 in"',
        "offset": '"2.25 in"',
        "teeth": '"8/39"',
        "end_face": '"50 mm"',
        "bore_diameter": '"45 mm"',
        "bore_depth": '"20 mm"',
        "section": '[["30 mm", "60 mm"], ["80 mm", "60 mm"], ["80 mm", "70 mm"]]',
        "clock": '"30 deg"',
        "kind": '"cylinder"',
        "name": '"what it is called"',
        "from": '"0 mm"',
        "to": '"22 mm"',
    }
)


def told(error: Any, model: type[BaseModel], table: Key, source: Source) -> list[Finding]:
    """The findings of one pydantic error, placed by file, key and line."""
    loc = tuple(error["loc"])
    key = (*table, *_without_tags(loc))
    cause = error.get("ctx", {}).get("error")
    if isinstance(cause, InputError):
        return [Finding(source.where(key), finding.what, finding.right) for finding in cause.findings]
    what, right = _words(error, model, loc)
    return [Finding(source.where(key), what, right)]


def _words(error: Any, model: type[BaseModel], loc: Key) -> tuple[str, str]:
    kind, context, given = error["type"], error.get("ctx", {}), error["input"]
    name = str(loc[-1]) if loc else ""
    if kind == "missing":
        return "not given", f"such as {name} = {EXAMPLES.get(name, chr(34) + '25 mm' + chr(34))}"
    if kind == "extra_forbidden":
        known = _keys(_model_at(model, loc[:-1]))
        near = get_close_matches(name, known, n=1)
        return f"unknown key {name!r}", f"was {near[0]} meant?" if near else f"keys here: {', '.join(known)}"
    if kind in ("literal_error", "enum"):
        choices = str(context["expected"])
        near = get_close_matches(
            str(given).lower(), [c.strip("' ") for c in choices.replace(" or ", ",").split(",")], n=1
        )
        return f"{_short(given)} is not a choice here", f"was {near[0]} meant?" if near else f"one of {choices}"
    if kind in ("union_tag_invalid", "union_tag_not_found"):
        return "a part needs its kind" if kind.endswith(
            "found"
        ) else f"unknown kind {context['tag']!r}", f"one of {', '.join(KINDS)}"
    if kind in ("model_type", "model_attributes_type", "dict_type"):
        return (
            "not given" if given is None else f"{_short(given)} where a table belongs"
        ), f"a table, [{name}]" if name else "a table"
    if kind == "bool_type":
        return f"{_short(given)} is neither true nor false", "true or false, without quotes"
    if kind == "string_type":
        return (
            f"{_short(given)} is not text",
            f"text in quotes, such as {EXAMPLES.get(name, chr(34) + 'text' + chr(34))}",
        )
    return f"{_short(given)}: {error['msg']}", "see the job file of the demo"


def _short(given: object) -> str:
    text = given if isinstance(given, str) else str(given)
    return repr(text[:30]) if isinstance(given, str) else text[:30]


def _without_tags(loc: Iterable[Any]) -> Key:
    """The error's path without the kind that a part's path carries after its number."""
    key: list[Any] = []
    for step in loc:
        if not (step in KINDS and key and isinstance(key[-1], int)):
            key.append(step)
    return tuple(key)


def _keys(model: type[BaseModel]) -> list[str]:
    return [str(field.validation_alias or name) for name, field in model.model_fields.items()]


def _model_at(model: type[BaseModel], loc: Key) -> type[BaseModel]:
    """The table an error's path leads to."""
    for step in loc:
        if step in KINDS:
            model = KINDS[str(step)]
        elif isinstance(step, str) and step in model.model_fields:
            inner = model.model_fields[step].annotation
            if isinstance(inner, type) and issubclass(inner, BaseModel):
                model = inner
    return model
