"""What stands on a figure, read back from its artists."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations

import numpy as np
from matplotlib.axes import Axes
from matplotlib.axis import Axis
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.patches import Patch
from matplotlib.text import Text
from matplotlib.transforms import Bbox
from numpy.typing import NDArray


def words_on(part: Figure | Axes) -> list[str]:
    """Every text that is seen, lines joined."""
    return [" ".join(text.get_text().split()) for text in _texts(part)]


def patches_named(ax: Axes, name: str) -> list[Patch]:
    return [patch for patch in ax.patches if patch.get_gid() == name]


def corners(patch: Patch) -> NDArray[np.float64]:
    """The corner points (n, 2) of a patch's path in data units, whatever closes it left out."""
    path = patch.get_path()
    return np.asarray(path.vertices[path.codes != path.CLOSEPOLY])


def cut_off(figure: Figure) -> list[str]:
    """Texts that reach past the sheet."""
    sheet = figure.bbox
    return [word for word, b in _boxes(figure) if b.x0 < 0 or b.y0 < 0 or b.x1 > sheet.x1 or b.y1 > sheet.y1]


def run_together(figure: Figure) -> list[tuple[str, str]]:
    """Pairs of texts that lie on each other, but for a hair's breadth; turned texts count with their upright box."""
    return [(a, b) for (a, first), (b, second) in combinations(_boxes(figure), 2) if first.overlaps(second)]


def _boxes(figure: Figure) -> list[tuple[str, Bbox]]:
    canvas = FigureCanvasAgg(figure)
    canvas.draw()
    renderer = canvas.get_renderer()  # of an annotation, the words alone: its line may cross others
    extents = ((text.get_text(), Text.get_window_extent(text, renderer)) for text in _texts(figure))
    return [(words, Bbox.from_extents(b.x0 + 1, b.y0 + 1, b.x1 - 1, b.y1 - 1)) for words, b in extents]


def _texts(part: Figure | Axes) -> Iterator[Text]:
    """Texts that are drawn: not empty, and of an axis' ticks only those within what the axis shows."""
    unseen = set()
    for axis in part.findobj(Axis):
        low, high = sorted(axis.get_view_interval())
        for tick in axis.get_major_ticks():
            if not low <= tick.get_loc() <= high or not axis.axes.axison:
                unseen |= {tick.label1, tick.label2}
    for text in part.findobj(Text):
        if text.get_text().strip() and text.get_visible() and text not in unseen:
            yield text
