"""How to take each reading: seven drawings of our own from dimensions, black and white, with the same words as text."""

from __future__ import annotations

from matplotlib.figure import Figure

from geartrack.draw.methods import bar_over_bar, card, clock, ring_height, saddle_depth, solder, wall, wind_over
from geartrack.draw.methods.bench import Bench, Method
from geartrack.errors import refuse

_MODULES = (ring_height, solder, wind_over, saddle_depth, bar_over_bar, wall, clock)
METHODS: dict[str, Method] = {module.CARD.name: module.CARD for module in _MODULES}


def method_figure(name: str) -> Figure:
    """The drawing of a method with its card's words, for `geartrack.draw.save`; raises InputError for another name."""
    return card.figure(_method(name))


def describe_method(name: str) -> str:
    """The same words alone, a line each under the title: tool, where it touches, what to read, the usual mistake.

    Raises InputError for another name.

    >>> print(describe_method("clock").splitlines()[0])
    The clock on the boss
    """
    return card.describe(_method(name))


def _method(name: str) -> Method:
    if name not in METHODS:
        raise refuse(f"method {name!r}", "no method of that name", f"use one of {', '.join(METHODS)}")
    return METHODS[name]


__all__ = ["METHODS", "Bench", "Method", "describe_method", "method_figure"]
