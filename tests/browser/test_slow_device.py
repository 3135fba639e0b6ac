"""A slow device: what is touched before the page is Dash's, and what is typed faster than it is
drawn."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from flask import Flask
from playwright.sync_api import Browser, Page, expect

from tests.support.checker import walked
from tests.support.pages import (
    EVENING,
    GARAGE,
    PHONE,
    Garage,
    open_garage,
    opened,
    served,
    watched,
    weather,
)


@pytest.fixture
def garage(tmp_path: Path) -> Iterator[Garage]:
    garage = open_garage(tmp_path)
    garage.hear(weather(EVENING))
    yield garage
    garage.store.close()


class SlowStart:
    """An app that answers what ends so, the script of its pages, only when it is let go."""

    def __init__(self, app: Flask, ends: str = "_dash-update-component") -> None:
        self.go, self._ends = threading.Event(), ends
        self._answer = app.wsgi_app
        app.wsgi_app = self._held  # type: ignore[method-assign]

    def _held(self, environ: dict[str, Any], start_response: Any) -> Any:
        if environ["PATH_INFO"].endswith(self._ends):
            assert self.go.wait(60)
        return self._answer(environ, start_response)


@contextmanager
def slow_page(
    garage: Garage, browser: Browser, path: str = "", size: tuple[int, int] = GARAGE
) -> Iterator[tuple[Page, SlowStart]]:
    """A page that stands as the server drew it until it is let go."""
    slow = SlowStart(garage.app)
    with served(garage.app) as home:
        _, page = watched(browser, size)
        page.goto(home + path)
        yield page, slow
        page.close()


def test_a_touch_before_the_page_is_there_is_recorded_when_it_is(
    garage: Garage, browser: Browser
) -> None:
    garage.mix("epoxy-panel-adhesive", 20, part="roof seam", amount_g=60.0)
    with slow_page(garage, browser) as (page, slow):
        page.locator("#first").get_by_role("button", name="stringy").click()
        expect(page.locator("#toast")).to_have_text("One moment.")
        assert not garage.bench.step(1).witnesses
        slow.go.set()
        expect(page.locator("#toast")).to_contain_text("stringy")
        assert len(garage.bench.step(1).witnesses) == 1


def test_every_touch_before_the_page_is_there_is_done_when_it_is(
    garage: Garage, browser: Browser
) -> None:
    garage.mix("epoxy-panel-adhesive", 20, part="roof seam", amount_g=60.0)
    with slow_page(garage, browser) as (page, slow):
        for state in ("still workable", "stringy"):
            page.locator("#first").get_by_role("button", name=state).click()
        slow.go.set()
        expect(page.locator("#toast")).to_contain_text("stringy")
        assert [look.state for look in garage.bench.step(1).witnesses] == ["workable", "stringy"]


def test_a_second_touch_waits_for_the_answer_to_the_first(
    garage: Garage, browser: Browser, monkeypatch: pytest.MonkeyPatch
) -> None:
    garage.mix("epoxy-panel-adhesive", 20, part="roof seam", amount_g=60.0)
    record = garage.bench.witness

    def slowly(number: int, state: str, **details: Any) -> int:
        if state == "workable":
            threading.Event().wait(3.0)
        return record(number, state, **details)

    monkeypatch.setattr(garage.bench, "witness", slowly)
    with slow_page(garage, browser) as (page, slow):
        for state in ("still workable", "stringy"):
            page.locator("#first").get_by_role("button", name=state).click()
        slow.go.set()
        expect(page.locator("#toast")).to_contain_text("stringy")
        expect(page.locator("#toast")).not_to_contain_text("workable")
        assert [look.state for look in garage.bench.step(1).witnesses] == ["workable", "stringy"]


def test_what_a_touch_recorded_is_shown_though_the_bench_is_not_asked_for(
    garage: Garage, browser: Browser
) -> None:
    garage.mix("epoxy-panel-adhesive", 20, part="roof seam")
    with served(garage.app) as home:
        _, page = watched(browser)
        opened(page, f"{home}/step/1")
        page.route("**/state.json", lambda route: route.abort())
        page.get_by_text("Coats and clamps:").click()
        page.get_by_role("button", name="Clamps on", exact=True).click()
        expect(page.locator(".chip", has=page.get_by_text("1 entered"))).to_be_visible()
        page.close()


def test_what_is_typed_before_the_page_is_there_stands_in_it(
    garage: Garage, browser: Browser
) -> None:
    with slow_page(garage, browser, "/mix/epoxy-primer", PHONE) as (page, slow):
        box = page.locator("#first").get_by_label("Part", exact=True)
        box.press_sequentially("roof s")
        slow.go.set()
        page.locator("body.taken").wait_for()
        box = page.locator("#page").get_by_label("Part", exact=True)
        expect(box).to_have_value("roof s")
        expect(box).to_be_focused()
        page.keyboard.press("End")
        page.keyboard.type("eam")
        expect(box).to_have_value("roof seam")


def test_what_is_picked_before_the_page_is_there_is_picked_in_it(
    garage: Garage, browser: Browser
) -> None:
    with slow_page(garage, browser, "/mix/epoxy-primer", PHONE) as (page, slow):
        first = page.locator("#first")
        for name in ("Respirator on", "Gloves, glasses on"):
            first.locator("label", has_text=name).click()
        first.get_by_label("5 min ago").check()
        expect(page.locator("#toast")).to_be_empty()
        slow.go.set()
        page.locator("body.taken").wait_for()
        drawn = page.locator("#page")
        expect(drawn.get_by_label("5 min ago")).to_be_checked()
        expect(drawn.get_by_label("just now")).not_to_be_checked()
        expect(drawn.locator(".cautions :checked")).to_have_count(2)
        drawn.get_by_role("button", name="Mixed now", exact=True).click()
        page.wait_for_url(lambda url: "/mix/" not in url)
    step = garage.bench.step(1)
    assert step.mixed_at == EVENING - timedelta(minutes=5)
    assert set(step.acknowledged) == {"respirator", "gloves"}


TYPED = (
    ("/mix/epoxy-primer", "Part", "roof seam"),
    ("/shelf", "#shelf-search", "two-part"),
    ("/choices", "#own-name", "the phone"),
)


def test_a_sheet_that_is_being_made_says_so_until_it_is_there(
    garage: Garage, browser: Browser
) -> None:
    garage.mix("epoxy-primer", 20, part="roof seam", job="camper")
    slow = SlowStart(garage.app, "handover.pdf")
    with served(garage.app) as home:
        _, page = watched(browser)
        opened(page, f"{home}/logbook?job=camper")
        toast = page.locator("#toast")
        with page.expect_download() as download:
            page.get_by_role("link", name="as PDF").click()
            expect(toast).to_contain_text("Making the hand-over sheet")
            expect(toast).to_contain_text("8 s so far")
            slow.go.set()
            expect(toast).to_have_text("hand-over.pdf is among your downloads.")
        assert download.value.suggested_filename == "hand-over.pdf"
        assert download.value.path().read_bytes().startswith(b"%PDF")
        page.close()


def test_letters_stand_in_the_order_in_which_they_were_typed(
    garage: Garage, browser: Browser
) -> None:
    with served(garage.app) as home:
        _, page = watched(browser, PHONE)
        session = page.context.new_cdp_session(page)
        for (_, box, text), _ in zip(
            TYPED, walked(page, home, [path for path, _, _ in TYPED]), strict=True
        ):
            typed = page.locator(box) if box.startswith("#") else page.get_by_label(box, exact=True)
            typed.focus()
            session.send("Emulation.setCPUThrottlingRate", {"rate": 20})
            page.keyboard.type(text)
            session.send("Emulation.setCPUThrottlingRate", {"rate": 1})
            expect(typed).to_have_value(text)
        page.close()
