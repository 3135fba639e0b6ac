"""Before a mix in a real browser: the room, a stop and its reason, reminders, and the checker."""

from __future__ import annotations

import re
from datetime import timedelta
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from curewatch.gate import rehearsal
from curewatch.protection import airing, cartridges
from curewatch.protection.ventilation import Room
from tests.support.checker import followed, violations, walked
from tests.support.pages import (
    EVENING,
    GARAGE,
    PHONE,
    SMALL,
    open_garage,
    opened,
    overflow,
    served,
    settled,
    watched,
    weather,
)

PRIMER = "solvent-primer-1k"
PAGES = (
    "/air/out?sheet=solvent-primer-1k&amount=300+g",
    "/air/masks",
    "/air/out?sheet=urethane-high-build-primer&amount=300+g",
    "/mix/epoxy-panel-adhesive/rehearse",
    "/mix/urethane-high-build-primer",
)


def touch(page: Page, name: str) -> None:
    page.get_by_role("button", name=name).first.click()


def test_a_whole_evening(browser: Browser, tmp_path: Path) -> None:
    garage = open_garage(tmp_path)
    garage.hear(weather(EVENING, base_c=4.0))
    with served(garage.app) as home:
        seen, page = watched(browser, GARAGE)
        opened(page, f"{home}/air/out")
        page.get_by_label("Length, m").fill("6")
        page.get_by_label("Width, m").fill("4")
        page.get_by_label("Height, m").fill("2.5")
        page.get_by_label("Fan, m³/h").fill("300")
        touch(page, "Work it out")
        expect(page.get_by_text("A minimum and not a clearance")).to_be_visible()

        followed(page, f"/mix/{PRIMER}")
        expect(page.locator("#fit")).to_have_text("Stop")
        expect(page.get_by_text("below the label's 10 °C").first).to_be_visible()
        page.get_by_label("More, and source: panel", exact=True).click()
        expect(page.get_by_text("the label", exact=True).first).to_be_visible()
        touch(page, "Mixed now")
        expect(page.get_by_text("Not started.")).to_be_visible()
        page.get_by_label("Part", exact=True).fill("door skin")
        page.get_by_text("Details (you can add them later)").click()
        page.get_by_label("Job", exact=True).fill("rear corner")
        page.get_by_label("I warm it before it goes on").check()
        page.get_by_label(re.compile("^Respirator on")).check()
        touch(page, "Mixed now")
        expect(page.get_by_role("heading", name=re.compile("door skin")).first).to_be_visible()
        step = garage.bench.step(1)
        assert set(step.acknowledged) == {"respirator"}
        assert step.overrides[0].why == "I warm it before it goes on"

        locator = page.locator(".asks .doing:has(summary:text('Before you go on')) .buttons button")
        expect(locator.first).to_be_visible()
        while count := locator.count():
            before = len(garage.bench.step(1).acknowledged)
            locator.first.click()
            expect(locator).to_have_count(count - 1)
            assert len(garage.bench.step(1).acknowledged) > before
        assert {"ventilation", "ignition", "dust"} <= set(garage.bench.step(1).acknowledged)

        garage.hear(weather(EVENING + timedelta(minutes=1), base_c=22.0, hours=0.02))
        followed(page, "/step/1")
        page.get_by_text("Dab check", exact=True).click()
        touch(page, "tacky")
        expect(page.locator("#toast")).to_contain_text("tacky")
        garage.clock.at += timedelta(minutes=40)
        garage.bench.fan(1, True, now=garage.clock())
        followed(page, "/")
        assert garage.bench.step(1).witnesses[0].state == "tacky"

        followed(page, "/step/1")
        page.get_by_text("Finish", exact=True).click()
        touch(page, "Finished: off the bench")
        touch(page, "Finish anyway")
        expect(page.get_by_role("button", name="Not finished: undo")).to_be_visible()
        assert garage.bench.step(1).state == "finished"
        followed(page, "/logbook")
        expect(page.get_by_text("I warm it before it goes on")).to_be_visible()
        assert seen.said == []
        page.close()
    sheet = garage.app.test_client().get("/handover.html?job=rear+corner").text
    assert "door skin" in sheet
    assert "I warm it before it goes on" in sheet
    garage.store.close()


@pytest.mark.parametrize("size", [GARAGE, SMALL, PHONE])
def test_the_dust_mask_is_asked_for_beside_the_sanding_test(
    browser: Browser, tmp_path: Path, size: tuple[int, int]
) -> None:
    garage = open_garage(tmp_path)
    garage.hear(weather(EVENING, base_c=18.0))
    garage.mix("fibre-polyester-filler", 75, part="left rear rib")
    seen = garage.clock() - timedelta(minutes=60)
    garage.bench.test(1, "gone-off", now=seen, milestone="working_time")
    with served(garage.app) as home:
        _, page = watched(browser, size)
        settled(page, home)
        expect(page.get_by_role("heading", name=re.compile("left rear rib")).first).to_be_visible()
        button = page.get_by_role("button", name="Dust mask on")
        expect(button).to_be_visible()
        assert size == PHONE or overflow(page) == (0, 0)
        button.click()
        expect(button).not_to_be_visible()
        assert "dust:sanding" in garage.bench.step(1).acknowledged
        page.close()
    garage.store.close()


@pytest.mark.parametrize(("theme", "size"), [("dark", GARAGE), ("light", PHONE)])
def test_an_automatic_checker_finds_nothing_before_a_mix(
    browser: Browser, tmp_path: Path, theme: str, size: tuple[int, int]
) -> None:
    garage = open_garage(tmp_path)
    garage.hear(weather(EVENING, base_c=8.0))
    garage.mix(PRIMER, 200, part="roof seam")
    cartridges.open_new(garage.store, "mask", "vapour", now=EVENING - timedelta(days=1))
    rehearsal.record(garage.store, "epoxy-panel-adhesive", 24, now=EVENING)
    with served(garage.app) as home:
        airing.record_room(garage.store, Room(60, 300), now=EVENING)
        _, page = watched(browser, size, theme=theme)
        for path in walked(page, home, PAGES):
            for summary in page.locator("main details > summary:visible").all():
                summary.click()
            assert violations(page) == [], path
            wide = page.evaluate("document.documentElement.scrollWidth - innerWidth")
            assert wide <= 0, path
        page.close()
    garage.store.close()


@pytest.mark.parametrize("size", [GARAGE, SMALL, PHONE])
def test_what_protects_is_seen_before_anything_is_touched_and_right_over_the_start(
    tmp_path: Path, browser: Browser, size: tuple[int, int]
) -> None:
    garage = open_garage(tmp_path)
    garage.hear(weather(EVENING))
    with served(garage.app) as home:
        _, page = watched(browser, size)
        opened(page, f"{home}/mix/{PRIMER}")
        page.locator(".proposed .js-plotly-plot").wait_for()
        line, start = page.locator(".before"), page.locator(".starts")
        expect(line).to_contain_text("respirator on")
        seen, rail = line.bounding_box(), page.locator(".rail").bounding_box()
        assert seen
        assert rail
        assert seen["y"] + seen["height"] <= (rail["y"] if size == PHONE else size[1])
        line.get_by_role("link").click()
        expect(page.locator(".cautions label").first).to_be_in_viewport()
        over = start.evaluate("start => start.previousElementSibling.textContent")
        assert over.startswith("Before the clock starts")
        page.close()
    garage.store.close()
