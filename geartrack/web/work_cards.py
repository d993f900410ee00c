"""The short cards in a worker."""

from __future__ import annotations

from collections.abc import Mapping
from importlib import import_module
from pathlib import Path

from geartrack.cards.answer import CardAnswer
from geartrack.cards.entries import Setting
from geartrack.units import Units
from geartrack.web.work import Tick


def card_answer(tick: Tick, module: str, typed: Mapping[str, str], units: Units) -> CardAnswer:
    """A card's answer to typed texts; numbers without a unit are in the unit shown first."""
    found = import_module(module).CARD.work(typed, Setting(units, units, Path()))
    assert isinstance(found, CardAnswer)
    return found


def method_svg(tick: Tick, name: str) -> str:
    """The drawing of a way to take a reading, with its words."""
    from geartrack.draw import svg_text
    from geartrack.draw.methods import method_figure

    return svg_text(method_figure(name))
