"""The solids: their volumes by outside kernels, files read back by second libraries, hands, colours, refusals."""

from __future__ import annotations

import io
import json
from dataclasses import replace

import lib3mf
import meshio
import numpy as np
import pygltflib
import pytest
import shapely
import trimesh
from click.testing import CliRunner
from drawn_jobs import answer
from OCP.BRepAlgoAPI import BRepAlgoAPI_Common
from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeFace, BRepBuilderAPI_MakePolygon
from OCP.BRepGProp import BRepGProp
from OCP.BRepOffsetAPI import BRepOffsetAPI_MakeOffset
from OCP.BRepPrimAPI import BRepPrimAPI_MakeCylinder, BRepPrimAPI_MakeRevol
from OCP.GeomAbs import GeomAbs_Arc
from OCP.gp import gp_Ax1, gp_Ax2, gp_Dir, gp_Pnt
from OCP.GProp import GProp_GProps
from OCP.TopoDS import TopoDS
from relief_shapes import END_FACE, LENGTH, OFFSET, RADIUS, RING, tube

from geartrack.cli import main
from geartrack.datafiles import data_path
from geartrack.errors import InputError
from geartrack.export.gauge import gauges
from geartrack.export.mesh_files import file_name
from geartrack.export.solids import CAST, RELIEVED, REMOVED, radial_depth, solid_files, solids
from geartrack.export.solids import RING as RING_NAME
from geartrack.frame import Hand, Seat, meridian, polar
from geartrack.relief.solid import as_solid, ring, sweep_over, sweep_under, triangles_of

JOBS = [("grind", "below"), ("hits", "below"), ("hits", "above"), ("grind-by-readings", "above")]


@pytest.fixture(scope="module")
def made():
    known = {}

    def of(name: str, hand: str):
        if (name, hand) not in known:
            known[name, hand] = solids(answer(name, hand))
        return known[name, hand]

    return of


def body(made, name):
    return next(each for each in made.bodies if each.name == name)


def loose(each):
    """A body as single precision leaves it, corners of the same place joined: what a file's reader sees."""
    return trimesh.Trimesh(each.vertices.astype(np.float32), each.triangles)


@pytest.mark.parametrize(("name", "hand"), JOBS)
def test_the_metal_to_remove_is_the_relief_of_the_sheet(made, name, hand):
    """Volumes: trimesh's, of the exported triangles, against the relief's own integral over the exact sweep. The facets
    stand over the sweep by over_mm, so nothing is missing, and what is over is that times the cut face, which is no
    larger than the skin it takes off and as much again (a wedge's two sides)."""
    solid, cut = made(name, hand), answer(name, hand).cuts.nominal
    found = loose(body(solid, REMOVED)).volume
    assert solid.over_mm < 0.001
    assert cut.volume_mm3 - cut.volume_error_mm3 <= found
    assert found <= cut.volume_mm3 + cut.volume_error_mm3 + 2 * solid.over_mm * cut.area_mm2
    cast, relieved = loose(body(solid, CAST)).volume, loose(body(solid, RELIEVED)).volume
    assert cast - relieved == pytest.approx(found, abs=2e-3)  # single precision of a boss of 48,000 mm3
    assert solid.volume_mm3 == pytest.approx(found, rel=1e-4)


@pytest.mark.parametrize(("name", "hand"), JOBS)
def test_every_solid_is_closed_and_in_one_piece(made, name, hand):
    for each in made(name, hand).bodies:
        mesh = loose(each)
        assert mesh.is_watertight, each.name
        assert mesh.is_winding_consistent, each.name
        assert mesh.body_count == 1, each.name
        assert mesh.volume > 0, each.name


@pytest.mark.parametrize("clearance", [0.5, 1.5])
def test_removed_volume_by_opencascade(clearance):
    """True cylinder and true round growth by OpenCASCADE; a boss of 8,000 facets is 2e-6 mm from its cylinder. No bore:
    the cut does not come near it."""
    at = gp_Ax2(gp_Pnt(END_FACE - LENGTH, OFFSET, 0.0), gp_Dir(1, 0, 0))
    outline = BRepBuilderAPI_MakePolygon()
    for r, z in RING.points:
        outline.Add(gp_Pnt(float(r), 0.0, float(z)))
    outline.Close()
    offset = BRepOffsetAPI_MakeOffset(BRepBuilderAPI_MakeFace(outline.Wire()).Face(), GeomAbs_Arc)
    offset.Perform(clearance)
    as_wire = getattr(TopoDS, "Wire", None) or TopoDS.Wire_s  # renamed between the binding's versions
    face = BRepBuilderAPI_MakeFace(as_wire(offset.Shape())).Face()
    sweep = BRepPrimAPI_MakeRevol(face, gp_Ax1(gp_Pnt(0, 0, 0), gp_Dir(0, 0, 1))).Shape()
    chip, held = BRepAlgoAPI_Common(BRepPrimAPI_MakeCylinder(at, RADIUS, LENGTH).Shape(), sweep), GProp_GProps()
    BRepGProp.VolumeProperties_s(chip.Shape(), held, 1e-7)
    boss = tube(around=8000)
    faceted, over = sweep_over(boss, RING, clearance)
    cut = (as_solid(boss.mesh, "tube") ^ faceted).volume()
    assert held.Mass() > 0.5
    assert held.Mass() * (1 - 1e-4) <= cut <= held.Mass() * (1 + 1e-4) + over * 60.0  # mm2: more than its cut face


@pytest.mark.parametrize("hand", Hand)
@pytest.mark.parametrize("by", [0.0, 0.45, 2.0])
def test_facets_stand_over_or_under_and_never_cross(hand, by):
    """The distance of places all over every facet to the section, by shapely: none inside the true growth for a tool
    that takes away, none outside it for one that must not touch."""
    boss = tube(hand=hand)
    polygon = shapely.Polygon(RING.points)

    def distances(solid):
        vertices, triangles = triangles_of(solid)
        corners = boss.seat.to_axle(vertices)[triangles]
        shares = np.random.default_rng(4).dirichlet(np.ones(3), size=(len(corners), 1))
        spots = (shares @ corners).reshape(-1, 3)
        turn = np.arctan2(spots[:, 1], spots[:, 0])
        ends = np.minimum(turn - turn.min(), turn.max() - turn) < 1e-3  # the flat ends of the arc
        places = meridian(spots[~ends])
        near = places[places[:, 1] < 30.0]
        return shapely.distance(polygon, shapely.points(near)) - by

    over, most = sweep_over(boss, RING, by)
    off = distances(over)
    assert off.min() >= -1e-4  # triangles_of may move a corner by 1e-4
    if by:
        assert off.max() <= most + 1e-4
        assert distances(sweep_under(boss, RING, by)).max() <= 1e-4
    assert 0 < most < 0.002


def test_the_ring_s_volume_by_pappus():
    """Volume of a turned section = area x 2 pi x its centroid's radius (Pappus); facets add some microns of skin."""
    polygon = shapely.Polygon(RING.points)
    exact = polygon.area * 2 * np.pi * polygon.centroid.x
    found = ring(RING, Seat(OFFSET, END_FACE, Hand.ABOVE)).volume()
    skin = polygon.length * 2 * np.pi * RING.points[:, 0].max()
    assert exact <= found <= exact + 0.002 * skin


def test_both_hands_are_mirrors_and_the_boss_is_the_real_one(made):
    """The boss as cast is one part, whatever the axle; ring and cut change sides: below, the ring's centre line lies
    toward 9 o'clock. The cut lies on the boss's plain cylinder, which looks the same on both sides."""
    below, above = made("hits", "below"), made("hits", "above")
    offset = answer("hits", "below").boss.seat.offset_mm
    assert np.array_equal(body(below, CAST).vertices, body(above, CAST).vertices)
    for hand, solid in ((1.0, below), (-1.0, above)):
        middle = loose(body(solid, RING_NAME)).bounds.mean(axis=0)
        assert middle[1] == pytest.approx(-hand * offset, abs=0.01)
        removed = body(solid, REMOVED).vertices
        assert (np.sign(removed[:, 1]) == hand).all()
    one, other = loose(body(below, REMOVED)), loose(body(above, REMOVED))
    mirrored = one.bounds[:, [0, 1, 2]] * [1, -1, 1]
    assert np.sort(mirrored, axis=0) == pytest.approx(other.bounds, abs=2e-3)
    assert one.volume == pytest.approx(other.volume, rel=1e-3)


def test_colours_run_with_the_depth(made):
    """On a plain cylinder a place's depth is the cylinder's radius less its own; the rays are 0.25 mm apart and right
    to 0.02 mm. Red falls steadily from pale to dark."""
    job = answer("hits", "below")
    cut, solid = job.cuts.nominal, made("hits", "below")
    removed = solid.scene[0]
    station, radius, _ = polar(removed.vertices)
    outside = float(cut.cast_radius_mm.max())
    on_cut = (radius < outside - 0.1) & (station > 0.05)
    assert on_cut.sum() > 100
    assert radial_depth(cut, removed.vertices)[on_cut] == pytest.approx(outside - radius[on_cut], abs=0.04)
    red = removed.colours[on_cut, 0].astype(float)
    assert np.corrcoef(red, radius[on_cut])[0, 1] > 0.95
    relieved = solid.scene[1]
    grey = (relieved.colours[:, 0] < relieved.colours[:, 2]) & (relieved.colours[:, 3] == 255)
    _, out, _ = polar(relieved.vertices[~grey])
    assert 100 < (~grey).sum() < len(grey) / 2
    assert (out < outside + 0.01).all()
    assert "0.07" in solid.depths or "1.9" in solid.depths


@pytest.fixture(scope="module")
def files(made):
    return solid_files(made("hits", "above"))


def test_stl_read_by_meshio(made, files, tmp_path):
    for each in made("hits", "above").bodies:
        content = files[f"{file_name(each.name)}.stl"]
        assert content[:80].decode("ascii").rstrip() == f"geartrack: {each.name}; unit millimetre"
        path = tmp_path / "read.stl"
        path.write_bytes(content)
        read = meshio.read(path)
        corners = read.points[read.cells_dict["triangle"]].astype(float)
        volume = np.einsum("ij,ij->i", corners[:, 0], np.cross(corners[:, 1], corners[:, 2])).sum() / 6
        assert volume == pytest.approx(loose(each).volume, rel=1e-6)
        assert read.points.min(axis=0) == pytest.approx(each.vertices.min(axis=0), abs=1e-4)


def test_3mf_read_by_its_consortium_s_library(made, files):
    model = lib3mf.get_wrapper().CreateModel()
    reader = model.QueryReader("3mf")
    reader.ReadFromBuffer(files["solids.3mf"])
    spare = 32935  # "Invalid Attribute in namespace": trimesh marks each object with an id that nothing needs
    assert {reader.GetWarning(i)[0] for i in range(reader.GetWarningCount())} <= {spare}
    assert model.GetUnit() == lib3mf.ModelUnit.MilliMeter
    objects, found = model.GetMeshObjects(), {}
    while objects.MoveNext():
        each = objects.GetCurrentMeshObject()
        assert each.IsManifoldAndOriented()
        found[each.GetName()] = np.array([[*v.Coordinates] for v in each.GetVertices()])
    bodies = made("hits", "above").bodies
    assert list(found) == [each.name for each in bodies] == [REMOVED, CAST, RELIEVED, RING_NAME]
    for each in bodies:
        assert found[each.name] == pytest.approx(each.vertices, abs=1e-4)


def accessor(tree, number):
    held = tree.accessors[number]
    view = tree.bufferViews[held.bufferView]
    kind = {5126: np.float32, 5125: np.uint32, 5121: np.uint8, 5123: np.uint16}[held.componentType]
    wide = {"SCALAR": 1, "VEC2": 2, "VEC3": 3, "VEC4": 4}[held.type]
    start = (view.byteOffset or 0) + (held.byteOffset or 0)
    return np.frombuffer(tree.binary_blob(), kind, held.count * wide, start).reshape(-1, wide)


def test_glb_read_by_pygltflib(made, files):
    """In metres, upright, coloured, and no metal: with the standard's default (all metal) viewers show black."""
    tree = pygltflib.GLTF2.load_from_bytes(files["solids.glb"])
    scene = made("hits", "above").scene
    assert [mesh.name for mesh in tree.meshes] == [each.name for each in scene] == [REMOVED, RELIEVED, RING_NAME]
    assert "metre" in tree.asset.extras["unit"]
    assert "12 o'clock" in tree.asset.extras["about"]
    for mesh, each in zip(tree.meshes, scene, strict=True):
        (primitive,) = mesh.primitives
        assert accessor(tree, primitive.attributes.POSITION) == pytest.approx(each.vertices / 1000, abs=1e-7)
        assert np.array_equal(accessor(tree, primitive.attributes.COLOR_0), each.colours)
        assert np.array_equal(accessor(tree, primitive.indices).reshape(-1, 3), each.triangles)
        material = tree.materials[primitive.material]
        assert material.pbrMetallicRoughness.metallicFactor == 0
        assert (material.alphaMode == "BLEND") == (each.name == RING_NAME)
    nodes = [node for node in tree.nodes if node.mesh is not None]
    for node in nodes:
        matrix = np.array(node.matrix).reshape(4, 4).T
        assert matrix[:3, :3] @ [0, 0, 1] == pytest.approx([0, 1, 0])  # 12 o'clock is up
        assert np.linalg.det(matrix[:3, :3]) == pytest.approx(1.0)  # and not mirrored


def test_a_boss_that_is_not_closed_is_refused():
    plain = tube()
    torn = replace(plain.mesh, triangles=plain.mesh.triangles[:-1])
    with pytest.raises(InputError, match=r"this job: the boss's surface is not closed") as refusal:
        as_solid(torn, "this job")
    assert str(refusal.value).count("\n") == 0


@pytest.mark.parametrize("name", ["clears", "measure", "dont-grind", "dont-use", "aluminium"])
@pytest.mark.parametrize("make", [solids, gauges])
def test_no_solid_where_no_depth_may_be_given(make, name):
    with pytest.raises(InputError, match=r"nothing to grind by|next reading") as refusal:
        make(answer(name))
    assert str(refusal.value).count("\n") == 0


@pytest.mark.parametrize("command", ["solids", "gauge"])
def test_nothing_is_written_then(command, tmp_path):
    ran = CliRunner().invoke(main, [command, str(data_path("jobs/clears.toml")), str(tmp_path / "out")])
    assert ran.exit_code == 2
    assert ran.stderr.count("\n") == 1
    assert not (tmp_path / "out").exists()


def test_without_the_hand_nothing_is_made():
    known = answer("grind")
    with pytest.raises(InputError, match=r"axle\.hand"):
        solids(replace(known, hand=None))


def test_the_command_writes_every_file(tmp_path):
    folder = tmp_path / "new" / "out"
    ran = CliRunner().invoke(main, ["solids", str(data_path("jobs/grind.toml")), str(folder)])
    assert ran.exit_code == 0, ran.output
    names = sorted(path.name for path in folder.iterdir())
    single = [f"{file_name(name)}.stl" for name in (REMOVED, CAST, RELIEVED, RING_NAME)]
    assert names == sorted([*single, "solids.3mf", "solids.glb", "boss-as-cast.glb"])
    start = (folder / "solids.glb").read_bytes()
    length = int.from_bytes(start[12:16], "little")
    assert json.loads(start[20 : 20 + length])["asset"]["version"] == "2.0"
    read = trimesh.load(io.BytesIO((folder / "metal-to-remove.stl").read_bytes()), file_type="stl")
    assert read.volume == pytest.approx(answer("grind").cuts.nominal.volume_mm3, rel=0.01)


def test_a_file_where_the_folder_should_be(tmp_path):
    (tmp_path / "out").write_text("here already", encoding="utf-8")
    ran = CliRunner().invoke(main, ["solids", str(data_path("jobs/grind.toml")), str(tmp_path / "out")])
    assert ran.exit_code == 2
    assert "name a folder" in ran.stderr
    assert (tmp_path / "out").read_text(encoding="utf-8") == "here already"
