"""What is turned about on a screen: the boss, the patch coloured by depth, a piece of the ring; one GLB."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from geartrack.errors import InputError
from geartrack.export.bodies import Body
from geartrack.export.mesh_files import glb
from geartrack.export.solids import CAST, RING, as_cast, ring_ghosted, solids
from geartrack.relief.solid import around, triangles_of, turned
from geartrack.study.answer import Answer

_BESIDE = np.radians(12.0)  # the ring is shown this much further than the boss reaches, to both sides


@dataclass(frozen=True, eq=False)
class View:
    """A GLB to look at. cut: whether it shows metal to remove; says: what its colours mean, or why there is no cut."""

    glb: bytes
    cut: bool
    says: str


def view(answer: Answer) -> View:
    """The boss with what is to be removed; as cast where nothing may be ground by; the ring beside it either way."""
    near = _piece_of_ring(answer)
    try:
        made = solids(answer)
    except InputError as fault:
        mesh, what = answer.boss.mesh, fault.findings[0].what
        says = f"The boss as cast; no cut is shown. {what[:1].upper()}{what[1:]}."
        return View(glb([as_cast(Body(CAST, mesh.vertices, mesh.triangles)), near], says), False, says)
    says = f"The metal to remove, by depth: {made.depths}."
    return View(glb([*made.scene[:2], near], says), True, says)


def _piece_of_ring(answer: Answer) -> Body:
    start, end = around(answer.boss)
    piece = turned(answer.section.points, start - _BESIDE, end + _BESIDE, answer.boss.seat)
    return ring_ghosted(Body(RING, *triangles_of(piece)))
