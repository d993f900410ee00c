"""What is turned about on the page, made in a worker: the boss with its cut, and a scan to pick points on."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from geartrack.export.view import View, view
from geartrack.web.work import Tick, answered


def scene(tick: Tick, document: Mapping[str, Any], files: Path) -> View:
    """The boss, the metal to remove and a piece of the ring, low to high by draws."""
    return view(answered(document, files, draws=True))
