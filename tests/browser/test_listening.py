"""The listening page: from a running sensor to a temperature on the bench, by touch."""

from __future__ import annotations

import re
import subprocess
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from curewatch.errors import ConfigError
from curewatch.settings.settings import Mapping, MqttSettings, load_settings
from sensors.broker.process import EmbeddedBroker
from sensors.mqtt.discovery import MOST_LEAVES, PER_SECOND, DiscoveredNumbers, Discovery
from tests.support.brokers import free_port, publish, tool, until
from tests.support.campaign import CUREWATCH, Whole
from tests.support.pages import watched
from tests.support.proxies import client

SMALL, PHONE = (1280, 800), (390, 844)
STATE = '{"probe": {"temp": %s}, "rh": 0.71, "battery": 87, "id": "<img src=x onerror=alert(1)>"}'


@pytest.fixture
def up(tmp_path: Path) -> Iterator[Whole]:
    # the embedded broker passes on the odd names that Debian's refuses
    (tmp_path / "curewatch.toml").write_text(
        'zone = "Europe/Berlin"  # ours\n[mqtt]\nbroker = "embedded"\n'
    )
    campaign = Whole(tmp_path)
    yield campaign
    campaign.stop()


@pytest.fixture
def sensor(up: Whole) -> Iterator[None]:
    """A sensor that sends JSON on a topic of its own, five times a second."""
    command = [tool("mosquitto_pub"), "-p", str(up.port), "-l", "-t", "workshop/node3/state"]
    process = subprocess.Popen(command, stdin=subprocess.PIPE, text=True)
    stop = threading.Event()

    def send() -> None:
        assert process.stdin
        while not stop.wait(0.2):
            process.stdin.write(STATE % "14.25" + "\n")
            process.stdin.flush()

    thread = threading.Thread(target=send)
    thread.start()
    yield
    stop.set()
    thread.join()
    process.communicate()


def say(port: int, topic: str, payload: str) -> None:
    """Publish what mosquitto_pub itself would refuse, for the broker to keep."""
    sender = client(port, "127.0.0.1")
    sender.publish(topic, payload, qos=1, retain=True).wait_for_publish(30)
    sender.disconnect()
    sender.loop_stop()


def address(up: Whole, path: str = "/air/listen") -> str:
    return f"http://127.0.0.1:{up.page}{path}"


def no_overflow(page: Page) -> bool:
    return bool(
        page.evaluate(
            "document.documentElement.scrollWidth <= document.documentElement.clientWidth"
        )
    )


def test_a_newcomer_has_a_panel_temperature_on_the_bench_with_two_touches(
    up: Whole, sensor: None, browser: Browser, tmp_path: Path
) -> None:
    device, page = watched(browser, SMALL)
    page.goto(address(up))
    page.get_by_role("button", name="Listen", exact=True).click()
    row = page.locator("article", has_text="/probe/temp")
    expect(row).to_contain_text("may be the temperature of a surface: 14.2 °C, sent in °C")
    assert no_overflow(page)
    page.set_viewport_size({"width": PHONE[0], "height": PHONE[1]})
    expect(page.locator("html")).to_have_attribute("data-layout", "phone")
    assert no_overflow(page)
    row.get_by_role("button", name="On the panel").click()
    expect(page.locator("article", has_text="/probe/temp")).to_contain_text("panel surface: 14.2")
    page.goto(address(up, "/"))
    expect(page.locator(".figure", has_text="panel").locator("b")).to_contain_text("14.2")
    text = (tmp_path / "curewatch.toml").read_text()
    assert text.startswith('zone = "Europe/Berlin"  # ours\n')
    assert load_settings(tmp_path).mappings == (
        Mapping("workshop/node3/state", "/probe/temp", "C", "panel", "surface_temperature"),
    )
    assert device.said == []


def test_numbers_of_no_known_kind_are_said_by_hand_and_a_choice_can_be_taken_back(
    up: Whole, sensor: None, browser: Browser, tmp_path: Path
) -> None:
    _, page = watched(browser, SMALL)
    page.goto(address(up))
    page.get_by_role("button", name="Listen", exact=True).click()
    row = page.locator("#rest article", has_text="/battery")
    expect(row).to_be_visible()
    row.get_by_text("Say what it is").click()
    row.get_by_role("button", name="Outdoors").click()
    expect(page.get_by_role("alert")).to_contain_text("it is not said what that number measures")
    row.get_by_label("humidity", exact=True).check()
    row.get_by_label("°F", exact=True).check()
    row.get_by_role("button", name="Outdoors").click()
    expect(page.get_by_role("alert")).to_contain_text("humidity is not measured in °F")
    row.get_by_label("as usual", exact=True).check()
    page.wait_for_timeout(2200)
    row.get_by_label("Or a place of your own").fill("cellar")
    row.get_by_role("button", name="Keep with that name").click()
    taken = page.locator("#taken article", has_text="/battery")
    expect(taken).to_contain_text("cellar humidity: 87 %")
    taken.get_by_role("button", name=re.compile("Let go of workshop")).click()
    expect(page.locator("#rest article", has_text="/battery")).to_be_visible()
    assert load_settings(tmp_path).mappings == ()


def test_it_stops_when_told_and_what_was_heard_can_still_be_chosen(
    up: Whole, sensor: None, browser: Browser
) -> None:
    device, page = watched(browser, SMALL)
    page.goto(address(up))
    page.get_by_role("button", name="Listen", exact=True).click()
    row = page.locator("article", has_text="/probe/temp")
    expect(row).to_be_visible()
    page.get_by_role("button", name="Stop").click()
    expect(page.get_by_role("button", name="Listen again")).to_be_visible()
    row.get_by_role("button", name="In the air").click()
    expect(page.locator("#taken")).to_contain_text("air temperature: 14.2")
    assert device.said == []


def test_what_a_sensor_calls_itself_never_becomes_markup(up: Whole, browser: Browser) -> None:
    device, page = watched(browser, PHONE)
    page.goto(address(up))
    page.get_by_role("button", name="Listen", exact=True).click()
    # the embedded broker does not keep a topic of this beginning: it must be listened for when sent
    expect(page.get_by_role("button", name="Stop")).to_be_visible()
    nasty = "\u202e<script>document.title='x'</script>/\"onload='1'/temp"
    say(up.port, nasty, '{"<b>temp</b>": 12}')
    row = page.locator("article", has_text="<b>temp<~1b>")
    expect(row).to_contain_text(nasty[1:])
    row.get_by_role("button", name="In the air").click()
    expect(page.locator("#taken")).to_contain_text("12")
    assert page.locator("#listen-heard script, #listen-heard b b").count() == 0
    assert no_overflow(page)
    assert device.said == []


def test_by_command_each_line_says_what_it_is_and_may_be_told(
    up: Whole, sensor: None, tmp_path: Path
) -> None:
    say(up.port, "a/\x1b[2J\u202e", '[{"n": "shed", "u": "Cel", "v": 4}]')
    listen = [*CUREWATCH, "sensor", "listen", "--data", str(tmp_path)]
    listen += ["--for", "4 s", "--mqtt-port", str(up.port)]
    words = ["--keep", "1", "--place", "shelf", "--quantity", "air_temperature", "--unit", "K"]
    done = subprocess.run([*listen, *words], capture_output=True, text=True, timeout=60)
    assert done.returncode == 0, done.stderr
    lines = [" ".join(line.split()) for line in done.stdout.splitlines()]
    assert lines[0] == "1 a/[2J shed 4 air temperature in C?"
    assert lines[-1] == "Kept: a/[2J/shed is the air temperature of shelf in K."
    assert any(line.split()[1:3] == ["workshop/node3/state", "/battery"] for line in lines)
    done = subprocess.run([*listen, "--keep", "99"], capture_output=True, text=True, timeout=60)
    assert " ".join(done.stdout.splitlines()[0].split()).endswith("is shelf air temperature")
    assert "there is no number 99 in the list" in done.stderr


class Seconds:
    """A steady clock that a test moves. [s]"""

    now = 100.0

    def __call__(self) -> float:
        return self.now


def test_what_is_remembered_is_bounded() -> None:
    seconds = Seconds()
    heard = DiscoveredNumbers(seconds)
    for n in range(2 * PER_SECOND):
        heard.add(f"topic/{n}", b"1")
    assert len(heard.leaves) <= PER_SECOND
    for n in range(3000):
        seconds.now += 0.1
        heard.add(f"topic/{n}", b"[" + b"1," * 50 + b"1]")
    assert len(heard.leaves) == MOST_LEAVES
    assert heard.full
    heard.add("t" * 5000, b"1")
    assert len(heard.leaves) == MOST_LEAVES


def test_it_ends_by_itself_and_there_is_one_ear_at_a_time(tmp_path: Path) -> None:
    with EmbeddedBroker(port=free_port()) as broker:
        discovery = Discovery(MqttSettings(port=broker.port), tmp_path, for_s=1.5)
        discovery.begin()
        first = discovery._listener
        discovery.begin()
        assert discovery._listener is first
        until(lambda: publish(broker.port, "a/temp", "-m", "12") == 0 and discovery.leaves)
        until(lambda: discovery._listener is None)
        assert [leaf.topic for leaf in discovery.leaves] == ["a/temp"]
        discovery.begin()
        assert discovery.leaves == []
        discovery.end()
        discovery.end()


def test_no_broker_to_listen_to_is_said(tmp_path: Path) -> None:
    discovery = Discovery(MqttSettings(port=free_port()), tmp_path)
    with pytest.raises(ConfigError, match="no broker answers"):
        discovery.begin()
    assert discovery.left_s == 0.0
