"""Figures of an answer and of a table of ratios; they format and never compute, and nothing else imports matplotlib."""

from geartrack.draw.end import end_view
from geartrack.draw.patchmap import patch_view
from geartrack.draw.ratio import ratio_view
from geartrack.draw.save import save, svg_text
from geartrack.draw.scan import scan_figure
from geartrack.draw.sheet import check_figure, describe, ratio_figure, sure_figure
from geartrack.draw.side import near_view, side_view

__all__ = [
    "check_figure",
    "describe",
    "end_view",
    "near_view",
    "patch_view",
    "ratio_figure",
    "ratio_view",
    "save",
    "scan_figure",
    "side_view",
    "sure_figure",
    "svg_text",
]
