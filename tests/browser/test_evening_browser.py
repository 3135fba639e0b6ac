"""The end of an evening and the pages of parts and cans, in a real browser."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import date, timedelta
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from curewatch.garage import cans, parts
from curewatch.garage.cans import CanDetails
from tests.support.checker import violations_in_both_themes, walked
from tests.support.pages import (
    EVENING,
    GARAGE,
    PHONE,
    SMALL,
    Garage,
    open_garage,
    overflow,
    served,
    settled,
    watched,
    weather,
)

JOB = "corner"


@pytest.fixture
def late(tmp_path: Path) -> Iterator[Garage]:
    """Half past nine: a filler mixed at seven, metal still bare beside it, cans on the shelf."""
    garage = open_garage(tmp_path)
    garage.hear(weather(EVENING))
    parts.bared(
        garage.store, "rib", JOB, now=EVENING, since=EVENING - timedelta(hours=2), grit="80"
    )
    parts.mark(garage.store, "bracket", JOB, "structural", now=EVENING)
    details = CanDetails(
        "P-7", "H-2", opened=date(2026, 9, 1), expiry=date(2026, 10, 1), stored="air"
    )
    cans.add(garage.store, "epoxy-primer", details, now=EVENING - timedelta(days=1))
    number = garage.mix("fibre-polyester-filler", 5, part="rib", job=JOB)
    garage.clock.at += timedelta(hours=2)
    garage.bench.test(number, "gone-off", now=garage.clock.at, milestone="working_time")
    for milestone in ("sand_ready", "recoat_opens", "full_cure"):
        garage.bench.test(number, "reached", now=garage.clock.at, milestone=milestone, sure=True)
    garage.bench.finish(number, now=garage.clock.at)
    yield garage
    garage.store.close()


def asked_of_bare_metal(page: Page, home: str, size: tuple[int, int]) -> None:
    """Open the bench at its question about bare metal. The airing's stands before it; only a phone
    shows both, elsewhere the second opens by its name."""
    settled(page, home)
    if size != PHONE:
        page.get_by_role("button", name="Bare metal", exact=True).click()


@pytest.mark.parametrize("size", [GARAGE, SMALL, PHONE])
def test_the_question_is_answered_without_leaving_the_bench(
    late: Garage, browser: Browser, size: tuple[int, int]
) -> None:
    with served(late.app) as home:
        device, page = watched(browser, size)
        asked_of_bare_metal(page, home, size)
        button = page.get_by_role("button", name="As listed")
        expect(button).to_be_visible()
        box = button.bounding_box()
        assert box
        assert min(box["width"], box["height"]) >= (43.5 if size == PHONE else 71.5)
        button.click()
        expect(page.get_by_text("Is any metal bare?")).to_have_count(0)
        expect(page.get_by_text("Bare metal: rib")).to_be_attached()
        assert page.url.rstrip("/") == home
        assert device.said == []
        page.close()


def test_where_was_i_by_touch_from_the_bench_to_covered(late: Garage, browser: Browser) -> None:
    with served(late.app) as home:
        _, page = watched(browser, GARAGE)
        asked_of_bare_metal(page, home, GARAGE)
        page.get_by_role("link", name="A part", exact=True).click()
        page.get_by_label("Working until").fill("late")
        page.get_by_role("button", name="Save").click()
        expect(page.locator(".until .problem")).to_contain_text("is not a time of day")
        page.get_by_label("Working until").fill("23:00")
        page.get_by_role("button", name="Save").click()
        expect(page.get_by_role("heading", name="Before 23:00")).to_be_visible()
        page.locator(".part-rows a", has_text="rib").click()
        expect(page.get_by_role("heading", name="is any metal still bare?")).to_be_visible()
        page.get_by_role("button", name="All covered").click()
        expect(page.locator("#toast")).to_contain_text("rib: covered")
        expect(page.get_by_text("Bare since")).to_have_count(0)
        page.close()
    assert parts.bare(parts.parts(late.bench.reader, late.clock())) == []


def test_a_checker_finds_nothing_on_bare_metal_cans_and_the_morning(
    late: Garage, browser: Browser
) -> None:
    with served(late.app) as home:
        for size in (GARAGE, PHONE):
            _, page = watched(browser, size, theme="dark")
            for path in walked(
                page, home, ("/", "/parts", "/shelf", "/parts?part=rib", "/shelf/epoxy-primer")
            ):
                assert violations_in_both_themes(page) == [], (path, size)
                assert overflow(page)[1] == 0
        late.clock.at += timedelta(hours=9)
        late.hear(weather(late.clock.at, 8.0, hours=11))
        page.goto(home + "/morning")
        page.locator(".chart .js-plotly-plot[data-led] .xtick").first.wait_for()
        assert violations_in_both_themes(page) == []
        assert overflow(page)[1] == 0
        chart = page.get_by_role("slider")
        chart.press("Home")
        expect(chart).to_have_attribute("aria-valuetext", re.compile("surface "))
        page.close()
