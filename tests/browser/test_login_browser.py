"""The login in a real browser at the size of a phone, from the address to signing out."""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page

from curewatch.settings.credentials import make_credentials
from dashboard.access.login import COOKIE
from tests.support.checker import violations
from tests.support.pages import EVENING, served, watched, weather
from tests.support.protected_pages import ProtectedGarage, protected_garage

PHONE = (390, 844)


@pytest.fixture
def home(tmp_path: Path) -> Iterator[ProtectedGarage]:
    yield from protected_garage(tmp_path)


def test_a_phone_signs_in_works_and_is_signed_out(home: ProtectedGarage, browser: Browser) -> None:
    home.garage.hear(weather(EVENING, hours=3))
    home.garage.mix("epoxy-panel-adhesive", 30, part="lower corner patch")
    with served(home.app) as address:
        device, page = watched(browser, PHONE)
        page.goto(f"{address}/air")
        assert page.url == f"{address}/login?next=%2Fair"
        field = page.get_by_label("Passcode")
        assert field.evaluate("node => node === document.activeElement")
        for theme in ("dark", "light"):
            page.context.add_cookies([{"name": "theme", "value": theme, "url": address}])
            page.reload()
            assert violations(page) == []
            _picture(page, theme)
        for target in (field, page.get_by_role("button", name="Open")):
            box = target.bounding_box()
            assert box
            assert box["height"] >= 44
        assert page.evaluate("() => document.documentElement.scrollWidth") <= PHONE[0]
        field.fill("not this one")
        page.get_by_role("button", name="Open").click()
        assert page.get_by_role("alert").inner_text() == "That is not the passcode."
        _picture(page, "wrong")
        texts = [text for text in device.said if "401" not in text]
        page.get_by_label("Passcode").fill(home.shown.passcode.upper())
        page.keyboard.press("Enter")
        page.wait_for_url(f"{address}/air")
        assert texts == []
        assert COOKIE not in page.evaluate("() => document.cookie")
        device.said.clear()
        page.goto(address)
        page.locator("[data-down]").first.wait_for()
        page.wait_for_timeout(2500)
        assert device.said == []
        other = page.context.new_page()
        other.goto(f"{address}/choices")
        _picture(other, "choices")
        assert violations(other) == []
        other.get_by_role("button", name="Sign out").click()
        other.wait_for_url(f"{address}/login")
        page.wait_for_url(f"{address}/login")


def _picture(page: Page, name: str) -> None:
    folder = os.environ.get("LOGIN_PICTURES")
    if folder:
        page.screenshot(path=f"{folder}/login-{name}.png", full_page=True)


def test_a_touch_that_came_too_late_is_said_not_to_be_recorded(
    home: ProtectedGarage, browser: Browser
) -> None:
    with served(home.app) as address:
        _, page = watched(browser, PHONE)
        page.goto(address)
        page.get_by_label("Passcode").fill(home.shown.passcode)
        page.keyboard.press("Enter")
        page.locator("body.taken").wait_for()
        page.wait_for_load_state("networkidle")  # what the page asks by itself is answered
        touch = page.locator("#mixed-now, #mixed-first").first
        page.route("**/state.json*", lambda asked: asked.abort())
        make_credentials(home.folder)
        touch.click()
        page.wait_for_url(f"{address}/login?lost=1")
        assert "was not recorded" in page.get_by_role("alert").inner_text()
    assert home.garage.store.steps() == []
