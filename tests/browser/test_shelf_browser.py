"""Products and cans in a real browser: a product from four boxes, a can corrected, all by touch."""

from __future__ import annotations

from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from curewatch.garage import cans
from curewatch.garage.cans import CanDetails
from curewatch.garage.shelf import find_sheet
from tests.support.checker import violations_in_both_themes, walked
from tests.support.pages import EVENING, GARAGE, PHONE, SMALL, open_garage, served, watched, weather

LOOKS = {"garage": GARAGE, "desk": SMALL, "phone": PHONE}
PRIMER = "epoxy-primer"


def touch(page: Page, name: str) -> None:
    page.get_by_role("button", name=name, exact=True).first.click()


def drawn(page: Page, path: str) -> None:
    page.goto(path)
    page.wait_for_function("() => document.body.classList.contains('taken')")


def test_from_four_boxes_to_a_can_and_off_the_shelf(browser: Browser, tmp_path: Path) -> None:
    garage = open_garage(tmp_path)
    garage.hear(weather(EVENING, hours=1))
    with served(garage.app) as home:
        seen, page = watched(browser, SMALL, layout="desk")
        drawn(page, f"{home}/shelf/new")
        touch(page, "Save")
        expect(page.get_by_text("Give it a name, as on the label")).to_be_visible()
        page.get_by_label("Name, as on the label").fill("Blue tin")
        page.get_by_label("Working time, min").first.fill("4-6 min")
        page.get_by_label("At temperature").fill("20")
        expect(page.get_by_text("4 min is used, the careful end.")).to_be_visible()
        page.get_by_text("Primer: two-part urethane").click()
        expect(page.locator(".picks-many :checked")).to_have_count(4)
        page.get_by_text("Isocyanate", exact=True).click()
        page.get_by_text("Yes, or I cannot tell").click()
        touch(page, "Save")
        expect(page.get_by_role("heading", name="Blue tin")).to_be_visible()
        expect(page.locator("#toast")).to_contain_text("4 min is used")
        assert find_sheet(garage.store, "blue-tin").hazards.isocyanate

        page.get_by_label("Batch", exact=True).fill("B-1")
        page.get_by_label("Expiry, as printed", exact=True).fill("soon")
        touch(page, "Save can")
        expect(page.get_by_text("is not a date")).to_be_visible()
        assert page.get_by_label("Batch", exact=True).input_value() == "B-1"
        page.get_by_label("Expiry, as printed", exact=True).fill("2027-03")
        touch(page, "Save can")
        expect(page.get_by_role("rowheader", name="Batch B-1")).to_be_visible()
        touch(page, "Opened today")
        expect(page.get_by_role("cell", name="14 Oct 2026")).to_be_visible()

        touch(page, "Remove")
        expect(page.get_by_role("heading", name="Shelf")).to_be_visible()
        touch(page, "Undo")
        expect(page.get_by_role("link", name="Blue tin").first).to_be_visible()
        page.get_by_label("Search").fill("seam")
        expect(page.get_by_role("link", name="Moisture-cure seam sealer")).to_be_visible()
        assert seen.said == []
        page.close()
    garage.store.close()


@pytest.mark.parametrize("layout", LOOKS)
def test_an_automatic_checker_finds_nothing_on_the_shelf(
    browser: Browser, tmp_path: Path, layout: str
) -> None:
    garage = open_garage(tmp_path)
    garage.hear(weather(EVENING, hours=1))
    garage.mix("epoxy-panel-adhesive", 20, part="door skin")
    cans.add(garage.store, PRIMER, CanDetails("P-7", stored="shelf"), now=EVENING)
    with served(garage.app) as home:
        _, page = watched(browser, LOOKS[layout], layout=layout)
        for path in walked(page, home, ("/shelf", f"/shelf/{PRIMER}?can=1", "/shelf/new")):
            page.evaluate(
                "for (const each of document.querySelectorAll('details')) each.open = true"
            )
            assert violations_in_both_themes(page) == [], path
            wide = page.evaluate("document.documentElement.scrollWidth - innerWidth")
            assert wide <= 0, path
        page.close()
    garage.store.close()
