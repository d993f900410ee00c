"""Entries for tests of the shop's book, as plain documents: invented, small, and of the form that a check writes."""

from __future__ import annotations

from datetime import datetime, timedelta, timezone
from typing import Any


def inputs_body(name: str = "invented job", *, customer: str | None = None, note: str = "") -> dict[str, Any]:
    toml = f'name = "{name}"\n# {note}'
    job = {"name": name, "axle": {"offset": 54.0}}
    head = {"customer": customer, "name": name, "teeth": "7/36", "mark": "F-1207", "file": "job.toml"}
    return head | {"toml": toml, "job": job, "tables": {}}


def check_document(*, low: float = 0.1, said: float = 0.4, high: float = 0.7, read: bool = False) -> dict[str, Any]:
    evidence = [{"name": "pitch cones"}, *([{"name": "the gap read"}] if read else [])]
    return {
        "kind": "check",
        "verdict": "grind",
        "gap": {"nominal_mm": said},
        "band": {"low_mm": low, "high_mm": high},
        "teeth_run": {"evidence": evidence},
    }


def three(low: object, likely: object, high: object) -> dict[str, str]:
    return {"low": str(low), "likely": str(likely), "high": str(high)}


def quote_document(**hours: float) -> dict[str, Any]:
    """A quote whose lines are named by the keywords, with so many likely hours each."""
    lines = [
        {"name": name, "hours": three(likely / 2, likely, likely * 2), "money": three(1, 2, 3), "counted": True}
        for name, likely in (hours or {"Cutting": 0.5}).items()
    ]
    extra = {"name": "Burr", "hours": None, "money": three(1, 2, 3), "counted": True}
    return {"kind": "quote", "currency": "GBP", "lines": [*lines, extra], "total": three("100.00", "150.10", "210.00")}


def outcome_body(**said: Any) -> dict[str, Any]:
    return {"hours": {}, "gap_after_mm": None, "mass_g": None, "photos": [], "note": ""} | said


def gap_body(value_mm: float) -> dict[str, Any]:
    return {"what": "gap", "typed": f"{value_mm} mm", "value_mm": value_mm, "tool": "", "by": "", "note": ""}


def state_body(state: str) -> dict[str, str]:
    return {"state": state, "note": ""}


class Calendar:
    """A clock that stands at the day it was set to."""

    def __init__(self, day: str = "2026-03-02") -> None:
        self.set(day)

    def set(self, day: str) -> None:
        self.time = datetime.fromisoformat(f"{day}T09:00:00").replace(tzinfo=timezone(timedelta(hours=1)))

    def __call__(self) -> datetime:
        return self.time
