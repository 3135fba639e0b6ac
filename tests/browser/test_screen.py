"""The garage screen in a real browser: one glance, one touch, heard, cut off, in every state."""

from __future__ import annotations

import itertools
import re
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import timedelta
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, Response, expect

from curewatch.bench.alarms import use_by
from curewatch.garage import unnamed_mix
from tests.support.brokers import free_port
from tests.support.checker import COLLIDE, violations, violations_in_both_themes, walked
from tests.support.pages import (
    EVENING,
    GARAGE,
    PHONE,
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
    weather,
)
from tests.support.scenes import STATES

HEARD = (
    "window.heard = []; const start = OscillatorNode.prototype.start;"
    "OscillatorNode.prototype.start = function (at) {"
    " window.heard.push(this.frequency.value); return start.call(this, at); };"
)


def taken(page: Page, address: str) -> None:
    """Open the bench, drawn and told of its state. Where the clock runs fast its rows change with
    every answer: there the ribbons have no room that stays."""
    with page.expect_response("**/state.json*"):
        opened(page, address)


def with_clock(browser: Browser, address: str, script: str = "") -> Page:
    """A device whose clock the test moves on, looking at the bench."""
    _, page = watched(browser)
    page.add_init_script(script)
    page.clock.install()
    taken(page, address)
    return page


@contextmanager
def showing(
    state: str, folder: Path, browser: Browser, size: tuple[int, int], **cookies: str
) -> Iterator[tuple[Garage, Page, list[str]]]:
    """A device of that size looking at a garage in that state."""
    garage = open_garage(folder)
    STATES[state](garage)
    with served(garage.app) as home:
        seen, page = watched(browser, size, **cookies)
        settled(page, home)
        yield garage, page, seen.said
        page.close()
    garage.store.close()


def band(page: Page) -> str:
    return page.locator(".band .todo:visible").inner_text()


def height(page: Page, selector: str) -> float:
    found = page.locator(selector).first.bounding_box()
    assert found
    return found["height"]


SAID = {
    "first": ("Nothing on the bench", "Type what a thermometer on the panel shows"),
    "quiet": ("Nothing on the bench", "Mixed now"),
    "lately": ("Nothing on the bench", "60 g, Two-part epoxy primer"),
    "unread": ("Finish working lower corner patch", "No reading yet"),
    "old": ("Finish working lower corner patch", "old:"),
    "cold": ("left rear rib: no time for sand-ready", "can be given"),
    "due": ("Test now Clamps off? lower corner patch", "left rear rib: sand"),
    "many": ("Finish working", "lower corner patch 1"),
    "touched": ("What was mixed?", "Something else"),
    "against": ("Finish working Two-part epoxy primer", "mixing anyway because"),
    "tools": ("Unclamp lower corner patch", "Cup empty, tools cleaned?"),
    "moved": ("Unclamp lower corner patch", "the panel cooled from"),
    "reminders": ("Finish working Fibre-reinforced polyester filler", "Before you go on"),
}


CHECKED = {GARAGE: violations, PHONE: violations_in_both_themes}


@pytest.mark.parametrize("state", sorted(SAID))
def test_every_state_says_its_thing_at_every_size_without_a_fault(
    browser: Browser, tmp_path: Path, state: str
) -> None:
    sentence, more = SAID[state]
    with showing(state, tmp_path, browser, GARAGE) as (_, page, texts):
        for size in (GARAGE, SMALL, (640, 400), PHONE, (195, 422)):
            if size != GARAGE:
                resized(page, size)
            assert sentence in re.sub(r"\s+", " ", band(page))
            assert more in re.sub(r"\s+", " ", page.locator("main").inner_text()), size
            assert page.evaluate(COLLIDE) == [], size
            down, across = overflow(page)
            assert across == 0, size
            assert down == 0 or size not in (GARAGE, SMALL)
            check = CHECKED.get(size)
            assert not check or check(page) == [], size
        assert texts == []


def test_fewer_steps_get_taller_ribbons_and_every_step_is_named(
    garage: Garage, address: str, browser: Browser
) -> None:
    _, page = watched(browser, SMALL)
    tallest = []
    settled(page, address)
    for count in range(13):
        expect(page.locator(".lane-names a, .rest a")).to_have_count(count)
        page.wait_for_function(SETTLED)
        assert overflow(page) == (0, 0), count
        if count:
            tallest.append(height(page, ".lane-names li"))
        sheets = ("epoxy-panel-adhesive", "epoxy-primer", "urethane-panel-adhesive")
        garage.mix(sheets[count % 3], 1, part=f"part {count}")
        renewed(page)
    # what is asked beside them takes a few pixels more or less of their room
    assert all(later <= before + 4 for before, later in itertools.pairwise(tallest)), tallest
    assert tallest[0] >= 3 * tallest[-1]
    assert tallest[-1] >= 15


def test_a_narrow_stretch_keeps_its_word_above_or_says_it_to_a_reader(
    garage: Garage, address: str, browser: Browser
) -> None:
    garage.mix("fibre-polyester-filler", 6, part="left rear rib", hardener_pct=2.0)
    garage.bench.test(1, "gone-off", now=garage.clock(), milestone="working_time")
    garage.mix("epoxy-panel-adhesive", 1, part="lower corner patch")
    _, page = watched(browser, SMALL, span="1440")
    settled(page, address)
    assert {"workable", "clamps on"} <= set(
        page.locator("#ribbons .annotation-text").all_text_contents()
    )
    name = page.locator("#lane-1").get_attribute("aria-label")
    assert name
    assert name.startswith("left rear rib, Fibre-reinforced polyester filler: ")


def test_mixed_now_starts_what_was_used_last_with_one_touch(
    tmp_path: Path, browser: Browser
) -> None:
    with showing("lately", tmp_path, browser, GARAGE) as (garage, page, _):
        page.get_by_role("button", name=re.compile("Start again.*epoxy panel")).click()
        expect(page.locator(".band .todo:visible")).to_contain_text(
            "Finish working Two-part epoxy panel"
        )
        step = garage.bench.step(3)
        assert (step.sheet.id, step.amount_g, step.mixed_at) == (
            "epoxy-panel-adhesive", 60.0, garage.clock(),
        )  # fmt: skip
        page.get_by_role("button", name="Mixed now", exact=True).click()
        expect(page.locator(".doing.wanted")).to_contain_text("what was it?")


@pytest.mark.parametrize("size", [GARAGE, SMALL, PHONE], ids=str)
def test_mixed_now_keeps_the_moment_and_is_named_afterwards(
    garage: Garage, address: str, browser: Browser, size: tuple[int, int]
) -> None:
    begun = garage.clock()
    _, page = watched(browser, size)
    settled(page, address)
    page.locator("#mixed-now").click()
    expect(page.locator(".band .todo:visible")).to_have_text("What was mixed?")
    expect(page.locator("#toast")).to_have_text("Mixed at 19:42. What was it?")
    garage.clock.at += timedelta(minutes=4)
    page.get_by_role("link", name="Pick the product").click()
    page.get_by_role("button", name=re.compile("Two-part epoxy primer")).click()
    page.wait_for_url(address + "/")
    expect(page.locator(".band .todo:visible")).to_have_text("Finish working Two-part epoxy primer")
    step = garage.bench.step(1)
    assert (step.mixed_at, step.recorded_at) == (begun, garage.clock())
    assert unnamed_mix.waiting(garage.store, garage.clock()) == []


def test_two_touches_within_a_breath_keep_two_moments_and_one_can_be_taken_back(
    garage: Garage, address: str, browser: Browser
) -> None:
    _, page = watched(browser)
    settled(page, address)
    for _ in range(2):
        with page.expect_response("**/mixed"):
            page.locator("#mixed-now").click()
        expect(page.locator(".doing.wanted")).to_be_visible()
    assert len(unnamed_mix.waiting(garage.store, garage.clock())) == 2
    page.get_by_role("link", name="Pick the product").click()
    page.get_by_role("button", name="Nothing was mixed").click()
    page.wait_for_url(address + "/")
    assert len(unnamed_mix.waiting(garage.store, garage.clock())) == 1


def test_the_product_whose_page_was_opened_is_taken_for_the_one_mixed(
    garage: Garage, address: str, browser: Browser
) -> None:
    _, page = watched(browser)
    page.goto(address + "/mix/epoxy-primer")
    settled(page, address)
    page.locator("#mixed-now").click()
    expect(page.locator("#toast")).to_have_text("Started: Two-part epoxy primer")
    assert garage.bench.step(1).sheet.id == "epoxy-primer"


def test_a_stop_never_holds_the_clock_and_asks_its_reason_afterwards(
    browser: Browser, tmp_path: Path
) -> None:
    garage = open_garage(tmp_path)
    garage.hear(weather(EVENING, base_c=2.0))
    with served(garage.app) as home:
        _, page = watched(browser)
        page.goto(home + "/mix/epoxy-primer")
        settled(page, home)
        page.locator("#mixed-now").click()
        expect(page.locator(".doing.wanted")).to_contain_text("mixing anyway because")
        stops = garage.bench.step(1).unexplained
        assert any("5.0" in stop or "below" in stop for stop in stops)
        page.get_by_role("button", name="it is already mixed").click()
        expect(page.locator("#toast")).to_have_text("Saved in the log.")
        assert {override.why for override in garage.bench.step(1).overrides} == {
            "it is already mixed"
        }
        assert garage.bench.step(1).unexplained == ()
    garage.store.close()


@pytest.mark.parametrize("size", [GARAGE, PHONE], ids=str)
def test_the_cup_is_asked_for_until_it_is_told_to_be_empty(
    garage: Garage, address: str, browser: Browser, size: tuple[int, int]
) -> None:
    garage.mix("epoxy-panel-adhesive", 1, part="lower corner patch")
    garage.clock.at = use_by(garage.bench.step_view(1, garage.clock())) - timedelta(minutes=4)
    _, page = watched(browser, size)
    settled(page, address)
    page.get_by_role("button", name="Still in use").click()
    expect(page.get_by_role("button", name="Still in use")).to_have_count(0)
    garage.clock.at += timedelta(minutes=16)
    expect(page.locator(".band:visible")).to_have_class(re.compile("due"))
    page.get_by_role("button", name="Cup empty, tools cleaned: lower corner patch").click()
    expect(page.locator("#toast")).to_have_text("Mix used up, tools clean (lower corner patch)")
    expect(page.get_by_role("button", name="Cup empty, tools")).to_have_count(0)
    assert garage.bench.step(1).emptied_at is not None


def wake(page: Page) -> None:
    page.get_by_role("button", name="Turn sound on").click()


def notes(page: Page) -> int:
    return int(page.evaluate("window.heard.length"))


def test_a_sound_is_armed_by_a_touch_repeats_until_silenced_and_comes_again_for_the_next(
    garage: Garage, address: str, browser: Browser
) -> None:
    garage.mix("epoxy-primer", 120, part="roof seam")
    garage.bench.emptied(1, now=garage.clock())
    page = with_clock(browser, address, HEARD)
    wake(page)
    silence = page.get_by_role("button", name="Silence")
    page.clock.run_for(1100)
    expect(silence).to_be_visible()
    once = notes(page)
    assert once >= 3
    assert all(500 <= pitch <= 3000 for pitch in page.evaluate("window.heard"))
    page.clock.run_for(17_000)
    assert notes(page) == 3 * once
    with page.expect_response("**/silence"):  # the server silences what is due when it hears of it
        silence.click()
    expect(silence).to_be_hidden()
    page.clock.run_for(30_000)
    assert notes(page) == 3 * once
    garage.mix("quick-methacrylate-adhesive", 30, part="bracket")
    with page.expect_response("**/state.json*"):
        page.clock.run_for(2100)
    for _ in range(60):
        page.clock.run_for(1000)
        if silence.is_visible():
            break
    expect(silence).to_be_visible()
    page.clock.run_for(9000)
    assert notes(page) > 3 * once


def test_put_off_is_silent_and_comes_back_after_ten_minutes(
    garage: Garage, address: str, browser: Browser
) -> None:
    garage.mix("epoxy-primer", 120, part="roof seam")
    garage.bench.emptied(1, now=garage.clock())
    _, page = watched(browser)
    page.add_init_script(HEARD)
    settled(page, address)
    wake(page)
    silence = page.get_by_role("button", name="Silence")
    expect(silence).to_be_visible()
    page.get_by_role("button", name=re.compile("^Ask me in 10 min")).click()
    expect(silence).to_be_hidden()
    garage.clock.at += timedelta(minutes=11)
    expect(silence).to_be_visible()


def test_what_was_heard_stands_with_the_step_once_however_many_devices_hear_it(
    garage: Garage, address: str, browser: Browser
) -> None:
    garage.mix("epoxy-primer", 120, part="roof seam")
    garage.bench.emptied(1, now=garage.clock())
    for size in (GARAGE, SMALL):
        _, page = watched(browser, size)
        settled(page, address)
        assert not garage.bench.step(1).of("sounded") or size == SMALL
        with page.expect_response("**/sounded"):
            wake(page)
    heard = garage.bench.step(1).of("sounded")
    assert [happening.body["words"] for happening in heard] == ["working time, roof seam: test now"]
    _, page = watched(browser)
    page.goto(address + "/step/1")
    expect(page.locator("main")).to_contain_text("working time, roof seam: test now")


def test_a_window_that_shuts_is_said_and_heard_once(
    garage: Garage, address: str, browser: Browser
) -> None:
    garage.mix("epoxy-primer", 60, part="roof seam")
    garage.bench.emptied(1, now=garage.clock())
    for _ in range(2):  # the readings of the way there move the bound
        milestones = garage.bench.step_view(1, garage.clock()).by_name
        shuts = milestones["recoat_closes"].shown
        assert shuts
        garage.clock.at = shuts - timedelta(minutes=100)
        garage.hear(weather(garage.clock(), hours=30))
    garage.bench.test(1, "reached", now=garage.clock(), milestone="recoat_opens")
    garage.mix("epoxy-panel-adhesive", 1, part="patch")
    page = with_clock(browser, address, HEARD)
    expect(page.locator(".shuts")).to_contain_text("roof seam: recoat window closes")
    expect(page.locator(".shuts")).to_contain_text("in 1 h 40; after that scuff before coating")
    wake(page)
    page.clock.run_for(1100)
    once = notes(page)
    assert once >= 2
    page.clock.run_for(30_000)
    assert notes(page) == once


def test_speech_says_the_sentence_and_can_be_switched_off(
    garage: Garage, address: str, browser: Browser
) -> None:
    garage.mix("epoxy-primer", 120, part="roof seam")
    _, page = watched(browser)
    page.add_init_script(
        "window.said = []; SpeechSynthesis.prototype.speak = (each) => window.said.push(each.text);"
    )
    settled(page, address)
    wake(page)
    page.wait_for_function("() => window.said.length")
    assert page.evaluate("window.said")[0] == "working time, roof seam: test now"
    page.goto(address + "/choices")
    page.locator("body.taken").wait_for()
    page.get_by_role("button", name="Speech on").click()
    page.get_by_role("button", name="Try: due").click()
    page.wait_for_timeout(150)
    assert page.evaluate("window.said") == []


def test_a_silent_server_is_said_after_ten_seconds_while_the_count_runs_out_into_its_test(
    tmp_path: Path, browser: Browser
) -> None:
    garage = open_garage(tmp_path, speed=60)
    garage.hear(weather(EVENING))
    garage.mix("epoxy-panel-adhesive", 62, part="lower corner patch")
    _, page = watched(browser)
    page.clock.install()
    port = free_port()
    with served(garage.app, port) as home:
        taken(page, home)
        away = page.locator("#away")
        assert away.is_hidden()
        first = page.locator(".digits").first.inner_text()
    page.clock.run_for(10_600)
    expect(away).to_be_visible()
    assert re.fullmatch(r"Not connected, times as of \d\d:\d\d", away.inner_text())
    assert page.locator(".digits").first.inner_text() != first
    page.clock.run_for(60_000)
    expect(page.locator(".band .todo:visible")).to_contain_text("Test now")
    expect(page.locator(".band:visible")).to_have_class(re.compile("due"))
    page.get_by_role("button", name=re.compile("^Ask me in 10 min")).click()
    expect(page.locator("#toast")).to_have_text("Not recorded: no answer. Touch again.")
    with served(garage.app, port):
        page.clock.run_for(4000)
        expect(away).to_be_hidden()
    page.close()
    garage.store.close()


def test_a_fast_clock_ticks_at_its_speed_between_two_answers(
    tmp_path: Path, browser: Browser
) -> None:
    garage = open_garage(tmp_path, speed=60)
    garage.hear(weather(EVENING))
    garage.mix("urethane-panel-adhesive", 1, part="lower corner patch")
    with served(garage.app) as home:
        page = with_clock(browser, home)
        page.route("**/state.json*", lambda route: route.abort())
        # it asks once at a time: when it asked in vain, no answer of before is on its way
        with page.expect_event("requestfailed", lambda request: "state.json" in request.url):
            page.clock.run_for(2100)
        both = "() => [window.curewatch.now(), performance.now()]"
        begun, since = page.evaluate(both)
        page.clock.run_for(2000)
        at, later = page.evaluate(both)
        assert later - since >= 2000
        assert at - begun == pytest.approx(60 * (later - since), rel=1e-6)
        page.close()
    garage.store.close()


def test_two_devices_see_the_same_step(garage: Garage, address: str, browser: Browser) -> None:
    garage.mix("urethane-panel-adhesive", 1, part="door skin")
    _, screen = watched(browser, GARAGE)
    settled(screen, address)
    assert band(screen) == "Finish working door skin"
    _, phone = watched(browser, PHONE)
    phone.goto(address + "/mix/fibre-polyester-filler")
    phone.locator("body.taken .starts").wait_for()
    phone.get_by_role("button", name="Mixed now").click()
    expect(screen.locator(".band .todo:visible")).to_have_text(
        "Finish working Fibre-reinforced polyester filler"
    )
    expect(screen.locator(".lane-names a")).to_have_count(2)


def test_due_stays_until_someone_answers_on_either_device(
    garage: Garage, address: str, browser: Browser
) -> None:
    fill(garage, 1)
    garage.clock.at += timedelta(hours=2)
    pages = [watched(browser, size)[1] for size in (GARAGE, PHONE)]
    for page in pages:
        settled(page, address)
        expect(page.locator(".band:visible")).to_have_class(re.compile("due"))
        shape = page.evaluate(
            "getComputedStyle(document.querySelector('.band:not(.after)')).clipPath"
        )
        assert "polygon" in shape
        expect(page.get_by_role("button", name="Turn sound on")).to_be_visible()
    pages[1].get_by_role("button", name=re.compile("^No, it drags")).click()
    for page in pages:
        expect(page.locator(".band .todo:visible")).to_have_text("Unclamp lower corner patch 1")


RANGE = "() => document.querySelector('#ribbons .js-plotly-plot')._fullLayout.xaxis.range"


def axis_of(page: Page) -> tuple[int, int]:
    start, end = page.evaluate(RANGE)
    return round(start), round(end)


def test_the_axis_is_chosen_by_touch_on_the_bench(
    garage: Garage, address: str, browser: Browser
) -> None:
    fill(garage, 2)
    for size in (GARAGE, PHONE):
        _, page = watched(browser, size)
        settled(page, address)
        for name, minutes in (("1 h", 60), ("6 h", 360), ("24 h", 1440), ("3 days", 4320)):
            page.get_by_role("button", name="Length of the time axis").click()
            label = page.get_by_role("button", name=f"Length of the time axis: {name}", exact=True)
            expect(label).to_be_visible()
            page.wait_for_function(
                f"wanted => {{ const [from, to] = ({RANGE})(); return to - from === wanted; }}",
                arg=minutes * 60_000,
            )


def test_the_axis_is_dragged_tells_under_a_hand_and_returns_to_now_by_one_touch(
    garage: Garage, address: str, browser: Browser
) -> None:
    fill(garage, 2)
    device, page = watched(browser, GARAGE)
    settled(page, address)
    before = axis_of(page)
    box = page.locator("#ribbons .lane-chart").bounding_box()
    row = page.locator("#lane-1").bounding_box()
    assert box
    assert row
    middle = row["y"] + row["height"] / 2
    page.mouse.move(box["x"] + box["width"] / 2, middle)
    expect(page.locator(".hoverlayer .hovertext")).to_contain_text("9 in 10")
    page.mouse.down()
    page.mouse.move(box["x"] + box["width"] / 2 - 300, middle, steps=4)
    page.mouse.up()
    now = page.get_by_role("button", name="Now", exact=True)
    expect(now).to_be_visible()
    assert axis_of(page)[0] > before[0]
    garage.mix("seam-sealer", 1, part="sill")
    expect(page.locator(".lane-names a")).to_have_count(3)
    assert axis_of(page)[0] > before[0]
    now.click()
    expect(now).to_be_hidden()
    page.wait_for_function(f"wanted => Math.abs(({RANGE})()[0] - wanted) < 1", arg=before[0])
    page.mouse.click(box["x"] + box["width"] / 2, middle)
    page.wait_for_url("**/step/1")
    assert device.said == []


def test_the_ribbons_fill_the_room_they_have_also_a_new_one(
    garage: Garage, address: str, browser: Browser
) -> None:
    fill(garage, 3)
    _, page = watched(browser, (1600, 900))
    settled(page, address)
    page.set_viewport_size({"width": 1300, "height": 820})
    page.wait_for_function(SETTLED)
    wide = page.locator("#ribbons").evaluate("box => box.clientWidth")
    page.wait_for_function(
        "wide => { const [names, graph] = ['.lane-names', '.lane-chart'].map((each) =>"
        " document.querySelector(`#ribbons ${each}`).getBoundingClientRect());"
        " return graph.left > names.left && Math.abs(graph.width - wide) > 100; }",
        arg=wide,
    )


FIGURE = re.compile(r'"layout":.*?"width":(\d+),"height":(\d+)')


def _drawing(answer: Response) -> str:
    """What Dash was answered; of anything else nothing."""
    return answer.text() if "_dash-update-component" in answer.url else ""


@pytest.mark.parametrize("size", [GARAGE, SMALL, PHONE])
def test_a_first_visit_s_ribbons_are_drawn_once_and_fit(
    garage: Garage, address: str, browser: Browser, size: tuple[int, int]
) -> None:
    fill(garage, 3)
    _, page = watched(browser, size)
    drawn = list[tuple[str, str]]()
    page.on("response", lambda each: drawn.extend(FIGURE.findall(_drawing(each))))
    settled(page, address)
    box, graph = (page.locator(each).bounding_box() for each in ("#ribbons", ".lane-chart"))
    assert box
    assert graph
    ((width, height),) = drawn
    assert int(width) == pytest.approx(graph["width"], abs=1)
    assert size == PHONE or int(height) == pytest.approx(box["height"], abs=1)


def test_the_screen_goes_full_by_touch(garage: Garage, address: str, browser: Browser) -> None:
    _, page = watched(browser)
    settled(page, address)
    page.get_by_role("button", name="Full screen").click()
    page.wait_for_function("() => document.fullscreenElement !== null")
    page.get_by_role("button", name="Window").click()
    page.wait_for_function("() => document.fullscreenElement === null")


def test_the_screen_is_kept_awake_while_something_runs(
    garage: Garage, address: str, browser: Browser
) -> None:
    fill(garage, 1)
    _, page = watched(browser)
    page.add_init_script(
        "window.locks = []; Object.defineProperty(navigator, 'wakeLock', { value: {"
        " request: async (kind) => { const held = new EventTarget(); window.locks.push(kind);"
        " held.release = async () => { window.locks.push('released');"
        " held.dispatchEvent(new Event('release')); }; return held; } } });"
    )
    settled(page, address)
    page.wait_for_function("() => window.locks.length")
    garage.bench.finish(1, now=garage.clock())
    page.wait_for_function("() => window.locks.at(-1) === 'released'")
    assert page.evaluate("window.locks") == ["screen", "released"]


def test_countdowns_are_timers_and_speak_at_ten_five_and_one_and_when_due(
    tmp_path: Path, browser: Browser
) -> None:
    garage = open_garage(tmp_path, speed=1)
    garage.hear(weather(EVENING))
    garage.mix("epoxy-panel-adhesive", 20, part="lower corner patch")
    with served(garage.app) as home:
        page = with_clock(browser, home)
    timer = page.get_by_role("timer").first
    assert re.search(r"\d+\s*min", timer.inner_text())
    assert timer.get_attribute("aria-live") is None
    page.evaluate(
        "() => { window.told = []; const node = document.getElementById('announce');"
        " new MutationObserver(() => window.told.push(node.textContent))"
        ".observe(node, { childList: true, characterData: true, subtree: true }); }"
    )
    left_min = int(re.search(r"(\d+)\s*min", timer.inner_text())[1])  # type: ignore[index]
    page.clock.fast_forward(60_000 * (left_min - 11))
    for _ in range(7):
        page.clock.run_for(120_000)
    garage.store.close()
    told = page.evaluate("window.told")
    assert [each.rsplit(": ", 1)[-1] for each in told[:3]] == ["10 min", "5 min", "1 min"]
    assert re.sub(r"\s+", " ", told[3]) == "Test now Still workable? lower corner patch"
    assert len(told) == 4


@pytest.mark.parametrize("layout", ["garage", "desk"])
def test_the_dab_is_in_reach_and_the_other_questions_are_chips_with_their_names(
    browser: Browser, tmp_path: Path, layout: str
) -> None:
    with showing("tools", tmp_path, browser, SMALL, layout=layout) as (_, page, _):
        assert overflow(page) == (0, 0)
        expect(page.get_by_role("button", name="tacky")).to_be_visible()
        rows, chips = page.locator("#part-others .doing:visible"), page.locator(".chip:visible")
        expect(rows).to_have_count(1)
        assert "Cup empty, tools cleaned?" in rows.inner_text()
        names = chips.all_inner_texts()
        assert names
        seen = {rows.inner_text()}
        for name in names:
            page.locator(".chip", has_text=name).click()
            expect(rows).to_have_count(1)
            seen.add(rows.inner_text())
        assert len(seen) == len(names) + 1
        page.locator(".chip", has_text="Cup and tools").click()
        assert "Cup empty, tools cleaned?" in rows.inner_text()


PAGES = ("/mix", "/mix/fibre-polyester-filler", "/air", "/shelf", "/shelf/epoxy-primer",
    "/shelf/new", "/logbook", "/choices", "/step/1", "/parts")  # fmt: skip


def test_text_at_twice_its_size_is_neither_lost_nor_over_other_text(
    garage: Garage, address: str, browser: Browser
) -> None:
    fill(garage, 3)
    _, page = watched(browser, (640, 400))
    for size in ((640, 400), (195, 422)):
        page.set_viewport_size({"width": size[0], "height": size[1]})
        for path in walked(page, address, PAGES):
            assert overflow(page)[1] == 0, (path, size)
            assert page.evaluate(COLLIDE) == [], (path, size)


def test_both_themes_keep_three_to_one_at_every_edge() -> None:
    css = Path("dashboard/assets/curewatch.css").read_text(encoding="utf-8")

    def colours(block: str) -> dict[str, str]:
        return dict(re.findall(r"--([\w-]+): (#[0-9a-f]{6});", block))

    def luminance(colour: str) -> float:
        parts = (int(colour[n : n + 2], 16) / 255 for n in (1, 3, 5))
        linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
        return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]

    def contrast(one: str, other: str) -> float:
        high, low = sorted((luminance(one), luminance(other)), reverse=True)
        return (high + 0.05) / (low + 0.05)

    dark = colours(css[css.index(":root {") : css.index("[data-theme")])
    light = dark | colours(css[css.index('[data-theme="light"] {') : css.index("* { box-sizing")])
    for theme, text in itertools.product((dark, light), ("fg", "dim", "warn", "stop", "link")):
        assert contrast(theme[text], theme["bg"]) >= 4.5, text
    for theme, edge in itertools.product((dark, light), ("edge", "amber", "stop", "outlook")):
        assert contrast(theme[edge], theme["bg"]) >= 3, edge
    marks = [(f"{name}-mark", name) for name in ("setting", "clamped", "ready", "window")]
    for theme, (mark, ground) in itertools.product((dark, light), marks):
        assert contrast(theme[mark], theme[ground]) >= 2, mark
