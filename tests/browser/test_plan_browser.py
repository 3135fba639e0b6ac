"""Planning in a real browser: by the keyboard alone, on the desk and on the phone."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

from playwright.sync_api import Browser, Page, expect

from curewatch.garage import evening
from curewatch.warmth import owned
from curewatch.ways import entered
from tests.support.checker import violations_in_both_themes
from tests.support.pages import (
    EVENING,
    PHONE,
    SMALL,
    Garage,
    open_garage,
    opened,
    overflow,
    served,
    watched,
    weather,
)

BERLIN = ZoneInfo("Europe/Berlin")
SAID = "#mix-starts-said"


def planning_garage(folder: Path) -> Garage:
    """A garage with a lamp and a stopping time."""
    garage = open_garage(folder)
    garage.hear(weather(EVENING, base_c=19.0, hours=4))
    now = garage.clock()
    owned.own(garage.store, "work lamp", 500, "panel", now=now)
    evening.set_stop(garage.store, now + timedelta(hours=4), now=now, zone=BERLIN)
    return garage


def typed(page: Page, label: str, text: str) -> None:
    """Type into a box that the keyboard has reached."""
    page.get_by_label(label, exact=True).focus()
    page.keyboard.type(text)


def pressed(page: Page, name: str) -> None:
    page.get_by_role("button", name=name, exact=True).first.focus()
    page.keyboard.press("Enter")


def wishing(page: Page) -> None:
    """Enter the hours and a wish with the keyboard."""
    typed(page, "When are you in the garage?", "Mon-Fri 18:00-22:30, Sat 9-18")
    pressed(page, "Save")
    expect(page.locator("#toast")).to_contain_text("In the garage: Mon-Fri")
    page.get_by_text("It may be loud until").wait_for()
    typed(page, "Part", "rear corner")
    pressed(page, "Save the wish")
    expect(page.locator("#toast")).to_contain_text(
        "Saved: rear corner, finished as early as possible"
    )
    page.locator(".plan-answer .next-steps").wait_for()


def test_a_start_is_sought_and_a_plan_made_with_the_keyboard_alone(
    browser: Browser, tmp_path: Path
) -> None:
    garage = planning_garage(tmp_path)
    with served(garage.app) as home:
        seen, page = watched(browser, SMALL, layout="desk")
        opened(page, f"{home}/mix/epoxy-panel-adhesive")
        expect(page.locator(SAID)).to_contain_text("Mixed now: ")
        page.locator(".chart[data-says]").focus()
        page.keyboard.press("ArrowRight")
        expect(page.locator(SAID)).to_contain_text("Mixed 19:45: ")
        page.locator("#mix-warmth-fold").focus()
        page.keyboard.press("Enter")
        expect(page.locator("#mix-warmth table")).to_contain_text("Work lamp")
        assert violations_in_both_themes(page) == []
        opened(page, f"{home}/plan")
        wishing(page)
        page.locator(".plan-strip .js-plotly-plot").wait_for()
        for summary in page.locator("main details > summary:visible").all():
            summary.click()
        assert violations_in_both_themes(page) == []
        assert overflow(page)[1] == 0
        assert seen.said == []
        page.close()
        _, phone = watched(browser, PHONE, layout="phone")
        opened(phone, f"{home}/plan")
        phone.locator(".plan-answer .next-steps").wait_for()
        assert not phone.locator(".plan-strip").count()
        assert overflow(phone)[1] == 0
        phone.close()
    assert entered.wished(garage.store) == [("rear corner", "")]
    garage.store.close()
