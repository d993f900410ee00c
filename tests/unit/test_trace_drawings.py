"""Drawings as curves: every kind of curve against closed forms and other libraries, and every refusal in one line."""

from __future__ import annotations

import gzip
import io
import math

import ezdxf
import numpy as np
import pytest
import svgpathtools
import svgwrite
from screen_words import forbidden
from shapely import LineString, Point, Polygon
from trace_drawings import block, circle, codes, drawing, dxf, insert, line, polyline, svg

from geartrack.boss.trace.chains import chains
from geartrack.boss.trace.curves import Bezier, Spline, Turn
from geartrack.boss.trace.drawing import MOST_BYTES
from geartrack.errors import InputError

TOLERANCES = [0.1, 0.01, 0.001]


def only(found):
    (curve,) = found.curves
    return curve


def area(found, tolerance=1e-5):
    """Area that the one closed chain of a drawing encloses."""
    (chain,) = chains(found.curves, found.name)
    assert chain.closed
    return Polygon(chain.flat(tolerance)).area


def strays(points, dense):
    """How far the points of a true curve (n, 2) lie from straight lines through points at most."""
    chords = LineString(points)
    return max(chords.distance(Point(p)) for p in dense)


# --- how close straight lines come -----------------------------------------------------------------------------------


@pytest.mark.parametrize("tolerance", TOLERANCES)
def test_an_ellipse_is_met_within_the_tolerance(tolerance):
    """Closed form: c + a cos t + b sin t, its axes neither equal nor square to each other."""
    centre, a, b = np.array([3.0, 4.0]), np.array([30.0, 5.0]), np.array([-8.0, 11.0])
    turn = Turn(np.array([centre, centre + a, centre + b]), 0.4, -5.0)
    t = (0.4 - 5.0 * np.linspace(0, 1, 4001))[:, None]
    points = turn.flat(tolerance)
    assert strays(points, centre + a * np.cos(t) + b * np.sin(t)) <= tolerance
    assert len(points) < 5.0 / math.sqrt(2 * tolerance / 33) * 1.2  # no finer than a circle of the larger axis needs


@pytest.mark.parametrize("tolerance", TOLERANCES)
@pytest.mark.parametrize("points", [[(0, 0), (30, 50), (60, 0)], [(0, 0), (60, 40), (-20, 40), (40, 0)]])
def test_a_bezier_is_met_within_the_tolerance(points, tolerance):
    """Against svgpathtools' own evaluation of the curve."""
    kind = svgpathtools.QuadraticBezier if len(points) == 3 else svgpathtools.CubicBezier
    curve = kind(*(complex(*p) for p in points))
    dense = [curve.point(t) for t in np.linspace(0, 1, 2001)]
    flat = Bezier(np.array(points, float)).flat(tolerance)
    assert strays(flat, [(p.real, p.imag) for p in dense]) <= tolerance


@pytest.mark.parametrize("tolerance", TOLERANCES)
@pytest.mark.parametrize("weights", [None, (1.0, 3.0, 0.5, 2.0, 1.0, 1.0)])
def test_a_spline_is_met_within_the_tolerance(weights, tolerance):
    """Against scipy's evaluation of the same poles, knots and weights, as a quotient of two splines (Piegl, Tiller)."""
    from scipy.interpolate import BSpline

    poles = np.array([(0, 0), (10, 30), (30, -10), (40, 40), (55, 20), (60, 0)], float)
    knots = (0.0, 0.0, 0.0, 0.0, 1.0, 2.5, 3.0, 3.0, 3.0, 3.0)
    w = np.array(weights or [1.0] * 6)[:, None]
    t = np.linspace(0, 3, 3001)
    dense = BSpline(knots, poles * w, 3)(t) / BSpline(knots, w, 3)(t)
    assert strays(Spline(poles, 4, knots, weights).flat(tolerance), dense) <= tolerance


# --- DXF -------------------------------------------------------------------------------------------------------------


def test_a_bulge_is_an_arc(tmp_path):
    """Closed form: two half circles of radius 10 on a square's sides, areas 20 x 20 and pi 10^2."""
    stadium = [(0, 0), (20, 0, 1.0), (20, 20), (0, 20, 1.0)]
    assert area(drawing(tmp_path, "a.dxf", dxf(polyline(stadium)))) == pytest.approx(400 + 100 * math.pi, rel=1e-6)
    hollow = [(0, 0), (20, 0, -1.0), (20, 20), (0, 20)]
    assert area(drawing(tmp_path, "b.dxf", dxf(polyline(hollow)))) == pytest.approx(400 - 50 * math.pi, rel=1e-6)


def test_a_small_bulge_is_a_shallow_arc(tmp_path):
    """Closed form: bulge b over a chord c is an arc of sagitta b c/2, from the definition of the bulge."""
    bent = only(drawing(tmp_path, "a.dxf", dxf(polyline([(0, 0, 0.1), (40, 0)], closed=False))))
    x, y = bent.flat(1e-6).T
    assert y.min() == pytest.approx(-2.0, abs=1e-5)  # to the right of the way it runs, for a bulge above 0
    assert x[y.argmin()] == pytest.approx(20.0, abs=0.1)


def test_blocks_within_blocks_scaled_and_turned(tmp_path):
    """Closed form: the centre by the chain of maps worked out here, the area by the product of their determinants."""
    blocks = block("IN", circle(5, 1, 2)) + block("OUT", insert("IN", 3, 4, scale=(2, -3), turn=33))
    text = dxf(insert("OUT", 10, 20, scale=(1.5, 0.5), turn=70, layer="BOSS"), blocks=blocks)
    found = only(drawing(tmp_path, "a.dxf", text))

    def map_of(x, y, scale, degrees):
        cos, sin = math.cos(math.radians(degrees)), math.sin(math.radians(degrees))
        return np.array([[cos, -sin], [sin, cos]]) @ np.diag(scale), np.array([x, y])

    (inner, inner_at), (outer, outer_at) = map_of(3, 4, (2, -3), 33), map_of(10, 20, (1.5, 0.5), 70)
    centre = outer @ (inner @ np.array([1, 2]) + inner_at) + outer_at
    polygon = Polygon(found.flat(1e-5))
    assert polygon.area == pytest.approx(25 * math.pi * 6 * 0.75, rel=1e-5)
    assert polygon.centroid.coords[0] == pytest.approx(centre, abs=1e-4)
    assert found.layer == "BOSS"  # layer 0 within a block is the layer that the block was put on


def test_a_row_of_blocks(tmp_path):
    rows = codes((0, "INSERT"), (8, "0"), (2, "B"), (10, 0.0), (20, 0.0), (30, 0.0), (70, 3), (71, 2), (44, 9), (45, 7))
    found = drawing(tmp_path, "a.dxf", dxf(rows, blocks=block("B", circle(1))))
    centres = sorted(tuple(np.round(Polygon(c.flat(1e-4)).centroid.coords[0], 6)) for c in found.curves)
    assert centres == [(9.0 * column, 7.0 * row) for column in range(3) for row in range(2)]


def test_every_kind_of_entity_that_ezdxf_writes(tmp_path):
    """Against ezdxf's own flattening of what it wrote (its arcs are Bezier curves, good to 3e-4 of the radius)."""
    made = ezdxf.new(units=4)
    space = made.modelspace()
    space.add_line((0, 0), (10, 5))
    space.add_arc((0, 0), 10, 30, 300)
    space.add_ellipse((1, 1), (12, 3), 0.4, 0.3, 4.0)
    space.add_lwpolyline([(0, 0, 0.5), (30, 0, -1.2), (30, 30, 0)], format="xyb", close=True)
    space.add_polyline2d([(0, 0, 0.3), (30, 0, 0), (30, 30, 0)], format="xyb", close=True)
    space.add_spline([(0, 0), (10, 20), (30, 10), (40, 40)])  # by the points it goes through
    space.add_open_spline([(0, 0), (10, 20), (30, 10), (40, 40), (50, 50)])
    space.add_arc((1, 2), 30, 10, 100, dxfattribs={"extrusion": (0, 0, -1)})  # seen from below
    space.add_text("not a curve")
    out = io.StringIO()
    made.write(out)
    found = drawing(tmp_path, "a.dxf", out.getvalue())
    entities = [entity for entity in space if entity.dxftype() != "TEXT"]
    assert [curve.kind for curve in found.curves] == [entity.dxftype() for entity in entities]
    for curve, entity in zip(found.curves, entities, strict=True):
        theirs = [(p.x, p.y) for p in ezdxf.path.make_path(entity).flattening(1e-4)]
        assert LineString(curve.flat(1e-4)).hausdorff_distance(LineString(theirs)) < 0.02, curve.kind
    assert found.skipped == {"TEXT": 1}


@pytest.mark.parametrize(
    ("unit", "mm"), [(1, 25.4), (2, 304.8), (4, 1.0), (5, 10.0), (6, 1000.0), (0, None), (None, None)]
)
def test_the_unit_of_a_dxf(tmp_path, unit, mm):
    assert drawing(tmp_path, "a.dxf", dxf(circle(1), unit=unit)).unit_mm == mm


def test_what_is_hidden_is_not_read(tmp_path):
    made = ezdxf.new()
    made.layers.add("OFF").off()
    made.layers.add("FROZEN").freeze()
    for layer in ("OFF", "FROZEN", "SEEN"):
        made.modelspace().add_circle((0, 0), 5, dxfattribs={"layer": layer})
    out = io.StringIO()
    made.write(out)
    assert only(drawing(tmp_path, "a.dxf", out.getvalue())).layer == "SEEN"


def test_what_is_no_curve_is_left_out_by_name(tmp_path):
    """An entity that no library knows, and a face: neither has anything to say here."""
    thing = codes((0, "PROFILE3D"), (100, "AcDbEntity"), (8, "A"), (100, "AcDbThing"), (90, 5), (70, 1))
    text = dxf(thing, circle(5), codes((0, "POINT"), (8, "0"), (10, 0), (20, 0)))
    found = drawing(tmp_path, "a.dxf", text)
    assert only(found).kind == "CIRCLE"
    assert found.skipped == {"PROFILE3D": 1, "POINT": 1}


# --- SVG -------------------------------------------------------------------------------------------------------------


def test_a_path_against_another_library(tmp_path):
    """Every command of a path, absolute and relative, against svgpathtools' points on the same text."""
    d = "M 5 5 h 20 v 3 l 5 5 H 20 q 5 5 10 0 t 8 3 c 3 9 6 -9 9 0 s 6 9 9 0 A 12 7 25 1 0 70 40 a 5 5 0 0 1 4 4 V 9 Z"
    found = only(drawing(tmp_path, "a.svg", svg(f'<path d="{d}"/>')))
    theirs = svgpathtools.parse_path(d)
    dense = [segment.point(t) for segment in theirs for t in np.linspace(0, 1, 200)]
    assert strays(found.flat(1e-4), [(p.real, -p.imag) for p in dense]) < 2e-4  # 1e-4, and two ways to centre an arc


def test_shapes_that_another_library_wrote(tmp_path):
    """Closed-form areas of svgwrite's shapes under a transform that makes every area 6 times as large."""
    made = svgwrite.Drawing(size=("100mm", "100mm"), viewBox="0 0 100 100")
    group = made.g(transform="translate(10 20) rotate(30) scale(2 3) skewX(10)", id="BOSS")
    group.add(made.circle((5, 5), 4))
    group.add(made.ellipse((5, 5), (4, 2)))
    group.add(made.rect((1, 1), (8, 6)))
    group.add(made.rect((1, 1), (8, 6), rx=2, ry=1))
    group.add(made.polygon([(0, 0), (4, 0), (0, 3)]))
    made.add(group)
    found = drawing(tmp_path, "a.svg", made.tostring())
    areas = [Polygon(curve.flat(1e-5)).area / 6 for curve in found.curves]
    assert areas == pytest.approx([16 * math.pi, 8 * math.pi, 48, 48 - (4 - math.pi) * 2, 6], rel=1e-4)
    assert {curve.layer for curve in found.curves} == {"BOSS"}


@pytest.mark.parametrize(
    ("transform", "place"),
    [
        ("translate(3)", (8, 7)),
        ("translate(3,4) rotate(90)", (-4, 9)),
        ("rotate(90 5 7)", (5, 7)),
        ("matrix(0 1 -1 0 3 4)", (-4, 9)),
        ("scale(2) translate(1 1)", (12, 16)),
        ("skewY(45)", (5, 12)),
    ],
)
def test_transforms(tmp_path, transform, place):
    """Where the point (5, 7) goes, worked out by hand; y is turned up afterwards."""
    found = only(drawing(tmp_path, "a.svg", svg(f'<g transform="{transform}"><path d="M 5 7 L 90 90"/></g>')))
    assert found.flat(1)[0] == pytest.approx((place[0], -place[1]))


def test_a_figure_that_matplotlib_wrote(tmp_path):
    """A circle of 54 mm across on a page of its own: matplotlib writes Bezier curves, nested groups and uses."""
    from matplotlib.figure import Figure
    from matplotlib.patches import Circle

    figure = Figure(figsize=(100 / 25.4, 100 / 25.4))
    axes = figure.add_axes((0, 0, 1, 1))
    axes.set(xlim=(0, 100), ylim=(0, 100))
    axes.axis("off")
    axes.add_patch(Circle((50, 50), 27, gid="BOSS", fill=False))
    out = io.StringIO()
    figure.savefig(out, format="svg")
    text = out.getvalue()
    found = drawing(tmp_path, "a.svg", text)
    (boss,) = [curve for curve in found.curves if "boss" in curve.names]
    box = np.ptp(boss.flat(1e-3), axis=0)
    assert box == pytest.approx([54 / 25.4 * 72] * 2, rel=1e-4)  # in points, 72 to the inch; it writes "pt", which is
    assert found.unit_mm is None  # a size for type, and is not taken for a unit of length


@pytest.mark.parametrize(
    ("size", "mm"),
    [
        ('width="80mm" height="60mm" viewBox="0 0 160 120"', 0.5),
        ('width="1in" viewBox="0 0 100 50"', 0.254),
        ('width="50mm"', 25.4 / 96),
        ('width="300" height="200" viewBox="0 0 300 200"', None),
        ('width="100%" height="100%"', None),
        ('viewBox="0 0 10 10"', None),
    ],
)
def test_the_unit_of_an_svg(tmp_path, size, mm):
    found = drawing(tmp_path, "a.svg", svg('<circle r="5"/>', size=size))
    assert found.unit_mm == (pytest.approx(mm) if mm else None)


def test_uses_groups_and_what_is_not_drawn(tmp_path):
    text = svg(
        '<defs><circle id="c" cx="1" cy="2" r="3"/></defs>',
        '<symbol id="s"><circle r="2"/></symbol>',
        '<g id="BOSS"><use xlink:href="#c" x="10" y="20"/><use href="#s"/></g>',
        '<g display="none"><circle r="9"/></g><circle r="9" style="fill:red; display: none"/>',
        "<script>alert(1)</script><style>circle {fill: red}</style><text>words</text>",
        '<clipPath><circle r="7"/></clipPath>',
        '<image href="file:///secret" width="5" height="5"/>',
    )
    found = drawing(tmp_path, "a.svg", text)
    assert [Polygon(c.flat(1e-4)).centroid.coords[0] for c in found.curves] == [
        pytest.approx((11, -22), abs=1e-3),
        pytest.approx((0, 0), abs=1e-3),
    ]
    assert found.skipped == {"hidden": 2, "text": 1, "image": 1}


# --- bad input -------------------------------------------------------------------------------------------------------


def bomb(levels, fan, innermost):
    """Blocks that each use the next one several times."""
    deep = [block(f"B{n}", *(insert(f"B{n + 1}", k) for k in range(fan))) for n in range(levels)]
    return dxf(insert("B0"), blocks="".join(deep) + block(f"B{levels}", innermost))


LAUGHS = "".join(f'<!ENTITY l{n} "{f"&l{n - 1};" * 10}">' for n in range(1, 10))
USES = "".join('<g id="u{}">{}</g>'.format(n, f'<use href="#u{n + 1}"/>' * 10) for n in range(12))
WIDE = codes((0, "INSERT"), (8, "0"), (2, "B"), (10, 0.0), (20, 0.0), (70, 30000), (71, 30000), (44, 1.0), (45, 1.0))
BAD = {
    "empty.dxf": (b"", "is empty"),
    "spaces.svg": (b" \n ", "is empty"),
    "nothing.dxf": (dxf(), "holds no lines or curves"),
    "text.dxf": (
        dxf(codes((0, "TEXT"), (8, "0"), (10, 0.0), (20, 0.0), (1, "boss"))),
        "no lines or curves, only 1 TEXT",
    ),
    "words.dxf": ("a caliper reading\n" * 50, "words.dxf"),
    "random.dxf": (bytes(range(256)) * 20, "random.dxf"),
    "cut.dxf": (dxf(circle(5))[:60], "cut.dxf"),
    "binary.dxf": (b"AutoCAD Binary DXF\r\n\x1a\x00" + bytes(99), "is a binary DXF file"),
    "dwg.dxf": (b"AC1027" + bytes(99), "is a DWG file"),
    "loop.dxf": (dxf(insert("A"), blocks=block("A", insert("A"), circle(1))), "more than 16 deep"),
    "bomb.dxf": (bomb(9, 9, circle(1)), "more than 50000 lines, curves and blocks"),
    "hollow.dxf": (bomb(9, 9, ""), "more than 50000 lines, curves and blocks"),
    "wide.dxf": (dxf(WIDE, blocks=block("B", circle(1))), "more than 50000 lines, curves and blocks"),
    "missing.dxf": (dxf(insert("NOT THERE")), "holds no lines or curves"),
    "nan.dxf": (dxf(circle("nan")), "nan.dxf"),
    "far.dxf": (dxf(line(0, 0, 1e12, 5)), "beyond 10 million"),
    "space.dxf": (dxf(line(0, 0, 10, 5, z2=3.0)), "leaves the drawing's plane"),
    "points.dxf": (dxf(line(3, 3, 3, 3)), "holds no lines or curves"),
    "large.dxf": (b"0\n" * (MOST_BYTES // 2 + 1), "larger than 5 MB"),
    "other.png": (b"\x89PNG", "neither a DXF nor an SVG"),
    "laughs.svg": (svg("<text>&l9;</text>", before=f'<!DOCTYPE svg [<!ENTITY l0 "ha">{LAUGHS}]>'), "declares entities"),
    "wide16.svg": (
        svg("<text>&x;</text>", before='<!DOCTYPE svg [<!ENTITY x SYSTEM "file:///secret">]>').encode("utf-16"),
        "declares entities",
    ),
    "outside.svg": (svg('<use href="other.svg#boss"/>'), "lies outside the file"),
    "useloop.svg": (svg('<g id="a"><use href="#a"/></g>'), "uses of uses more than 16 deep"),
    "usebomb.svg": (svg(USES, '<circle id="u12" r="1"/>'), "more than 50000 lines"),
    "deep.svg": (svg("<g>" * 220, '<circle r="1"/>', "</g>" * 220), "deep.svg"),
    "deeper.svg": (svg("<g>" * 9000, '<circle r="1"/>', "</g>" * 9000), "cannot be read as SVG"),
    "many.svg": (svg('<circle r="1"/>' * 30000), "more than 50000 lines"),
    "longpath.svg": (svg(f'<path d="M0 0{" 1 1" * 150000}"/>'), "a path of more than 200000 numbers"),
    "huge.svg": (svg('<path d="M 0 0 L 1e999 3"/>'), "not a number"),
    "wrongpath.svg": (svg('<path d="M 0 0 L 3"/>'), "ends early"),
    "nopath.svg": (svg('<path d="L 3 3 L 4 4"/>'), "starts with M"),
    "script.svg": (svg('<path d="M 0 0 javascript:alert(1)"/>'), "is not understood"),
    "turned.svg": (svg('<circle r="3" transform="rotate(nonsense)"/>'), "transform 'rotate(nonsense)'"),
    "style.svg": (svg('<circle r="3" style="transform: rotate(3deg)"/>'), "is moved by its style"),
    "percent.svg": (svg('<circle r="5%"/>'), "r '5%' is no length"),
    "inner.svg": (svg('<svg viewBox="0 0 5 5"><circle r="3"/></svg>'), "a view of its own"),
    "points.svg": (svg('<polygon points="1,2 three"/>'), "no list of numbers"),
    "stretched.svg": (
        svg('<circle r="3"/>', size='width="50mm" height="90mm" viewBox="0 0 10 10" preserveAspectRatio="none"'),
        "stretches the drawing",
    ),
    "cut.svg": (svg('<circle r="3"/>')[:-9], "cannot be read as SVG"),
    "page.svg": ("<html><body/></html>", "its first element is 'html'"),
    "packed.svg": (gzip.compress(svg('<circle r="3"/>').encode()), "is compressed"),
    "latin.svg": ("<svg><text>\xe9</text></svg>".encode("latin-1"), "is not UTF-8"),
}


@pytest.mark.parametrize("name", BAD)
def test_a_bad_file_is_refused_in_one_line(tmp_path, name):
    text, says = BAD[name]
    with pytest.raises(InputError) as caught:
        drawing(tmp_path, name, text)
    message = str(caught.value)
    assert says in message
    assert message.startswith(name)
    assert "\n" not in message
    assert len(message) < 300
    assert forbidden(message) == []


def test_a_file_that_is_not_there(tmp_path):
    from geartrack.boss.trace.drawing import read_drawing

    with pytest.raises(InputError, match=r"^gone\.dxf: cannot be read: no such file"):
        read_drawing(tmp_path / "gone.dxf")


def test_ten_million_chords_are_not_made(tmp_path):
    found = only(drawing(tmp_path, "a.svg", svg('<path d="M 0 0 C 900000 9000000 -9000000 900000 5 5"/>')))
    with pytest.raises(InputError, match="far too long or too fine"):
        found.flat(1e-9)
