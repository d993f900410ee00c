"""Whole stories at the bench page in a real browser: every entry of every card, from the empty page to printed paper.

By keyboard alone and by touch, in two tabs at once, with the page killed amid its work; and every page shut to nobody.
"""

import re
import shutil
from contextlib import contextmanager

import pytest
from card_entries import BARE_CASE, OLD_GEARS
from page_server import running, start

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
pytestmark = pytest.mark.skipif(CHROMIUM is None, reason="Chromium is not installed (Debian: apt-get install chromium)")

LAPTOP, TABLET = {"width": 1280, "height": 800}, {"width": 820, "height": 1180}
LONG = 45_000
DRAWN = "text=/Low to high by \\d/"
PHONE = {"axle": "9.45 in, pilot", "ratio_now": "9/35", "ratio_wanted": "7/36", "case": "nodular, never ground"}


@pytest.fixture(scope="module")
def page_running(tmp_path_factory):
    with running(tmp_path_factory.mktemp("page")) as found:
        yield found


@pytest.fixture(scope="module")
def browser():
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        started = playwright.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox"])
        yield started
        started.close()


@pytest.fixture
def opened(browser, page_running):
    @contextmanager
    def open_with(path="/", **how):
        context = browser.new_context(base_url=page_running.address, **({"viewport": LAPTOP} | how))
        context.set_default_timeout(LONG)
        page = context.new_page()
        page.goto(path)
        yield page
        context.close()

    return open_with


@pytest.mark.parametrize(
    ("title", "entries", "count"),
    [("On the phone", PHONE, 4), ("Old gears still fitted", OLD_GEARS, 11), ("Bare case on the bench", BARE_CASE, 16)],
)
def test_every_entry_of_a_card_is_asked_for_and_answered(opened, title, entries, count):
    from playwright.sync_api import expect

    with opened() as page:
        page.set_default_timeout(120_000)  # every entry is worked as it comes
        page.get_by_role("link", name=title).click()
        boxes = page.locator("#entries .entry input")
        assert [box.get_attribute("name") for box in boxes.all()] == list(entries)
        assert boxes.count() == len(entries) == count
        assert page.locator("#entries .entry details").count() == count  # how each is read
        boxes.first.focus()
        for n, text in enumerate(entries.values()):
            assert page.evaluate("document.activeElement.name") == list(entries)[n]
            page.keyboard.type(text)
            page.keyboard.press("Tab")
            page.keyboard.press("Tab")  # past how it is read
        page.wait_for_selector("#answer .verdict")
        page.wait_for_selector("#answer:not(:has-text('Left blank'))")  # nothing is, once all has come
        expect(page.locator("#entries .fault")).to_have_count(0, timeout=120_000)  # answers come in as they are worked
        if count > 4:
            page.get_by_role("button", name="Go on as a job").click()
            page.wait_for_url("**/job/*")
            assert page.get_by_label("Teeth", exact=True).input_value() == "7/36"


def focused(page):
    return page.evaluate(
        "(() => { const e = document.activeElement;"
        " return (e.labels?.[0] ?? e).innerText || e.getAttribute('aria-label') || ''; })()"
    ).strip()


def to(page, name):
    """Go with Tab alone to what is called so."""
    for _ in range(250):
        page.keyboard.press("Tab")
        if focused(page) == name:
            return
    pytest.fail(f"{name} is not reached by Tab")


def printed(context, press):
    """What the sheet says that a link opens in a window of its own; it prints."""
    with context.expect_page() as sheet:
        press()
    sheet.value.wait_for_load_state()
    assert sheet.value.pdf(prefer_css_page_size=True).startswith(b"%PDF")
    return sheet.value.locator("body").inner_text()


def test_from_empty_page_to_printed_sheet_by_keyboard_alone(opened):
    with opened() as page:
        to(page, "Open the demo")
        page.keyboard.press("Enter")
        page.wait_for_selector(DRAWN)
        page.wait_for_selector(".takeaway a")
        to(page, "Bench sheet to read")
        assert "STOP" in printed(page.context, lambda: page.keyboard.press("Enter"))


def test_from_empty_page_to_printed_sheet_by_touch(opened):
    with opened(viewport=TABLET, has_touch=True) as page:
        page.get_by_role("button", name="Open the demo").tap()
        page.wait_for_selector(DRAWN)
        link = page.get_by_role("link", name="Bench sheet to read")
        assert "STOP" in printed(page.context, link.tap)


def test_two_tabs_at_once(opened):
    with opened() as first:
        first.get_by_role("button", name="Open the demo").click()
        first.wait_for_selector(DRAWN)
        second = first.context.new_page()
        second.goto(first.url)
        second.get_by_label("Gap wanted", exact=True).fill("0.030 in")
        second.wait_for_selector(".sentence:has-text('wanted 0.030 in')")
        first.get_by_label("Gap wanted", exact=True).fill("0.025 in")
        first.get_by_text("was changed elsewhere meanwhile").wait_for()
        assert first.get_by_label("Gap wanted", exact=True).input_value() == "0.025 in"  # what was typed stays
        first.get_by_role("link", name="Show it as it stands now").click()
        first.wait_for_selector(".sentence:has-text('wanted 0.030 in')")


def test_killed_amid_its_work_and_started_again(browser, tmp_path):
    """kill -9 while draws are under way: the page says so, and after a new start all that was answered is there."""
    killed = start(tmp_path)
    context = browser.new_context(base_url=killed.address, viewport=LAPTOP)
    context.set_default_timeout(LONG)
    page = context.new_page()
    page.goto("/")
    page.get_by_role("button", name="Open the demo").click()
    page.wait_for_selector(DRAWN)
    page.get_by_label("Gap wanted", exact=True).fill("0.031 in")
    page.wait_for_selector(".history:has-text('State 2')")
    killed.kill()
    page.get_by_label("Gap wanted", exact=True).fill("0.032 in")
    page.locator("#trouble").filter(has_text="does not answer").wait_for()
    again = start(tmp_path, port=killed.port)
    try:
        page.reload()
        assert page.get_by_label("Gap wanted", exact=True).input_value() == "0.031 in"
        page.wait_for_selector(DRAWN)
        assert "wanted 0.031 in" in page.locator(".sentence").inner_text()
        context.close()
    finally:
        again.kill()


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_axe_finds_nothing_on_the_pages_of_a_whole_story(opened, scheme):
    """axe-core, with its rules for WCAG 2.2 A and AA and its own for good practice."""
    from axe_playwright_python.sync_playwright import Axe

    axe, found = Axe(), {}

    def look(page, name):
        violations = axe.run(page).response["violations"]
        found[name] = [f"{each['id']}: {node['target']}" for each in violations for node in each["nodes"]]

    with opened(color_scheme=scheme, reduced_motion="reduce") as page:
        for card in ("phone", "bare-case"):
            page.goto(f"/card/{card}")
            page.locator("#entries .entry input").first.fill("7 furlongs")
            page.wait_for_selector("#answer :text-matches('.')")
            look(page, card)
        page.goto("/nowhere")
        look(page, "not there")
        page.goto("/")
        page.get_by_role("button", name="Begin").click()
        page.wait_for_selector(".takeaway a")
        look(page, "nothing typed")
        page.goto("/")
        page.get_by_role("button", name="Open the demo").click()
        page.wait_for_selector(DRAWN)
        job = page.url
        page.locator("#view").scroll_into_view_if_needed()
        page.locator("#view [data-says]:not(:empty)").wait_for()
        look(page, "work screen with the solids")
        for part in ("view", "ratios", "passes", "quote", "files", "boss"):
            page.goto(f"{job}/{part}")
            look(page, part)
        for _ in range(2):
            page.goto(job)
            page.get_by_role("button", name="Write down as a new job").click()
            page.get_by_role("heading", name=re.compile(r"^Job \d+")).wait_for()
        look(page, "a job of the book")
        page.goto("/book")
        look(page, "the book")
        for box in page.get_by_role("checkbox").all()[:2]:
            box.check()
        page.get_by_role("button", name="Side by side").click()
        look(page, "side by side")
    assert {name: lines for name, lines in found.items() if lines} == {}
    assert len(found) == 14
