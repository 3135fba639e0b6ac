"""Tables and boxes at the sizes they are read at: no column, button or date is cut off."""

from __future__ import annotations

from datetime import date

import pytest
from playwright.sync_api import Browser, Page, expect

from curewatch.garage import cans
from curewatch.garage.cans import CanDetails
from tests.support.pages import (
    EVENING,
    GARAGE,
    PHONE,
    SMALL,
    Garage,
    opened,
    watched,
)

ADHESIVE = "epoxy-panel-adhesive"


@pytest.fixture
def home(garage: Garage, address: str) -> str:
    """A step over some hours, with a can in use and one that is used up."""
    kept = CanDetails("B-02", bought=date(2026, 9, 28), opened=date(2026, 10, 14), stored="air")
    cans.add(garage.store, ADHESIVE, kept, now=EVENING)
    gone = cans.add(garage.store, ADHESIVE, CanDetails("A-14"), now=EVENING)
    cans.used_up(garage.store, gone.id, now=EVENING)
    garage.mix(ADHESIVE, 300, part="door skin", job="corner", batch="B-02")
    return address


def cut_off(page: Page) -> list[str]:
    """The tables whose last columns lie outside their box."""
    cut: list[str] = page.evaluate(
        """() => [...document.querySelectorAll("main .scroll")]
            .filter(box => box.scrollWidth > box.clientWidth + 1)
            .map(box => `${box.getAttribute("aria-label")} ${box.scrollWidth - box.clientWidth}`)"""
    )
    return cut


@pytest.mark.parametrize("size", [SMALL, GARAGE])
def test_every_column_of_cans_and_conditions_is_seen_in_the_garage(
    browser: Browser, home: str, size: tuple[int, int]
) -> None:
    _, page = watched(browser, size, layout="garage")
    opened(page, f"{home}/shelf/{ADHESIVE}?can=1")
    assert cut_off(page) == []
    days = page.locator(".correct .day-box input")
    assert [box.input_value() for box in days.all()] == ["28 Sep 2026", "14 Oct 2026", ""]
    assert days.evaluate_all("all => all.map(box => box.scrollWidth - box.clientWidth)") == [
        *(0, 0, 0)
    ]
    opened(page, f"{home}/step/1")
    page.get_by_text("Conditions since mixing").click()
    page.get_by_role("columnheader", name="above dew point, °C").wait_for()
    assert cut_off(page) == []
    page.close()


def test_every_column_of_the_shelf_is_seen_on_a_small_screen(
    browser: Browser, garage: Garage, home: str
) -> None:
    late = CanDetails(
        "P-7", "H-2", expiry=date(2026, 12, 31), opened=date(2026, 9, 12), stored="air"
    )
    cans.add(garage.store, "epoxy-primer", late, now=EVENING)
    garage.mix("epoxy-primer", 100, part="roof seam", batch="P-7")
    _, page = watched(browser, SMALL, layout="garage")
    opened(page, f"{home}/shelf")
    expect(page.get_by_text("in use")).to_have_count(2)
    assert cut_off(page) == []
    page.close()


def test_boxes_beside_a_wrong_one_stay_in_line(browser: Browser, home: str) -> None:
    _, page = watched(browser, SMALL, layout="garage")
    opened(page, f"{home}/air/out")
    page.get_by_label("Or its volume").fill("big")
    page.get_by_role("button", name="Work it out").click()
    page.get_by_text("“big” is not a number; type a number, like 60").wait_for()
    tops = [
        page.get_by_label(name).evaluate("box => Math.round(box.getBoundingClientRect().top)")
        for name in ("Or its volume", "Fan, m³/h", "Air mixing")
    ]
    assert len(set(tops)) == 1
    page.close()


def test_no_title_in_a_step_s_figure_touches_the_numbers_of_the_scale_above(
    browser: Browser, home: str
) -> None:
    _, page = watched(browser, SMALL, layout="garage")
    opened(page, f"{home}/step/1")
    page.locator("#step-figure .annotation-text", has_text="humidity, %").wait_for()
    touching = page.evaluate(
        """() => {
            const box = node => node.getBoundingClientRect();
            const all = what => [...document.querySelectorAll(`#step-figure ${what}`)];
            const titles = all(".annotation-text").filter(n => /, (°C|%)$/.test(n.textContent));
            const scale = all("[class^=y][class$=tick] text");
            return [titles.length, scale.length, titles.flatMap(title => scale
                .filter(number => box(number).top < box(title).top
                    && box(number).bottom > box(title).top + 4)
                .map(number => `${title.textContent} ${number.textContent}`))];
        }"""
    )
    assert touching[0] > 2
    assert touching[1] > 6
    assert touching[2] == []
    page.close()


def test_the_hand_over_sheet_fits_a_phone(browser: Browser, home: str) -> None:
    context = browser.new_context(viewport={"width": PHONE[0], "height": PHONE[1]}, is_mobile=True)
    page = context.new_page()
    page.goto(f"{home}/handover.html?job=corner")
    page.get_by_role("heading", name="door skin").wait_for()
    assert page.evaluate("document.documentElement.scrollWidth") == PHONE[0]
    context.close()


def test_the_days_of_the_log_open_within_the_page(browser: Browser, home: str) -> None:
    _, page = watched(browser, SMALL, layout="garage")
    opened(page, f"{home}/logbook")
    page.locator("summary", has_text="Days:").click()
    expect(page.get_by_label("Mixed from")).to_be_visible()
    assert page.evaluate("document.documentElement.scrollWidth - innerWidth") <= 0
    page.close()


def test_on_a_phone_where_a_can_was_stored_has_the_whole_width(browser: Browser, home: str) -> None:
    _, page = watched(browser, PHONE, layout="phone")
    opened(page, f"{home}/shelf")
    stored = page.locator(".cans td[data-head=Stored]").first
    expect(stored).to_contain_text("oldest")
    assert stored.evaluate("each => each.clientWidth") > 300
    opened(page, f"{home}/shelf/{ADHESIVE}")
    assert page.locator(".cans td[data-head=Stored]:visible").count() == 1
    page.close()
