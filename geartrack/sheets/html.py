"""A sheet as one HTML page that prints: the model through one template, nothing worked out or worded anew."""

from __future__ import annotations

import re
from importlib.resources import files
from typing import Any

from geartrack.export.figure import printable
from geartrack.export.paper import Paper
from geartrack.sheets.model import Picture, Sheet

_PAPERS: dict[Paper, str] = {"letter": "letter", "a4": "A4"}
_TITLE = re.compile(r"<title>[^<]*</title>|<title */>")
_NAMED = re.compile(r'(\bid="|href="#|url\(#)')


def sheet_html(sheet: Sheet, paper: Paper) -> bytes:
    """The sheet as an HTML file without any other file; `paper` is what it prints on."""
    from jinja2 import Environment, StrictUndefined

    environment = Environment(autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True)
    environment.filters["line"] = printable
    environment.filters["drawing"] = _Drawings()
    environment.tests["a"] = lambda block, name: type(block).__name__ == name
    template = environment.from_string(files(__package__).joinpath("sheet.html.j2").read_text(encoding="utf-8"))
    return template.render(sheet=sheet, paper=_PAPERS[paper]).encode()


class _Drawings:
    """Pictures as SVG within the page; the names inside each are made its own."""

    def __init__(self) -> None:
        self._count = 0

    def __call__(self, picture: Picture) -> Any:
        from markupsafe import Markup

        self._count += 1
        mine = f"p{self._count}-"
        svg = _NAMED.sub(rf"\g<1>{mine}", picture.svg[picture.svg.index("<svg") :])
        title = f'<title id="{mine}title">{Markup.escape(picture.name)}</title>'
        svg = _TITLE.sub(lambda _: title, svg, count=1).replace("<desc>", f'<desc id="{mine}says">', 1)
        named = f'<svg aria-labelledby="{mine}title" aria-describedby="{mine}says" '
        return Markup(svg.replace("<svg ", named, 1))
