"""The guide on the page: every topic, every command, and nothing in it that the page would run."""

from __future__ import annotations

from pathlib import Path

import pytest
from playwright.sync_api import Browser

from curewatch.bench.bench import Bench
from curewatch.commands.setup.guide import command_topics
from curewatch.store.store import Store
from curewatch.wording.guide import written_topics
from dashboard.app import make_app
from dashboard.pages.first_page import to_html
from dashboard.pages.garage.markdown import components
from tests.support.crawl import look
from tests.support.pages import GARAGE, PHONE, SETTINGS, SMALL, Garage, SteppedClock, served


def test_the_guide_lists_every_topic_and_every_command_and_each_opens(tmp_path: Path) -> None:
    store = Store(tmp_path / "curewatch.db")
    bench = Bench(store, SETTINGS.places)
    browser = make_app(
        bench, store, SteppedClock(), SETTINGS, commands=command_topics
    ).test_client()
    links = [link for page in look(browser.get("/guide")) for link in page.links]
    for topic in (*written_topics(), *command_topics()):
        assert f"/guide/{topic.name}" in links
        answer = browser.get(f"/guide/{topic.name}")
        assert look(answer)
        assert answer.text.count("<h1>") == 1


def test_a_topic_that_is_not_there_is_refused(garage: Garage) -> None:
    browser = garage.app.test_client()
    assert browser.get("/guide/nothing").status_code == 404
    assert browser.get("/guide/..%2fpyproject").status_code == 404


def test_the_guide_is_reached_from_every_page_and_from_the_device_s_choices(garage: Garage) -> None:
    browser = garage.app.test_client()
    for path in ("/air", "/choices"):
        assert '<a href="/guide"' in browser.get(path).text
    assert 'class="button" href="/guide"' in browser.get("/choices").text


def test_markdown_is_drawn_and_what_is_no_markdown_is_escaped() -> None:
    text = "# A\n\n- `<b>`: <script>x</script> [y](javascript:x) **z** [w](/guide/w)\n\n"
    page = to_html(components(f"{text}| a |\n|---|\n| b |\n\n1. one\n\n```\n<i>\n```\n"))
    assert "<h1>A</h1>" in page
    assert "<code>&lt;b&gt;</code>" in page
    assert "&lt;script&gt;" in page
    assert "<script" not in page
    assert "javascript:" not in page
    assert "<b>z</b>" in page
    assert '<a href="/guide/w">w</a>' in page
    assert "<td>b</td>" in page
    assert "<ol><li>" in page
    assert "&lt;i&gt;" in page


@pytest.mark.parametrize("size", [GARAGE, SMALL, PHONE])
def test_the_guide_fits_the_screen(garage: Garage, browser: Browser, size: tuple[int, int]) -> None:
    page = browser.new_page(viewport={"width": size[0], "height": size[1]})
    with served(garage.app) as home:
        for name in ("", "/labels", "/examples"):
            page.goto(f"{home}/guide{name}")
            page.locator("body.taken").wait_for()
            wide = page.evaluate("() => document.documentElement.scrollWidth - innerWidth")
            assert wide <= 0, name
        page.close()
