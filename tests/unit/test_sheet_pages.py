"""The sheets as pages: what poppler reads on the PDF is the model, word for word, and so is the HTML."""

import re
import subprocess
from collections import Counter
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
import pytest
import sheets_read as read
from click.testing import CliRunner
from drawn_jobs import NAMES, job
from paper_jobs import cone_answer, grown_answer, harmful_answer
from paper_read import needs_poppler, page_sizes_mm, pgm

from geartrack.cli import main
from geartrack.datafiles import data_path
from geartrack.export.figure import printable
from geartrack.job import with_changes
from geartrack.sheets.bench import bench_sheet
from geartrack.sheets.html import sheet_html
from geartrack.sheets.model import Pairs
from geartrack.sheets.pdf import sheet_pdf
from geartrack.study import check

SIZES = {"letter": (215.9, 279.4), "a4": (210.0, 297.0)}  # ISO 216; ANSI/ASME Y14.1
MADE = pytest.mark.parametrize("make", read.SHEETS.values(), ids=read.SHEETS)


@needs_poppler
@MADE
def test_the_pdf_says_what_the_model_says(make):
    """Every text of the model in the order of the model, and no number that the model has not."""
    sheet = make()
    pdf = sheet_pdf(read.without_pictures(sheet), "letter")
    text = read.tight(read.pdf_text(pdf))
    loud = {block.name for section in sheet.sections for block in section.blocks if getattr(block, "quiet", False)}
    for words in filter(None, read.said(sheet)):
        assert read.tight(printable(words)) in text or words in loud, words
    said = set(read.numbers("\n".join(read.said(sheet))))
    marks = {str(n) for n in range(1, 20)}  # of pages and of numbered lines
    assert {n.rstrip(",") for n in read.numbers(read.pdf_text(pdf))} <= {n.rstrip(",") for n in said} | marks


@MADE
def test_the_html_has_the_numbers_of_the_model(make):
    sheet = make()
    counted = Counter(read.numbers(read.html_text(sheet_html(sheet, "a4"))))
    assert counted == Counter(read.numbers("\n".join(read.said(sheet))))


@needs_poppler
@pytest.mark.parametrize("paper", SIZES)
@pytest.mark.parametrize("name", NAMES)
def test_a_bench_sheet_is_three_pages_at_most(name, paper):
    sizes = page_sizes_mm(sheet_pdf(read.bench(name), paper))
    assert 1 <= len(sizes) <= 3
    for size in sizes:
        assert size == pytest.approx(SIZES[paper], abs=0.1)


@needs_poppler
@pytest.mark.parametrize("maker", [grown_answer, cone_answer])
def test_a_large_cut_fits_three_pages_too(maker):
    assert len(page_sizes_mm(sheet_pdf(bench_sheet(maker()), "letter"))) <= 3


@needs_poppler
@pytest.mark.parametrize("paper", SIZES)
@MADE
def test_no_heading_stands_at_the_foot_of_a_page(make, paper):
    sheet = make()
    heads = {read.tight(section.title) for section in sheet.sections}
    heads |= {read.tight(b.name) for section in sheet.sections for b in section.blocks if isinstance(b, Pairs)}
    foot = read.tight(sheet.foot)
    for page in read.pages_of_words(sheet_pdf(sheet, paper)):
        tops = sorted({round(word.top) for word in page})
        lines = ["".join(word.text for word in page if round(word.top) == top) for top in tops]
        body = [line for line in lines if line and line[:20] not in foot]
        assert body[-1] not in heads
        assert len(body) > 3


def test_heads_are_told_from_other_lines():
    assert "Signed" in {section.title for section in read.bench("measure").sections}


@needs_poppler
@pytest.mark.parametrize("make", [read.bench, read.counter, read.customer])
def test_in_black_and_white_every_word_stands_out(make):
    """Darkest against lightest about each word, by the contrast ratio of WCAG 2.2 (4.5 for text)."""
    pdf = sheet_pdf(make(), "letter")
    pale = []
    for page, words in zip(grey_pages(pdf), read.pages_of_words(pdf), strict=True):
        for word in words:
            box = page[
                int(word.top * SCALE) : int(word.bottom * SCALE) + 1,
                int(word.left * SCALE) : int(word.right * SCALE) + 1,
            ]
            if box.size and re.search(r"\w\w", word.text):
                light, dark = (relative(float(np.percentile(box, q))) for q in (98, 2))
                if (light + 0.05) / (dark + 0.05) < 4.5:
                    pale.append(word.text)
    assert pale == []


SCALE = 200 / 72


def grey_pages(pdf):
    with TemporaryDirectory() as folder:
        path = Path(folder) / "it.pdf"
        path.write_bytes(pdf)
        subprocess.run(["pdftoppm", "-r", "200", "-gray", path, path.with_suffix("")], check=True)
        return [pgm(each.read_bytes()) for each in sorted(Path(folder).glob("*.pgm"))]


def relative(grey):
    """Relative luminance of a grey from 0 to 255 (WCAG 2.2)."""
    share = grey / 255
    return share / 12.92 if share <= 0.04045 else ((share + 0.055) / 1.055) ** 2.4


NAME = "Журавль 12 болт, Ωμέγα, Kovač"


@needs_poppler
def test_names_in_other_scripts_print():
    sheet = bench_sheet(check(with_changes(job("grind"), {"name": NAME, "case.mark": "№ 7 Ж"})))
    text = read.tight(read.pdf_text(sheet_pdf(sheet, "a4")))
    assert read.tight(NAME) in text
    assert read.tight("№ 7 Ж") in text
    assert NAME in read.html_text(sheet_html(sheet, "a4"))


def test_a_name_that_means_harm_stays_a_name():
    page = sheet_html(bench_sheet(harmful_answer()), "a4").decode()
    assert "<script" not in page
    assert "&lt;script&gt;" in page
    assert sheet_pdf(bench_sheet(harmful_answer()), "a4").startswith(b"%PDF")


def test_the_same_sheet_gives_the_same_bytes():
    first, second = (sheet_pdf(read.bench("measure"), "a4") for _ in range(2))
    assert first == second
    assert sheet_html(read.bench(), "a4") == sheet_html(read.bench(), "a4")


def test_pictures_stay_lines():
    """No picture is made of pixels, in either file."""
    pdf = sheet_pdf(read.bench(), "a4")
    assert b"/Subtype /Image" not in pdf
    page = sheet_html(read.bench(), "a4").decode()
    assert page.count("<svg") == len(read.pictures(read.bench())) == 2
    assert "<image" not in page


@pytest.mark.parametrize("kind", ["bench", "counter", "customer"])
def test_the_command_writes_what_the_name_asks_for(kind, tmp_path):
    more = ["--teeth", "8/39, 7/36"] if kind == "counter" else []
    job = str(data_path("jobs/grind.toml"))
    for name, start in (("it.pdf", b"%PDF"), ("it.html", b"<!DOCTYPE html>")):
        out = tmp_path / name
        ran = CliRunner().invoke(main, ["sheet", kind, job, str(out), "--fast", "--paper", "a4", *more])
        assert ran.exit_code == 0, ran.output
        assert out.read_bytes().startswith(start)
    assert "size: A4" in (tmp_path / "it.html").read_text(encoding="utf-8")


@pytest.mark.parametrize("kind", ["bench", "counter", "customer"])
def test_a_name_that_asks_for_nothing_is_refused(kind, tmp_path):
    ran = CliRunner().invoke(main, ["sheet", kind, str(data_path("jobs/grind.toml")), str(tmp_path / "it.docx")])
    assert ran.exit_code == 2
    assert ran.stderr.count("\n") == 1
    assert ".pdf or .html" in ran.stderr
    assert list(tmp_path.iterdir()) == []


def test_the_customers_answer_stands_on_the_page(tmp_path):
    job, out = str(data_path("jobs/measure.toml")), tmp_path / "it.html"
    ran = CliRunner().invoke(main, ["sheet", "customer", job, str(out), "--fast", "--if-found", "grind=yes"])
    assert ran.exit_code == 0, ran.output
    said = read.html_text(out.read_bytes())
    assert re.search(r"\nyes\n", said)
    assert said.count("call me") < read.html_text(sheet_html(read.customer("measure"), "a4")).count("call me")
