"""The frame of the Dash pages: addresses with a number in them, touches, forms, what goes wrong."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

import pytest
from dash import html
from flask.testing import FlaskClient

from curewatch.units import parse_mass
from dashboard.context.page_context import PageContext
from dashboard.pages.routes import Address, DashPage
from dashboard.pages.touches import Form, TouchOutcome, at_field, button
from tests.support.dash_pages import arriving, send, sent, touched
from tests.support.pages import Garage, open_garage


def content(context: PageContext, address: Address, first: bool) -> list[Any]:
    step = context.bench.step(address.values["number"])
    form = Form("weigh", str(step.id))
    return [html.H1(f"Step {step.id}"), form.box("amount", "Amount"), form.send("Save")]


def weigh(context: PageContext, key: str, values: Mapping[str, Any]) -> TouchOutcome | None:
    with at_field("amount"):
        parse_mass(values["amount"])
    context.bench.note(int(key), values["amount"], now=context.clock())
    return TouchOutcome(go=f"/try/{key}")


def ask(_context: PageContext, _key: str, _values: Mapping[str, Any]) -> TouchOutcome | None:
    return TouchOutcome(question=button("Yes, it is", "note", "1"))


PAGE = DashPage(
    lambda _context, address: f"Step {address.values['number']}",
    content,
    acts={"weigh": weigh, "ask": ask, "note": lambda h, k, v: weigh(h, k, {"amount": "140 g"})},
)


@pytest.fixture(scope="module")
def garage(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Garage]:
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("dashboard.app._DASH", {"/try/<int:number>": PAGE})
        garage = open_garage(tmp_path_factory.mktemp("frame"))
    garage.mix("epoxy-panel-adhesive", 20, part="door skin")
    yield garage
    garage.store.close()


@pytest.fixture
def browser(garage: Garage) -> FlaskClient:
    return garage.app.test_client()


def notes(garage: Garage) -> int:
    return len(garage.store.events([1])[1])


def test_an_address_may_have_a_number_in_it(browser: FlaskClient) -> None:
    assert "<h1>Step 1</h1>" in browser.get("/try/1").text
    assert "<title>Step 1 · curewatch</title>" in browser.get("/try/1").text
    assert browser.get("/try/99").status_code == 404
    assert browser.get("/try/one").status_code == 404
    answer = (send(browser, arriving("/try/1")).json or {})["response"]
    assert answer["shown"]["data"]["title"] == "Step 1"
    assert "no step 99" in send(browser, arriving("/try/99")).text


def test_what_is_wrong_in_a_form_is_said_at_its_field(garage: Garage, browser: FlaskClient) -> None:
    before = notes(garage)
    wrong, more = sent(browser, "weigh", {"amount": "much"}, key="1")
    assert "much" in wrong["amount"]
    assert wrong[""] == ""
    assert "did" not in more
    assert notes(garage) == before


def test_a_form_is_recorded_once_and_said_with_its_undo(
    garage: Garage, browser: FlaskClient
) -> None:
    before = notes(garage)
    wrong, more = sent(browser, "weigh", {"amount": "140 g"}, key="1", once="a")
    assert set(wrong.values()) == {""}
    assert more["did"]["data"]["label"] == "Undo"
    assert more["did"]["data"]["go"] == "/try/1"
    assert more["once"]["data"] != "a"
    sent(browser, "weigh", {"amount": "140 g"}, key="1", once="a")
    assert notes(garage) == before + 1
    sent(browser, "weigh", {"amount": "much"}, key="1", once="b")
    sent(browser, "weigh", {"amount": "150 g"}, key="1", once="b")
    assert notes(garage) == before + 2


def test_what_must_be_asked_first_is_asked_and_recorded_on_the_answer(
    garage: Garage, browser: FlaskClient
) -> None:
    before = notes(garage)
    data = touched(browser, "ask", once="c")
    assert "Yes, it is" in json.dumps(data["asked"])
    assert notes(garage) == before
    answered = touched(browser, "note", "1", once="c")
    assert answered["asked"]["children"] is None
    assert notes(garage) == before + 1


def test_a_touch_on_what_is_gone_says_so(browser: FlaskClient) -> None:
    wrong, more = sent(browser, "weigh", {"amount": "3 g"}, key="99")
    assert "no step 99" in "".join(wrong.values()) + json.dumps(more)


def test_an_act_s_name_is_one_page_s(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("dashboard.app._DASH", {"/try/<int:number>": PAGE, "/other": PAGE})
    with pytest.raises(ValueError, match="two pages name an act"):
        open_garage(tmp_path)


SIMPLE = re.compile(
    r"regeneratorRuntime\.mark\(function t\(\)\{return regeneratorRuntime\.wrap\(function\(t\)"
    r"\{for\(;;\)switch\(t\.prev=t\.next\)\{case 0:return t\.next=2,\w\(!0\);"
    r'case 2:o\.isReady=!0;case 3:case"end":return t\.stop\(\)\}\},t\)\}\)'
)


def test_dash_s_scripts_need_no_more_of_its_polyfill_than_ours_gives(browser: FlaskClient) -> None:
    """Its 34 kB are not sent: they make one kind of generator, which says once that it is ready."""
    text = browser.get("/try/1").text
    scripts = re.findall(r'<script src="(/dash/_dash-component-suites/[^"]+)"', text)
    assert [each for each in scripts if "dash_renderer" in each or "dash_core_components." in each]
    assert not [each for each in scripts if "polyfill" in each]
    for script in scripts:
        assert "regeneratorRuntime" not in SIMPLE.sub("", browser.get(script).text)
