"""Scan files: what each format may say, its unit, and what is refused. Every fixture is made by hand here."""

from __future__ import annotations

import gzip
import os
import struct
import tracemalloc
import zipfile
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scan_files_made import (
    FACES,
    MAIN,
    OBJ_TEXT,
    PLY_TEXT,
    TETRA,
    binary_stl,
    mesh_xml,
    model_xml,
    packed,
    packed_3mf,
    placed,
    relations,
    simple_3mf,
    text_stl,
)

from geartrack.boss.scan import limits
from geartrack.boss.scan.files import merged, read_scan
from geartrack.errors import InputError

HEADER = "ply\nformat binary_little_endian 1.0\n"


def written(folder: Path, name: str, content: bytes | str) -> Path:
    path = folder / name
    path.write_bytes(content.encode() if isinstance(content, str) else content)
    return path


def refusal(path: Path, **kw: str) -> str:
    with pytest.raises(InputError) as caught:
        read_scan(path, **kw)
    text = str(caught.value)
    assert "\n" not in text
    assert text.startswith(path.name)
    assert len(text) < 300
    return text


def binary_ply(order: str = "<", corners: str = "i", count: str = "B") -> bytes:
    name = {"<": "little", ">": "big"}[order]
    kinds = {"i": "int", "I": "uint32", "H": "ushort", "B": "uchar", "h": "int16"}
    head = (
        f"ply\r\nformat binary_{name}_endian 1.0\r\nelement vertex 4\r\nproperty double x\r\nproperty float y\r\n"
        f"property float z\r\nelement face 4\r\nproperty uchar flag\r\n"
        f"property list {kinds[count]} {kinds[corners]} vertex_index\r\nend_header\r\n"
    ).encode()
    points = b"".join(struct.pack(f"{order}dff", *point) for point in TETRA)
    return head + points + b"".join(struct.pack(f"{order}B{count}3{corners}", 9, 3, *face) for face in FACES)


MIXED_PLY = PLY_TEXT.replace("element face 4", "element face 2").split("3 0 2 1")[0] + "4 0 1 2 3\n3 2 0 3\n"


@pytest.mark.parametrize(
    ("name", "content"),
    [
        ("a.stl", binary_stl(TETRA, FACES)),
        ("begins as text.stl", binary_stl(TETRA, FACES, header=b"solid thing")),
        ("text.stl", text_stl(TETRA, FACES)),
        ("WINDOWS.STL", text_stl(TETRA, FACES, end="\r\n")),
        ("old ends.stl", text_stl(TETRA, FACES, end="\r")),
        ("capitals.stl", text_stl(TETRA, FACES).upper()),
        ("a.ply", PLY_TEXT),
        ("windows.ply", PLY_TEXT.replace("\n", "\r\n")),
        ("little.ply", binary_ply("<")),
        ("big.ply", binary_ply(">", "H", "h")),
        ("unsigned.ply", binary_ply("<", "I")),
        ("a.obj", OBJ_TEXT),
        ("windows.obj", OBJ_TEXT.replace("\n", "\r\n")),
        ("a.3mf", simple_3mf()),
    ],
)
def test_the_same_four_triangles_from_every_kind_of_file(tmp_path: Path, name: str, content: bytes | str) -> None:
    scan = read_scan(written(tmp_path, name, content))
    assert placed(scan.vertices, scan.triangles) == placed(TETRA, FACES)
    assert len(scan.vertices) == 4
    assert scan.triangles.dtype == np.int32
    assert (scan.unit, scan.unit_from) == (("mm", "file") if name.endswith("3mf") else ("mm", "inferred"))
    assert (scan.file, scan.notes) == (name, ())


def test_a_text_is_read_the_same_however_it_falls_into_blocks(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    import geartrack.boss.scan.raw as raw

    def small(stream: object, where: str, size: int = 7) -> object:
        return original(stream, where, size)  # type: ignore[arg-type]

    original = raw.blocks
    for kind, content in (("stl", text_stl(TETRA, FACES)), ("obj", OBJ_TEXT)):
        module = __import__(f"geartrack.boss.scan.{kind}", fromlist=["blocks"])
        monkeypatch.setattr(module, "blocks", small)
        scan = read_scan(written(tmp_path, f"a.{kind}", content))
        assert placed(scan.vertices, scan.triangles) == placed(TETRA, FACES)


def test_names_in_a_text_stl_may_hold_any_word(tmp_path: Path) -> None:
    """Two solids, their names made of the format's own words."""
    first, second = text_stl(TETRA, FACES[:3]), text_stl(TETRA, FACES[3:])
    content = first.replace(b"made by hand", b"vertex endfacet solid 1 2 3") + second.replace(
        b"made by hand", b"\xe9 normal"
    )
    scan = read_scan(written(tmp_path, "a.stl", content))
    assert placed(scan.vertices, scan.triangles) == placed(TETRA, FACES)


def test_what_stands_beside_corners_is_never_taken_for_them(tmp_path: Path) -> None:
    """Lines alike in how many numbers they hold, and not in what these mean; vertices with and without more numbers."""
    head = "v 0 0 0 9 9 9\nv 60 0 0\nv 0 50 0 1\nv 0 0 45.5 8 8\nvn 0 0 1\n"
    scan = read_scan(written(tmp_path, "a.obj", head + "f 1//1 3//1 2//1\nf 1 2 3 4 1 2\n"))
    fan = [[0, 2, 1], [0, 1, 2], [0, 2, 3]]
    assert placed(scan.vertices, scan.triangles) == placed(TETRA, fan)
    assert scan.notes[0].startswith("2 of its 5 triangles")


def test_fields_of_a_ply_may_stand_in_any_order(tmp_path: Path) -> None:
    """A texture's name, colours, places in it and edges are there and not looked at; the format is said last."""
    content = (
        "ply\ncomment TextureFile /etc/passwd\n\nobj_info none\nelement vertex 4\nproperty float s\nproperty float z\n"
        "property float t\nproperty float x\nproperty uchar red\nproperty float y\nelement edge 1\n"
        "property int vertex1\nproperty int vertex2\nelement face 4\nproperty list uchar float texcoord\n"
        "property uchar red\nproperty list uchar int vertex_indices\nelement none 0\n"
        "property list uchar int vertex_indices\nformat ascii 1.0\nend_header\n"
    )
    content += "".join(f"0.5 {z} 0.5 {x} 255 {y}\n" for x, y, z in TETRA) + "\n0 99\n"
    content += "".join(f"6 0 0 0 1 1 1 7 3 {a} {b} {c} \n" for a, b, c in FACES)
    scan = read_scan(written(tmp_path, "a.ply", content))
    assert placed(scan.vertices, scan.triangles) == placed(TETRA, FACES)


def test_faces_of_more_corners_are_cut_into_fans(tmp_path: Path) -> None:
    fan = [[0, 1, 2], [0, 2, 3], [2, 0, 3]]
    for name, content in (
        ("mixed.ply", MIXED_PLY),
        ("mixed.obj", OBJ_TEXT.split("f 1/1/1")[0] + "f 1 2 3 4\nf 3 1 4\n"),
    ):
        scan = read_scan(written(tmp_path, name, content))
        assert placed(scan.vertices, scan.triangles) == placed(TETRA, fan)
    alike = PLY_TEXT.replace("face 4", "face 2").split("3 0 2 1")[0] + "4 0 1 2 3\n4 3 2 1 0\n"
    scan = read_scan(written(tmp_path, "alike.ply", alike))
    assert placed(scan.vertices, scan.triangles) == placed(TETRA, [[0, 1, 2], [0, 2, 3], [3, 2, 1], [3, 1, 0]])


def test_other_elements_of_a_ply_are_stepped_over(tmp_path: Path) -> None:
    strips = "element strip 1\nproperty list int float values\nelement camera 1\nproperty float view\nelement face"
    content = PLY_TEXT.replace("element face", strips).replace("3 0 2 1", "2 0.5 0.25\n1.5\n3 0 2 1")
    scan = read_scan(written(tmp_path, "a.ply", content))
    assert placed(scan.vertices, scan.triangles) == placed(TETRA, FACES)


def test_parts_of_a_3mf_are_moved_and_mirrored_into_place(tmp_path: Path) -> None:
    """Row vectors times the 4 x 3 matrix, outer move last (3MF core specification 1.2, 3.3, from memory)."""
    inner, mirror = "0 1 0 -1 0 0 0 0 1 100 0 0", "-1 0 0 0 1 0 0 0 1 0 0 7"
    main = model_xml(
        f'<object id="1">{mesh_xml(TETRA, FACES)}</object>'
        f'<object id="2"><components><component objectid="1" transform="{inner}"/>'
        f'<component objectid="5" p:path="/3D/other.model"/></components></object>'
        '<object id="3"><mesh><vertices/><triangles/></mesh></object>',
        f'<item objectid="2" transform="{mirror}"/><item objectid="3"/>',
    )
    other = model_xml(f'<object id="5">{mesh_xml(np.add(TETRA, [0, 0, 200]), FACES)}</object>', "", unit="meter")
    scan = read_scan(written(tmp_path, "a.3mf", packed_3mf(main, {"3D/other.model": other})))
    x, y, z = TETRA.T
    turned = np.stack([-(100 - y), x, z + 7], axis=1)
    lifted = np.stack([-x, y, z + 207], axis=1)
    both = np.concatenate([turned, lifted])
    assert placed(scan.vertices, scan.triangles) == placed(both, np.concatenate([FACES, FACES + 4])[:, ::-1])
    assert scan.unit == "mm"


def test_equal_vertices_are_one_and_triangles_of_two_corners_none(tmp_path: Path) -> None:
    corners = np.concatenate([TETRA[FACES].reshape(-1, 3), [[0, 0, 0], [0, 0, 0], [1, 1, 1]]])
    corners[0] = -0.0
    scan = read_scan(written(tmp_path, "a.stl", binary_stl(corners, np.arange(15).reshape(-1, 3))))
    assert placed(scan.vertices, scan.triangles) == placed(TETRA, FACES)
    assert len(scan.notes) == 1
    assert scan.notes[0].startswith("1 of its 5 triangles")


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.tuples(*[st.sampled_from([0.0, -0.0, 1.5, -2.25, 3e-8, 1e6])] * 3), min_size=1, max_size=60),
    st.sampled_from([np.float32, np.float64]),
)
def test_points_are_made_one_just_where_they_are_equal(rows: list[tuple[float, ...]], kind: type) -> None:
    """Against a plain dictionary."""
    given_points = np.array(rows, kind)
    points, number = merged(given_points)
    assert np.array_equal(points[number], given_points)
    assert len(points) == len({tuple(row) for row in (given_points + 0.0).tolist()})


def test_points_that_share_a_hash_are_told_apart(monkeypatch: pytest.MonkeyPatch) -> None:
    import geartrack.boss.scan.files as files

    monkeypatch.setattr(files, "_SPREAD", (np.uint64(0),) * 3)  # a hash of nothing: all points share it
    rows = np.random.default_rng(3).integers(0, 4, (200, 3)).astype(np.float32)
    points, number = files.merged(rows)
    assert np.array_equal(points[number], rows)
    used = points[np.unique(number)]
    assert len(np.unique(used, axis=0)) == len(used)


# --- the unit ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("unit", "size_mm"), [("mm", 1.0), ("in", 25.4), ("m", 1000.0)])
def test_a_unit_is_told_by_size_or_said(tmp_path: Path, unit: str, size_mm: float) -> None:
    path = written(tmp_path, "a.stl", binary_stl(TETRA * 3 / size_mm, FACES))
    told, said = read_scan(path), read_scan(path, unit=unit)
    assert (told.unit, told.unit_from, said.unit_from) == (unit, "inferred", "said")
    assert told.vertices.max() == pytest.approx(180.0, rel=1e-6)
    assert np.array_equal(told.vertices, said.vertices)


@pytest.mark.parametrize(
    ("unit", "size_mm"),
    [("inch", 25.4), ("meter", 1000.0), ("centimeter", 10.0), ("micron", 0.001), ("foot", 304.8)],
)
def test_a_3mf_states_its_unit(tmp_path: Path, unit: str, size_mm: float) -> None:
    one = f'<object id="1">{mesh_xml(TETRA / size_mm, FACES)}</object>'
    path = written(tmp_path, "a.3mf", packed_3mf(model_xml(one, '<item objectid="1"/>', unit)))
    scan = read_scan(path)
    assert scan.unit_from == "file"
    assert scan.vertices.max() == pytest.approx(60.0, rel=1e-7)  # its library keeps numbers of 32 bits


def test_a_size_that_no_unit_makes_plausible_is_asked_about(tmp_path: Path) -> None:
    path = written(tmp_path, "a.stl", binary_stl(TETRA * 100, FACES))
    text = refusal(path)
    assert "does not tell its unit" in text
    assert "--unit" in text


def test_a_stray_vertex_does_not_tell_the_unit(tmp_path: Path) -> None:
    """A case of 20 in, in inches, with one vertex 60 off, must not pass for 80 mm."""
    rng = np.random.default_rng(5)
    points = rng.uniform(0, 20, (3000, 3))
    triangles = np.arange(3000).reshape(-1, 3)
    assert read_scan(written(tmp_path, "a.stl", binary_stl(points, triangles))).unit == "in"
    points[7] = (80, 0, 0)
    assert "does not tell" in refusal(written(tmp_path, "b.stl", binary_stl(points, triangles)))


def test_a_unit_that_cannot_be_is_refused(tmp_path: Path) -> None:
    path = written(tmp_path, "a.stl", binary_stl(TETRA, FACES))
    assert "if its numbers are in m" in refusal(path, unit="m")
    assert "if its numbers are in micron; say what" in refusal(written(tmp_path, "a.3mf", simple_3mf("micron")))
    assert read_scan(tmp_path / "a.3mf", unit="mm").unit_from == "said"
    with pytest.raises(InputError, match="no unit of a scan"):
        read_scan(path, unit="cubit")


# --- what is refused ---------------------------------------------------------------------------------------------


def laughs() -> str:
    lines = ['<!ENTITY a0 "ha">'] + [f'<!ENTITY a{i} "{f"&a{i - 1};" * 10}">' for i in range(1, 10)]
    return f"<!DOCTYPE model [{''.join(lines)}]>"


def nested(depth: int) -> bytes:
    return packed_3mf(model_xml("<a>" * depth + "</a>" * depth, ""), how=zipfile.ZIP_STORED)


def laughing_parts(levels: int = 12) -> bytes:
    objects = [f'<object id="0">{mesh_xml(TETRA, FACES)}</object>']
    for i in range(1, levels):
        parts = f'<component objectid="{i - 1}"/>' * 10
        objects.append(f'<object id="{i}"><components>{parts}</components></object>')
    return packed_3mf(model_xml("".join(objects), f'<item objectid="{levels - 1}"/>'))


def doubling(levels: int = 30) -> bytes:
    """As many parts as chess has grains of corn, each level in a model of its own."""
    others = {}
    for i in range(1, levels):
        parts = f'<component objectid="{i - 1}" p:path="/3D/{i - 1}.model"/>' * 2
        others[f"3D/{i}.model"] = model_xml(f'<object id="{i}"><components>{parts}</components></object>', "")
    others["3D/0.model"] = model_xml(f'<object id="0">{mesh_xml(TETRA, FACES)}</object>', "")
    return packed_3mf(model_xml("", f'<item objectid="{levels - 1}" p:path="/3D/{levels - 1}.model"/>'), others)


def many_points() -> bytes:
    """A mesh of many vertices and no triangle, placed again and again."""
    one = f'<object id="1">{mesh_xml(np.ones((20_000, 3)), FACES[:0])}</object>'
    return packed_3mf(model_xml(one, '<item objectid="1"/>' * 1_999))


def circle() -> bytes:
    part = '<object id="1"><components><component objectid="1"/></components></object>'
    return packed_3mf(model_xml(part, '<item objectid="1"/>'))


def one_object(inside: str) -> bytes:
    return packed_3mf(model_xml(f'<object id="1">{inside}</object>', '<item objectid="1"/>'))


def lying_zip() -> bytes:
    """A directory that says a bomb is small: only so much is let out, and the sum of it is wrong."""
    bomb = packed_3mf(b"<model>" + b" " * 30_000_000)
    real, said = struct.pack("<I", 30_000_007), struct.pack("<I", 900_000)
    assert bomb.count(real) == 2
    return bomb.replace(real, said)


NAN = TETRA.copy()
NAN[1, 1] = np.nan
INF = TETRA.copy()
INF[2, 0] = np.inf
BAD = {
    "empty.stl": (b"", "is empty"),
    "stub.stl": (b"sol", "no STL"),
    "none.stl": (binary_stl(TETRA, FACES[:0]), "no triangles"),
    "cut.stl": (binary_stl(TETRA, FACES)[:-30], "says 4 triangles"),
    "longer.stl": (binary_stl(TETRA, FACES) + b"\0" * 9, "says 4 triangles"),
    "count.stl": (binary_stl(TETRA, FACES, says=4_000_000_000), "says 4,000,000,000 triangles"),
    "nan.stl": (binary_stl(NAN, FACES), "not a finite number"),
    "inf.stl": (binary_stl(INF, FACES), "not a finite number"),
    "nan text.stl": (text_stl(NAN, FACES), "not a finite number"),
    "flat.stl": (binary_stl(TETRA * [1, 0, 0], [[0, 2, 1], [2, 3, 1]]), "no triangle with three corners"),
    "letter.stl": (b"Dear shop,\nthe scan is in the other mail.\n" * 9, "no STL"),
    "cut text.stl": (text_stl(TETRA, FACES)[:-90], "cut short"),
    "no end.stl": (text_stl(TETRA, FACES)[:-30], "cut short"),
    "word.stl": (text_stl(TETRA, FACES).replace(b"45.5", b"wide"), "no number"),
    "comma.stl": (text_stl(TETRA, FACES).replace(b"45.5", b"45,5"), "no number"),
    "packed.stl": (gzip.compress(binary_stl(TETRA, FACES), mtime=0), "no STL"),
    "hex.stl": (text_stl(TETRA, FACES).replace(b"45.5", b"0x2d"), "no number"),
    "shifted.stl": (
        text_stl(TETRA, FACES).replace(b"vertex 60.0 0.0 0.0", b"vertex 60.0 0.0").replace(b"45.5", b"45.5 0"),
        "cut short",
    ),
    "two.stl": (text_stl(TETRA, FACES).replace(b"vertex 60.0 ", b"vertex "), "cut short"),
    "solid.stl": (b"solid " + b"a" * 200, "cut short"),
    "nul.stl": (text_stl(TETRA, FACES).replace(b"outer", b"\0uter"), "belong in no text"),
    "one line.stl": (b"solid" + b" 1" * 9_000_000, "line longer"),
    "no magic.ply": (b"plx\nformat ascii 1.0\n", "no PLY header"),
    "no end.ply": (PLY_TEXT.split("end_header")[0].encode(), "no PLY header"),
    "endless.ply": (b"ply\n" + b"comment x\n" * 100_000, "no PLY header"),
    "huge.ply": (PLY_TEXT.replace("face 4", "face 1000000000000").encode(), "1,000,000,000,000 triangles"),
    "many.ply": (PLY_TEXT.replace("vertex 4", "vertex 1000000000000").encode(), "more than its length"),
    "beyond.ply": (PLY_TEXT.replace("vertex 4", "vertex " + "9" * 40).encode(), "makes no sense"),
    "strange.ply": (PLY_TEXT.replace("float x", "quad x").encode(), "another kind ('quad')"),
    "bare.ply": (PLY_TEXT.replace("property float x", "property x").encode(), "makes no sense"),
    "wide.ply": (PLY_TEXT.replace("end_header", "property int a\n" * 200 + "end_header").encode(), "more than 200"),
    "twice.ply": (PLY_TEXT.replace("uchar red", "float x").encode(), "once each"),
    "again.ply": (
        PLY_TEXT.replace("end_header", "element face 1\nproperty list int int vertex_index\nend_header").encode(),
        "twice",
    ),
    "no format.ply": (PLY_TEXT.replace("format ascii 1.0\n", "").encode(), "text or binary"),
    "kind.ply": (PLY_TEXT.replace("ascii", "base64").encode(), "makes no sense"),
    "flat.ply": (PLY_TEXT.replace("property float z\n", "").encode(), "without x, y and z"),
    "cloud.ply": (PLY_TEXT.split("element face")[0].encode() + b"end_header\n0 0 0 1\n", "before its last vertex"),
    "points.ply": (
        (PLY_TEXT.split("element face")[0] + "end_header" + PLY_TEXT.split("end_header")[1].split("3 0 2")[0]).encode(),
        "points but no triangles",
    ),
    "short.ply": (PLY_TEXT.encode()[:-9], "ends before its last face"),
    "more.ply": (PLY_TEXT.encode() + b"3 1 2 3\n", "more than its header says"),
    "index.ply": (PLY_TEXT.replace("3 2 0 3", "3 2 0 4").encode(), "does not hold"),
    "minus.ply": (PLY_TEXT.replace("3 2 0 3", "3 2 0 -1").encode(), "face 4 is cut short or spoilt"),
    "minus binary.ply": (binary_ply()[:-4] + b"\xff" * 4, "does not hold"),
    "half.ply": (PLY_TEXT.replace("3 2 0 3", "3 2 0 1.5").encode(), "face 4 is cut short or spoilt"),
    "comma.ply": (PLY_TEXT.replace("45.5", "45,5").encode(), "no number"),
    "point.ply": (PLY_TEXT.replace("45.5 7", "45.5").encode(), "vertex 4 is cut short"),
    "nan.ply": (PLY_TEXT.replace("45.5", "nan").encode(), "not a finite number"),
    "list.ply": (PLY_TEXT.replace("3 2 0 3", "900000000 2 0 3").encode(), "face 4 is cut short"),
    "long list.ply": (PLY_TEXT.replace("3 2 0 3", "9" * 5000 + " 2 0 3").encode(), "face 4 is cut short"),
    "four of three.ply": (PLY_TEXT.replace("3 2 0 3", "4 2 0 3").encode(), "face 4 is cut short"),
    "three of four.ply": (PLY_TEXT.replace("3 2 0 3", "3 2 0 3 1").encode(), "face 4 is cut short"),
    "two.ply": (PLY_TEXT.replace("3 2 0 3", "2 2 0").encode(), "face 4 is cut short"),
    "below.ply": (PLY_TEXT.replace("3 0 2 1", "-3 0 2 1").encode(), "face 1 is cut short"),
    "no corners.ply": (PLY_TEXT.replace("vertex_indices", "corners").encode(), "without their corners"),
    "cut binary.ply": (binary_ply()[:-3], "unexpected length"),
    "long binary.ply": (binary_ply() + b"\0", "unexpected length"),
    "wrong length.ply": (binary_ply()[:-13] + b"\xff" + binary_ply()[-12:], "unlike length"),
    "two binary.ply": (
        binary_ply().replace(b"vertex_index", b"other").replace(b"flag", b"vertex_index"),
        "another kind",
    ),
    "empty.obj": (b"# nothing\n", "no triangles"),
    "points.obj": (OBJ_TEXT.split("usemtl")[0].encode(), "points but no triangles"),
    "index.obj": (OBJ_TEXT.replace("f -3 -2 -1", "f 2 3 5").encode(), "does not hold"),
    "back.obj": (OBJ_TEXT.replace("f -3 -2 -1", "f -3 -2 -9").encode(), "does not hold"),
    "zero.obj": (OBJ_TEXT.replace("f -3 -2 -1", "f 0 2 3").encode(), "whole number from 1"),
    "on.obj": (OBJ_TEXT + "v 1 1 1\n", "that others follow"),
    "line.obj": (OBJ_TEXT.replace("f -3 -2 -1", "f 1 2"), "face of fewer than three"),
    "comma.obj": (OBJ_TEXT.replace("45.5", "45,5"), "no number"),
    "half.obj": (OBJ_TEXT.replace("f 1/1/1", "f 1.5/1/1"), "no number"),
    "word.obj": (OBJ_TEXT.replace("f -3 -2 -1", "f one two three").encode(), "no number"),
    "two.obj": (OBJ_TEXT.replace("v 0 50 0", "v 0 50").encode(), "fewer than three"),
    "nan.obj": (OBJ_TEXT.replace("v 0 50 0", "v 0 nan 0").encode(), "not a finite number"),
    "binary.obj": (binary_stl(TETRA, FACES), "belong in no text"),
    "no zip.3mf": (PLY_TEXT.encode(), "no 3MF"),
    "cut.3mf": (simple_3mf()[:-40], "no 3MF"),
    "spoilt.3mf": (simple_3mf().replace(b"3D/", b"3E/", 1), "no 3MF"),
    "no model.3mf": (packed({"a.txt": "nothing"}), "names no model"),
    "other.3mf": (
        packed({MAIN: "<model/>", "_rels/.rels": relations("/3D/a.png"), "3D/a.png": "<model/>"}),
        "'3D/a.png'",
    ),
    "relations.3mf": (
        packed({MAIN: "<model/>", "_rels/.rels": "<!DOCTYPE x []>" + relations(f"/{MAIN}")}),
        "_rels/.rels has a document type",
    ),
    "twice.3mf": (packed({MAIN: "<model/>", MAIN.upper(): "<model/>"}), "two files of one name"),
    "unit.3mf": (simple_3mf("furlong"), "unknown unit 'furlong'"),
    "laughs.3mf": (simple_3mf(head=laughs()), "document type"),
    "outside.3mf": (simple_3mf(head='<!DOCTYPE m [<!ENTITY x SYSTEM "file:///etc/passwd">]>'), "document type"),
    "elsewhere.3mf": (simple_3mf(head='<!DOCTYPE m SYSTEM "http://invalid.invalid/m.dtd">'), "document type"),
    "deep.3mf": (nested(200_000), "nested deeper"),
    "bomb.3mf": (packed_3mf(b"<model>" + b" " * 30_000_000), "packed tighter"),
    "lying.3mf": (lying_zip(), "spoilt"),
    "lzma.3mf": (packed_3mf("<model/>", how=zipfile.ZIP_LZMA), "packed in a way"),
    "many.3mf": (packed({f"{i}.txt": "" for i in range(2100)}), "2,100 files"),
    "parts.3mf": (laughing_parts(), "more parts than any scan"),
    "objects.3mf": (packed_3mf(model_xml("<object/>" * 2_001, "")), "more objects than any scan"),
    "circle.3mf": (circle(), "more parts than any scan"),
    "missing.3mf": (one_object('<components><component objectid="8"/></components>'), "object '8'"),
    "path.3mf": (one_object('<components><component p:path="/../../x" objectid="1"/></components>'), "object '1'"),
    "xml.3mf": (one_object("<mesh><vertices>"), "tag mismatch"),
    "word.3mf": (one_object('<mesh><vertices><vertex x="a" y="1" z="2"/></vertices></mesh>'), "spoilt"),
    "attribute.3mf": (one_object("<mesh><triangles><triangle/></triangles></mesh>"), "spoilt"),
    "large.3mf": (one_object(mesh_xml(TETRA, [[0, 1, 10**30]])), "spoilt"),
    "index.3mf": (one_object(mesh_xml(TETRA, [[0, 1, 4]])), "Invalid model node index"),
    "nan.3mf": (one_object(mesh_xml(NAN, FACES)), "Invalid Model Coordinates"),
    "nothing.3mf": (packed_3mf(model_xml(f'<object id="1">{mesh_xml(TETRA, FACES)}</object>', "")), "no triangles"),
    "slow.3mf": (doubling(), "more parts than any scan"),
    "points.3mf": (many_points(), "at most 6,000,000"),
    "move.3mf": (
        packed_3mf(
            model_xml(f'<object id="1">{mesh_xml(TETRA, FACES)}</object>', '<item objectid="1" transform="1 0 0"/>')
        ),
        "spoilt",
    ),
    "element.3mf": (
        one_object('<mesh name="' + np.random.default_rng(1).bytes(2_000_000).hex() + '"/>'),
        "spoilt",
    ),
    "far.stl": (binary_stl(np.add(TETRA, [3e6, 0, 0]), FACES), "a kilometre"),
    "scan.step": (b"ISO-10303-21;", "no scan by its name"),
    "scan": (b"", "no scan by its name"),
}


@pytest.mark.parametrize("name", BAD)
def test_each_bad_file_gives_one_line(tmp_path: Path, name: str) -> None:
    content, why = BAD[name]
    assert why in refusal(written(tmp_path, name, content))


def test_no_bad_file_fills_the_memory(tmp_path: Path) -> None:
    paths = [written(tmp_path, name, content) for name, (content, _) in BAD.items() if len(content) < 100_000]
    for kind in ("stl", "ply", "obj", "3mf"):
        refusal(tmp_path / f"nan.{kind}")  # what the libraries themselves take is none of it
    tracemalloc.start()
    try:
        for path in paths:
            refusal(path)
        assert tracemalloc.get_traced_memory()[1] < 64e6  # a few blocks
    finally:
        tracemalloc.stop()


@pytest.mark.parametrize(
    ("name", "content"),
    [
        ("a.stl", binary_stl(TETRA, FACES)),
        ("b.stl", text_stl(TETRA, FACES)),
        ("a.ply", PLY_TEXT),
        ("b.ply", binary_ply()),
        ("a.obj", OBJ_TEXT),
        ("a.3mf", simple_3mf()),
    ],
)
def test_more_triangles_than_are_read_are_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, name: str, content: bytes | str
) -> None:
    for module in ("files", "stl", "ply", "obj", "threemf_guard"):
        loaded = __import__(f"geartrack.boss.scan.{module}", fromlist=["MOST_TRIANGLES"])
        monkeypatch.setattr(loaded, "MOST_TRIANGLES", 3)
    monkeypatch.setattr(__import__("geartrack.boss.scan.raw", fromlist=["x"]), "MOST_TRIANGLES", 3)
    assert "at most 3 are read" in refusal(written(tmp_path, name, content))


@pytest.mark.parametrize(
    ("name", "content", "limit", "home"),
    [
        ("a.ply", PLY_TEXT, "MOST_ROWS", "ply"),
        ("a.obj", OBJ_TEXT, "MOST_ROWS", "obj"),
        ("a.ply", PLY_TEXT, "MOST_AT_ONCE_BYTES", "ply"),
        ("a.obj", OBJ_TEXT, "MOST_AT_ONCE_BYTES", "obj"),
        ("a.3mf", simple_3mf(), "MOST_ELEMENTS", "threemf_guard"),
        ("a.3mf", simple_3mf(), "MOST_UNPACKED_BYTES", "threemf_guard"),
    ],
)
def test_what_is_larger_than_is_read_is_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, name: str, content: bytes | str, limit: str, home: str
) -> None:
    monkeypatch.setattr(__import__(f"geartrack.boss.scan.{home}", fromlist=[limit]), limit, 5)
    assert "more" in refusal(written(tmp_path, name, content))


def test_what_is_no_file_is_refused(tmp_path: Path) -> None:
    (tmp_path / "folder.stl").mkdir()
    os.mkfifo(tmp_path / "pipe.stl")
    assert "is a folder" in refusal(tmp_path / "folder.stl")
    assert "no plain file" in refusal(tmp_path / "pipe.stl")
    assert "cannot be read" in refusal(tmp_path / "missing.stl")


def test_a_larger_file_than_is_read_is_not_opened(tmp_path: Path) -> None:
    path = tmp_path / "a.stl"
    with path.open("wb") as stream:
        stream.truncate(limits.MOST_FILE_BYTES + 1)  # sparse: no disk is used
    assert "more than is read" in refusal(path)


def test_an_obj_opens_no_other_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = written(tmp_path, "a.obj", OBJ_TEXT)
    opened = []
    plain = Path.open
    monkeypatch.setattr(Path, "open", lambda self, *a, **k: opened.append(self) or plain(self, *a, **k))
    monkeypatch.setattr("builtins.open", lambda *a, **k: pytest.fail(f"opened {a[0]}"))
    read_scan(path)
    assert opened == [path]


@settings(max_examples=150, deadline=None)
@given(st.data())
def test_spoilt_files_are_read_or_refused_never_worse(
    tmp_path_factory: pytest.TempPathFactory, data: st.DataObject
) -> None:
    """Bytes changed, dropped or doubled at random places of good files."""
    name, content = data.draw(
        st.sampled_from(
            [
                ("a.stl", binary_stl(TETRA, FACES)),
                ("b.stl", text_stl(TETRA, FACES)),
                ("a.ply", PLY_TEXT.encode()),
                ("b.ply", binary_ply()),
                ("a.obj", OBJ_TEXT.encode()),
                ("a.3mf", simple_3mf()),
                ("b.3mf", packed_3mf(model_xml(mesh_xml(TETRA, FACES), ""), how=zipfile.ZIP_STORED)),
            ]
        )
    )
    spoilt = bytearray(content)
    for _ in range(data.draw(st.integers(1, 4))):
        at = data.draw(st.integers(0, len(spoilt) - 1))
        match data.draw(st.integers(0, 2)):
            case 0:
                spoilt[at] = data.draw(st.integers(0, 255))
            case 1:
                del spoilt[at : at + data.draw(st.integers(1, 9))]
                spoilt += b"\n"
            case 2:
                spoilt[at:at] = spoilt[at : at + data.draw(st.integers(1, 9))]
    path = written(tmp_path_factory.mktemp("spoilt"), name, bytes(spoilt))
    try:
        scan = read_scan(path)
    except InputError:
        return
    assert np.isfinite(scan.vertices).all()
    assert scan.triangles.min() >= 0
    assert scan.triangles.max() < len(scan.vertices)
