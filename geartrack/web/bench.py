"""What the routes share: the drafts, the workers, what they have answered, and how a change is let in."""

from __future__ import annotations

import asyncio
import json
from collections import OrderedDict
from collections.abc import Awaitable, Callable, Mapping
from dataclasses import dataclass, field
from functools import wraps
from hashlib import sha256
from pathlib import Path
from typing import Any

from starlette.datastructures import FormData
from starlette.requests import Request
from starlette.responses import PlainTextResponse, RedirectResponse, Response

from geartrack.errors import GeartrackError
from geartrack.web import work
from geartrack.web.drafts import Draft, Drafts
from geartrack.web.pool import Workers
from geartrack.web.render import page
from geartrack.web.safety import TOKEN_FIELD, TOKEN_HEADER, token_holds

_KEPT = 60
FILES, FIELDS, FIELD_BYTES = 40, 2000, 400_000_000


@dataclass
class Bench:
    """One running page. book: the shop's book. kept: results by what they were made from, the newest last."""

    drafts: Drafts
    workers: Workers
    book: Path
    kept: OrderedDict[str, Any] = field(default_factory=OrderedDict)
    flying: dict[str, asyncio.Task[Any]] = field(default_factory=dict)

    async def worked(self, draft: str, document: Mapping[str, Any], *, draws: bool) -> work.Worked:
        """The answer to a document, from what is kept or from a worker."""
        lane = "heavy" if draws else "quick"
        found: work.Worked = await self.run(work.answer, draft, document, draws, lane=lane)
        return found

    async def run(self, function: Any, draft: str, document: Mapping[str, Any], *args: Any, lane: Any) -> Any:
        """What a function of `work` makes of a document; kept, so that asking again costs nothing."""
        key = self.key(function, document, *args)
        name = f"{draft} {function.__name__}"
        return await self._kept(key, name, lane, function, document, self.drafts.files, *args)

    async def kept_by(self, function: Any, *args: Any, lane: Any) -> Any:
        """What a function makes of plain values, kept likewise."""
        key = self.key(function, {}, *args)
        return await self._kept(key, key, lane, function, *args)

    async def _kept(self, key: str, name: str, lane: Any, function: Any, *args: Any) -> Any:
        if key in self.kept:
            self.kept.move_to_end(key)
            return self.kept[key]
        if key not in self.flying:
            task = self.workers.run(function, *args, lane=lane, key=name)
            self.flying[key] = asyncio.create_task(task)
            self.flying[key].add_done_callback(lambda _: self.flying.pop(key, None))
        self.kept[key] = found = await asyncio.shield(self.flying[key])
        while len(self.kept) > _KEPT:
            self.kept.popitem(last=False)
        return found

    def has(self, function: Any, document: Mapping[str, Any], *args: Any) -> Any:
        """What is kept of it; None where nothing is."""
        return self.kept.get(self.key(function, document, *args))

    @staticmethod
    def key(function: Any, document: Mapping[str, Any], *args: Any) -> str:
        """The name under which a result is kept."""
        made_from = json.dumps([function.__name__, document, args], sort_keys=True)
        return sha256(made_from.encode()).hexdigest()


def bench_of(request: Request) -> Bench:
    """The running page that a request came to."""
    found: Bench = request.app.state.bench
    return found


Change = Callable[[Request, FormData], Awaitable[Response]]


def change(handler: Change) -> Callable[[Request], Awaitable[Response]]:
    """A route that changes something: its form is read once, and must carry the page's token."""

    @wraps(handler)
    async def guarded(request: Request) -> Response:
        async with request.form(max_files=FILES, max_fields=FIELDS, max_part_size=FIELD_BYTES) as form:
            given = request.headers.get(TOKEN_HEADER) or form.get(TOKEN_FIELD)
            if not token_holds(request.state.token, given):
                return PlainTextResponse("Changes need this page's own token; load the page again.\n", 403)
            return await handler(request, form)

    return guarded


def texts(form: FormData) -> dict[str, str]:
    """The text fields of a form; the last of each name counts."""
    return {name: value for name, value in form.multi_items() if isinstance(value, str)}


def draft_of(request: Request) -> Draft:
    """The draft that a request's path names."""
    return bench_of(request).drafts.get(request.path_params["draft"])


def see(request: Request, path: str) -> Response:
    """Go and see another page, by whichever way the request came."""
    if request.headers.get("hx-request") == "true":
        return Response(status_code=204, headers={"hx-redirect": path})
    return RedirectResponse(path, 303)


async def refused(request: Request, fault: Exception) -> Response:
    """A page that says what is wrong in a line to each fault."""
    lines = str(fault).splitlines() if isinstance(fault, GeartrackError) else ["Something went wrong here."]
    shown = page(request, "refused.html", 422, lines=lines)
    if request.headers.get("hx-target") == "changed":  # which is out of sight
        shown.headers.update({"hx-retarget": "#answer", "hx-reswap": "outerHTML"})
    return shown


async def overtaken(request: Request, fault: Exception) -> Response:
    """What somebody stopped, or a later change overtook: the page stays as it is."""
    return Response(status_code=204)


def svg_answer(svg: str) -> Response:
    """A drawing as a picture of its own, which brings its own styles and can load nothing."""
    headers = {"content-security-policy": "default-src 'none'; style-src 'unsafe-inline'"}
    return Response(svg, media_type="image/svg+xml", headers=headers | {"cache-control": "private, max-age=3600"})
