"""A file dropped anywhere on a page of the bench page goes where its kind is taken."""

import re
import shutil

import pytest
from page_server import running

from geartrack.datafiles import data_path

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
pytestmark = pytest.mark.skipif(CHROMIUM is None, reason="Chromium is not installed (Debian: apt-get install chromium)")

DROP = """([name, text]) => {
    const held = new DataTransfer();
    held.items.add(new File([text], name));
    document.body.dispatchEvent(new DragEvent("drop", { dataTransfer: held, bubbles: true, cancelable: true }));
}"""


@pytest.fixture(scope="module")
def page(tmp_path_factory):
    from playwright.sync_api import sync_playwright

    with running(tmp_path_factory.mktemp("page")) as served, sync_playwright() as playwright:
        started = playwright.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox"])
        opened = started.new_context(base_url=served.address).new_page()
        opened.set_default_timeout(40_000)
        yield opened
        started.close()


def test_a_job_dropped_on_the_start_page_is_opened(page):
    page.goto("/")
    page.evaluate(DROP, ["mine.toml", 'name = "Dropped"\n[axle]\noffset = "38.1 mm"\n'])
    page.wait_for_url(re.compile("/job/"))
    assert page.get_by_role("heading", level=1).inner_text() == "Dropped"


def test_a_table_dropped_on_a_job_gives_its_boss_and_another_kind_is_said(page):
    page.goto("/")
    page.get_by_role("button", name="Open the demo").click()
    page.wait_for_url(re.compile("/job/"))
    page.wait_for_load_state("networkidle")  # the script that takes files is there
    page.evaluate(DROP, ["notes.docx", "x"])
    page.locator("#trouble:has-text('notes.docx is not taken here')").wait_for()
    table = data_path("cases/larch-readings.csv")
    page.evaluate(DROP, ["boss.csv", table.read_text()])
    page.get_by_text("The boss is given by a table of readings.").wait_for()
