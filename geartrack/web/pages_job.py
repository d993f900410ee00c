"""The work screen of one job: left what is known, right the answer, below what else follows from it."""

from __future__ import annotations

import mimetypes
import re
from collections.abc import Mapping
from typing import Any

from starlette.datastructures import FormData
from starlette.requests import Request
from starlette.responses import Response

from geartrack.errors import InputError, refuse
from geartrack.job import TOOLS
from geartrack.web import forms, lists, work, work_files
from geartrack.web.bench import bench_of, change, draft_of, see, svg_answer, texts
from geartrack.web.drafts import Conflict, Draft, Revision
from geartrack.web.faults import named, sorted_faults
from geartrack.web.forms import Faults
from geartrack.web.render import is_live, page

SHEET_POLICY = "default-src 'none'; style-src 'unsafe-inline'; img-src data:"
MOST_PASSES = 40
FIGURES = {"near": "Nearest place, enlarged", "side": "Side view", "end": "End view, from the pinion-nut end"}


async def job(request: Request) -> Response:
    """The work screen."""
    draft = draft_of(request)
    draws = request.query_params.get("draws") == "1"
    return await _screen(request, draft, "job.html", draws=draws)


async def answer(request: Request) -> Response:
    """The answer with low to high by the straight sum, or by draws where these are there already."""
    return await _screen(request, draft_of(request), "answer.html", draws=False)


async def sure(request: Request) -> Response:
    """The answer with low to high by draws, when it is there."""
    whole = await _screen(request, draft_of(request), "answer.html", draws=True)
    whole.headers["hx-trigger"] = "worked"  # what rests on it is asked for again
    return whole


@change
async def change_job(request: Request, form: FormData) -> Response:
    """The whole form as it is typed now: kept, whatever it says, then answered."""
    draft, typed = draft_of(request), texts(form)
    document, keys = forms.changed(draft.now.document, typed)
    document, more = lists.changed(document, typed)
    document = lists.acted(document, typed.get("act", ""))
    what = ", ".join([*keys, *more][:4]) or typed.get("act", "")
    return await _after(request, draft, seen(typed), document, what)


@change
async def undo(request: Request, form: FormData) -> Response:
    """One change back."""
    typed = texts(form)
    return _moved(request, lambda: bench_of(request).drafts.undo(request.path_params["draft"], seen(typed)))


@change
async def redo(request: Request, form: FormData) -> Response:
    """One change forward again."""
    typed = texts(form)
    return _moved(request, lambda: bench_of(request).drafts.redo(request.path_params["draft"], seen(typed)))


async def history(request: Request) -> Response:
    """Every state that the job was in, the newest first."""
    draft = draft_of(request)
    states = bench_of(request).drafts.history(draft.id)[::-1]
    return page(request, "states.html", draft=draft, revision=draft.now.number, states=states)


@change
async def back_to(request: Request, form: FormData) -> Response:
    """Any earlier state again, as a new one after the newest, so that undo takes this back too."""
    draft, typed = draft_of(request), texts(form)
    drafts, number = bench_of(request).drafts, seen({"revision": typed.get("state", "")})
    document = drafts.revision(draft.id, number).document
    return _moved(request, lambda: drafts.change(draft.id, seen(typed), document, f"back to state {number}"))


@change
async def try_pair(request: Request, form: FormData) -> Response:
    """Another tooth pair in place of the job's; what belongs to the old set's own parts goes with it."""
    draft, typed = draft_of(request), texts(form)
    document = lists.with_pair(draft.now.document, typed.get("teeth", ""))
    drafts = bench_of(request).drafts
    return _moved(
        request, lambda: drafts.change(draft.id, seen(typed), document, f"tried {typed.get('teeth', '')[:20]}")
    )


def _moved(request: Request, move: Any, place: str = "") -> Response:
    try:
        draft: Draft = move()
    except Conflict as fault:
        return conflict(request, fault)
    return see(request, f"/job/{draft.id}{place}")


async def _after(request: Request, draft: Draft, number: int, document: Mapping[str, Any], what: str) -> Response:
    try:
        draft = bench_of(request).drafts.change(draft.id, number, document, what, typing=is_live(request))
    except Conflict as fault:
        return conflict(request, fault)
    if is_live(request):
        return await _glance(request, draft)
    return see(request, f"/job/{draft.id}")


def conflict(request: Request, fault: Conflict) -> Response:
    """That the job was changed elsewhere, and where it stands now."""
    live = is_live(request)  # a piece of a page is shown only with a status that says it is good
    said = {"said": str(fault), "draft": request.path_params["draft"]}
    shown = page(request, "conflict.html", 200 if live else 409, **said)
    shown.headers.update({"hx-retarget": "#answer", "hx-reswap": "outerHTML"})  # a change's own place is out of sight
    return shown


def seen(typed: Mapping[str, str]) -> int:
    """Which state of the job a form was made from."""
    text = typed.get("revision", "")
    if not re.fullmatch(r"\d{1,9}", text):
        raise refuse("revision", "the form does not say which state it was made from", "load the page again")
    return int(text)


async def _glance(request: Request, draft: Draft) -> Response:
    """What is there at once; a piece of it asks for the rest. Where nothing can be worked out: the whole answer."""
    bench, document = bench_of(request), draft.now.document
    if bench.has(work.answer, document, True) is None:
        try:
            found = await bench.run(work.glanced, draft.id, document, lane="quick")
            return page(request, "glance.html", draft=draft, revision=draft.now.number, glance=found)
        except InputError:
            pass  # said with its fields by the answer
    whole = await _screen(request, draft, "answer.html", draws=False)
    whole.headers.update({"hx-retarget": "#answer", "hx-reswap": "outerHTML"})
    return whole


async def _screen(request: Request, draft: Draft, template: str, *, draws: bool) -> Response:
    bench, now = bench_of(request), draft.now
    found, faults = None, Faults()
    draws = draws or bench.has(work.answer, now.document, True) is not None
    try:
        found = await bench.worked(draft.id, now.document, draws=draws)
    except InputError as error:
        faults = sorted_faults(named(error.findings, bench.drafts.called()), lists.names(now.document))
    view = found.view if found else None
    return page(request, template, **_filled(draft, now, faults), answer=view, figures=FIGURES)


def _filled(draft: Draft, now: Revision, faults: Faults) -> dict[str, Any]:
    return {
        "draft": draft,
        "revision": now.number,
        "groups": forms.GROUPS,
        "shown": lambda key: forms.shown(forms.get(now.document, key)),
        "boss_from": lists.boss_from(now.document),
        "parts": lists.parts(now.document),
        "readings": lists.readings(now.document),
        "kinds": lists.KINDS,
        "besides": lists.besides(now.document),
        "tools": TOOLS,
        "faults": faults,
        "name": str(now.document.get("name", "")) or "Job",
    }


async def figure(request: Request) -> Response:
    """One drawing of an answer, as SVG."""
    bench, name = bench_of(request), request.path_params["name"]
    document = bench.drafts.revision(request.path_params["draft"], int(request.path_params["revision"])).document
    if name == "ratios":
        shared = lists.for_ratios(document)
        _, svg = await bench.run(work.ratios, request.path_params["draft"], shared, lane="heavy")
    elif name == "glance":
        svg = (await bench.run(work.glanced, request.path_params["draft"], document, lane="quick")).near
    else:
        draws = request.query_params.get("by") == "draws"  # its depths and STOP are those of the answer beside it
        found = await bench.worked(request.path_params["draft"], document, draws=draws)
        svg = found.figures.get(name)
    if svg is None:
        raise refuse("figure", f"there is no drawing {name[:30]!r}", ", ".join(FIGURES))
    return svg_answer(svg)


async def ratios(request: Request) -> Response:
    """The comparison of tooth pairs."""
    draft = draft_of(request)
    document = lists.for_ratios(draft.now.document)
    view, _ = await bench_of(request).run(work.ratios, draft.id, document, lane="heavy")
    return page(request, "ratios.html", table=view, draft=draft, revision=draft.now.number)


async def passes(request: Request) -> Response:
    """The cut in passes, with the gaps read after them; a gap that cannot be read is said beside its field."""
    draft = draft_of(request)
    typed, view, faults = draft.now.document.get(work.NOW_AT, []), None, []
    try:
        view = await bench_of(request).run(work.passes, draft.id, draft.now.document, lane="heavy")
    except InputError as error:
        if not typed:
            raise
        faults = str(error).splitlines()
    shown = {"draft": draft, "revision": draft.now.number, "typed": typed, "faults": faults}
    return page(request, "passes.html", plan=view, **shown)


@change
async def now_at(request: Request, form: FormData) -> Response:
    """The gaps read after passes, kept as typed."""
    draft, typed = draft_of(request), texts(form)
    gaps = [str(text).strip()[:40] for text in form.getlist("now_at")][:MOST_PASSES]
    while gaps and not gaps[-1]:
        gaps.pop()
    document = work.of_job(draft.now.document) | ({work.NOW_AT: gaps} if gaps else {})
    drafts = bench_of(request).drafts
    return _moved(request, lambda: drafts.change(draft.id, seen(typed), document, "gaps read after passes"), "#passes")


async def quote(request: Request) -> Response:
    """What it costs."""
    draft = draft_of(request)
    document = await bench_of(request).run(work.quoted, draft.id, draft.now.document, lane="heavy")
    return page(request, "quote.html", quote=document)


async def file(request: Request) -> Response:
    """A file to take away."""
    bench, draft, name = bench_of(request), draft_of(request), request.path_params["name"]
    content = await bench.run(work_files.made, draft.id, draft.now.document, name, lane="heavy")
    kind = "text/html" if name.endswith(".html") else mimetypes.guess_type(name)[0] or "application/octet-stream"
    shown = "inline" if name.endswith((".html", ".pdf", ".svg")) else "attachment"
    headers = {"content-disposition": f'{shown}; filename="{name}"', "content-security-policy": SHEET_POLICY}
    return Response(content, media_type=kind, headers=headers)


async def files(request: Request) -> Response:
    """The files that may be taken away."""
    return page(request, "files.html", draft=draft_of(request), files=work_files.FILES)
