"""The pages in a real browser: touched, listened to, measured, cut off and brought back."""

from __future__ import annotations

import itertools
import re
from collections.abc import Iterator
from contextlib import ExitStack
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from curewatch.bench.bench import Bench
from curewatch.settings.settings import MqttSettings
from curewatch.store.store import Store
from curewatch.wording import words
from dashboard.app import make_app
from sensors.broker.process import EmbeddedBroker
from sensors.mqtt.subscriber import Subscriber
from tests.support.brokers import free_port, publish, until
from tests.support.checker import followed, violations, walked
from tests.support.pages import (
    GARAGE,
    PHONE,
    SETTINGS,
    SETTLED,
    SMALL,
    Garage,
    fill,
    open_garage,
    opened,
    overflow,
    renewed,
    resized,
    served,
    settled,
    watched,
    watched_afresh,
)
from tests.support.scenes import STATES

PAGES = (
    "/", "/mix", "/mix/fibre-polyester-filler", "/air", "/air/salt", "/air/listen", "/shelf",
    "/shelf/epoxy-primer", "/shelf/new", "/logbook", "/choices", "/step/1", "/parts",
    "/morning", "/undo", "/air/sensors", "/parts?part=lower corner patch 1", "/plan", "/heaters",
)  # fmt: skip


def height(page: Page, selector: str) -> float:
    found = page.locator(selector).first.bounding_box()
    assert found, f"{selector} is not on the page"
    return found["height"]


def test_a_mix_by_clicking_then_a_colder_panel_by_mqtt(browser: Browser, tmp_path: Path) -> None:
    mqtt = MqttSettings(port=free_port())
    settings = replace(SETTINGS, folder=tmp_path, mqtt=mqtt)
    store = Store(tmp_path / "curewatch.db")
    bench = Bench(store)

    def clock() -> datetime:
        return datetime.now(UTC)

    with ExitStack() as ends:
        ends.callback(store.close)
        ends.enter_context(EmbeddedBroker("127.0.0.1", mqtt.port, tmp_path))
        subscriber = Subscriber("127.0.0.1", mqtt.port, store, settings, clock)
        subscriber.start()
        ends.callback(subscriber.stop)
        home = ends.enter_context(served(make_app(bench, store, clock, settings)))
        panel = "curewatch/panel/surface_temperature"
        # again until one is heard: the subscriber may have only just been let in
        until(lambda: publish(mqtt.port, panel, "-m", "20.5") == 0 and store.latest())
        seen, page = watched(browser)
        ends.callback(page.close)
        settled(page, home)
        page.get_by_role("link", name="Mix", exact=True).first.click()
        page.get_by_role("link", name=re.compile("Two-part epoxy panel adhesive")).click()
        page.get_by_label("Part", exact=True).fill("lower corner patch")
        page.get_by_role("button", name="Mixed now").click()
        expect(
            page.get_by_role("heading", name="Finish working lower corner patch")
        ).to_be_visible()
        digits, why = page.locator(".digits:visible").first, page.locator(".why")
        before, reason = digits.inner_text(), why.inner_text()
        publish(mqtt.port, panel, "-m", "16.0")
        expect(why).not_to_have_text(reason)
        expect(digits).not_to_have_text(before)
        felt = re.search(r"panel (\d+\.\d) °C", why.inner_text())
        assert felt
        assert float(felt[1]) < 20.5
        expect(page.locator(".figure b").first).to_have_text("16.0 °C")
        assert {url.split("/")[2] for url in seen.asked} == {home.split("/")[2]}
        assert seen.said == []


def test_what_must_be_read_from_three_metres_is_large_enough(
    garage: Garage, address: str, browser: Browser
) -> None:
    fill(garage, 3)
    _, page = watched(browser, GARAGE)
    page.goto(address)
    sizes = page.evaluate(
        """() => {
            const context = document.createElement('canvas').getContext('2d');
            const figure = document.querySelector('.digits b');
            const style = getComputedStyle(figure);
            context.font = `${style.fontWeight} ${style.fontSize} ${style.fontFamily}`;
            const size = (query) =>
                parseFloat(getComputedStyle(document.querySelector(query)).fontSize);
            return { digits: context.measureText('8').actualBoundingBoxAscent, todo: size('.todo'),
                big: size('.big'), air: size('.figure b') };
        }"""
    )
    assert sizes["digits"] >= 200
    assert min(sizes["todo"], sizes["big"], sizes["air"]) >= 64


def due_later(garage: Garage, page: Page, late_h: float) -> None:
    """Wait on the bench until the tests are due, if there are any. [h]"""
    garage.clock.at += timedelta(hours=late_h)
    renewed(page)
    if garage.bench.view(garage.clock()).steps:
        expect(page.locator(".band.due:visible")).to_be_visible()
    page.wait_for_function(SETTLED)


def apart(page: Page, row: str) -> None:
    """Hold every control of a row to 19 mm, with 13 mm to the next. [1 mm is 3.78 px]"""
    boxes = [locator.bounding_box() for locator in page.locator(row).all() if locator.is_visible()]
    found = sorted((b for b in boxes if b), key=lambda b: (b["x"], b["y"]))
    for each in found:
        assert each["height"] >= 71.5
        assert each["width"] >= 71.5
    for one, other in itertools.combinations(found, 2):
        across = max(one["x"], other["x"]) - min(
            one["x"] + one["width"], other["x"] + other["width"]
        )
        down = max(one["y"], other["y"]) - min(
            one["y"] + one["height"], other["y"] + other["height"]
        )
        assert max(across, down) >= 47.5, row


@pytest.mark.parametrize("size", [GARAGE, SMALL])
def test_touch_targets_are_wide_and_apart_with_gloves(
    garage: Garage, address: str, browser: Browser, size: tuple[int, int]
) -> None:
    fill(garage, 3)
    _, page = watched(browser, size)
    settled(page, address)
    for late_h in (0, 2):
        if late_h:
            due_later(garage, page, late_h)
        for row in (".asks :is(button, .button)", ".answers button"):
            apart(page, row)
        if size == GARAGE:  # a lower screen shows all of the menu instead
            apart(page, ".rail :is(a, button)")
        ends = page.locator(".rail a:visible").last.bounding_box()
        assert ends
        assert ends["y"] + ends["height"] <= size[1]
    followed(page, "/mix/fibre-polyester-filler")
    page.locator(".starts .dash-options-list-option").first.wait_for()
    apart(page, ".starts .dash-options-list-option")
    apart(page, ".cautions .dash-options-list-option")
    apart(page, ".fills button")
    followed(page, "/mix")
    page.locator(".rows .row").first.wait_for()
    apart(page, ".rows .row")
    apart(page, ".lately button")


@pytest.mark.parametrize("steps", [0, 1, 3, 6, 12])
def test_the_bench_needs_no_scrolling(
    garage: Garage, address: str, browser: Browser, steps: int
) -> None:
    """On the large screen when just mixed, on both when the tests are due."""
    fill(garage, steps)
    _, page = watched(browser, GARAGE)
    settled(page, address)
    for late_h, size in ((0, GARAGE), (2, GARAGE), (2, SMALL)):
        if late_h and size == GARAGE:
            due_later(garage, page, late_h)
        elif size != GARAGE:
            resized(page, size)
        assert overflow(page) == (0, 0), (late_h, size)
        if steps:
            assert height(page, "#ribbons") >= (180 if size == GARAGE else 100), size


SMALLEST = """() => [...document.querySelectorAll('button, a.button, .rail a')]
    .filter((each) => each.checkVisibility({ visibilityProperty: true }))
    .map((each) => [each.getBoundingClientRect(), each.innerText])
    .filter(([box]) => Math.min(box.width, box.height) < 43.5)
    .map(([, text]) => text)"""


CUT = """() => [...document.querySelectorAll('.scroll:has(.stack)')]
    .filter((each) => each.scrollWidth > each.clientWidth).map((each) => each.ariaLabel)"""


def every_page(page: Page, address: str) -> Iterator[str]:
    """Each page in turn, and the one that says there is none."""
    yield from walked(page, address, PAGES)
    page.goto(address + "/nowhere")
    yield "/nowhere"


def test_a_phone_never_scrolls_sideways_and_a_checker_finds_nothing(
    garage: Garage, address: str, browser: Browser
) -> None:
    fill(garage, 3)
    _, page = watched(browser, PHONE, theme="light")
    for path in every_page(page, address):
        assert overflow(page)[1] == 0, path
        assert page.evaluate(SMALLEST) == [], path
        assert page.evaluate(CUT) == [], path
        assert violations(page) == [], path


def test_an_automatic_checker_finds_nothing(garage: Garage, address: str, browser: Browser) -> None:
    fill(garage, 3)
    _, page = watched(browser, GARAGE, theme="dark")
    for path in every_page(page, address):
        assert violations(page) == [], path
    _, page = watched(browser, SMALL, theme="light")
    for path in walked(page, address, ("/", "/mix", "/step/1")):
        assert violations(page) == [], path


def test_an_automatic_checker_finds_nothing_where_nothing_can_cure(
    browser: Browser, tmp_path: Path
) -> None:
    garage = open_garage(tmp_path)
    STATES["cold"](garage)
    with served(garage.app) as home:
        for theme, size in (("dark", GARAGE), ("light", PHONE)):
            _, page = watched(browser, size, theme=theme)
            opened(page, home + "/mix/epoxy-primer")
            assert violations(page) == [], theme
            page.close()
    garage.store.close()


def reach(page: Page, name: str) -> None:
    """Press Tab until the control of that name has the focus."""
    for _ in range(90):
        page.keyboard.press("Tab")
        text = page.evaluate(
            "() => { const e = document.activeElement;"
            "return e.getAttribute('aria-label') || e.labels?.[0]?.innerText"
            " || e.innerText || e.value || ''; }"
        )
        if text.split("\n")[0].strip() == name:
            ring = page.evaluate("getComputedStyle(document.activeElement).outlineStyle")
            assert ring != "none"
            return
    raise AssertionError(f"{name} cannot be reached")


def test_a_whole_mix_by_keyboard_alone(garage: Garage, address: str, browser: Browser) -> None:
    _, page = watched(browser)
    page.goto(address)
    reach(page, "Mix")
    page.keyboard.press("Enter")
    page.wait_for_url("**/mix")
    reach(page, "Two-part epoxy primer")
    page.keyboard.press("Enter")
    page.wait_for_url("**/mix/epoxy-primer")
    reach(page, "Part")
    page.keyboard.type("roof seam")
    page.keyboard.press("Enter")
    reach(page, "Mixed now")
    page.keyboard.press("Enter")
    page.wait_for_url(address + "/")
    assert garage.bench.step(1).part == "roof seam"
    garage.bench.acknowledge(1, "gloves", now=garage.clock())
    reach(page, "Door open, fan on")
    page.keyboard.press("Enter")
    expect(page.locator("#toast")).to_have_text("Reminder answered: ventilation (roof seam)")
    assert "ventilation" in garage.bench.step(1).acknowledged
    undo = page.locator("#undo button")
    page.keyboard.press("Tab")
    expect(undo).to_be_focused()
    page.keyboard.press("Tab")
    expect(undo).not_to_be_focused()
    assert page.evaluate("document.querySelector('main').contains(document.activeElement)")
    garage.clock.at += timedelta(hours=3)
    expect(page.locator(".band:visible")).to_have_class(re.compile("due"))
    reach(page, "No, it drags: Still workable? roof seam")
    page.keyboard.press("Enter")
    expect(page.locator("#toast")).to_have_text("Saved for roof seam: no longer workable.")
    assert garage.bench.step(1).reached["working_time"]
    page.keyboard.press("Tab")
    expect(undo).to_be_focused()
    page.keyboard.press("Enter")
    expect(page.locator("#toast")).to_have_text(re.compile("^Undone: "))
    assert "working_time" not in garage.bench.step(1).reached
    expect(undo).to_be_focused()


def test_one_touch_records_a_witness_and_says_so(
    garage: Garage, address: str, browser: Browser
) -> None:
    fill(garage, 1)
    _, page = watched(browser)
    opened(page, address)
    page.get_by_role("button", name="tacky").click()
    expect(page.locator("#toast")).to_have_text("Dab of lower corner patch 1 at 19:42: tacky.")
    assert garage.bench.step(1).witnesses[0].state == "tacky"
    expect(page.get_by_role("button", name="tacky, seen 19:42")).to_be_visible()


def test_the_browser_says_lengths_as_the_server_does(
    garage: Garage, address: str, browser: Browser
) -> None:
    fill(garage, 1)
    _, page = watched(browser)
    page.goto(address)
    minutes = [0, 0.4, 0.999, 1, 14.2, 59.4, 60, 65.5, 200, 1440, 2879, 2880, 9000]
    for up in (False, True):
        found = page.evaluate(
            """([lengths, up]) => lengths.map((minutes) => {
                const node = document.createElement('span');
                const now = Number(document.body.dataset.now);
                node.dataset.down = String(now + minutes * 60000);
                node.dataset.round = up ? 'up' : 'down';
                document.body.append(node);
                return node;
            }) && new Promise((done) => {
                const look = setInterval(() => {
                    const nodes = [...document.querySelectorAll('body > [data-down]')]
                        .slice(-lengths.length);
                    if (!nodes.every((node) => node.children.length)) return;
                    clearInterval(look);
                    done(nodes.map(
                        (node) => [...node.children].map((part) => part.textContent).join(' ')
                    ));
                }, 50);
            })""",
            [minutes, up],
        )
        assert found == [words.duration(value, "up" if up else "down") for value in minutes]


def test_nothing_moves_for_those_who_ask_for_less_motion(
    garage: Garage, address: str, browser: Browser
) -> None:
    fill(garage, 1)
    garage.clock.at += timedelta(hours=2)
    context = browser.new_context(reduced_motion="reduce", color_scheme="dark")
    page = context.new_page()
    page.goto(address)
    assert page.evaluate("document.getAnimations().length") == 0
    context.close()


def test_the_page_is_light_and_does_not_jump(
    garage: Garage, address: str, browser: Browser
) -> None:
    fill(garage, 3)
    _, page = watched_afresh(browser)
    page.add_init_script(
        "window.shift = 0; new PerformanceObserver((list) => {"
        " for (const each of list.getEntries()) window.shift += each.value;"
        "}).observe({type: 'layout-shift', buffered: true});"
    )
    wire = "() => performance.getEntries().reduce((sum, each) => sum + (each.transferSize || 0), 0)"
    page.goto(address)
    page.wait_for_timeout(2500)
    assert page.evaluate("window.shift") < 0.02
    assert page.evaluate(wire) < 1_800_000
    page.reload()
    assert page.evaluate(wire) < 60_000


def test_a_theme_and_a_layout_are_kept(garage: Garage, address: str, browser: Browser) -> None:
    _, page = watched(browser)
    page.goto(address + "/choices")
    page.get_by_role("button", name="desk", exact=True).click()
    page.get_by_role("button", name="light", exact=True).click()
    root = page.locator("html")
    expect(root).to_have_attribute("data-layout-kept", "desk")
    expect(root).to_have_attribute("data-theme-kept", "light")
    page.goto(address)
    expect(root).to_have_attribute("data-layout", "desk")
    expect(root).to_have_attribute("data-theme", "light")
