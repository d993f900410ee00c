"""A printed template, read back by poppler, ezdxf, svgelements and plain text: its scale, its words, its figures."""

import io
import re
from dataclasses import replace
from xml.etree import ElementTree as ET

import numpy as np
import pytest
from drawn_jobs import answer
from paper_jobs import cone_answer, grown_answer, harmful_answer
from paper_read import PIXEL_MM, needs_poppler, page_sizes_mm, pages, runs, solid_bars_mm, text_of
from shapely import Polygon

from geartrack.export.figure import Layer
from geartrack.export.template import template, template_file
from geartrack.export.template.pdf import OVERLAP_MM, pieces, template_pdf
from geartrack.job import with_changes
from geartrack.study import check
from geartrack.units import show_length

# ISO 216 and ANSI/ASME Y14.1 (from memory): A4 and Letter in millimetres.
PAPERS = {"letter": (215.9, 279.4), "a4": (210.0, 297.0)}
MAKERS = {
    "grind": lambda: answer("grind"),
    "hits, mirrored": lambda: answer("hits", "above"),
    "readings": lambda: answer("grind-by-readings"),
    "grown": grown_answer,
    "cone": cone_answer,
}


@pytest.fixture(scope="module", params=MAKERS)
def made(request):
    return template(MAKERS[request.param]())


def written(made, suffix, tmp_path, paper="a4"):
    return template_file(made, tmp_path / f"it.{suffix}", paper)


@needs_poppler
@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("which", ["grind", "grown"])
def test_the_bars_are_true_on_every_page(which, paper):
    pdf = template_pdf(template(MAKERS[which]()), paper)
    for size in page_sizes_mm(pdf):
        assert size == pytest.approx(PAPERS[paper], abs=0.05)  # pdfinfo gives points to two decimals
    found = pages(pdf)
    assert len(found) == len(page_sizes_mm(pdf))
    for page in found:
        lengths = [length for length, _ in solid_bars_mm(page, least_mm=80.0)]
        # 100 mm and 4 in (25.4 mm exactly, NIST SP 811) to 0.1 mm, as issue 4 asks; a pixel is 0.042 mm.
        assert lengths == pytest.approx([100.0, 101.6], abs=0.1)


def test_a_viewer_is_told_not_to_scale(tmp_path):
    pdf = written(template(answer("grind")), "pdf", tmp_path)
    (number,) = re.findall(rb"/ViewerPreferences (\d+) 0 R", pdf)
    assert re.search(rb"\n" + number + rb" 0 obj\s*<<\s*/PrintScaling /None\s*>>", pdf)


@needs_poppler
@pytest.mark.parametrize("paper", PAPERS)
def test_the_hours_stand_right_across_the_pieces_of_a_long_strip(paper):
    """Closed form: on a boss of radius R = 54.4 mm an hour is R pi/6; joined at their lines the pieces run on."""
    made = template(grown_answer())
    (page, *_) = pages(template_pdf(made, paper))
    parts = pieces(made.strip, PAPERS[paper][0] - 20.0, keep_mm=(30.0, 60.0))
    assert len(parts) == 2
    rows = strip_rows(page, 2, made.strip.height_mm)
    marks = []
    for part, row in zip(parts, rows, strict=True):
        band = page[row + int(0.9 / PIXEL_MM)]  # below the outer line, above the ends of the shortest marks
        centres = [(a + b) / 2 * PIXEL_MM for a, b in runs(band) if (b - a) * PIXEL_MM < 0.35]
        marks.append(np.array(centres) - 10.0 + part.box[0])  # the margin is 10 mm
    hour = 54.4 * np.pi / 6
    expected = hour * np.arange(-3, 5)
    joined = np.concatenate(marks)
    for place in expected:
        # The strip's own radius is less by the facets' sagitta, 0.0005 mm; a line is found to half a pixel.
        assert np.abs(joined - place).min() < 0.06
    join = [m[np.abs(m - (parts[0].box[2] - OVERLAP_MM / 2)) < 0.06] for m in marks]
    assert all(len(each) == 1 for each in join)  # the join line stands on both pieces
    across = (marks[1].max() - join[1][0]) + (join[0][0] - marks[0].min())
    assert across == pytest.approx(marks[1].max() - marks[0].min(), abs=0.1)


def strip_rows(page, count, high_mm):
    """First pixel rows of the outer lines of so many pieces: long lines with a twin as far below as a strip is high."""
    strong = [row for row, ink in enumerate(page) if max((b - a for a, b in runs(ink)), default=0) * PIXEL_MM > 40.0]
    tops = [row for row in strong if row - 1 not in strong]
    twins = [row for row in tops if any(abs((other - row) * PIXEL_MM - high_mm) < 0.3 for other in tops)]
    return [row + int(0.1 / PIXEL_MM) for row in twins[:count]]


def test_the_cut_is_the_relief_s_area(made):
    """Patch on the paper and on the end face, against the area that the relief finds on the mesh's triangles."""
    flat = sum(Polygon(curve.points).area for curve in made.patch.outlines)
    end = sum(Polygon(curve.points).area for curve in made.end.curves if curve.layer is Layer.PATCH)
    # Both are polygons through points 0.05 to 0.25 mm apart.
    assert flat + end == pytest.approx(made.cut.area_mm2, rel=0.005)


@needs_poppler
def test_an_end_face_larger_than_the_paper_is_said_to_be():
    made = template(answer("grind"))
    assert made.end is not None
    huge = replace(made, end=replace(made.end, box=(-120.0, -120.0, 120.0, 120.0)))
    words = "The end face is larger than this paper: take it from the .svg or .dxf"
    assert words in text_of(template_pdf(huge, "a4"))
    assert words not in text_of(template_pdf(made, "a4"))


@needs_poppler
@pytest.mark.parametrize("paper", PAPERS)
def test_the_page_says_what_it_is_for(made, paper):
    said, now = text_of(template_pdf(made, paper)), made.answer
    units = now.job.units
    deepest = show_length(now.cuts.nominal.depth_radial_max_mm, units, rounding="up")
    stop = show_length(now.cuts.at_stop.depth_radial_max_mm, units, rounding="down")
    for words in (
        *(now.job.name, str(now.pair), "For this case only: F-1207", "MEASURE THIS BAR", "100 mm", "4 in"),
        *(
            f"deepest {deepest}",
            f"STOP at {stop}",
            "pinion-side end",
            "from the pinion-nut end",
            "printed side outward",
        ),
        *("straight toward the ring gear", "away from", "the ring's centre line", "not to lay on", "respirator"),
        f"lies within {show_length(made.patch.flat.worst_mm, units, rounding='up')}",
    ):
        assert words in said, words


def test_dxf_reads_back_true_in_millimetres(made, tmp_path):
    import ezdxf

    raw = written(made, "dxf", tmp_path)
    drawing = ezdxf.read(io.StringIO(raw.decode()))
    assert not drawing.audit().errors
    assert drawing.header["$INSUNITS"] == 4  # millimetres
    space = drawing.modelspace()
    outlines = [np.array(p.get_points("xy")) for p in space.query('LWPOLYLINE[layer=="PATCH"]')]
    assert sum(Polygon(points).area for points in outlines) == pytest.approx(made.cut.area_mm2, rel=0.005)
    cut = np.array(space.query('LWPOLYLINE[layer=="CUT_LINE"]')[0].get_points("xy"))
    assert np.ptp(cut[:, 0]) == pytest.approx(made.strip.width_mm, abs=1e-6)
    assert any("STOP" in text.dxf.text for text in space.query("TEXT"))


def test_dxf_is_plain_text_that_says_the_same(tmp_path):
    """Group codes read without any library: 8 names the layer, 10 and 20 a vertex (the format's own numbering)."""
    made = template(answer("grind"))
    lines = [line.strip() for line in written(made, "dxf", tmp_path).decode().splitlines()]
    pairs = list(zip(lines[::2], lines[1::2], strict=True))
    where, bars, spots = "", [], []
    for code, value in pairs:
        if code == "0":
            if where == "BAR" and spots:
                bars.append(np.array(spots))
            where, spots = "", []
        elif code == "8":
            where = value
        elif code == "10":
            spots.append([float(value)])
        elif code == "20" and spots:
            spots[-1].append(float(value))
    lengths = sorted(float(np.ptp(bar[:, 0])) for bar in bars)[-2:]
    assert lengths == pytest.approx([100.0, 101.6], abs=1e-6)
    assert ("9", "$INSUNITS") in pairs
    assert pairs[pairs.index(("9", "$INSUNITS")) + 1] == ("70", "4")


def test_svg_reads_back_true_in_millimetres(made, tmp_path):
    import svgelements

    raw = written(made, "svg", tmp_path)
    root = ET.fromstring(raw)
    wide, high = (float(root.get(side).removesuffix("mm")) for side in ("width", "height"))
    assert [float(part) for part in root.get("viewBox").split()] == pytest.approx([0, 0, wide, high])
    read = svgelements.SVG.parse(io.BytesIO(raw), ppi=96)
    drawn = {group.id: group for group in read.select(lambda e: isinstance(e, svgelements.Group) and e.id)}
    true = [drawn["Strip-for-the-outside-of-the-boss"], drawn["End-face"]]
    areas = [Polygon(points).area for figure in true for points in on_layer(figure, "PATCH")]
    assert sum(areas) == pytest.approx(made.cut.area_mm2, rel=0.005)
    lengths = sorted(float(np.ptp(points[:, 0])) for points in on_layer(drawn["Scale-bars"], "BAR"))[-2:]
    assert lengths == pytest.approx([100.0, 101.6], abs=1e-3)


def on_layer(figure, layer):
    """Corner points [mm] of the paths on a layer of a figure; svgelements measures in CSS pixels, 96 to the inch."""
    for group in figure:
        if group.values.get("class") == layer:
            for path in group:
                yield np.array([(part.end.x, part.end.y) for part in abs(path) if part.end is not None]) * 25.4 / 96


@pytest.mark.parametrize("suffix", ["pdf", "svg", "dxf"])
def test_words_that_mean_harm_stay_words(suffix, tmp_path):
    made = template(harmful_answer())
    raw = written(made, suffix, tmp_path)
    if suffix == "svg":
        root = ET.fromstring(raw)
        assert not [e for e in root.iter() if e.tag.endswith("script")]
        assert any("</svg><script>" in (e.text or "") for e in root.iter())
    if suffix == "dxf":
        import ezdxf

        assert not ezdxf.read(io.StringIO(raw.decode())).audit().errors
    if suffix == "pdf":
        assert "alert(1)" in text_of(raw)


def test_the_same_answer_gives_the_same_bytes(tmp_path):
    made = template(answer("grind"))
    for suffix in ("pdf", "svg"):
        assert written(made, suffix, tmp_path) == written(template(answer("grind")), suffix, tmp_path)


def test_units_of_the_job_make_the_contours():
    inch, metric = answer("hits"), check(with_changes(answer("hits").job, {"units": "mm"}))
    # 0.005 in is 0.127 mm exactly (25.4 mm an inch, NIST SP 811); the issue asks for 0.1 mm otherwise.
    for now, step in ((inch, 0.127), (metric, 0.1)):
        made = template(now)
        assert made.steps.step_mm == pytest.approx(step, abs=1e-12)
        assert max(i for i, _ in made.patch.depths) == int(now.cuts.nominal.depth_radial_mm.max() / step)
