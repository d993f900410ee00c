"""The JSON API: what each command prints with `--json`, at /api/NAME, described at /api/openapi.json.

It works out and changes nothing, so it needs no token; a body is JSON, which no form of another site can send.
"""

from __future__ import annotations

import json
import secrets
from typing import Any

from pydantic import ValidationError
from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from geartrack import __version__
from geartrack.errors import Finding, InputError
from geartrack.web.asked import BODIES
from geartrack.web.bench import bench_of
from geartrack.web.pool import Stopped
from geartrack.web.work_api import api

KIND = "application/json"


async def answer(request: Request) -> Response:
    """One answer, as the command of that name prints it."""
    what = request.path_params["what"]
    if what not in BODIES:
        return _refused([Finding("", f"there is no {what[:30]!r} here", ", ".join(BODIES))], 404)
    if request.headers.get("content-type", "").partition(";")[0].strip().lower() != KIND:
        return _refused([Finding("content-type", "is not JSON", KIND)], 415)
    try:
        asked = BODIES[what][0].model_validate(_read(await request.body())).model_dump(by_alias=True, exclude_none=True)
        bench = bench_of(request)
        text = await bench.workers.run(api, what, asked, lane="heavy", key=f"api {secrets.token_hex(8)}")
    except ValidationError as fault:
        told = fault.errors(include_url=False, include_input=False, include_context=False)
        return _refused([Finding(".".join(map(str, each["loc"])), each["msg"]) for each in told], 422)
    except InputError as fault:
        return _refused(list(fault.findings), 422)
    except Stopped as fault:
        return _refused([Finding("", str(fault))], 503)
    return Response(text, media_type=KIND)


def _read(body: bytes) -> Any:
    try:
        return json.loads(body, parse_constant=_no_number)
    except (ValueError, RecursionError):
        raise InputError(Finding("body", "is not JSON", "a table in braces")) from None


def _no_number(text: str) -> float:
    raise ValueError(text)


def _refused(findings: list[Finding], status: int) -> Response:
    told = [{"where": each.where, "what": each.what, "right": each.right} for each in findings]
    return JSONResponse({"schema": 1, "kind": "refused", "geartrack": __version__, "findings": told}, status)


async def openapi(request: Request) -> Response:
    """The API described as OpenAPI 3.1."""
    return JSONResponse(description())


def description() -> dict[str, Any]:
    """The description of the API."""
    schemas: dict[str, Any] = {"Refused": _REFUSED}
    paths = {}
    for name, (model, says) in BODIES.items():
        schema = model.model_json_schema(ref_template="#/components/schemas/{model}")
        schemas |= schema.pop("$defs", {})
        schemas[name.capitalize()] = schema
        paths[f"/api/{name}"] = {"post": _operation(name, says)}
    return {
        "openapi": "3.1.0",
        "info": {"title": "geartrack", "version": __version__, "description": _ABOUT},
        "paths": paths,
        "components": {"schemas": schemas},
    }


_ABOUT = (
    "The same documents as the commands print with --json: millimetres, degrees, grams; their keys are listed in"
    " DEVELOPERS.md. Works on this machine only."
)
_FINDING = {"type": "object", "required": ["where", "what", "right"]} | {
    "properties": {key: {"type": "string"} for key in ("where", "what", "right")}
}
_REFUSED = {
    "type": "object",
    "required": ["schema", "kind", "findings"],
    "properties": {
        "schema": {"const": 1},
        "kind": {"const": "refused"},
        "geartrack": {"type": "string"},
        "findings": {"type": "array", "items": _FINDING},
    },
}
_DOCUMENT = {
    "type": "object",
    "required": ["schema", "kind", "geartrack"],
    "properties": {"schema": {"type": "integer"}, "kind": {"type": "string"}, "geartrack": {"type": "string"}},
}


def _operation(name: str, says: str) -> dict[str, Any]:
    def refused(why: str) -> dict[str, Any]:
        return {"description": why, "content": {KIND: {"schema": {"$ref": "#/components/schemas/Refused"}}}}

    body = {"schema": {"$ref": f"#/components/schemas/{name.capitalize()}"}}
    plain = {"text/plain": {"schema": {"type": "string"}}}
    return {
        "operationId": name,
        "summary": says,
        "requestBody": {"required": True, "content": {KIND: body}},
        "responses": {
            "200": {"description": "The document.", "content": {KIND: {"schema": _DOCUMENT}}},
            "403": {"description": "Asked by another site.", "content": plain},
            "413": {"description": "Too large.", "content": plain},
            "415": refused("The body is not said to be JSON."),
            "422": refused("Refused, a finding for each fault."),
            "503": refused("Took too long and was stopped."),
        },
    }
