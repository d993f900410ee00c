"""Reading a job file: every fault is found before anything is said, each with its file, key and line."""

from __future__ import annotations

import copy
from collections.abc import Callable, Mapping
from difflib import get_close_matches
from pathlib import Path
from types import MappingProxyType
from typing import Any, cast

from pydantic import ValidationError

from geartrack.errors import Finding, InputError, refuse
from geartrack.job.borrow import borrow, parse_toml, read_text
from geartrack.job.check import cross_checks
from geartrack.job.findings import told
from geartrack.job.model import Axle, Boss, Case, Correlated, Gears, Job, OldGears, Running, Target, Turning
from geartrack.job.parts import Table
from geartrack.job.readings import READINGS
from geartrack.job.setup import Setup
from geartrack.job.shop import Shop
from geartrack.job.source import Source, Steps, TextFile

REQUIRED = ("axle", "gears", "boss")
TABLES: Mapping[str, type[Table]] = MappingProxyType(
    {
        "axle": Axle,
        "gears": Gears,
        "case": Case,
        "boss": Boss,
        "target": Target,
        "running": Running,
        "old_gears": OldGears,
        "setup": Setup,
        "shop": Shop,
    }
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


def from_other_file(job: Job, key: str) -> bool:
    """Whether a key's value, such as `shop.rate`, stands in a file that the job names and not in the job itself."""
    source, steps = _source(job), tuple(key.split("."))
    return source.file_of(steps) is not source.main


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
    lists = {
        "turning": _listed(raw, "turning", lambda body: Turning, source, findings),
        "readings": _listed(raw, "readings", _kind_of_reading, source, findings),
        "correlated": _listed(raw, "correlated", lambda pair: Correlated, source, findings),
    }
    raw |= {name: tuple(table for table in tables if table) for name, tables in lists.items()}
    faults = cross_checks({**good, "readings": lists["readings"]})
    findings += [Finding(source.where(steps), what, right) for steps, what, right in faults]
    job = _validated(Job, raw | good, (), source, findings)
    if findings or not isinstance(job, Job):
        raise InputError(*findings)
    job._source = source
    return job


def _listed(
    raw: dict[str, Any],
    name: str,
    kind_of: Callable[[Any], type[Table]],
    source: Source,
    findings: list[Finding],
) -> tuple[Table | None, ...]:
    """The tables under [[name]]; None where one has faults, so that the others keep their numbers."""
    tables = raw.pop(name, [])
    if not isinstance(tables, list):
        findings.append(Finding(source.where((name,)), "is not a list of tables", f"a heading [[{name}]] to each"))
        return ()
    found: list[Table | None] = []
    for number, table in enumerate(tables):
        try:
            found.append(_validated(kind_of(table), table, (name, number), source, findings))
        except InputError as fault:
            findings += [Finding(source.where((name, number, "kind")), f.what, f.right) for f in fault.findings]
            found.append(None)
    return tuple(found)


def _kind_of_reading(table: Any) -> type[Table]:
    """The model of a reading, by its kind."""
    if not isinstance(table, dict):
        return Table
    kind = table.get("kind")
    if isinstance(kind, str) and kind in READINGS:
        return READINGS[kind]
    near = get_close_matches(str(kind), READINGS, n=1)
    what = "not given" if kind is None else f"there is no kind of reading {str(kind)[:30]!r}"
    raise refuse("", what, f"was {near[0]} meant?" if near else f"one of {', '.join(READINGS)}")


def _validated(model: type[Table], raw: object, steps: Steps, source: Source, findings: list[Finding]) -> Table | None:
    """The table, or None with its faults added to the findings."""
    try:
        return model.model_validate(raw)
    except ValidationError as fault:
        for error in fault.errors(include_url=False):
            if error["type"] != "missing" or steps or error["loc"][0] not in TABLES:
                findings += told(error, model, steps, source)
        return None
