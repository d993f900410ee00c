"""Named solids as bytes of STL, 3MF and GLB, with their unit said inside the file."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Any

import numpy as np

from geartrack.export.bodies import Body
from geartrack.frame import Array

_STL_HEADER = 80
_METRE = 0.001  # of a millimetre: a GLB is in metres by its standard (glTF 2.0, section 3.4, from memory)
_UPRIGHT = np.array([[1.0, 0, 0, 0], [0, 0, 1, 0], [0, -1, 0, 0], [0, 0, 0, 1]])  # Z up to glTF's Y up


def file_name(name: str) -> str:
    """A body's name as a file is called.

    >>> file_name("ring gear, swept")
    'ring-gear-swept'
    """
    return re.sub(r"[^a-z0-9]+", "-", name.lower()).strip("-")


def stl(body: Body) -> bytes:
    """A solid as binary STL. The format knows no unit: the header says millimetre, and name of the solid."""
    text = f"geartrack: {body.name}; unit millimetre".encode("ascii", "replace")[:_STL_HEADER]
    content: bytes = _mesh(body).export(file_type="stl")
    return text.ljust(_STL_HEADER) + content[_STL_HEADER:]


def three_mf(bodies: Sequence[Body], shifts_mm: Sequence[Array] | None = None) -> bytes:
    """Solids as one 3MF, unit millimeter, an object each by name; shifts_mm: (3,) each, where to stand [mm]."""
    content: bytes = _scene(bodies, [_shift(s) for s in shifts_mm or [np.zeros(3)] * len(bodies)]).export(
        file_type="3mf"
    )
    return content


def glb(bodies: Sequence[Body], about: str) -> bytes:
    """Solids as one GLB, in metres and upright (12 o'clock up) as its standard has it, coloured by their vertices.

    about: goes into the file. Materials are said to be no metal: a viewer shows vertex colours on metal as black.
    """
    small = [Body(b.name, b.vertices * _METRE, b.triangles, b.colours) for b in bodies]
    extras = {"about": about, "unit": "metre; drawn in millimetres, times 0.001"}

    def finish(tree: dict[str, Any]) -> None:
        tree["asset"]["extras"] = extras
        tree["materials"] = []
        for mesh, body in zip(tree["meshes"], bodies, strict=True):
            clear = body.colours is not None and bool((body.colours[:, 3] < 255).any())
            matt = {"baseColorFactor": [1, 1, 1, 1], "metallicFactor": 0.0, "roughnessFactor": 0.85}
            alpha = {"alphaMode": "BLEND"} if clear else {}
            for primitive in mesh["primitives"]:
                primitive["material"] = len(tree["materials"])
            tree["materials"].append({"name": body.name, "pbrMetallicRoughness": matt, "doubleSided": clear, **alpha})

    from trimesh.exchange import gltf

    export: Any = gltf.export_glb
    content: bytes = export(_scene(small, [_UPRIGHT] * len(bodies)), include_normals=False, tree_postprocessor=finish)
    return content


def _shift(by_mm: Array) -> Array:
    moved = np.eye(4)
    moved[:3, 3] = by_mm
    return moved


def _scene(bodies: Sequence[Body], places: Sequence[Array]) -> Any:
    from trimesh import Scene

    scene = Scene()
    for body, place in zip(bodies, places, strict=True):
        scene.add_geometry(_mesh(body), node_name=body.name, geom_name=body.name, transform=place)
    return scene


def _mesh(body: Body) -> Any:
    from trimesh import Trimesh

    return Trimesh(body.vertices, body.triangles, vertex_colors=body.colours, process=False)
