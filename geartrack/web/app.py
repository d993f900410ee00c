"""The page as an ASGI application: its routes, its guard, what it starts and closes."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from pathlib import Path
from typing import Any

from starlette.applications import Starlette
from starlette.middleware import Middleware
from starlette.requests import Request
from starlette.responses import PlainTextResponse, Response
from starlette.routing import Mount, Route
from starlette.staticfiles import StaticFiles

from geartrack.errors import GeartrackError
from geartrack.web import api, pages_book, pages_job, pages_scan, pages_start, pages_view, work
from geartrack.web.bench import Bench, overtaken, refused
from geartrack.web.drafts import Drafts
from geartrack.web.pool import Stopped, Workers
from geartrack.web.render import HERE, page
from geartrack.web.safety import Limits, Safety


def build(*, folder: Path, book: Path, hosts: frozenset[str], limits: Limits | None = None) -> Starlette:
    """The application. folder: where its drafts lie; hosts: the names it answers to, such as "127.0.0.1:8000"."""
    drafts = Drafts(folder)

    @asynccontextmanager
    async def running(app: Starlette) -> AsyncIterator[None]:
        workers = Workers()
        app.state.bench = Bench(drafts, workers, book)
        warmed = asyncio.create_task(workers.run(work.warm, lane="quick", key="warm"))
        try:
            yield
        finally:
            warmed.cancel()
            await asyncio.to_thread(workers.close)

    faults: dict[Any, Callable[..., Any]] = {GeartrackError: refused, Stopped: overtaken, 404: missing, 405: missing}
    safety = Middleware(Safety, hosts=hosts, secret=drafts.secret(), limits=limits)
    return Starlette(routes=_routes(), middleware=[safety], lifespan=running, exception_handlers=faults)


def _routes() -> list[Route | Mount]:
    def get(path: str, handler: Any) -> Route:
        return Route(path, handler, methods=["GET"])

    def post(path: str, handler: Any) -> Route:
        return Route(path, handler, methods=["POST"])

    return [
        get("/", pages_start.start),
        get("/card/{card}", pages_start.card),
        post("/card/{card}", pages_start.work_card),
        post("/card/{card}/job", pages_start.take_card),
        post("/demo", pages_start.demo),
        post("/blank", pages_start.blank),
        post("/open", pages_start.open_file),
        get("/job/{draft}", pages_job.job),
        post("/job/{draft}", pages_job.change_job),
        get("/job/{draft}/answer", pages_job.answer),
        get("/job/{draft}/sure", pages_job.sure),
        post("/job/{draft}/undo", pages_job.undo),
        post("/job/{draft}/redo", pages_job.redo),
        get("/job/{draft}/history", pages_job.history),
        post("/job/{draft}/back", pages_job.back_to),
        post("/job/{draft}/pair", pages_job.try_pair),
        get("/job/{draft}/ratios", pages_job.ratios),
        get("/job/{draft}/passes", pages_job.passes),
        post("/job/{draft}/passes", pages_job.now_at),
        get("/job/{draft}/quote", pages_job.quote),
        get("/job/{draft}/{revision:int}/{name}.svg", pages_job.figure),
        get("/job/{draft}/view", pages_view.view),
        get("/job/{draft}/{revision:int}/scene.glb", pages_view.scene),
        get("/job/{draft}/scan/{scan}/points.glb", pages_scan.points),
        get("/job/{draft}/files", pages_job.files),
        get("/job/{draft}/files/{name}", pages_job.file),
        get("/job/{draft}/boss", pages_scan.boss),
        post("/job/{draft}/scan", pages_scan.bring),
        get("/job/{draft}/scan/{scan}", pages_scan.scan),
        get("/job/{draft}/scan/{scan}/look", pages_scan.look),
        get("/job/{draft}/scan/{scan}/progress", pages_scan.progress),
        get("/job/{draft}/scan/{scan}/picture.svg", pages_scan.picture),
        post("/job/{draft}/scan/{scan}/stop", pages_scan.stop),
        post("/job/{draft}/scan/{scan}/pick", pages_scan.pick),
        post("/job/{draft}/scan/{scan}/use", pages_scan.use),
        post("/job/{draft}/book", pages_book.put),
        post("/job/{draft}/copy", pages_book.copy),
        get("/book", pages_book.book),
        get("/book/compare", pages_book.compare),
        get("/book/{number:int}", pages_book.record),
        post("/book/{number:int}/state", pages_book.state),
        post("/book/{number:int}/undo", pages_book.undo),
        post("/book/{number:int}/read", pages_book.read),
        post("/book/{number:int}/outcome", pages_book.outcome),
        post("/book/{number:int}/take", pages_book.take),
        get("/api/openapi.json", api.openapi),
        post("/api/{what}", api.answer),
        get("/method/{name}.svg", pages_start.method),
        Mount("/static", StaticFiles(directory=HERE / "static")),
    ]


async def missing(request: Request, fault: Exception) -> Response:
    """What is not there, or not to be asked for that way."""
    if request.url.path.startswith("/static"):
        return PlainTextResponse("Not there.\n", 404)
    return page(request, "refused.html", 404, lines=["There is nothing at this address."])
