"""The log as Dash draws it: searched, sorted, chosen from, handed over; predicted beside actual."""

from __future__ import annotations

import html
import re
from collections.abc import Iterator
from datetime import timedelta
from typing import Any

import pytest
from flask.testing import FlaskClient

from curewatch.bench.bench import Details
from dashboard.pages.log.files import POLICY
from tests.support.dash_pages import arriving, send, sent, touched
from tests.support.pages import EVENING, Garage, open_garage, weather

PRIMER, ADHESIVE = "epoxy-primer", "epoxy-panel-adhesive"
JOB = "camper corner"


@pytest.fixture(scope="module")
def garage(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Garage]:
    """Three primed parts, tested, and one glued a month before."""
    garage = open_garage(tmp_path_factory.mktemp("log"))
    garage.hear(weather(EVENING))
    for number in range(1, 4):
        garage.mix(PRIMER, 900 - 100 * number, part=f"part {number}", job=JOB, amount_g=60.0)
        garage.bench.test(number, "reached", now=garage.clock(), milestone="recoat_opens")
    then = EVENING - timedelta(days=31)
    garage.bench.start(ADHESIVE, now=then, details=Details(part="a door skin", batch="A-14"))
    garage.bench.note(4, "squeeze-out wiped", now=then + timedelta(minutes=9))
    garage.bench.abandon(4, "sagged", now=then + timedelta(hours=2))
    yield garage
    garage.store.close()


@pytest.fixture
def browser(garage: Garage) -> FlaskClient:
    return garage.app.test_client()


def first(browser: FlaskClient, address: str) -> str:
    """What of a page can be read before any script."""
    answer = browser.get(address)
    assert answer.status_code == 200, answer.text
    text = answer.text
    return html.unescape(text[text.index('id="first"') : text.index('id="react-entry-point"')])


def listed(text: str) -> list[str]:
    """The numbers of the steps in the table, from the top."""
    return re.findall(r'<th scope="row"><a href="/step/(\d+)"', text)


def test_the_log_can_be_read_before_any_script(browser: FlaskClient) -> None:
    text = first(browser, "/logbook")
    assert listed(text) == ["3", "2", "1", "4"]
    assert "4 steps" in text
    assert "batch A-14" in text
    assert "squeeze-out wiped" in text
    assert "failed 13 Sep" in text
    assert text.count('src="data:image/svg+xml,') == 3
    assert "surface from mixing to the end, 10.2 to 17.0 °C" in text


@pytest.mark.parametrize(
    ("address", "numbers"),
    [
        ("/logbook?sort=part", "4 1 2 3"),
        ("/logbook?sort=-part", "3 2 1 4"),
        ("/logbook?sort=mixed", "4 1 2 3"),
        ("/logbook?find=sagg", "4"),
        ("/logbook?product=epoxy-primer&part=part+2", "2"),
        ("/logbook?state=abandoned", "4"),
        ("/logbook?from=1.10.2026", "3 2 1"),
        ("/logbook?to=1+Oct+2026", "4"),
        ("/logbook?find=nowhere", ""),
    ],
)
def test_an_address_finds_and_sorts(browser: FlaskClient, address: str, numbers: str) -> None:
    assert listed(first(browser, address)) == numbers.split()


def test_what_is_typed_leads_to_its_address_and_a_wrong_day_is_said_at_its_box(
    browser: FlaskClient,
) -> None:
    key = "/logbook?job=camper+corner"
    values = {"find": "part 2", "from": "", "to": ""}
    wrong, side = sent(browser, "search the log", values, key=key)
    assert set(wrong.values()) == {""}
    assert side["did"]["data"]["go"] == "/logbook?job=camper+corner&find=part+2"
    wrong, side = sent(browser, "search the log", values | {"from": "someday"}, key=key)
    assert "'someday' is not a date" in wrong["from"]
    assert "did" not in side
    assert "'someday' is not a date" in first(browser, "/logbook?from=someday")


def test_steps_are_chosen_by_address_and_laid_over_each_other(browser: FlaskClient) -> None:
    text = first(browser, "/logbook?pick=1&sort=part")
    assert "1 step chosen; choose another" in text
    assert "pick=1.2" in text
    text = first(browser, "/logbook?pick=1.2")
    assert 'href="/log/compare?steps=1.2"' in text
    assert 'aria-label="Take step 2 out"' in text
    text = first(browser, "/log/compare?steps=1.2.4")
    assert "3 steps" in text
    assert "1: part 1" in text
    assert "4: a door skin" in text
    assert '<tr class="differs"><th scope="row">product</th>' in text


def test_a_comparison_is_drawn_over_time_and_over_equivalent_age(browser: FlaskClient) -> None:
    figures = []
    for by in ("time", "age"):
        answer = send(browser, arriving("/log/compare", f"?steps=1.2&by={by}"))
        (figure,) = find(answer.json, "figure")
        figures.append(figure)
    ends = [max(figure["data"][0]["x"]) for figure in figures]
    assert ends[0] == pytest.approx(800 / 60, abs=0.1)
    assert ends[1] < ends[0], "it was colder than at the label's temperature"


def find(tree: Any, key: str) -> list[Any]:
    """Everything under that key, however deep."""
    if isinstance(tree, list):
        return [each for item in tree for each in find(item, key)]
    if not isinstance(tree, dict):
        return []
    own = [tree[key]] if key in tree else []
    return own + [each for value in tree.values() for each in find(value, key)]


def test_a_product_s_page_shows_predicted_and_actual(browser: FlaskClient) -> None:
    text = first(browser, f"/log/product/{PRIMER}")
    assert "Recoat opens: 3 tested" in re.sub(r"<[^>]+>", "", text)
    assert "reached by 13 h 20" in text
    assert "1: part 1" in text
    assert (
        "1: part 1"
        not in first(browser, f"/log/product/{PRIMER}?before=3&x=").partition("1: part")[0]
    )
    answer = send(browser, arriving(f"/log/product/{PRIMER}"))
    (figure,) = find(answer.json, "figure")
    assert figure["layout"]["xaxis"]["ticktext"] == ["step 1", "step 2", "step 3"]
    assert len([each for each in figure["data"] if "fillgradient" in each]) == 3


@pytest.mark.parametrize(
    "address",
    [
        "/log/compare?steps=3",
        "/log/compare?steps=x.1",
        f"/log/compare?steps={'9' * 40}.1",
        "/log/compare?steps=1.77",
        "/log/product/nothing",
    ],
)
def test_what_is_not_there_is_said(browser: FlaskClient, address: str) -> None:
    answer = browser.get(address)
    assert answer.status_code == 404
    assert "That did not work" in answer.text
    path, _, query = address.partition("?")
    assert send(browser, arriving(path, query)).status_code < 500


def test_a_job_has_its_calendar_and_its_sheet_opens_in_the_browser(browser: FlaskClient) -> None:
    text = first(browser, "/logbook?job=camper+corner")
    assert "Job: camper corner" in text
    assert 'href="/handover.html?job=camper+corner"' in text
    assert text.count('data-busy="Making the hand-over sheet. This can take a while."') == 2
    answer = send(browser, arriving("/logbook", "?job=camper+corner"))
    (figure,) = find(answer.json, "figure")
    assert len(figure["data"]) == 3
    sheet = browser.get("/handover.html?job=camper+corner")
    assert sheet.headers["Content-Disposition"] == 'inline; filename="hand-over.html"'
    assert sheet.headers["Content-Security-Policy"] == POLICY
    wrong, side = sent(browser, "sheet for a day", {"on": "24.12.2026"}, key=JOB, value="pdf")
    assert side["did"]["data"]["go"] == "/handover.pdf?job=camper+corner&on=2026-12-24"
    wrong, _ = sent(browser, "sheet for a day", {"on": "soon"}, key=JOB)
    assert "is not a date" in wrong["on"]


def test_a_damaged_entry_is_removed_with_a_touch_and_only_one_that_is_there(
    browser: FlaskClient,
) -> None:
    assert "Nothing is damaged" in first(browser, "/damaged")
    side = touched(browser, "remove damaged", "event 1")
    assert "no such entry is damaged" in side["did"]["data"]["said"]
