"""What is turned about on the page, made in a worker: the boss with its cut, and a scan to pick points on."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from geartrack.boss.scan.files import read_scan
from geartrack.boss.scan.thinned import thinned
from geartrack.export.bodies import Body
from geartrack.export.mesh_files import glb
from geartrack.export.view import View, view
from geartrack.units import parse_length
from geartrack.web.work import Tick, answered


def scene(tick: Tick, document: Mapping[str, Any], files: Path) -> View:
    """The boss, the metal to remove and a piece of the ring, low to high by draws."""
    return view(answered(document, files, draws=True))


def scan_points(tick: Tick, document: Mapping[str, Any], files: Path, scan: str, unit: str | None) -> bytes:
    """A kept scan as GLB, thinned, in thousandths of its own numbers: what is picked on it is typed likewise."""
    found = read_scan(files / scan, unit=unit)
    vertices, triangles = thinned(found.vertices, found.triangles)
    numbers = vertices / parse_length(f"1 {found.unit}")
    return glb([Body("scan", numbers, triangles)], "The scan as it lies in its file.")
