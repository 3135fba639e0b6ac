"""The settings page: what is kept for the garage, and what for a device."""

from __future__ import annotations

from pathlib import Path

import pytest
from flask.testing import FlaskClient

from curewatch.gate.gather import bare_limit_min
from curewatch.settings.settings import load_settings
from tests.support.dash_pages import sent, touched
from tests.support.pages import EVENING, Garage, open_garage, weather


@pytest.fixture
def garage(tmp_path: Path) -> Garage:
    (tmp_path / "curewatch.toml").write_text(
        'zone = "Europe/Berlin"  # ours\n[mqtt]\nport = 1884\n'
    )
    garage = open_garage(tmp_path)
    garage.hear(weather(EVENING))
    return garage


@pytest.fixture
def browser(garage: Garage) -> FlaskClient:
    return garage.app.test_client()


def test_what_is_chosen_for_the_garage_counts_at_once_and_is_kept_in_its_file(
    tmp_path: Path, browser: FlaskClient
) -> None:
    assert "<b>16.0 °C</b>" in browser.get("/air").text
    data = touched(browser, "garage setting", "temperature_unit:F")
    assert data["did"]["data"]["said"] == "Temperatures are in °F now."
    assert data["redraw"]["data"]
    touched(browser, "garage setting", "decimal:comma")
    touched(browser, "garage setting", "hours:12")
    assert "<b>60,8 °F</b>" in browser.get("/air").text
    kept = load_settings(tmp_path)
    assert (kept.temperature_unit, kept.decimal, kept.hours) == ("F", "comma", 12)
    assert kept.mqtt.port == 1884
    assert "# ours" in (tmp_path / "curewatch.toml").read_text()
    page = browser.get("/choices").text
    assert 'aria-pressed="true">°F</button>' in page
    assert "Automatic: light or dark, as this device is set." in page


@pytest.mark.parametrize("key", ["", "x", "port:1", "temperature_unit:K", "hours:24:1"])
def test_no_other_setting_can_be_touched(tmp_path: Path, browser: FlaskClient, key: str) -> None:
    before = (tmp_path / "curewatch.toml").read_bytes()
    touched(browser, "garage setting", key)
    assert (tmp_path / "curewatch.toml").read_bytes() == before


def test_a_zone_is_typed_and_a_wrong_one_refused_at_its_box(
    garage: Garage, browser: FlaskClient
) -> None:
    assert "19:42" in browser.get("/").text
    wrong, _ = sent(browser, "zone", {"zone": "Dublin time"})
    assert wrong["zone"] == "'Dublin time' is not a time zone; type one like Europe/Dublin."
    assert "curewatch.toml" not in wrong["zone"]
    _, more = sent(browser, "zone", {"zone": "Europe/Dublin"})
    assert more["did"]["data"]["said"] == "The garage's clock is that of Europe/Dublin now."
    assert "18:42" in browser.get("/").text
    assert load_settings(garage.store.path.parent).zone == "Europe/Dublin"


def test_how_long_metal_may_stay_bare_is_kept(garage: Garage, browser: FlaskClient) -> None:
    wrong, _ = sent(browser, "bare limit", {"limit": "long"})
    assert "is no" in wrong["limit"]
    _, more = sent(browser, "bare limit", {"limit": "4"})
    assert more["did"]["data"]["label"] == "Undo"
    assert bare_limit_min(garage.bench) == 240


def test_a_device_s_former_decimal_mark_counts_until_the_garage_has_one(
    browser: FlaskClient,
) -> None:
    browser.set_cookie("decimal", "comma")
    assert "<b>16,0 °C</b>" in browser.get("/air").text
    touched(browser, "garage setting", "decimal:point")
    assert "<b>16.0 °C</b>" in browser.get("/air").text


def test_a_file_that_cannot_be_read_is_said_and_left_alone(
    tmp_path: Path, browser: FlaskClient
) -> None:
    (tmp_path / "curewatch.toml").write_text("nonsense")
    data = touched(browser, "garage setting", "hours:12")
    assert "curewatch.toml" in data["did"]["data"]["said"]
    assert (tmp_path / "curewatch.toml").read_text() == "nonsense"
