"""The figure of a scan: what stands on it, where its datums are drawn, and that all of it can be read."""

import larch_scan
import numpy as np
import pytest
from click.testing import CliRunner
from demo import demo_job
from figures_read import cut_off, run_together, words_on
from screen_words import forbidden

from geartrack.boss.scan.files import read_scan
from geartrack.boss.scan.shown import shown
from geartrack.cli import main
from geartrack.draw import save, scan_figure
from geartrack.draw.scan import describe
from geartrack.study.scan import look_at_scan


@pytest.fixture(scope="module")
def sheet():
    return look_at_scan(larch_scan.FILE, job=demo_job("grind-by-scan"))


@pytest.fixture(scope="module")
def part(tmp_path_factory):
    """The demo's boss alone, from 6 mm in: neither end face nor ring axis."""
    scan = read_scan(larch_scan.FILE, unit="mm")
    placed = (scan.vertices - larch_scan.SHIFT) @ larch_scan.rotation()
    kept = (placed[:, 0] < -6) & (np.hypot(placed[:, 1], placed[:, 2]) < 45)
    path = tmp_path_factory.mktemp("part") / "part.stl"
    larch_scan.write(path, scan.vertices, scan.triangles[kept[scan.triangles].all(axis=1)])
    return look_at_scan(path)


def test_its_points_lie_where_the_casting_was_made(sheet):
    """Each datum's points are those of the shape that was scanned, within ten times its noise."""
    drawn = shown(sheet.found, sheet.scan.vertices)
    assert drawn.framed
    x, y, z = drawn.points.T
    far = 10 * larch_scan.NOISE_MM + 0.1  # and what the frame itself may be off by
    on = drawn.on
    assert np.abs(np.hypot(y, z)[on["bore"]] - 19.0).max() < far + 0.1
    assert np.abs(x[on["end face"]]).max() < far + 0.1
    assert np.abs(x[on["support face"]] - larch_scan.SUPPORT_FACE).max() < far + 0.1
    ring = np.hypot(x + larch_scan.END_FACE, y + larch_scan.OFFSET)[on["ring axis"]]
    assert np.abs(ring - larch_scan.SIDE_RADIUS).max() < far + 0.2
    assert drawn.ring[:2] == pytest.approx([-larch_scan.END_FACE, -larch_scan.OFFSET], abs=0.1)
    assert all(mask.sum() > 100 for mask in on.values())


@pytest.mark.parametrize("units", ["in", "mm"])
def test_everything_on_it_can_be_read(sheet, part, units):
    for each in (sheet, part):
        figure = scan_figure(each, units)
        assert cut_off(figure) == []
        assert run_together(figure) == []
        assert forbidden(" ".join(words_on(figure))) == []
        assert forbidden(describe(each, units)) == []


def test_it_names_what_was_found(sheet):
    said = words_on(scan_figure(sheet, "in"))
    for words in (
        "pilot bore",
        "end face",
        "side-bearing bores",
        "pinion support's face",
        "12: straight at the ring gear",
    ):
        assert words in said
    assert any(words.startswith("hatched:") for words in said)


def test_it_names_what_is_missing(part):
    figure = scan_figure(part, "in")
    said = " ".join(words_on(figure))
    assert "What the scan shows, and lacks" in said
    assert "Missing: the end face" in said
    assert "Missing: the ring axis" in said
    assert "not in the axle's frame yet" in said
    assert not shown(part.found, part.scan.vertices).framed
    assert "Missing: the ring axis" in str(figure.get_label())


def test_the_unseen_is_hatched_where_the_scan_lost_it(sheet):
    """The lost part is about 195 deg, 9 mm in and more (tests/larch_scan.py): 6:30 on the map."""
    (hidden,) = (ax for ax in scan_figure(sheet, "in").axes if "unrolled" in ax.get_title(loc="left"))
    paths = [path for drawn in hidden.collections for path in drawn.get_paths() if len(path.vertices)]
    assert any(path.contains_point((-165.0, 15.0)) for path in paths)
    assert not any(path.contains_point((33.0, 2.0)) for path in paths)


def test_the_command_writes_it(tmp_path):
    for name in ("scan.svg", "scan.png", "scan.pdf"):
        result = CliRunner().invoke(main, ["scan", str(larch_scan.FILE), "--figure", str(tmp_path / name)])
        assert result.exit_code == 0, result.output
        assert f"Wrote{tmp_path / name}" in "".join(result.stderr.split())
        assert (tmp_path / name).stat().st_size > 10_000
    assert "<desc>larch-scan.stl" in (tmp_path / "scan.svg").read_text(encoding="utf-8")
    refused = CliRunner().invoke(main, ["scan", str(larch_scan.FILE), "--figure", str(tmp_path / "scan.txt")])
    assert refused.exit_code == 2
    assert not (tmp_path / "scan.txt").exists()


def test_the_same_scan_makes_the_same_file(sheet, tmp_path):
    for name in ("one.svg", "two.svg"):
        save(scan_figure(sheet, "mm"), tmp_path / name)
    assert (tmp_path / "one.svg").read_bytes() == (tmp_path / "two.svg").read_bytes()
