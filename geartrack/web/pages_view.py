"""The boss in three dimensions: its place on the work screen, and what the browser draws it from."""

from __future__ import annotations

from starlette.requests import Request
from starlette.responses import Response

from geartrack.web import work_view
from geartrack.web.bench import bench_of, draft_of
from geartrack.web.render import page


async def view(request: Request) -> Response:
    """The view with its words and, until it is drawn or where it cannot be, the flat one."""
    draft, bench = draft_of(request), bench_of(request)
    found = await bench.worked(draft.id, draft.now.document, draws=True)
    return page(request, "view.html", draft=draft, revision=draft.now.number, answer=found.view)


async def scene(request: Request) -> Response:
    """The solids of one state of a job, as GLB."""
    bench, name = bench_of(request), request.path_params["draft"]
    document = bench.drafts.revision(name, int(request.path_params["revision"])).document
    found = await bench.run(work_view.scene, name, document, lane="heavy")
    return glb_answer(found.glb)


def glb_answer(content: bytes) -> Response:
    """A GLB that the page itself fetches."""
    return Response(content, media_type="model/gltf-binary", headers={"cache-control": "private, max-age=3600"})
