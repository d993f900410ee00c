"""The true-scale template of a cut: strip, end face and larger patch, as PDF, SVG or DXF."""

from __future__ import annotations

from pathlib import Path

from geartrack.errors import refuse
from geartrack.export.paper import Paper
from geartrack.export.template.outline import Template, template

__all__ = ["Template", "check_name", "template", "template_file"]


def check_name(path: Path) -> None:
    """Raises InputError where the path's suffix names nothing that a template can be written as."""
    if path.suffix.lower() not in (".pdf", ".svg", ".dxf"):
        raise refuse(str(path), "a template cannot be written to a name that ends so", "use .pdf, .svg or .dxf")


def template_file(made: Template, path: Path, paper: Paper) -> bytes:
    """A template as the file that the path's suffix names; raises InputError for another suffix."""
    check_name(path)
    kind = path.suffix.lower()
    if kind == ".pdf":
        from geartrack.export.template.pdf import template_pdf

        return template_pdf(made, paper)
    if kind == ".svg":
        from geartrack.export.template.svg import template_svg

        return template_svg(made)
    from geartrack.export.template.dxf import template_dxf

    return template_dxf(made)
