"""The solids in a real browser: seen in their colours, turned by mouse, keyboard and touch.

Chromium draws them on the processor (SwiftShader), so what is tested is what stands on the screen: its pixels.
"""

import io
import shutil

import numpy as np
import pytest
from page_server import running

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
pytestmark = pytest.mark.skipif(CHROMIUM is None, reason="Chromium is not installed (Debian: apt-get install chromium)")

LAPTOP, TABLET = {"width": 1280, "height": 800}, {"width": 820, "height": 1180}
GL = ["--use-gl=angle", "--use-angle=swiftshader", "--enable-unsafe-swiftshader"]
NO_GL = ["--disable-gpu", "--disable-software-rasterizer"]
LONG = 60_000


@pytest.fixture(scope="module")
def page_running(tmp_path_factory):
    with running(tmp_path_factory.mktemp("page")) as found:
        yield found


@pytest.fixture(scope="module")
def start():
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        yield lambda *args: playwright.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox", *args])


@pytest.fixture(scope="module")
def browser(start):
    started = start(*GL)
    yield started
    started.close()


@pytest.fixture
def opened(browser, page_running):
    context = browser.new_context(base_url=page_running.address, viewport=LAPTOP)
    yield ready(context)
    context.close()


def ready(context):
    page = context.new_page()
    page.set_default_timeout(LONG)
    page.goto("/")
    return page


def demo_seen(page):
    """The demo with its solids on the screen."""
    page.get_by_role("button", name="Open the demo").click()
    page.wait_for_selector("text=/Low to high by \\d/")
    page.locator("#view").scroll_into_view_if_needed()
    page.locator("#view .solid").wait_for(state="attached")
    page.locator("#view").scroll_into_view_if_needed()
    page.locator("#view .stage[data-shown]").wait_for()
    page.locator("#view .stage").evaluate("e => e.scrollIntoView({block: 'center'})")
    return page.locator("#view .stage")


def pixels(stage):
    """(high, wide, 3) of what stands on the screen, 0 to 255."""
    from matplotlib.image import imread

    return np.round(255 * imread(io.BytesIO(stage.screenshot()))[:, :, :3])


def moved(stage, act):
    """Share of the pixels that an act changes."""
    before = pixels(stage)
    act()
    return float((np.abs(pixels(stage) - before).max(axis=-1) > 8).mean())


def rusty(seen):
    """Pixels of the ramp from pale to dark: red well over green over blue, which neither metal nor steel is."""
    red, green, blue = np.moveaxis(seen, -1, 0)
    return (red - green > 15) & (green - blue > 8)


def test_the_patch_shows_in_its_colours_and_turns(opened):
    stage = demo_seen(opened)
    said = "metal to remove; boss as relieved; ring gear, swept"
    assert set(stage.get_attribute("data-shown").split("; ")) == set(said.split("; "))
    assert 20 < rusty(pixels(stage)).sum() < 2_000
    opened.get_by_role("button", name="To the patch").click()
    near = pixels(stage)
    assert rusty(near).sum() > 5_000
    assert np.ptp(near[rusty(near)][:, 0]) > 60  # pale to dark
    opened.get_by_role("button", name="Set back").click()
    stage.focus()
    for key in ("ArrowLeft", "ArrowUp", "+"):
        assert moved(stage, lambda key=key: opened.keyboard.press(key)) > 0.02
    assert opened.evaluate("document.activeElement.className").startswith("stage")
    assert moved(stage, lambda: opened.keyboard.press("Home")) > 0.02
    assert moved(stage, lambda: opened.get_by_label("ring gear").uncheck()) > 0.05
    box = stage.bounding_box()
    opened.mouse.move(box["x"] + 300, box["y"] + 200)
    opened.mouse.down()
    opened.mouse.move(box["x"] + 420, box["y"] + 240, steps=4)
    assert moved(stage, opened.mouse.up) == 0  # nothing goes on by itself
    caption = opened.locator("#view figcaption").inner_text()
    for part in ("1 o'clock", "0.026 in", "STOP", "pale is no depth"):
        assert part in caption


def test_no_cut_is_shown_once_none_may_be(opened):
    stage = demo_seen(opened)
    opened.get_by_label("End face to ring's centre line", exact=True).fill("47.5 mm")
    opened.locator("#view .stage[data-shown^='boss as cast']").wait_for()
    assert opened.locator("#view [data-says]").inner_text().startswith("The boss as cast; no cut is shown. CLEARS")
    assert rusty(pixels(stage)).sum() == 0


def test_a_finger_turns_it(browser, page_running):
    context = browser.new_context(base_url=page_running.address, viewport=TABLET, has_touch=True)
    page = ready(context)
    stage = demo_seen(page)
    box = stage.bounding_box()
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    hand = context.new_cdp_session(page)

    def swipe():
        for kind, along in (("touchStart", 0), ("touchMove", 60), ("touchMove", 120), ("touchEnd", None)):
            points = [] if along is None else [{"x": x + along, "y": y}]
            hand.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": points})

    scrolled = page.evaluate("scrollY")
    assert moved(stage, swipe) > 0.02
    assert page.evaluate("scrollY") == scrolled
    context.close()


def test_where_it_cannot_be_drawn_the_flat_views_stay(start, page_running):
    without = start(*NO_GL)
    page = ready(without.new_context(base_url=page_running.address, viewport=LAPTOP))
    page.get_by_role("button", name="Open the demo").click()
    page.wait_for_selector("text=/Low to high by \\d/")
    page.locator("#view").scroll_into_view_if_needed()
    page.locator("#view figure img").first.scroll_into_view_if_needed()
    page.get_by_text("It cannot be turned about here").wait_for()
    for picture in page.locator("#view figure img").all():
        assert picture.evaluate("e => e.decode().then(() => e.naturalWidth)") > 100
    without.close()
