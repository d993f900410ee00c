"""A validation error as one line in a builder's words."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from difflib import get_close_matches
from types import MappingProxyType
from typing import Any, get_args

from pydantic import BaseModel

from geartrack.errors import Finding, InputError
from geartrack.job.keys import KEYS, example_of
from geartrack.job.parts import Part
from geartrack.job.source import Source, Steps

PARTS: Mapping[str, type[BaseModel]] = MappingProxyType(
    {kind.model_fields["kind"].default: kind for kind in get_args(get_args(Part)[0])}
)
_PLAIN_WORDS: Mapping[str, tuple[str, str]] = MappingProxyType(
    {
        "bool_type": ("is neither true nor false", "true or false, without quotes"),
        "string_type": ("is not text", "text in quotes"),
        "string_too_short": ("is empty", "a few words in quotes"),
        "string_too_long": ("is too long", "a few words in quotes"),
        "tuple_type": ("is not a list", "a list in square brackets"),
        "too_long": ("is too long a list", "two lengths to a corner"),
        "model_type": ("is not a table", "keys and values under a heading in square brackets"),
        "model_attributes_type": ("is not a table", "a table in braces, with its kind"),
        "union_tag_not_found": ("is a part without its kind", f"kind is one of {', '.join(PARTS)}"),
    }
)


def told(error: Any, model: type[BaseModel], table: Steps, source: Source) -> list[Finding]:
    """The findings of one pydantic error, placed by file, key and line."""
    loc = tuple(error["loc"])
    path = (*table, *_without_kinds(loc))
    cause = error.get("ctx", {}).get("error")
    if isinstance(cause, InputError):
        return [Finding(source.where(path), finding.what, finding.right) for finding in cause.findings]
    if error["type"] == "extra_forbidden":
        what, right = _unknown_key(_model_at(model, loc[:-1]), path)
    else:
        what, right = _words(error, path)
    return [Finding(source.where(path), what, right)]


def _words(error: Any, path: Steps) -> tuple[str, str]:
    kind, context, given = error["type"], error.get("ctx", {}), error["input"]
    if kind == "missing" or (given is None and kind == "model_type"):
        return "not given", f"such as {example_of(path)}" if example_of(path) else f"a table [{path[-1]}]"
    if path == ("format",):
        return f"format {_short(given)} is not known", "format = 1 is what this geartrack reads"
    if kind in ("literal_error", "enum"):
        choices = str(context["expected"]).replace("'", '"')
        return f"{_short(given)} is not a choice here", f"one of {choices}"
    if kind == "union_tag_invalid":
        near = get_close_matches(str(context["tag"]), PARTS, n=1)
        right = f"was {near[0]} meant?" if near else f"one of {', '.join(PARTS)}"
        return f"there is no kind of part {str(context['tag'])[:30]!r}", right
    if kind in _PLAIN_WORDS:
        what, right = _PLAIN_WORDS[kind]
        example = example_of(path)
        return f"{_short(given)} {what}", f"{right}, such as {example}" if example else right
    return f"{_short(given)}: {error['msg']}", "see the job files of the demo"


def _unknown_key(model: type[BaseModel], path: Steps) -> tuple[str, str]:
    name = str(path[-1])
    known = [str(field.validation_alias or key) for key, field in model.model_fields.items()]
    near = get_close_matches(name, known, n=1, cutoff=0.7)
    homes = [key.rpartition(".")[0] for key in KEYS if key.rpartition(".")[2] == name]
    if near:
        right = f"was {near[0]} meant?"
    elif homes:
        right = f"it belongs under [{homes[0]}]" if homes[0] else "it belongs at the top, above the first [table]"
    else:
        right = f"keys here: {', '.join(known)}"
    return f"unknown key {name!r}", right


def _short(given: object) -> str:
    text = repr(given) if isinstance(given, str) else "nothing" if given is None else str(given)
    return text if len(text) <= 40 else f"{text[:40]}..."


def _without_kinds(loc: Iterable[Any]) -> Steps:
    """The error's path without the kind that a part's path carries after its number."""
    path: list[Any] = []
    for step in loc:
        if not (step in PARTS and path and isinstance(path[-1], int)):
            path.append(step)
    return tuple(path)


def _model_at(model: type[BaseModel], loc: Steps) -> type[BaseModel]:
    """The table that an error's path leads to."""
    for step in loc:
        field = model.model_fields.get(str(step))
        if step in PARTS:
            model = PARTS[str(step)]
        elif field is not None:
            kinds = (field.annotation, *get_args(field.annotation))
            model = next((kind for kind in kinds if isinstance(kind, type) and issubclass(kind, BaseModel)), model)
    return model
