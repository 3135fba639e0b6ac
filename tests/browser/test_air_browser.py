"""The air page in a real browser: looked into by hand and by keys, typed on, strict and calm."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import timedelta
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from curewatch.climate.flag import Flag
from curewatch.climate.reading import Reading
from tests.support.checker import COLLIDE, violations_in_both_themes
from tests.support.pages import (
    EVENING,
    GARAGE,
    PHONE,
    SMALL,
    Garage,
    open_garage,
    overflow,
    served,
    watched,
    weather,
)


@contextmanager
def looking(
    folder: Path, browser: Browser, size: tuple[int, int] = GARAGE, **cookies: str
) -> Iterator[tuple[Garage, Page, list[str], list[str]]]:
    """A garage with weather, a flagged reading and a step; its air page, drawn by Dash; what it
    asked for and complained of."""
    garage = open_garage(folder)
    garage.hear(weather(EVENING))
    at = EVENING - timedelta(hours=5, minutes=3)
    flag = Flag("spike", gap=9.0, seconds=60.0)
    garage.hear([Reading("panel", "surface_temperature", 24.0, at, "probe", flag)])
    garage.mix("epoxy-panel-adhesive", 200, part="door skin", amount_g=60.0)
    with served(garage.app) as home:
        seen, page = watched(browser, size, **cookies)
        page.goto(f"{home}/air")
        drawn(page)
        yield garage, page, seen.asked, seen.said
        page.close()
    garage.store.close()


def drawn(page: Page) -> None:
    """Wait until Dash and plotly have drawn."""
    page.locator(".chart .js-plotly-plot[data-led] .xtick").first.wait_for()


def read(page: Page) -> str:
    return page.locator(".chart").get_attribute("aria-valuetext") or ""


def test_the_history_is_looked_into_by_hand_and_by_keys(browser: Browser, tmp_path: Path) -> None:
    with looking(tmp_path, browser) as (_, page, texts, said):
        assert page.locator("#first").count() == 0
        chart = page.locator(".chart")
        box = chart.bounding_box()
        assert box
        page.mouse.move(box["x"] + box["width"] / 2, box["y"] + 200)
        expect(page.locator(".hoverlayer .hovertext")).to_contain_text("humidity 72 %")
        page.mouse.down()
        page.mouse.move(box["x"] + box["width"] * 0.6, box["y"] + 210, steps=4)
        page.mouse.up()
        page.wait_for_url("**/air?from=*&to=*")
        expect(page.locator(".spans [aria-current]")).to_have_count(0)
        page.get_by_role("link", name="Now", exact=True).press("Enter")
        expect(page.locator(".spans [aria-current]")).to_have_text("24 h")
        page.go_back()
        expect(page.locator(".spans [aria-current]")).to_have_count(0)
        page.get_by_role("link", name="7 days").click()
        expect(page.locator(".told")).to_contain_text("Each point is the mean of 1 h")
        chart.focus()
        expect(chart).to_have_attribute("aria-valuetext", read(page))
        last = read(page)
        page.keyboard.press("Home")
        expect(chart).not_to_have_attribute("aria-valuetext", last)
        assert "surface " in read(page)
        assert {text.split("/")[2] for text in texts} == {page.url.split("/")[2]}
        assert said == []


def test_a_reading_is_typed_undone_and_taken_back_by_keys_alone(
    browser: Browser, tmp_path: Path
) -> None:
    with looking(tmp_path, browser) as (garage, page, _, texts):
        box = page.get_by_label("Type a reading")
        box.fill("cold")
        box.press("Enter")
        expect(page.locator("#typed-said")).to_contain_text("“cold” isn't a reading")
        assert box.input_value() == "cold"
        box.fill("15.4")
        box.press("Enter")
        expect(page.locator("#toast")).to_contain_text("surface temperature 15.4 °C")
        expect(box).to_have_value("")
        expect(page.locator(".typed-last li")).to_have_count(1)
        page.locator("#undo button").press("Enter")
        expect(page.locator(".typed-last li")).to_have_count(0)
        box.fill("48")
        box.press("Enter")
        page.get_by_role("button", name="It is right: 48.0 °C").press("Enter")
        expect(page.locator(".typed-last li")).to_have_count(1)
        page.get_by_role("button", name="Take back").press("Enter")
        expect(page.locator(".typed-last li")).to_have_count(0)
        assert page.evaluate("() => document.activeElement !== document.body")
        assert [reading for reading in garage.store.latest() if reading.source == "typed"] == []
        assert texts == []


@pytest.mark.parametrize(
    ("size", "cookies"),
    [(GARAGE, {}), (SMALL, {"layout": "desk"}), (PHONE, {})],
    ids=["garage", "desk", "phone"],
)
def test_nothing_collides_and_a_checker_finds_nothing(
    browser: Browser, tmp_path: Path, size: tuple[int, int], cookies: dict[str, str]
) -> None:
    with looking(tmp_path, browser, size, **cookies) as (_, page, _, texts):
        assert page.evaluate(COLLIDE) == []
        assert overflow(page)[1] == 0
        for summary in page.locator("details > summary").all():
            summary.click()
        assert violations_in_both_themes(page) == []
        assert overflow(page)[1] == 0
        assert texts == []


def test_a_server_that_does_not_answer_is_said(browser: Browser, tmp_path: Path) -> None:
    with looking(tmp_path, browser) as (_, page, _, _):
        page.context.set_offline(True)
        page.get_by_role("link", name="7 days").click()
        expect(page.locator("#toast")).to_have_text("Not recorded: no answer. Touch again.")
