"""The boss from a file: a table of readings, a tracing, or a scan that is looked at first."""

from __future__ import annotations

import copy
import csv
import io
from pathlib import PurePosixPath
from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import FormData, UploadFile
from starlette.requests import Request
from starlette.responses import Response

from geartrack.errors import InputError, refuse
from geartrack.job.model import EITHER
from geartrack.study.scan import with_scan
from geartrack.web import work_scan, work_view
from geartrack.web.bench import bench_of, change, draft_of, see, svg_answer, texts
from geartrack.web.drafts import Conflict, Draft
from geartrack.web.faults import named
from geartrack.web.pages_job import conflict, seen
from geartrack.web.pages_view import glb_answer
from geartrack.web.render import page
from geartrack.web.uploads import OWN_NAME, base_name, keep, keep_stream
from geartrack.web.work_scan import ScanView

SCANS = (".stl", ".ply", ".obj", ".3mf")
PICKS = ("bore", "end face", "side bore 1", "side bore 2", "support face", "ring side")
PICK_ROWS, ROWS_LEFT = 40, 9
_VIEWS = {
    "end": ("end_view", ("seen_from", "twelve_oclock")),
    "side": ("side_view", ("pinion_side", "side_shows")),
}


async def boss(request: Request) -> Response:
    """What may be brought for the boss."""
    draft = draft_of(request)
    return page(request, "boss.html", draft=draft, revision=draft.now.number)


@change
async def bring(request: Request, form: FormData) -> Response:
    """A file for the boss: a scan is looked at first, anything else goes into the job."""
    bench, draft, typed = bench_of(request), draft_of(request), texts(form)
    brought = form.get("file")
    if not isinstance(brought, UploadFile) or not brought.filename:
        raise refuse("file", "none was chosen", "a scan, a table of readings, or a tracing")
    own = await run_in_threadpool(keep_stream, brought.file, brought.filename, bench.drafts.files)
    bench.drafts.brought(own, base_name(brought.filename)[:60])
    suffix = PurePosixPath(own).suffix
    if suffix in SCANS:
        unit = typed.get("unit") if typed.get("unit") in ("mm", "in", "m") else ""
        return see(request, f"/job/{draft.id}/scan/{own}?unit={unit}")
    keys = {"stations": own} if suffix == ".csv" else {"trace": _trace(draft, typed, own)}
    return await _into_job(request, draft, seen(typed), {"boss": keys}, "boss from a file")


def _trace(draft: Draft, typed: dict[str, str], own: str) -> dict[str, Any]:
    view, keys = _VIEWS.get(typed.get("view", ""), _VIEWS["end"])
    before = draft.now.document.get("boss", {}).get("trace", {})
    said = {key: typed[key] for key in keys if typed.get(key)}
    return {**(before if isinstance(before, dict) else {}), view: own, **said}


async def _into_job(request: Request, draft: Draft, number: int, changes: dict[str, Any], what: str) -> Response:
    document = copy.deepcopy(draft.now.document)
    for key in EITHER:
        document.get("boss", {}).pop(key, None)
    with_scan(document, changes)
    try:
        bench_of(request).drafts.change(draft.id, number, document, what)
    except Conflict as fault:
        return conflict(request, fault)
    return see(request, f"/job/{draft.id}")


async def scan(request: Request) -> Response:
    """A scan that was brought: what it shows, or how far the looking is."""
    draft, asked = draft_of(request), _asked(request)
    found = bench_of(request).has(work_scan.looked, draft.now.document, *asked)
    return page(request, "scan.html", **_filled(request, draft, found))


async def look(request: Request) -> Response:
    """What a scan shows, when it is known."""
    draft = draft_of(request)
    try:
        found = await bench_of(request).run(
            work_scan.looked, draft.id, draft.now.document, *_asked(request), lane="heavy"
        )
    except InputError as fault:
        told = named(fault.findings, bench_of(request).drafts.called())
        lines = [str(each) for each in told]
        return page(request, "scan_shown.html", **_filled(request, draft, None), faults=lines)
    return page(request, "scan_shown.html", **_filled(request, draft, found), faults=[])


async def progress(request: Request) -> Response:
    """How far the looking is."""
    done, of = bench_of(request).workers.progress(_task(request))
    return page(request, "scan_progress.html", done=done, of=of, here=_here(request), draft=draft_of(request))


@change
async def stop(request: Request, form: FormData) -> Response:
    """No more looking at it."""
    bench_of(request).workers.stop(_task(request))
    return see(request, f"/job/{request.path_params['draft']}/boss")


@change
async def pick(request: Request, form: FormData) -> Response:
    """Points picked on the scan: it is looked at again with them."""
    typed, rows = texts(form), io.StringIO()
    table = csv.writer(rows, lineterminator="\n")
    table.writerow(("what", "x", "y", "z"))
    for n in range(PICK_ROWS):
        row = [typed.get(f"{key}{n}", "").strip() for key in ("what", "x", "y", "z")]
        if all(row):
            table.writerow(row)
    name = keep(rows.getvalue().encode(), "picks.csv", bench_of(request).drafts.files)
    return see(request, f"{_here(request)}?unit={typed.get('unit', '')[:2]}&picks={name}")


@change
async def use(request: Request, form: FormData) -> Response:
    """The scan for the job's boss."""
    draft, typed = draft_of(request), texts(form)
    found = await bench_of(request).run(work_scan.looked, draft.id, draft.now.document, *_asked(request), lane="heavy")
    if found.changes is None:
        raise refuse("scan", f"it does not show {found.missing[0]}", "points picked on it")
    return await _into_job(request, draft, seen(typed), dict(found.changes), "boss from a scan")


async def picture(request: Request) -> Response:
    """What a scan shows, drawn."""
    draft = draft_of(request)
    found = await bench_of(request).run(work_scan.looked, draft.id, draft.now.document, *_asked(request), lane="heavy")
    return svg_answer(found.figure)


async def points(request: Request) -> Response:
    """The scan itself, thinned, to be turned about and picked on."""
    draft, (own, unit, _) = draft_of(request), _asked(request)
    made = await bench_of(request).run(work_view.scan_points, draft.id, {}, own, unit, lane="heavy")
    return glb_answer(made)


def _picked(request: Request, name: str | None) -> list[list[str]]:
    """The points picked so far as they were typed: what, x, y, z."""
    path = bench_of(request).drafts.files / (name or "")
    if name is None or not path.is_file():
        return []
    with path.open(encoding="utf-8", newline="") as table:
        return [row for row in csv.reader(table) if len(row) == 4 and row[0] in PICKS][:PICK_ROWS]


def _asked(request: Request) -> tuple[str, str | None, str | None]:
    """The scan, its unit and its picks, each of the page's own naming."""
    own, query = request.path_params["scan"], request.query_params
    picks, unit = query.get("picks") or None, query.get("unit") or None
    if not all(name is None or OWN_NAME.fullmatch(name) for name in (own, picks)):
        raise refuse("scan", "there is no such file here", "bring it again")
    return own, unit if unit in ("mm", "in", "m") else None, picks


def _task(request: Request) -> str:
    return f"{request.path_params['draft']} {work_scan.looked.__name__}"


def _here(request: Request) -> str:
    return f"/job/{request.path_params['draft']}/scan/{request.path_params['scan']}"


def _filled(request: Request, draft: Draft, found: ScanView | None) -> dict[str, Any]:
    _, unit, picks = _asked(request)
    query = f"unit={unit or ''}&picks={picks or ''}"
    picked = _picked(request, picks)
    return {
        "draft": draft,
        "revision": draft.now.number,
        "found": found,
        "here": _here(request),
        "query": query,
        "unit": unit or "",
        "kinds": PICKS,
        "picked": [*picked, *[["", "", "", ""]] * min(ROWS_LEFT, PICK_ROWS - len(picked))],
    }
