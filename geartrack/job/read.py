"""Reading a job file: every fault is found before anything is said, each with its file, key and line."""

from __future__ import annotations

import copy
from collections.abc import Mapping
from pathlib import Path
from types import MappingProxyType
from typing import Any, cast

from pydantic import ValidationError

from geartrack.errors import Finding, InputError, refuse
from geartrack.job.borrow import borrow, parse_toml, read_text
from geartrack.job.check import cross_checks
from geartrack.job.fields import Bare
from geartrack.job.findings import told
from geartrack.job.model import Axle, Boss, Case, Gears, Job, Running, Shop, Target, Turning
from geartrack.job.parts import Table
from geartrack.job.source import Key, Origin, Source

REQUIRED = ("axle", "gears", "boss")
TABLES: Mapping[str, type[Table]] = MappingProxyType(
    {"axle": Axle, "gears": Gears, "case": Case, "boss": Boss, "target": Target, "running": Running, "shop": Shop}
)


def read_job(path: Path | str) -> Job:
    """The job in a file; InputError holds every finding, each `file.toml, key a.b (line n): what; what is right`."""
    path = Path(path)
    text = read_text(path)
    return _job(parse_toml(text, path.name), Origin(path.name, path.resolve().parent, text))


def job_from_dict(document: Mapping[str, Any], base: Path, name: str) -> Job:
    """The job in a document held as a dictionary; `base` is the folder its file names start from."""
    return _job(copy.deepcopy(dict(document)), Origin(name, base.resolve()))


def with_changes(job: Job, changes: Mapping[str, str]) -> Job:
    """The same job with some keys typed anew, such as {"target.gap": "0.030 in"}; checked as a file is."""
    source = _source(job)
    document = copy.deepcopy(dict(source.document))
    for dotted, text in changes.items():
        *tables, last = dotted.split(".")
        place = document
        for step in tables:
            place = place.setdefault(step, {})
            if not isinstance(place, dict):
                raise refuse(f"command line, key {dotted}", f"{step} is not a table", "type it like gears.teeth")
        place[last] = {"true": True, "false": False}.get(text, text)
    return _job(document, source.main, source.changed | frozenset(changes))


def locate(job: Job, key: str) -> str:
    """Where a key of a job was typed: `file, key a.b (line n)`."""
    return _source(job).where(tuple(int(step) if step.isdigit() else step for step in key.split(".")))


def _source(job: Job) -> Source:
    return cast(Source, job._source)


def _job(document: dict[str, Any], main: Origin, changed: frozenset[str] = frozenset()) -> Job:
    raw, source, findings = borrow(document, main, changed)
    tables: dict[str, Any] = {}
    for name, model in TABLES.items():
        if name in raw or name in REQUIRED:
            tables[name] = _validated(model, raw.pop(name, None), (name,), source, findings)
    bodies = raw.pop("turning", [])
    turning = [_validated(Turning, body, ("turning", i), source, findings) for i, body in enumerate(bodies)]
    good = {name: table for name, table in tables.items() if table is not None}
    findings += [Finding(source.where(key), what, right) for key, what, right in cross_checks(good)]
    top = {**raw, "turning": tuple(body for body in turning if body is not None), **good}
    job = _validated(Job, top, (), source, findings)
    if findings or job is None:
        raise InputError(*findings)
    job._source = source
    return job


def _validated(model: type[Any], raw: object, key: Key, source: Source, findings: list[Finding]) -> Any:
    """The table, or None with its faults added to the findings."""
    try:
        return model.model_validate(raw)
    except ValidationError as fault:
        for error in fault.errors(include_url=False):
            if not (key == () and error["type"] == "missing" and error["loc"][0] in TABLES):
                findings += told(error, model, key, source)
        return None


__all__ = ["Bare", "job_from_dict", "locate", "read_job", "with_changes"]
