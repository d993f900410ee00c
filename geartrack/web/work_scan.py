"""A scan in a worker: what it shows, and what a job gets from it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from geartrack import scan_words
from geartrack.draw import scan_figure, svg_text
from geartrack.errors import InputError
from geartrack.job import Job
from geartrack.study.scan import look_at_scan, scan_changes
from geartrack.units import Units, show_both
from geartrack.web.work import Tick, job_of

_STEPS = 3


@dataclass(frozen=True)
class ScanView:
    """What a scan shows, in words, and drawn; changes: what a job gets from it, None while something is missing."""

    file: str
    health: tuple[str, ...]
    lengths: tuple[str, ...]
    datums: tuple[tuple[str, str, str, str, str], ...]
    differs: tuple[str, ...]
    missing: tuple[str, ...]
    notes: tuple[str, ...]
    figure: str
    changes: Mapping[str, Any] | None


def looked(
    tick: Tick, document: Mapping[str, Any], files: Path, scan: str, unit: str | None, picks: str | None
) -> ScanView:
    """What a kept scan shows, held against the job as far as that can be read."""
    tick(0, _STEPS)
    job = _known(document, files)
    units: Units = job.units if job else "in"
    sheet = look_at_scan(files / scan, unit=unit, picks=files / picks if picks else None, job=job)
    tick(2, _STEPS)
    figure = svg_text(scan_figure(sheet, units, job))
    tick(3, _STEPS)
    return ScanView(
        file=scan_words.of_the_file(sheet).partition(": ")[2].replace("--unit says which", "say which above"),
        health=scan_words.of_the_health(sheet, units),
        lengths=scan_words.of_the_datums(sheet, units),
        datums=tuple(
            (
                each.name,
                show_both(each.rms_mm, units),
                f"{100 * each.share:.0f} %",
                "" if each.turn is None else f"{100 * each.turn:.0f} %",
                "" if each.give_mm is None else show_both(each.give_mm, units, rounding="up"),
            )
            for each in sheet.datums
        ),
        differs=sheet.differs,
        missing=sheet.missing,
        notes=sheet.notes,
        figure=figure,
        changes=None if sheet.missing else scan_changes(sheet, files),
    )


def _known(document: Mapping[str, Any], files: Path) -> Job | None:
    """The job, if what is typed so far makes one."""
    try:
        return job_of(document, files)
    except InputError:
        return None
