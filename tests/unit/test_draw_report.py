"""The report's figure: what it shows is what the report says, in a full month, a first month and an empty one."""

import re

import matplotlib.image as image
import numpy as np
import pytest
from book_entries import Calendar, check_document, gap_body, inputs_body, outcome_body, quote_document, state_body
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure

from geartrack.draw.report import gaps_view, hours_view, months_view, report_figure
from geartrack.draw.save import save, svg_text
from geartrack.shopbook import Book
from geartrack.shopbook.report import report
from geartrack.shopbook.summary import summaries

READ = (0.35, 0.45, 0.9)  # said 0.4, low to high 0.1 to 0.7: two within, one outside


@pytest.fixture(scope="module")
def months(tmp_path_factory):
    """Reports of two months: a job added only, then three finished."""
    clock = Calendar("2026-02-03")
    with Book(tmp_path_factory.mktemp("book") / "book.sqlite", create=True, clock=clock) as book:
        for read, day in ((None, "2026-02-03"), *((each, f"2026-03-1{n}") for n, each in enumerate(READ))):
            clock.set(day)
            with book.writing():
                inputs = book.add("inputs", inputs_body())
                result = book.add("result", check_document(), job=inputs.job, about=inputs.uid)
                quote = book.add("quote", quote_document(Cutting=0.5, Blend=0.25), job=inputs.job, about=result.uid)
                if read is not None:
                    book.add("state", state_body("accepted"), job=inputs.job, about=quote.uid)
                    book.add("measurement", gap_body(read), job=inputs.job)
                    book.add("outcome", outcome_body(hours={"Cutting": 0.75, "Blend": 0.2}), job=inputs.job)
        found = summaries(book)
    return {month: report(found, month) for month in ("2026-02", "2026-03")}


def axes_of(view, *arguments):
    return view(Figure().add_subplot(), *arguments)


def test_bars_are_the_months(months):
    ax = axes_of(months_view, months["2026-03"].months)
    heights = {c.get_label(): [bar.get_height() for bar in c] for c in ax.containers}
    assert heights["added"][-2:] == [1, 3]
    assert heights["won"][-2:] == [0, 3]
    assert sum(heights["lost"]) == 0
    assert [label.get_text() for label in ax.get_xticklabels()][::9] == ["Apr\n2025", "Jan\n2026"]


def test_hours_are_the_lines(months):
    ax = axes_of(hours_view, months["2026-03"])
    widths = {bar.get_gid(): bar.get_width() for bars in ax.containers for bar in bars}
    assert widths == {"Cutting": 0.5, "Cutting taken": 0.75, "Blend": 0.25, "Blend taken": pytest.approx(0.2)}
    assert [label.get_text() for label in ax.get_yticklabels()] == ["Cutting", "Blend"]


def test_gaps_are_the_readings_and_the_one_outside_is_another_sign(months):
    ax = axes_of(gaps_view, months["2026-03"], "mm")
    drawn = {line.get_gid(): (list(line.get_ydata()), line.get_marker()) for line in ax.lines if line.get_gid()}
    assert drawn["within low to high"][0] == pytest.approx([-0.05, 0.05])
    assert drawn["outside"][0] == pytest.approx([0.5])
    assert drawn["outside"][1] != drawn["within low to high"][1]
    low, high = ax.get_ylim()
    assert low < -0.3
    assert high > 0.5


def test_words_stay_on_the_sheet(months):
    for made in months.values():
        figure = report_figure(made, "in")
        drawn = figure.get_tightbbox(FigureCanvasAgg(figure).get_renderer())  # in inches
        width, height = figure.get_size_inches()
        assert (drawn.x0 > 0.1, drawn.x1 < width - 0.05, drawn.y0 > 0.1, drawn.y1 < height - 0.1) == (True,) * 4


def test_a_first_month_says_what_is_not_there_yet(months):
    text = svg_text(report_figure(months["2026-02"], "in"))
    assert "Jobs added: 1." in text
    figure = report_figure(months["2026-02"], "in")
    said = [each.get_text() for ax in figure.axes for each in ax.texts]
    assert said == ["no job of this month has its hours yet", "no gap was both said and read yet"]


def test_the_picture_has_its_text_and_reads_in_grey(months, tmp_path):
    figure = report_figure(months["2026-03"], "in")
    assert re.search(r"<desc>The shop's book, 2026-03. Jobs added: 3; 3 of 3 quotes decided were won", svg_text(figure))
    assert "0.167" not in svg_text(figure)  # lengths are shown in both units, never bare
    save(figure, tmp_path / "r.png")
    grey = image.imread(tmp_path / "r.png")[..., :3] @ np.array([0.299, 0.587, 0.114])  # ITU-R BT.601
    assert grey.min() < 0.2
    assert 0.005 < (grey < 0.5).mean() < 0.3
