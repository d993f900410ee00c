"""Pages from templates: everything that is filled in is escaped; the words stand in the templates and in words.py."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from starlette.requests import Request
from starlette.responses import HTMLResponse

from geartrack import __version__
from geartrack.web.safety import TOKEN_FIELD

HERE = Path(__file__).resolve().parent
_TEMPLATES = Environment(
    loader=FileSystemLoader(HERE / "templates"),
    autoescape=True,
    undefined=StrictUndefined,
    trim_blocks=True,
    lstrip_blocks=True,
)


def page(request: Request, template: str, status: int = 200, **filled: Any) -> HTMLResponse:
    """A template as an answer to a request, with what every page needs."""
    known = {
        "token": request.state.token,
        "token_field": TOKEN_FIELD,
        "version": __version__,
        "live": is_live(request),
        "path": request.url.path,
    }
    return HTMLResponse(_TEMPLATES.get_template(template).render(known | filled), status)


def is_live(request: Request) -> bool:
    """Whether only a piece of the page is asked for."""
    return request.headers.get("hx-request") == "true"
