"""A sheet as the file that a name asks for."""

from __future__ import annotations

from pathlib import Path

from geartrack.errors import refuse
from geartrack.export.paper import Paper
from geartrack.sheets.model import Sheet


def check_name(path: Path) -> None:
    """Raises InputError where the path's suffix names nothing that a sheet can be written as."""
    if path.suffix.lower() not in (".pdf", ".html"):
        raise refuse(str(path), "a sheet cannot be written to a name that ends so", "use .pdf or .html")


def sheet_file(sheet: Sheet, path: Path, paper: Paper) -> bytes:
    """The sheet as PDF or HTML, by the path's suffix; raises InputError for another suffix."""
    check_name(path)
    if path.suffix.lower() == ".pdf":
        from geartrack.sheets.pdf import sheet_pdf

        return sheet_pdf(sheet, paper)
    from geartrack.sheets.html import sheet_html

    return sheet_html(sheet, paper)
