"""What the JSON API answers, worked as the commands work it, and as the same text that `--json` prints."""

from __future__ import annotations

import json
import tempfile
from collections.abc import Mapping
from datetime import date
from pathlib import Path
from typing import Any

from geartrack.job import Job, job_from_dict, typed_length, with_changes
from geartrack.study import (
    Answer,
    as_document,
    check,
    compare_ratios,
    gear_dimensions,
    pairs_between,
    pass_plan,
    quote_for,
    typed_pairs,
    with_teeth,
)
from geartrack.study.sampling import asked_sampling, row_sampling
from geartrack.web.uploads import put_together
from geartrack.web.work import Tick

CHANGES = {"target": "target.gap", "confidence": "target.confidence", "units": "units"}


def api(tick: Tick, what: str, asked: Mapping[str, Any]) -> str:
    """The document that was asked for, as text."""
    found = gear_dimensions(dict(asked)) if what == "gears" else _of_job(what, asked)
    return json.dumps(as_document(found), indent=2, allow_nan=False) + "\n"


def _of_job(what: str, asked: Mapping[str, Any]) -> object:
    brought = {name: text.encode() for name, text in (asked.get("files") or {}).items()}
    with tempfile.TemporaryDirectory() as folder:
        job = _job(asked, brought, Path(folder))
        return _WORK[what](job, asked)


def _job(asked: Mapping[str, Any], brought: Mapping[str, bytes], folder: Path) -> Job:
    document = put_together(dict(asked["job"]), "job", brought, folder)
    job = job_from_dict(document, folder, "job")
    changes = {key: str(asked[name]) for name, key in CHANGES.items() if asked.get(name) is not None}
    job = with_changes(job, changes) if changes else job
    return with_teeth(job, asked["teeth"]) if asked.get("teeth") else job


def _checked(job: Job, asked: Mapping[str, Any]) -> Answer:
    return check(job, asked_sampling(bool(asked.get("fast")), asked.get("draws"), asked.get("seed")))


def _ratios(job: Job, asked: Mapping[str, Any]) -> object:
    typed = asked.get("pairs")
    pairs = typed_pairs(typed) if typed is not None else pairs_between(asked["from"], asked["to"])
    return compare_ratios(job, pairs, sampling=row_sampling(bool(asked.get("fast"))))


def _passes(job: Job, asked: Mapping[str, Any]) -> object:
    typed = asked.get("depth_each")
    depth = typed_length(typed, where="depth_each", low_mm=0.02, high_mm=2) if typed is not None else None
    readings = [typed_length(text, where="now_at", low_mm=0, high_mm=25) for text in asked.get("now_at") or ()]
    answer = _checked(job, asked)
    return pass_plan(answer, depth_each_mm=depth.value if depth else None, readings=readings, after=asked.get("after"))


def _quote(job: Job, asked: Mapping[str, Any]) -> object:
    return quote_for(_checked(job, asked), date.today())


_WORK = {"check": _checked, "next": _checked, "ratios": _ratios, "passes": _passes, "quote": _quote}
