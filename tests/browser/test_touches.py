"""How many touches an act takes, counted on each layout."""

from __future__ import annotations

import re
from datetime import timedelta
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Locator, Page, expect

from tests.support.pages import (
    EVENING,
    GARAGE,
    PHONE,
    open_garage,
    opened,
    renewed,
    served,
    watched,
    weather,
)

DESK = (1280, 800)
ADHESIVE, PART = "epoxy-panel-adhesive", "tailgate"


class Hand:
    """Touches one thing after the other, and counts."""

    def __init__(self, page: Page) -> None:
        self._page, self.touches = page, 0

    def touch(self, thing: Locator) -> None:
        thing.click()
        self.touches += 1

    def link(self, path: str) -> None:
        """Touch the first link that is seen to a page."""
        self.touch(self._page.locator(f'a[href="{path}"]:visible').first)

    def button(self, text: str) -> None:
        """Touch the first button that is seen and begins with a text."""
        begins = re.compile(rf"^{re.escape(text)}")
        self.touch(self._page.locator("button:visible", has_text=begins).first)


@pytest.mark.parametrize(("layout", "size"), [("garage", GARAGE), ("desk", DESK), ("phone", PHONE)])
def test_a_dab_an_answer_a_repeat_and_a_new_mix_take_few_touches(
    browser: Browser, tmp_path: Path, layout: str, size: tuple[int, int]
) -> None:
    garage = open_garage(tmp_path)
    garage.hear(weather(EVENING, base_c=21.0, hours=72))
    garage.mix(ADHESIVE, 3000, part=PART, amount_g=60.0)
    garage.bench.finish(1, now=garage.clock())
    garage.mix(ADHESIVE, 20, part="roof seam", amount_g=60.0)
    with served(garage.app) as home:
        _, page = watched(browser, size, layout=layout)
        opened(page, home)
        toast, hand = page.locator("#toast"), Hand(page)
        hand.button("still workable")
        expect(toast).to_contain_text("still workable")
        assert hand.touches == 1

        garage.clock.at += timedelta(minutes=50)
        garage.hear(weather(garage.clock.at, base_c=21.0, hours=1))
        renewed(page)
        expect(page.locator(".band.due:visible")).to_contain_text("Still workable?")
        hand = Hand(page)
        hand.button("stringy")
        expect(toast).to_contain_text("stringy")
        assert hand.touches == 1

        hand = Hand(page)
        hand.button("No, it drags")
        expect(toast).to_contain_text("no longer workable")
        assert hand.touches == 1

        hand = Hand(page)
        hand.link("/mix")
        hand.link(f"/mix/{ADHESIVE}")
        hand.button("60 g")
        hand.button(PART)
        hand.button("Mixed now")
        expect(page).to_have_url(f"{home}/")
        assert hand.touches == 5
        step = garage.bench.step(3)
        assert (step.part, step.amount_g) == (PART, 60.0)

        hand = Hand(page)
        hand.link("/mix")
        hand.button("Mixed again now")
        expect(page.get_by_role("button", name="Undo")).to_be_visible()
        assert hand.touches == 2
        page.close()
    assert garage.bench.step(4).part == PART
    garage.store.close()
