"""The sheets in Chromium: axe-core finds nothing that shuts people out, no page is wider than its window."""

import re
import shutil

import pytest
import sheets_read as read
from paper_read import needs_poppler

from geartrack.sheets.html import sheet_html

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
pytestmark = pytest.mark.skipif(CHROMIUM is None, reason="Chromium is not installed (Debian: apt-get install chromium)")
MADE = pytest.mark.parametrize("make", read.SHEETS.values(), ids=read.SHEETS)


@pytest.fixture(scope="module")
def browser():
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        started = playwright.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox"])
        yield started
        started.close()


def opened(browser, page, width=1280):
    shown = browser.new_page(viewport={"width": width, "height": 900})
    shown.set_content(page.decode())
    return shown


def faults(shown):
    from axe_playwright_python.sync_playwright import Axe

    found = Axe().run(shown).response["violations"]
    return [f"{each['id']}: {each['nodes'][0]['html'][:120]}" for each in found]


@MADE
def test_axe_finds_nothing(make, browser):
    shown = opened(browser, sheet_html(make(), "letter"))
    assert faults(shown) == []
    shown.close()


def test_axe_finds_a_planted_fault(browser):
    page = sheet_html(read.bench(), "letter").decode()
    shown = opened(browser, re.sub(r'<html lang="en">', "<html>", page).encode())
    assert any(fault.startswith("html-has-lang") for fault in faults(shown))
    shown.close()


@MADE
@pytest.mark.parametrize("width", [1280, 820, 390])
def test_the_page_is_no_wider_than_its_window(make, width, browser):
    shown = opened(browser, sheet_html(make(), "letter"), width)
    assert shown.evaluate("document.documentElement.scrollWidth") <= width
    shown.close()


@needs_poppler
@MADE
def test_it_prints_with_every_number(make, browser):
    sheet = make()
    shown = opened(browser, sheet_html(sheet, "a4"))
    pdf = shown.pdf(prefer_css_page_size=True)
    shown.close()
    printed = {n.rstrip(",") for n in read.numbers(read.pdf_text(pdf))}
    assert {n.rstrip(",") for n in read.numbers("\n".join(read.said(sheet)))} <= printed
    assert len(read.pages_of_words(pdf)) <= 5
