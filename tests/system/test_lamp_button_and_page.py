"""The whole of it: a lamp hears `curewatch up`, a button mixes there, an open page falls silent."""

from __future__ import annotations

import signal
import subprocess
import time
import urllib.request
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page

from tests.sensors.test_announcer import kept_at
from tests.sensors.test_button import SETTINGS, hand_of
from tests.support.brokers import free_port, publish, until
from tests.support.pages import PHONE, Garage, open_garage, served, watched, weather
from tests.system.test_up import CUREWATCH, told, wait_for_page

ON = f"[mqtt]\nannounce = true\n{SETTINGS}"


@pytest.fixture
def up(tmp_path: Path) -> Iterator[tuple[Path, int, int]]:
    """`curewatch up` with its own broker, announcing, with buttons: its data and its ports."""
    (tmp_path / "curewatch.toml").write_text(ON)
    page, mqtt = free_port(), free_port()
    words = ["up", "--data", str(tmp_path), "--port", str(page), "--mqtt-port", str(mqtt)]
    process = subprocess.Popen(
        [*CUREWATCH, *words], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    )
    wait_for_page(page, process)
    yield tmp_path, page, mqtt
    process.send_signal(signal.SIGTERM)
    out, err = process.communicate(timeout=60)
    assert (process.returncode, err) == (0, ""), out


def test_a_button_mixes_and_a_lamp_is_told(up: tuple[Path, int, int]) -> None:
    data, page, mqtt = up
    until(lambda: kept_at(mqtt).get("next", {}).get("state") == "nothing", 60)

    def pressed() -> bool:
        publish(mqtt, "curewatch/button/resin", "-m", "1")
        time.sleep(1.2)
        return bool(told(data, "bench")["steps"])

    until(pressed, 60)
    until(lambda: "1/clamp_time" in kept_at(mqtt))
    held = kept_at(mqtt)
    (step, *_) = told(data, "bench")["steps"]
    assert (step["part"], step["amount_g"]) == ("lower corner patch", 60.0)
    assert held["next"]["what"] == "working_time"
    assert held["1/clamp_time"]["due"] is not None
    assert told(data, "sensor list")["refused"] == []
    with urllib.request.urlopen(f"http://127.0.0.1:{page}/bench.ics") as answer:
        assert b"BEGIN:VEVENT" in answer.read()


@pytest.fixture
def open_page(tmp_path: Path, browser: Browser) -> Iterator[tuple[Garage, Page]]:
    """The bench on the garage's screen, its filler due and its sound allowed by a touch."""
    garage = open_garage(tmp_path)
    garage.hear(weather(garage.clock()))
    garage.mix("fibre-polyester-filler", 40, part="left rear rib", amount_g=35.0, hardener_pct=2.0)
    with served(garage.app) as address:
        _, page = watched(browser)
        page.goto(address)
        page.mouse.click(5, 5)
        page.wait_for_selector("#silence:visible")
        yield garage, page
        page.close()
    garage.store.close()


def test_a_press_of_silence_reaches_a_page_that_is_open(open_page: tuple[Garage, Page]) -> None:
    garage, page = open_page
    hand_of(garage, garage.presses).press("hush")
    page.wait_for_selector("#toast:has-text('silenced until the next alarm')")
    page.wait_for_selector("#silence", state="hidden")
    page.reload()
    page.mouse.click(5, 5)
    page.wait_for_timeout(3000)
    assert page.locator("#silence").is_hidden()


def test_the_phone_silences_the_screen_in_the_garage_until_the_next_event(
    open_page: tuple[Garage, Page], browser: Browser
) -> None:
    garage, page = open_page
    _, phone = watched(browser, PHONE)
    phone.goto(page.url)
    phone.locator("#silence").click()
    page.wait_for_selector("#silence", state="hidden")
    assert phone.locator("#silence").is_hidden()
    assert "silenced" in [event.kind for event in garage.store.events([1])[1]]
    garage.bench.test(1, "gone-off", now=garage.clock(), milestone="working_time")
    garage.clock.at += timedelta(hours=3)
    page.wait_for_selector("#silence:visible")
    phone.close()
