"""The pages in a real browser: touched, listened to, measured, cut off and brought back."""

from __future__ import annotations

import itertools
import re
import threading
from collections.abc import Iterator
from contextlib import ExitStack
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from importlib import resources
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect
from waitress.server import BaseWSGIServer, create_server

from curewatch.bench import Bench
from curewatch.config import MqttSettings
from curewatch.store import Store
from curewatch.view import Desk
from dashboard import words
from dashboard.app import make_app
from sensors.broker import EmbeddedBroker
from sensors.mqtt import Subscriber
from tests.brokers import free_port, publish, until
from tests.pages import EVENING, SETTINGS, Garage, chromium, garage, served, watched, weather

GARAGE, SMALL, PHONE = (1920, 1080), (1280, 800), (390, 844)
PAGES = (
    "/", "/mix", "/mix/fibre-polyester-filler", "/air", "/shelf", "/shelf/epoxy-primer",
    "/shelf/new", "/logbook", "/choices", "/step/1", "/nowhere",
)  # fmt: skip
AXE = (resources.files("axe_playwright_python") / "axe.min.js").read_text(encoding="utf-8")
TAGS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]
PARTS = ("lower corner patch", "left rear rib", "roof seam", "door sill", "wheel arch", "front lip")


@pytest.fixture(scope="module")
def running() -> Iterator[Browser]:
    with chromium() as found:
        yield found


@pytest.fixture
def browser(running: Browser) -> Iterator[Browser]:
    yield running
    for context in running.contexts:
        context.close()


@pytest.fixture
def held(tmp_path: Path) -> Iterator[Garage]:
    found = garage(tmp_path)
    found.hear(weather(EVENING))
    yield found
    found.store.close()


@pytest.fixture
def address(held: Garage) -> Iterator[str]:
    with served(held.app) as found:
        yield found


def fill(held: Garage, steps: int) -> None:
    """Put steps on the bench, none of them due yet."""
    sheets = ("epoxy-panel-adhesive", "epoxy-primer", "urethane-panel-adhesive")
    for number in range(steps):
        held.mix(sheets[number % 3], 1 + number % 3, part=f"{PARTS[number % 6]} {number // 6 + 1}")


def height(page: Page, selector: str) -> float:
    found = page.locator(selector).first.bounding_box()
    assert found, f"{selector} is not on the page"
    return found["height"]


def overflow(page: Page) -> tuple[int, int]:
    """How far the page must be scrolled down and across. [px]"""
    across, down = page.evaluate(
        "() => { const r = document.documentElement;"
        "return [r.scrollWidth - r.clientWidth, r.scrollHeight - r.clientHeight]; }"
    )
    return int(down), int(across)


def test_a_mix_by_clicking_then_a_colder_panel_by_mqtt(browser: Browser, tmp_path: Path) -> None:
    mqtt = MqttSettings(port=free_port())
    settings = replace(SETTINGS, folder=tmp_path, mqtt=mqtt)
    store = Store(tmp_path / "curewatch.db")
    bench = Bench(store, Desk(store))

    def clock() -> datetime:
        return datetime.now(UTC)

    with ExitStack() as ends:
        ends.callback(store.close)
        ends.enter_context(EmbeddedBroker("127.0.0.1", mqtt.port, tmp_path))
        subscriber = Subscriber("127.0.0.1", mqtt.port, store, settings, clock)
        subscriber.start()
        ends.callback(subscriber.stop)
        home = ends.enter_context(served(make_app(bench, store, clock, settings)))
        publish(mqtt.port, "curewatch/panel/surface_temperature", "-m", "20.5")
        until(store.latest)
        seen, page = watched(browser)
        ends.callback(page.context.close)
        page.goto(home)
        page.get_by_role("link", name="Mix", exact=True).first.click()
        page.get_by_role("link", name=re.compile("Two-part epoxy panel adhesive")).click()
        page.get_by_label("Part", exact=True).fill("lower corner patch")
        page.get_by_role("button", name="Mixed now").click()
        expect(
            page.get_by_role("heading", name="Finish working lower corner patch")
        ).to_be_visible()
        digits, why = page.locator(".digits").first, page.locator(".why")
        before, reason = digits.inner_text(), why.inner_text()
        publish(mqtt.port, "curewatch/panel/surface_temperature", "-m", "12.0")
        expect(why).not_to_have_text(reason, timeout=5000)
        expect(digits).not_to_have_text(before, timeout=5000)
        felt = re.search(r"panel (\d+\.\d) °C", why.inner_text())
        assert felt
        assert float(felt[1]) < 20.5
        expect(page.locator(".figure b").first).to_have_text("12.0 °C")
        assert {url.split("/")[2] for url in seen.asked} == {home.split("/")[2]}
        assert seen.said == []


def violations(page: Page) -> list[tuple[str, str, str]]:
    """What axe-core finds against WCAG 2.2 AA."""
    page.evaluate(AXE)
    found = page.evaluate(
        "tags => axe.run(document, {runOnly: tags, resultTypes: ['violations']})", TAGS
    )
    return [
        (each["id"], node["html"][:160], node.get("failureSummary", "")[:300])
        for each in found["violations"]
        for node in each["nodes"]
    ]


def test_what_must_be_read_from_three_metres_is_large_enough(
    held: Garage, address: str, browser: Browser
) -> None:
    fill(held, 3)
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


@pytest.mark.parametrize("size", [GARAGE, SMALL])
@pytest.mark.parametrize("late_h", [0, 2])
def test_touch_targets_are_wide_and_apart_with_gloves(
    held: Garage, address: str, browser: Browser, size: tuple[int, int], late_h: int
) -> None:
    fill(held, 3)
    held.clock.at += timedelta(hours=late_h)
    _, page = watched(browser, size)
    page.goto(address)
    for row in (".doing button", ".answers button", ".rail > *"):
        boxes = [each.bounding_box() for each in page.locator(row).all() if each.is_visible()]
        found = sorted((b for b in boxes if b), key=lambda b: (b["x"], b["y"]))
        for each in found:
            assert each["height"] >= 71.5
            assert each["width"] >= 71.5
        for one, other in itertools.pairwise(found):
            across = other["x"] - (one["x"] + one["width"])
            down = other["y"] - (one["y"] + one["height"])
            assert max(across, down) >= 47.5, row


@pytest.mark.parametrize("size", [GARAGE, SMALL])
@pytest.mark.parametrize("steps", [0, 1, 3, 6, 12])
@pytest.mark.parametrize("late_h", [0, 2])
def test_the_bench_needs_no_scrolling(
    held: Garage, address: str, browser: Browser, size: tuple[int, int], steps: int, late_h: int
) -> None:
    fill(held, steps)
    held.clock.at += timedelta(hours=late_h)
    _, page = watched(browser, size)
    page.goto(address)
    page.wait_for_timeout(300)
    assert overflow(page) == (0, 0)
    if steps:
        assert height(page, ".part-chart svg") >= 180


@pytest.mark.parametrize("path", PAGES)
def test_a_phone_never_scrolls_sideways(
    held: Garage, address: str, browser: Browser, path: str
) -> None:
    fill(held, 3)
    _, page = watched(browser, PHONE)
    page.goto(address + path)
    assert overflow(page)[1] == 0
    for each in page.locator("button:visible, a.button:visible, .rail a:visible").all():
        found = each.bounding_box()
        assert found
        assert min(found["width"], found["height"]) >= 43.5, each.inner_text()


@pytest.mark.parametrize("theme", ["dark", "light"])
@pytest.mark.parametrize("late_h", [0, 2])
def test_an_automatic_checker_finds_nothing(
    held: Garage, address: str, browser: Browser, theme: str, late_h: int
) -> None:
    fill(held, 3)
    held.clock.at += timedelta(hours=late_h)
    paths = PAGES if not late_h else ("/", "/step/1")
    sizes = (GARAGE, PHONE) if theme == "dark" else (GARAGE,)
    for path, size in itertools.product(paths, sizes):
        _, page = watched(browser, size, theme=theme)
        page.goto(address + path)
        page.wait_for_timeout(700)
        assert violations(page) == [], (path, size)
        page.context.close()


@pytest.mark.parametrize("theme", ["dark", "light"])
def test_a_checker_finds_nothing_on_a_cold_bench_and_at_a_stop(
    browser: Browser, tmp_path: Path, theme: str
) -> None:
    found = garage(tmp_path)
    found.hear(weather(EVENING - timedelta(hours=1), base_c=3.0))
    found.mix("epoxy-panel-adhesive", 20, part="lower corner patch")
    with served(found.app) as home:
        for path in ("/", "/mix/epoxy-primer"):
            _, page = watched(browser, GARAGE, theme=theme)
            page.goto(home + path)
            page.wait_for_timeout(500)
            assert violations(page) == [], path
            page.context.close()
    found.store.close()


def test_a_whole_mix_by_keyboard_alone(held: Garage, address: str, browser: Browser) -> None:
    _, page = watched(browser)
    page.goto(address)

    def reach(name: str) -> None:
        for _ in range(80):
            page.keyboard.press("Tab")
            text = page.evaluate(
                "() => { const e = document.activeElement;"
                "return e.getAttribute('aria-label') || e.innerText || e.value || ''; }"
            )
            if name in text:
                return
        raise AssertionError(f"{name} cannot be reached")

    reach("Mix")
    page.keyboard.press("Enter")
    page.wait_for_url("**/mix")
    reach("Two-part epoxy primer")
    page.keyboard.press("Enter")
    page.wait_for_url("**/mix/epoxy-primer")
    page.keyboard.press("Tab")
    reach("Mixed now")
    page.keyboard.press("Enter")
    page.wait_for_url(address + "/")
    assert len(held.store.steps()) == 1


def test_two_devices_see_the_same_step_within_a_few_seconds(
    held: Garage, address: str, browser: Browser
) -> None:
    _, screen = watched(browser, GARAGE)
    screen.goto(address)
    expect(screen.get_by_role("heading", name="Nothing on the bench")).to_be_visible()
    _, phone = watched(browser, PHONE)
    phone.goto(address + "/mix/epoxy-primer")
    phone.get_by_role("button", name="Mixed now").click()
    expect(screen.get_by_role("heading", name=re.compile("Finish working"))).to_be_visible(
        timeout=5000
    )


def test_one_touch_records_a_witness_and_says_so(
    held: Garage, address: str, browser: Browser
) -> None:
    fill(held, 1)
    _, page = watched(browser)
    page.goto(address)
    page.get_by_role("button", name="tacky").click()
    expect(page.locator("#toast")).to_have_text("Seen at 19:42: tacky.")
    assert held.bench.step(1).witnesses[0].state == "tacky"
    expect(page.get_by_role("button", name="tacky, seen 19:42")).to_be_visible()


def test_due_stays_until_someone_answers(held: Garage, address: str, browser: Browser) -> None:
    fill(held, 1)
    held.clock.at += timedelta(hours=2)
    _, page = watched(browser)
    page.goto(address)
    band = page.locator(".band")
    expect(band).to_have_class(re.compile("due"))
    assert "none" not in page.evaluate("getComputedStyle(document.querySelector('.band')).clipPath")
    page.get_by_role("button", name=re.compile("^It drags")).click()
    expect(
        page.get_by_role("heading", name=re.compile("Unclamp lower corner patch"))
    ).to_be_visible()


def test_a_countdown_ends_in_test_now_without_the_server(tmp_path: Path, browser: Browser) -> None:
    found = garage(tmp_path, speed=60)
    found.hear(weather(EVENING))
    fill(found, 1)
    with served(found.app) as home:
        _, page = watched(browser)
        page.goto(home)
        first = page.locator(".digits").first.inner_text()
        expect(page.locator(".digits").first).not_to_have_text(first, timeout=4000)
        page.context.close()
    found.store.close()


def test_a_silent_server_is_said_after_ten_seconds_and_the_count_goes_on(
    tmp_path: Path, browser: Browser
) -> None:
    found = garage(tmp_path, speed=60)
    found.hear(weather(EVENING))
    fill(found, 1)
    server = create_server(found.app, host="127.0.0.1", port=0, threads=4)
    assert isinstance(server, BaseWSGIServer)
    assert server.socket
    port = server.socket.getsockname()[1]
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    _, page = watched(browser)
    page.goto(f"http://127.0.0.1:{port}")
    page.route("**/state.json*", lambda route: route.abort())
    away = page.locator("#away")
    expect(away).to_be_visible(timeout=14_000)
    assert re.fullmatch(r"Not connected, times as of \d\d:\d\d", away.inner_text())
    first = page.locator(".digits").first.inner_text()
    expect(page.locator(".digits").first).not_to_have_text(first, timeout=4000)
    page.unroute("**/state.json*")
    expect(away).to_be_hidden(timeout=5000)
    page.context.close()
    server.close()
    thread.join(5)
    found.store.close()


def test_the_browser_says_lengths_as_the_server_does(
    held: Garage, address: str, browser: Browser
) -> None:
    fill(held, 1)
    _, page = watched(browser)
    page.goto(address)
    page.wait_for_timeout(300)
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
            }) && new Promise((done) => setTimeout(() => done(
                [...document.querySelectorAll('body > [data-down]')].slice(-lengths.length)
                    .map((node) => [...node.children].map((part) => part.textContent).join(' '))
            ), 900))""",
            [minutes, up],
        )
        assert found == [words.span(each, "up" if up else "down") for each in minutes]


def test_a_sound_is_armed_by_a_touch_repeats_and_is_silenced_by_one(
    held: Garage, address: str, browser: Browser
) -> None:
    fill(held, 1)
    held.clock.at += timedelta(hours=2)
    _, page = watched(browser)
    page.add_init_script(
        "window.heard = []; const start = OscillatorNode.prototype.start;"
        "OscillatorNode.prototype.start = function (at) {"
        " window.heard.push(this.frequency.value); return start.call(this, at); };"
    )
    page.goto(address)
    expect(page.get_by_role("button", name="Touch to let me speak")).to_be_visible()
    page.get_by_role("button", name="Touch to let me speak").click()
    silence = page.get_by_role("button", name="Silence")
    expect(silence).to_be_visible(timeout=3000)
    page.wait_for_function("() => window.heard.length >= 3")
    assert all(500 <= pitch <= 3000 for pitch in page.evaluate("window.heard"))
    silence.click()
    expect(silence).to_be_hidden()
    held.mix("quick-methacrylate-adhesive", 30, part="bracket")
    expect(silence).to_be_visible(timeout=5000)


def test_countdowns_are_timers_and_speak_sparingly(
    held: Garage, address: str, browser: Browser
) -> None:
    fill(held, 1)
    _, page = watched(browser)
    page.goto(address)
    timer = page.get_by_role("timer").first
    assert re.search(r"\d+\s*min", timer.inner_text())
    assert timer.get_attribute("aria-live") is None
    assert page.locator("#announce").inner_text() == ""


def test_nothing_moves_for_those_who_ask_for_less_motion(
    held: Garage, address: str, browser: Browser
) -> None:
    fill(held, 1)
    held.clock.at += timedelta(hours=2)
    context = browser.new_context(reduced_motion="reduce")
    page = context.new_page()
    page.goto(address)
    assert page.evaluate("document.getAnimations().length") == 0
    context.close()


@pytest.mark.parametrize("path", PAGES)
def test_text_at_twice_its_size_stays_on_the_page(
    held: Garage, address: str, browser: Browser, path: str
) -> None:
    fill(held, 3)
    _, page = watched(browser, (GARAGE[0] // 2, GARAGE[1] // 2))
    page.goto(address + path)
    assert overflow(page)[1] == 0


def test_the_page_is_light_and_does_not_jump(held: Garage, address: str, browser: Browser) -> None:
    fill(held, 3)
    _, page = watched(browser)
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


def test_a_theme_and_a_layout_are_kept(held: Garage, address: str, browser: Browser) -> None:
    _, page = watched(browser)
    page.goto(address + "/choices")
    page.get_by_role("button", name="desk", exact=True).click()
    page.get_by_role("button", name="light", exact=True).click()
    page.goto(address)
    root = page.locator("html")
    expect(root).to_have_attribute("data-layout", "desk")
    expect(root).to_have_attribute("data-theme", "light")


def test_the_axis_is_changed_by_touch(held: Garage, address: str, browser: Browser) -> None:
    fill(held, 2)
    _, page = watched(browser)
    page.goto(address)
    page.wait_for_timeout(500)
    before = page.locator("svg.bench").inner_html()
    page.get_by_role("button", name=re.compile("Length of the time axis")).click()
    expect(page.get_by_role("button", name="Length of the time axis: 1 h")).to_be_visible()
    page.wait_for_function(
        "old => document.querySelector('svg.bench').innerHTML !== old", arg=before, timeout=4000
    )
