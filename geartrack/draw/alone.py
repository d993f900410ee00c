"""One view by itself, as the text of an SVG file for a page."""

from __future__ import annotations

from collections.abc import Callable

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from geartrack.draw.save import svg_text

_EDGE = (0.11, 0.1, 0.86, 0.81)  # left, bottom, width, height of the axes in the figure
_BARE = (0.01, 0.01, 0.98, 0.91)  # where nothing is ruled at the edges


def view_svg(draw: Callable[[Axes], object], words: str, *, wide: float, high: float, ruled: bool = True) -> str:
    """A view as SVG, wide and high [in], with scales at its edges if ruled.

    words: its text equivalent, of which the first sentence is the title.
    """
    figure = Figure(figsize=(wide, high), facecolor="white", label=words)
    figure.suptitle(words.partition(". ")[0]).set_visible(False)  # the views have their own heads
    draw(figure.add_axes(_EDGE if ruled else _BARE))
    return svg_text(figure)
