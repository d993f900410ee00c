"""Drawings damaged at random are read or refused, never anything else; a boss turned with its drawing is the same."""

from __future__ import annotations

import math

import numpy as np
import pytest
from boss_truth import volume
from hypothesis import given, settings
from hypothesis import strategies as st
from trace_drawings import BORE, block, circle, dxf, end_trace, insert, line, polyline, rib_outline, saved, svg

from geartrack.boss.trace.chains import chains
from geartrack.boss.trace.drawing import read_drawing
from geartrack.boss.trace.solid import boss_from_trace
from geartrack.errors import InputError
from geartrack.frame import polar

WHOLE_DXF = dxf(
    polyline(rib_outline(31, 150, 9, 40), "BOSS"),
    insert("B", 3, 4, scale=(2, -3), turn=33),
    line(0, 0, 9, 9),
    blocks=block("B", circle(19), polyline([(0, 0, 0.4), (9, 0), (3, 9, -2.0)])),
).encode()
WHOLE_SVG = svg(
    '<g id="BOSS" transform="translate(3 4) rotate(30)">',
    '<path d="M 0 0 q 5 5 10 0 A 12 7 25 1 0 70 40 c 1 2 3 4 5 6 z"/></g>',
    '<defs><circle id="c" r="3"/></defs><use href="#c" x="3"/><rect width="9" height="4" rx="1"/>',
).encode()


@st.composite
def damaged(draw, whole):
    """A file with some of its bytes gone, written over or doubled."""
    data = bytearray(whole)
    for _ in range(draw(st.integers(1, 6))):
        at = draw(st.integers(0, len(data) - 1))
        run = draw(st.integers(1, 40))
        twice = st.just(bytes(data[at : at + run]) * 2)
        data[at : at + run] = draw(st.binary(max_size=8) | twice | st.sampled_from([b"1e999", b"nan", b"-1"]))
    return bytes(data)


@pytest.mark.parametrize(("name", "whole"), [("a.dxf", WHOLE_DXF), ("a.svg", WHOLE_SVG)])
@settings(max_examples=150, deadline=None)
@given(data=st.data())
def test_a_damaged_drawing_is_read_or_refused(tmp_path_factory, name, whole, data):
    path = saved(tmp_path_factory.mktemp("damaged"), name, data.draw(damaged(whole)))
    try:
        found = read_drawing(path)
        joined = chains(found.curves, found.name)
        assert all(np.isfinite(chain.flat(0.01)).all() for chain in joined)
    except InputError as fault:
        said = str(fault)
    else:
        said = ""
    assert "\n" not in said


@settings(max_examples=12, deadline=None)
@given(
    clock=st.floats(-179, 179),
    turned=st.integers(-179, 179),
    scale=st.floats(0.05, 20),
    x=st.floats(-500, 500),
    y=st.floats(-500, 500),
)
def test_where_and_how_large_a_drawing_lies_does_not_matter(tmp_path_factory, clock, turned, scale, x, y):
    """A drawing put on its sheet anywhere, turned by any angle that is said, scaled by the bore: one boss."""
    folder = tmp_path_factory.mktemp("placed")
    shapes = block("A", polyline(rib_outline(29, clock, 9, 40)), circle(19))
    text = dxf(insert("A", x, y, scale=(scale, scale), turn=-turned), blocks=shapes, unit=None)
    trace = end_trace(saved(folder, "a.dxf", text), end_scale="bore", twelve_oclock=f"{turned} deg")
    boss = boss_from_trace(trace, BORE, length_mm=22.0)
    _, radius, at = polar(boss.vertices)
    far = at[radius > 39]
    assert math.remainder(np.angle(np.exp(1j * far).mean()) - math.radians(clock), 2 * math.pi) == pytest.approx(
        0, abs=1e-6
    )
    disc, half = math.pi * 29**2, math.asin(4.5 / 29)
    rib = 9 * (40 - 29 * math.cos(half)) - 29**2 * (half - math.sin(half) * math.cos(half))
    assert volume(boss) == pytest.approx((disc + rib) * 22 - math.pi * 19**2 * 20, rel=3e-4)
