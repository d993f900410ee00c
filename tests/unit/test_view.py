"""What is turned about on the page, read back by trimesh: the bodies, their colours, their volumes."""

import io
import json

import numpy as np
import pygltflib
import pytest
import trimesh
from drawn_jobs import answer

from geartrack.export.solids import CAST, RELIEVED, REMOVED, RING
from geartrack.export.view import view
from geartrack.units import show_both


def read(glb):
    scene = trimesh.load(io.BytesIO(glb), file_type="glb")
    return {name: mesh for name, mesh in scene.geometry.items()}


def colours_of(glb, name):
    """(n, 4) of a body's corners, as the file's own bytes hold them (glTF 2.0, section 3.6.2, from memory)."""
    tree = pygltflib.GLTF2().load_from_bytes(glb)
    (mesh,) = [each for each in tree.meshes if each.name == name]
    accessor = tree.accessors[mesh.primitives[0].attributes.COLOR_0]
    start = tree.bufferViews[accessor.bufferView].byteOffset
    return np.frombuffer(tree.binary_blob(), np.uint8, 4 * accessor.count, start).reshape(-1, 4).astype(int)


def volume_mm3(mesh):
    merged = trimesh.Trimesh(mesh.vertices, mesh.faces)  # corners stand twice where colours part
    return 1e9 * merged.volume


def test_the_cut_is_shown_where_it_may_be_ground():
    found = answer("grind")
    made = view(found)
    bodies = read(made.glb)
    assert made.cut
    assert set(bodies) == {REMOVED, RELIEVED, RING}
    assert show_both(found.cuts.nominal.depth_radial_max_mm, found.job.units, rounding="up") in made.says
    assert volume_mm3(bodies[REMOVED]) == pytest.approx(found.cuts.nominal.volume_mm3, rel=0.03)
    colours = colours_of(made.glb, REMOVED)
    assert np.ptp(colours, axis=0).max() > 100  # pale to dark
    assert volume_mm3(bodies[RING]) > 1000


@pytest.mark.parametrize("name", ["measure", "clears", "dont-grind", "dont-use"])
def test_no_cut_is_shown_where_none_may_be(name):
    found = answer(name)
    made = view(found)
    bodies = read(made.glb)
    assert not made.cut
    assert set(bodies) == {CAST, RING}
    assert "no cut is shown" in made.says
    assert found.verdict.words in made.says


def test_colours_are_not_drowned_by_metal():
    """A viewer shows vertex colours on metal as black."""
    glb = view(answer("grind")).glb
    tree = json.loads(glb[20 : 20 + int.from_bytes(glb[12:16], "little")])
    assert {each["pbrMetallicRoughness"]["metallicFactor"] for each in tree["materials"]} == {0.0}
