"""Whole figures and their files: nothing cut off or run together, bench words, the same bytes, never half-written."""

from __future__ import annotations

import subprocess
import sys
from dataclasses import replace
from xml.etree import ElementTree

import drawn_jobs
import matplotlib
import pytest
from figures_read import cut_off, run_together, words_on
from matplotlib.figure import Figure
from screen_words import forbidden, promises

from geartrack.draw import check_figure, describe, ratio_figure, save
from geartrack.errors import InputError
from geartrack.words import metal

SVG = "{http://www.w3.org/2000/svg}"


@pytest.mark.parametrize(("name", "units"), [*((name, "in") for name in drawn_jobs.NAMES), ("grind", "mm")])
def test_every_demo_job_makes_a_sheet_that_can_be_read(name, units):
    answer = drawn_jobs.answer(name)
    figure = check_figure(answer, units)
    assert cut_off(figure) == []
    assert run_together(figure) == []
    said = words_on(figure)
    assert answer.verdict.words in said
    assert [
        f"{text}: {forbidden(text, metals=(metal(answer),))}"
        for text in said
        if forbidden(text, metals=(metal(answer),))
    ] == []
    assert promises(" ".join(said)) == []


def test_a_sheet_without_the_hand_can_be_read():
    figure = check_figure(replace(drawn_jobs.answer("hits"), hand=None), "in")
    assert cut_off(figure) == []
    assert run_together(figure) == []


def test_the_other_hand_can_be_read():
    figure = check_figure(drawn_jobs.answer("hits", "above"), "in")
    assert cut_off(figure) == []
    assert run_together(figure) == []


@pytest.mark.parametrize("units", ["in", "mm"])
def test_the_ratio_sheet_can_be_read(units):
    figure = ratio_figure(drawn_jobs.table(), units)
    assert cut_off(figure) == []
    assert run_together(figure) == []
    assert [text for text in words_on(figure) if forbidden(text)] == []


def test_the_text_equivalent_says_what_the_sheet_decides():
    answer = drawn_jobs.answer("grind")
    said = describe(answer)
    assert answer.verdict.words in said
    assert "o'clock" in said
    assert answer.job.case.mark in said
    assert forbidden(said, metals=(metal(answer),)) == []


def test_an_svg_carries_title_and_text_equivalent(tmp_path):
    answer = drawn_jobs.answer("grind")
    save(check_figure(answer, "in"), tmp_path / "a.svg")
    root = ElementTree.parse(tmp_path / "a.svg").getroot()
    assert root.get("role") == "img"
    assert root.findtext(f"{SVG}title") == answer.verdict.words
    assert root.findtext(f"{SVG}desc") == describe(answer)
    assert "date" not in (tmp_path / "a.svg").read_text().lower().split("<g id=")[0].replace("</", "<")


@pytest.mark.parametrize("suffix", ["svg", "PNG", "pdf"])
def test_the_same_answer_makes_the_same_file(tmp_path, suffix):
    answer = drawn_jobs.answer("clears")
    for name in ("a", "b"):
        save(check_figure(answer, "in"), tmp_path / f"{name}.{suffix}")
    assert (tmp_path / f"a.{suffix}").read_bytes() == (tmp_path / f"b.{suffix}").read_bytes()
    assert sorted(path.name for path in tmp_path.iterdir()) == [f"a.{suffix}", f"b.{suffix}"]


@pytest.mark.parametrize("name", ["figure.jpg", "figure", "figure.svgz"])
def test_another_kind_of_file_is_refused_and_the_three_named(tmp_path, name):
    with pytest.raises(InputError, match=r"\.svg, \.png or \.pdf"):
        save(Figure(), tmp_path / name)
    assert list(tmp_path.iterdir()) == []


def test_what_was_there_stays_where_writing_fails(tmp_path, monkeypatch):
    path = tmp_path / "figure.png"
    path.write_bytes(b"before")

    def fail(*_: object, **__: object) -> None:
        raise OSError("disk full")

    monkeypatch.setattr("pathlib.Path.replace", fail)
    with pytest.raises(InputError, match="disk full"):
        save(Figure(), path)
    assert path.read_bytes() == b"before"
    assert list(tmp_path.iterdir()) == [path]


def test_figures_leave_no_trace_behind(tmp_path):
    before = dict(matplotlib.rcParams)
    save(check_figure(drawn_jobs.answer("clears"), "in"), tmp_path / "a.svg")
    assert dict(matplotlib.rcParams) == before
    script = "import sys, geartrack.draw; sys.exit('matplotlib.pyplot' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", script], check=False).returncode == 0
