"""What the workers do: a document in, plain data out. Everything slow is imported here, once in each worker."""

from __future__ import annotations

import json
from collections import OrderedDict
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any

from geartrack.draw import describe, end_view, near_view, ratio_view, side_view
from geartrack.draw.alone import view_svg
from geartrack.errors import refuse
from geartrack.job import Job, job_from_dict
from geartrack.job.borrow import BORROWING, FILES
from geartrack.job.fields import typed_length
from geartrack.quantity import Quantity
from geartrack.study import Answer, as_document, check, compare_ratios, pairs_between, pass_plan, quote_for
from geartrack.study.glance import glance
from geartrack.study.sampling import asked_sampling
from geartrack.units import show_both
from geartrack.web.answers import AnswerView, PassView, RatioView, answer_view, pass_view, ratio_rows
from geartrack.web.uploads import OWN_NAME

Tick = Callable[[int, int], None]
_WIDE, _HIGH = 5.2, 4.5
_KEPT = 6
NOW_AT = "~now at"
"""Where a draft keeps the gaps read after passes; no key of a job."""
_answers: OrderedDict[tuple[str, bool], Answer] = OrderedDict()


@dataclass(frozen=True)
class Worked:
    """An answer for the page: its words and its drawings, as SVG text by name."""

    view: AnswerView
    figures: Mapping[str, str]


def job_of(document: Mapping[str, Any], files: Path) -> Job:
    """The job in a draft's document; refuses every file that the page itself did not put there."""
    document = of_job(document)
    for name in BORROWING:
        table = document.get(name)
        if isinstance(table, Mapping) and "file" in table:
            raise refuse(f"{name}.file", "names another file", "open the job together with that file")
    for steps in FILES:
        named = at(document, steps)
        if named is not None and not (isinstance(named, str) and OWN_NAME.fullmatch(named)):
            raise refuse(
                ".".join(map(str, steps)), "names a file that was not brought", "open the job together with that file"
            )
    return job_from_dict(document, files, "job")


def of_job(document: Mapping[str, Any]) -> dict[str, Any]:
    """A draft's document without what is the page's own, the gaps read after passes."""
    return {key: value for key, value in document.items() if key != NOW_AT}


def gaps_read(document: Mapping[str, Any]) -> list[Quantity]:
    """The gaps read after passes, in order; refuses one that is left out between others."""
    typed = list(document.get(NOW_AT, ()))
    for number, text in enumerate(typed, 1):
        if not text:
            raise refuse(f"now at, pass {number}", "left out, but a later pass has one", "a gap after every pass made")
    return [
        typed_length(text, where=f"now at, pass {number}", low_mm=0, high_mm=25) for number, text in enumerate(typed, 1)
    ]


def at(document: Any, steps: tuple[str | int, ...]) -> Any:
    """What stands in a document under some steps; None where nothing does."""
    for step in steps:
        document = document.get(step) if isinstance(document, Mapping) else None
    return document


def answered(document: Mapping[str, Any], files: Path, *, draws: bool) -> Answer:
    """The answer to a draft, kept for what else is asked of it; draws: low to high by draws, else the straight sum."""
    key = json.dumps(of_job(document), sort_keys=True), draws
    if key not in _answers:
        _answers[key] = check(job_of(document, files), asked_sampling() if draws else None)
        while len(_answers) > _KEPT:
            _answers.popitem(last=False)
    _answers.move_to_end(key)
    return _answers[key]


@dataclass(frozen=True)
class Glanced:
    """The gap as calculated, in words, and the nearest place drawn: there before anything is decided."""

    gap: str
    near: str


def glanced(tick: Tick, document: Mapping[str, Any], files: Path) -> Glanced:
    """What can be shown at once of a change."""
    job = job_of(document, files)
    found = glance(job)
    gap = show_both(found.gap.lower_mm, job.units, rounding="down")
    said = f"Nearest place, enlarged. Gap {gap} as calculated."
    return Glanced(gap, view_svg(partial(near_view, answer=found, units=job.units), said, wide=_WIDE, high=_HIGH))


def answer(tick: Tick, document: Mapping[str, Any], files: Path, draws: bool) -> Worked:
    """The answer with its drawings."""
    found = answered(document, files, draws=draws)
    return Worked(answer_view(found), figures(found))


def figures(found: Answer) -> dict[str, str]:
    """The drawings of an answer, by name."""
    units, said = found.job.units, describe(found)
    return {
        "near": view_svg(partial(near_view, answer=found, units=units), said, wide=_WIDE, high=_HIGH),
        "side": view_svg(partial(side_view, answer=found, units=units), said, wide=6.4, high=4.2),
        "end": view_svg(partial(end_view, answer=found, units=units), said, wide=5.2, high=4.5, ruled=False),
    }


def ratios(tick: Tick, document: Mapping[str, Any], files: Path) -> tuple[RatioView, str]:
    """The usual tooth pairs about the job's own, by the straight sum, and their drawing."""
    job = job_of(document, files)
    pairs = pairs_between(3.5, 6.2)
    done = iter(range(1, len(pairs) + 1))
    table = compare_ratios(job, pairs, lambda: tick(next(done), len(pairs)))
    view = ratio_rows(table)
    svg = view_svg(
        partial(ratio_view, table=table, units=job.units), " ".join(("Gap by ratio.", *view.lost)), wide=11.0, high=5.2
    )
    return view, svg


def passes(tick: Tick, document: Mapping[str, Any], files: Path) -> PassView:
    """The cut in passes."""
    return pass_view(pass_plan(answered(document, files, draws=True), readings=gaps_read(document)))


def quoted(tick: Tick, document: Mapping[str, Any], files: Path) -> dict[str, Any]:
    """The quote's document."""
    return as_document(quote_for(answered(document, files, draws=True)))


def warm(tick: Tick) -> None:
    """Work the demo once, so that the first real answer does not wait for what loads late."""
    from geartrack.datafiles import demo_jobs
    from geartrack.job import read_job

    figures(check(read_job(demo_jobs()[0])))
