"""Figures as files: the same bytes for the same figure, its text equivalent inside, never half-written."""

from __future__ import annotations

import io
from pathlib import Path
from xml.sax.saxutils import escape

import matplotlib
from matplotlib.figure import Figure

from geartrack.errors import refuse
from geartrack.files import write_whole
from geartrack.units import parse_length

_UNDATED: dict[str, dict[str, str | None]] = {
    "svg": {"Date": None, "Creator": "geartrack"},
    "png": {"Software": "geartrack"},
    "pdf": {"CreationDate": None},
}

_DESCRIPTION = {"svg": "Description", "png": "Description", "pdf": "Subject"}
_DOTS_AN_INCH = 150


def save(figure: Figure, path: Path | str) -> None:
    """Write a figure as SVG, PNG or PDF, by the path's suffix; what was there before stays until all is written.

    The figure's title and label go in as its title and text equivalent. Raises InputError for another suffix.
    """
    path = Path(path)
    kind = path.suffix.lower().removeprefix(".")
    if kind not in _UNDATED:
        raise refuse(str(path), "a figure cannot be written to a name that ends so", "use .svg, .png or .pdf")
    write_whole(_rendered(figure, kind), path, overwrite=True)


def svg_text(figure: Figure) -> str:
    """A figure as the text of an SVG file, to be shown in a page or a notebook."""
    return _rendered(figure, "svg").decode()


def pdf_bytes(figure: Figure) -> bytes:
    """A figure as a PDF file of one page, to be laid on another page as it is."""
    return _rendered(figure, "pdf")


def size_mm(figure: Figure) -> tuple[float, float]:
    """Width and height of a figure on paper [mm]."""
    wide, high = (parse_length(f"{inches:.6f} in") for inches in figure.get_size_inches())
    return wide, high


def type_files() -> tuple[Path, Path]:
    """The type that figures are lettered in, plain and bold: font files with Latin, Greek, Cyrillic and more."""
    folder = Path(matplotlib.get_data_path()) / "fonts" / "ttf"
    return folder / "DejaVuSans.ttf", folder / "DejaVuSans-Bold.ttf"


def _rendered(figure: Figure, kind: str) -> bytes:
    title, description = figure.get_suptitle(), str(figure.get_label())
    metadata: dict[str, str | None] = {**_UNDATED[kind], "Title": title, _DESCRIPTION[kind]: description}
    buffer = io.BytesIO()
    with matplotlib.rc_context({"svg.hashsalt": "geartrack"}):
        figure.savefig(buffer, format=kind, dpi=_DOTS_AN_INCH, metadata=metadata)
    return _described(buffer.getvalue(), description) if kind == "svg" else buffer.getvalue()


def _described(svg: bytes, description: str) -> bytes:
    """The drawing with a text equivalent that a screen reader finds."""
    words = f"<desc>{escape(description)}</desc>"
    text = svg.decode()
    return text.replace("</title>", f"</title>\n {words}", 1).replace("<svg ", '<svg role="img" ', 1).encode()
