"""The bench page in a real browser: by mouse, by keyboard alone, by touch on a tablet, without script, and on paper."""

import re
import shutil
from contextlib import contextmanager

import pytest
from page_server import running

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
pytestmark = pytest.mark.skipif(CHROMIUM is None, reason="Chromium is not installed (Debian: apt-get install chromium)")

LAPTOP, TABLET = {"width": 1280, "height": 800}, {"width": 820, "height": 1180}
DRAWN = "text=/Low to high by \\d/"
LONG = 120_000


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
    """Opens the page; afterwards the browser must have had nothing to complain about, and asked nobody else."""
    complaints = []

    @contextmanager
    def open_with(path="/", **how):
        context = browser.new_context(base_url=page_running.address, **({"viewport": LAPTOP} | how))
        page = context.new_page()
        page.set_default_timeout(LONG)
        page.on("console", lambda said: complaints.append(said.text) if said.type == "error" else None)
        page.on("pageerror", lambda fault: complaints.append(str(fault)))
        page.on("request", lambda asked: complaints.append(asked.url) if not ours(asked.url) else None)
        page.goto(path)
        yield page
        context.close()

    def ours(url):
        return url.startswith((page_running.address, "data:", "blob:"))

    yield open_with
    assert complaints == []


def open_demo(page):
    page.get_by_role("button", name="Open the demo").click()
    page.wait_for_selector(DRAWN)


def verdict(page):
    return page.locator(".verdict").inner_text()


def test_the_whole_story_by_mouse(opened):
    with opened() as page:
        open_demo(page)
        assert verdict(page) == "GRIND"
        page.get_by_label("End face to ring's centre line", exact=True).fill("45 mm")
        page.wait_for_selector("#near-picture[src*='/2/']")  # drawn before it is decided
        page.wait_for_selector("#near-picture[src*='/2/near']")
        page.wait_for_selector(DRAWN)
        assert verdict(page) == "CLEARS THE BOSS"
        assert page.locator("#said").inner_text().startswith("CLEARS THE BOSS")  # what a screen reader is told
        page.get_by_role("button", name="Undo").click()
        page.wait_for_selector(DRAWN)
        assert verdict(page) == "GRIND"
        page.get_by_text("The table; try a pair").click()
        page.get_by_role("button", name="Try 9/35", exact=True).click()
        page.wait_for_selector(DRAWN)
        assert page.get_by_label("Teeth", exact=True).input_value() == "9/35"
        page.get_by_role("button", name="Undo").click()
        page.wait_for_selector("#quote table")
        assert "Total" in page.locator("#quote").inner_text()
        with page.context.expect_page() as sheet:
            page.get_by_role("link", name="Bench sheet to read").click()
        sheet.value.wait_for_load_state()
        assert "STOP" in sheet.value.locator("body").inner_text()
        sheet.value.close()
        page.get_by_label("Customer's initials, no names").fill("JD")
        page.get_by_role("button", name="Write down as a new job").click()
        page.get_by_role("heading", name=re.compile("^Job \\d+")).wait_for()
        page.get_by_role("button", name="sent", exact=True).click()
        page.get_by_text("quote moved: sent").wait_for()


def test_by_keyboard_alone(opened):
    with opened() as page:
        page.keyboard.press("Tab")
        assert page.evaluate("document.activeElement.className") == "skip"
        page.keyboard.press("Enter")
        to(page, "Open the demo")
        page.keyboard.press("Enter")
        page.wait_for_selector(DRAWN)
        to(page, "Gap wanted")
        assert page.evaluate("getComputedStyle(document.activeElement).outlineStyle") == "solid"
        page.keyboard.press("Control+a")
        page.keyboard.type("40 thou")
        page.wait_for_selector(".sentence:has-text('wanted 0.040 in')")
        assert focused(page) == "Gap wanted"  # the place is kept while the answer changes
        to(page, "Undo", back=True)
        page.keyboard.press("Enter")
        page.wait_for_selector(".sentence:has-text('wanted 0.020 in')")


def focused(page):
    return page.evaluate(
        "(() => { const e = document.activeElement;"
        " return (e.labels?.[0] ?? e).innerText || e.getAttribute('aria-label') || ''; })()"
    ).strip()


def to(page, name, back=False):
    """Go with Tab alone to what is called so."""
    for _ in range(200):
        page.keyboard.press("Shift+Tab" if back else "Tab")
        if focused(page) == name:
            return
    pytest.fail(f"{name} is not reached by Tab")


def test_by_touch_on_a_tablet(opened):
    with opened(viewport=TABLET, has_touch=True) as page:
        page.get_by_role("button", name="Open the demo").tap()
        page.wait_for_selector(DRAWN)
        assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
        page.get_by_label("Gap wanted", exact=True).tap()
        page.get_by_label("Gap wanted", exact=True).fill("0,8 mm")
        page.wait_for_selector(".sentence:has-text('wanted 0.031 in')")
        page.get_by_role("button", name="Undo").tap()
        page.wait_for_selector(".sentence:has-text('wanted 0.020 in')")
        assert too_small(page) == []


def too_small(page):
    """What can be touched and is seen, but is less than 44 px high or wide, once the page stands still."""
    found = _too_small(page)
    for _ in range(100):  # while a new page is laid out nothing has a size yet
        if not found:
            break
        page.wait_for_timeout(100)
        found = _too_small(page)
    return found


def _too_small(page):
    """Links within a line of text are let be."""
    return page.evaluate(
        """[...document.querySelectorAll("button, select, summary, nav a, .home, .way, .takeaway a,"
          + "input:not([type=hidden], [type=checkbox], [type=radio])")]
          .filter((e) => e.checkVisibility())
          .map((e) => [e.innerText || e.name || e.className, e.getBoundingClientRect()])
          .filter(([, box]) => box.height < 43.5 || box.width < 43.5).map(([name]) => name)"""
    )


@pytest.mark.parametrize(
    ("card", "entries", "word"),
    [
        ("phone", {"axle": "9 in, pilot", "ratio_now": "9/35", "ratio_wanted": "7/36"}, "LIKELY"),
        (
            "old-gears",
            {"old_teeth": "9/35", "new_teeth": "7/36", "axle": "9 in; 2.25 in", "gap": "0.240 in solder"},
            "",
        ),
        ("bare-case", {"teeth": "7/36", "ring_diameter": "9.45 in"}, "CAN'T SAY"),
    ],
)
def test_a_card_answers_while_it_is_typed(opened, card, entries, word):
    with opened(f"/card/{card}") as page:
        for key, text in entries.items():
            page.locator(f"#e-{key}").fill(text)
        last = page.locator(f"#e-{key}")
        last.blur()
        page.wait_for_selector(f'.verdict:has-text("{word}")' if word else ".verdict")
        last.fill("-7 furlongs")
        page.wait_for_selector(f"#note-{key} .fault")
        assert last.input_value() == "-7 furlongs"


def test_without_script_a_submit_button_does_it(opened):
    with opened(java_script_enabled=False) as page:
        page.get_by_role("button", name="Open the demo").click()
        assert page.locator(".verdict").inner_text() == "GRIND"
        page.get_by_label("End face to ring's centre line", exact=True).fill("44.5 mm")
        page.get_by_role("button", name="Answer", exact=True).click()
        page.get_by_role("link", name="Work out the draws").click()
        assert page.locator(".verdict").inner_text() == "CLEARS THE BOSS"
        page.locator("#ratios").get_by_role("link", name="Work it out").click()
        page.get_by_text("The table; try a pair").click()
        page.get_by_role("button", name="Try 9/35", exact=True).click()
        assert page.get_by_label("Teeth", exact=True).input_value() == "9/35"


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_axe_finds_nothing(opened, scheme):
    from axe_playwright_python.sync_playwright import Axe

    found = {}
    with opened(color_scheme=scheme, reduced_motion="reduce") as page:
        places = ["/", "/card/old-gears", "/book"]
        open_demo(page)
        page.wait_for_selector("#ratios table", state="attached")
        page.wait_for_selector("#quote table")
        places.append(job := re.sub(r"^https?://[^/]+", "", page.url))
        found[job] = faults(Axe(), page)
        for place in (*places[:3], f"{job}/boss"):
            page.goto(place)
            found[place] = faults(Axe(), page)
    assert {place: lines for place, lines in found.items() if lines} == {}


def faults(axe, page):
    return [
        f"{each['id']}: {node['target']}" for each in axe.run(page).response["violations"] for node in each["nodes"]
    ]


def test_it_prints_the_answer_without_its_buttons(opened, tmp_path):
    with opened() as page:
        open_demo(page)
        page.emulate_media(media="print")
        assert page.locator(".verdict").is_visible()
        assert not page.get_by_role("button", name="Undo").is_visible()
        assert not page.locator("nav").is_visible()
        assert page.pdf(format="Letter").startswith(b"%PDF")


def test_the_page_is_light(opened):
    """At most 1.5 MB without the 3D library (issue 7)."""
    with opened() as page:
        open_demo(page)
        page.wait_for_selector("#quote table")
        loaded = page.evaluate(
            "[...performance.getEntriesByType('navigation'), ...performance.getEntriesByType('resource')]"
            ".map((e) => [e.name, e.encodedBodySize])"
        )
    total = sum(size for name, size in loaded if "/three/" not in name)
    assert 100_000 < total < 1_500_000
