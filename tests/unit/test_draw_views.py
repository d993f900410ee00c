"""Each view says and shows what its answer holds: numbers against the answer, shapes against the gap's own geometry."""

from __future__ import annotations

from dataclasses import replace

import drawn_jobs
import numpy as np
import pytest
from figures_read import corners, patches_named, words_on
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from geartrack.draw import end_view, near_view, patch_view, ratio_view, side_view
from geartrack.sweep import signed_distance
from geartrack.units import show_both, show_length


def axes() -> Axes:
    return Figure(figsize=(5, 4)).add_subplot()


@pytest.mark.parametrize(("name", "units"), [("clears", "in"), ("grind", "mm"), ("hits", "in"), ("measure", "mm")])
@pytest.mark.parametrize("view", [side_view, near_view])
def test_the_gap_called_out_is_the_answers_rounded_down(view, units, name):
    answer = drawn_jobs.answer(name)
    ax = axes()
    assert view(ax, answer, units) is ax
    said = [text for text in words_on(ax) if text.startswith("gap")]
    touching = " touches" if answer.gap.lower_mm < 0 else ""
    assert said == [f"gap {show_both(answer.gap.lower_mm, units, rounding='down')}{touching}"]


@pytest.mark.parametrize("name", ["grind", "hits"])
@pytest.mark.parametrize("view", [side_view, near_view])
def test_metal_to_remove_in_the_side_view_is_just_what_is_closer_than_wanted(view, name):
    """Its outline's corners lie no further from the ring than wanted, and some at that very distance."""
    answer = drawn_jobs.answer(name)
    (cut,) = patches_named(view(axes(), answer, "in"), "metal to remove")
    away = signed_distance(answer.section, corners(cut))
    assert away.max() == pytest.approx(answer.target_mm, abs=0.04)  # points closer than a printed dot are left out
    assert away.min() >= answer.gap.lower_mm - 0.04


def test_the_line_of_the_wanted_gap_stands_at_that_gap_from_the_ring():
    answer = drawn_jobs.answer("grind")
    (line,) = patches_named(near_view(axes(), answer, "in"), "wanted gap")
    assert signed_distance(answer.section, corners(line)) == pytest.approx(answer.target_mm, abs=0.01)


def test_nothing_is_hatched_where_the_gap_is_wide_enough():
    answer = drawn_jobs.answer("clears")
    for view in (side_view, near_view, end_view):
        ax = view(axes(), answer, "in")
        assert patches_named(ax, "metal to remove") == []
        assert not any("remove" in text or "STOP" in text for text in words_on(ax))


@pytest.mark.parametrize("hand", ["below", "above"])
def test_end_view_is_in_the_hand_of_the_real_axle(hand):
    """The boss is nearest at 1 o'clock for a pinion below the ring's axis, at 11 for one above (DESIGN 12)."""
    answer = drawn_jobs.answer("hits", hand)
    ax = end_view(axes(), answer, "in")
    sign = {"below": 1, "above": -1}[hand]
    across, up = corners(patches_named(ax, "metal to remove")[0]).mean(axis=0)
    assert 15 < np.degrees(np.arctan2(sign * across, up)) < 45
    ring = corners(patches_named(ax, "ring gear")[0])
    assert (sign * ring[:, 0]).max() > 20
    placed = {text.get_text().split("\n")[0]: text.get_position()[0] for text in ax.texts}
    assert sign * (placed["away from"] - placed["toward"]) > 0
    shades = np.vstack([corners(shade) for shade in patches_named(ax, "depth")])
    assert (sign * shades[:, 0] > 0).all()


def test_end_view_shows_either_side_where_the_hand_is_not_known():
    answer = replace(drawn_jobs.answer("hits"), hand=None)
    ax = end_view(axes(), answer, "in")
    for name in ("metal to remove, either side", "ring gear, either side"):
        first, second = patches_named(ax, name)
        assert np.sort(corners(first)[:, 0]) == pytest.approx(np.sort(-corners(second)[:, 0]))
        assert first.get_linestyle() != "solid"
    shades = np.vstack([corners(shade) for shade in patches_named(ax, "depth")])
    assert shades[:, 0].min() == pytest.approx(-shades[:, 0].max(), abs=1e-6)
    said = " ".join(words_on(ax))
    assert "either side" in said
    assert "toward" not in said


def test_end_view_gives_depth_stop_and_wall_rounded_against_the_shop():
    answer = drawn_jobs.answer("grind")
    cuts = answer.cuts
    said = " ".join(words_on(end_view(axes(), answer, "in")))
    assert f"take off {show_length(cuts.nominal.depth_radial_max_mm, 'in', rounding='up')}" in said
    assert f"STOP at {show_length(cuts.at_stop.depth_radial_max_mm, 'in', rounding='down')}" in said
    assert f"wall left {show_length(cuts.wall.left_mm, 'in', rounding='down')}" in said


@pytest.mark.parametrize("name", ["dont-grind", "dont-use", "aluminium"])
def test_no_depth_is_shown_where_none_may_be_given(name):
    answer = drawn_jobs.answer(name)
    for view in (side_view, near_view, end_view, patch_view):
        said = " ".join(words_on(view(axes(), answer, "in")))
        assert "STOP" not in said
        assert "take off" not in said
        assert "to remove" not in said


def test_unrolled_patch_covers_the_clock_and_stations_of_the_cut():
    answer = drawn_jobs.answer("grind")
    relief = answer.cuts.nominal
    ax = patch_view(axes(), answer, "in")
    assert np.sort(ax.get_xlim()) == pytest.approx(np.degrees(relief.clocks[[0, -1]]))
    assert ax.get_ylim()[0] > ax.get_ylim()[1]  # further in is further down
    key = [text for text in words_on(ax) if text.endswith(" in") or text == "depth 0"]
    deepest = float(key[-1].removesuffix(" in")) * 25.4
    assert relief.depth_radial_mm.max() <= deepest < 2 * relief.depth_radial_max_mm


def test_ratio_view_shows_the_rows_of_the_table():
    table = drawn_jobs.table()
    ax = ratio_view(axes(), table, "in")
    drawn = {tuple(point) for line in ax.lines for point in line.get_xydata() if "tooth pinion" in str(line.get_gid())}
    assert drawn == {(row.pair.ratio, row.gap.lower_mm) for row in table.rows}
    bars = [segment for c in ax.collections if c.get_gid() is None for segment in c.get_segments()]
    ends = {(x, low, high) for (x, low), (_, high) in bars}
    for row in table.rows:
        assert any(e == pytest.approx((row.pair.ratio, row.band_low_mm, row.band_high_mm), abs=1e-9) for e in ends)
    said = words_on(ax)
    assert {str(row.pair) for row in table.rows} <= {pair for text in said for pair in text.split(", ")}
    assert f"wanted {show_both(table.target_mm, 'in')}" in said
    heights = {line.get_gid(): line.get_ydata()[0] for line in ax.lines if line.get_gid() in ("wanted gap", "touching")}
    assert heights == {"wanted gap": table.target_mm, "touching": 0.0}


def test_ratio_view_shades_where_the_gap_is_lost():
    table = drawn_jobs.table()
    ax = ratio_view(axes(), table, "in")
    spans = {patch.get_gid(): patch for patch in ax.patches}
    for name, interval in (
        ("wanted gap is lost here", table.target_interval),
        ("touching begins here", table.contact_interval),
    ):
        assert (name in spans) is (interval is not None)
        if interval:
            x = spans[name].get_extents().transformed(ax.transData.inverted())
            assert (x.x0, x.x1) == pytest.approx(interval)


def test_lines_of_the_ratio_view_differ_by_more_than_tone():
    """Black-and-white print: no two pinion tooth counts share line style and marker."""
    ax = ratio_view(axes(), drawn_jobs.table(), "in")
    looks = [
        (str(line._unscaled_dash_pattern), line.get_marker()) for line in ax.lines if "tooth" in str(line.get_gid())
    ]
    assert len(looks) == len(set(looks)) == len({row.pair.pinion for row in drawn_jobs.table().rows})
