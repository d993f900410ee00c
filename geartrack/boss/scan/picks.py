"""Points picked on a scan by hand: on the bore, a face, a side-bearing bore, or the ring's side."""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping
from pathlib import Path
from types import MappingProxyType

import numpy as np

from geartrack.errors import Finding, InputError, refuse
from geartrack.frame import Array
from geartrack.units import parse_length

Picks = Mapping[str, Array]
NONE: Picks = MappingProxyType({})

FEWEST: Mapping[str, int] = MappingProxyType(
    {"bore": 3, "end face": 3, "side bore 1": 3, "side bore 2": 3, "support face": 3, "ring side": 1}
)
"""What can be picked, and how many points it takes."""

_MOST_BYTES, _LINE_MM = 100_000, 0.5
_RIGHT = f"a line a point, such as: bore, 12.5, 3.0, -40.2 (what: {', '.join(FEWEST)})"


def read_picks(path: Path | str, unit: str) -> Picks:
    """Picked points (k, 3) [mm] by datum from a CSV file: name, x, y, z, in the scan's own unit and place.

    unit: the scan's, "mm", "in" or "m". Raises InputError with all that is wrong.
    """
    name = Path(path).name
    try:
        with Path(path).open("rb") as file:
            raw = file.read(_MOST_BYTES + 1)
        text = raw.decode("utf-8-sig")
    except OSError as error:
        raise refuse(name, f"cannot be read: {(error.strerror or 'no reason given').lower()}", "a CSV file") from None
    except UnicodeDecodeError:
        raise refuse(name, "is not plain text", "a CSV file saved as UTF-8") from None
    if len(raw) > _MOST_BYTES or "\0" in text:
        raise refuse(name, "is no list of picked points", _RIGHT)
    return parse_picks(text, unit, source=name)


def parse_picks(text: str, unit: str, *, source: str = "picked points") -> Picks:
    """The picked points of a text; see `read_picks`.

    >>> picks = parse_picks("ring side, 0, 0, 40", "mm")
    >>> picks["ring side"].tolist()
    [[0.0, 0.0, 40.0]]
    """
    unit_mm = parse_length(f"1 {unit}")
    found: dict[str, list[list[float]]] = {}
    findings: list[Finding] = []
    for line, cells in enumerate(csv.reader(io.StringIO(text)), 1):
        cells = [cell.strip() for cell in cells]
        if not any(cells) or cells[0].startswith("#") or cells[1:] == ["x", "y", "z"]:
            continue
        what = cells[0].lower()
        if what not in FEWEST or len(cells) != 4:
            findings.append(Finding(f"{source} row {line}", f"{', '.join(cells)[:60]!r} is no picked point", _RIGHT))
            continue
        try:
            point = [float(cell) * unit_mm for cell in cells[1:]]
        except ValueError:
            findings.append(Finding(f"{source} row {line}", "x, y and z are not all plain numbers", _RIGHT))
            continue
        if not np.isfinite(point).all() or np.abs(point).max() > 1e5:
            findings.append(Finding(f"{source} row {line}", "a point that cannot be", _RIGHT))
            continue
        found.setdefault(what, []).append(point)
    picks = {what: np.array(points) for what, points in found.items()}
    findings += [finding for what, points in picks.items() for finding in _too_few(what, points, source)]
    if findings:
        raise InputError(*findings)
    if not picks:
        raise refuse(source, "holds no point", _RIGHT)
    return MappingProxyType(picks)


def _too_few(what: str, points: Array, source: str) -> list[Finding]:
    """Whether the points of one datum are enough, and not on one line."""
    fewest = FEWEST[what]
    if len(points) < fewest:
        return [Finding(source, f"{len(points)} picked for the {what}", f"{fewest} or more, well apart")]
    if fewest >= 3 and np.linalg.svd(points - points.mean(axis=0), compute_uv=False)[1] < _LINE_MM:
        return [Finding(source, f"the points picked for the {what} lie on one line", "three or more, well apart")]
    return []
