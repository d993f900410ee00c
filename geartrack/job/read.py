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
from geartrack.job.findings import told
from geartrack.job.model import Axle, Boss, Case, Gears, Job, Running, Shop, Target, Turning
from geartrack.job.parts import Table
from geartrack.job.source import Source, Steps, TextFile

REQUIRED = ("axle", "gears", "boss")
TABLES: Mapping[str, type[Table]] = MappingProxyType(
    {"axle": Axle, "gears": Gears, "case": Case, "boss": Boss, "target": Target, "running": Running, "shop": Shop}
)


def read_job(path: Path | str) -> Job:
    """The job in a file; InputError holds every finding, each `file.toml, key a.b (line n): what; what is right`."""
    path = Path(path)
    text = read_text(path)
    return _job(parse_toml(text, path.name), TextFile(path.name, path.resolve().parent, text))


def job_from_dict(document: Mapping[str, Any], base: Path, name: str) -> Job:
    """The job in a document held as a dictionary; `base` is the folder its file names start from, `name` its label."""
    return _job(document, TextFile(name, base.resolve()))


def with_changes(job: Job, changes: Mapping[str, str]) -> Job:
    """The same job with some keys typed anew, such as {"target.gap": "0.030 in"}; checked as a file is."""
    source = _source(job)
    document = copy.deepcopy(dict(source.document))
    for key, text in changes.items():
        put(document, key, {"true": True, "false": False}.get(text, text), "command line")
    return _job(document, source.main, source.changed | frozenset(changes))


def put(document: dict[str, Any], key: str, value: Any, label: str) -> None:
    """Set a dotted key of a document; `label` is who typed it, for the refusal of a key under what is no table."""
    *tables, last = key.split(".")
    for step in tables:
        document = document.setdefault(step, {})
        if not isinstance(document, dict):
            raise refuse(f"{label}, key {key}", f"{step!r} holds no keys", "such as gears.teeth")
    document[last] = value


def locate(job: Job, key: str) -> str:
    """Where a key of a job was typed, `file, key a.b (line n)`; members of a list count from 0 (`boss.parts.0.at`)."""
    return _source(job).where(tuple(int(step) if step.isdecimal() else step for step in key.split(".")))


def _source(job: Job) -> Source:
    return cast(Source, job._source)


def _job(document: Mapping[str, Any], main: TextFile, changed: frozenset[str] = frozenset()) -> Job:
    try:
        raw, source, findings = borrow(copy.deepcopy(dict(document)), main, changed)
    except RecursionError:
        raise refuse(main.label, "lists or tables within each other too deeply", "a few levels at most") from None
    good: dict[str, Any] = {}
    for name, model in TABLES.items():
        if name in raw or name in REQUIRED:
            table = _validated(model, raw.pop(name, None), (name,), source, findings)
            good |= {name: table} if table else {}
    bodies = raw.pop("turning", [])
    if isinstance(bodies, list):
        read = [_validated(Turning, body, ("turning", n), source, findings) for n, body in enumerate(bodies)]
        raw["turning"] = tuple(body for body in read if body)
    else:
        findings.append(Finding(source.where(("turning",)), "is not a list of tables", "a heading [[turning]] to each"))
    findings += [Finding(source.where(steps), what, right) for steps, what, right in cross_checks(good)]
    job = _validated(Job, raw | good, (), source, findings)
    if findings or not isinstance(job, Job):
        raise InputError(*findings)
    job._source = source
    return job


def _validated(model: type[Table], raw: object, steps: Steps, source: Source, findings: list[Finding]) -> Table | None:
    """The table, or None with its faults added to the findings."""
    try:
        return model.model_validate(raw)
    except ValidationError as fault:
        for error in fault.errors(include_url=False):
            if error["type"] != "missing" or steps or error["loc"][0] not in TABLES:
                findings += told(error, model, steps, source)
        return None
