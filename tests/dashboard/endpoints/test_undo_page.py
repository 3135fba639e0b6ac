"""What a touch did stands on the page after it, with one touch to undo it."""

from __future__ import annotations

import json
import re
from datetime import timedelta
from typing import Any

import pytest
from flask.testing import FlaskClient
from playwright.sync_api import Browser, expect
from werkzeug.test import TestResponse

from curewatch.garage import cans, parts
from curewatch.garage.cans import CanDetails
from dashboard.pages.garage.entered import OPEN
from tests.conftest import Run
from tests.support.dash_pages import mixing, sent, touched
from tests.support.pages import Garage, opened, watched

ORIGIN = {"Origin": "http://localhost"}
ADHESIVE = "epoxy-panel-adhesive"


@pytest.fixture
def browser_(garage: Garage) -> FlaskClient:
    return garage.app.test_client()


def send(browser: FlaskClient, path: str, live: bool = False, **fields: Any) -> TestResponse:
    return browser.post(path, data=fields, headers=ORIGIN | ({"X-Live": "1"} if live else {}))


def offered(text: str) -> tuple[str, str]:
    """What the page says was done, and the act that its Undo names."""
    words = re.search(r'<p id="toast" role="status">(.*?)</p>', text)
    act = re.search(r'id="undo".*?name="act" value="(\d*)"', text, re.S)
    assert words
    assert act
    return words[1], act[1]


def test_the_page_after_a_mix_says_so_and_one_touch_undoes_it(
    garage: Garage, browser_: FlaskClient
) -> None:
    mixing(browser_, ADHESIVE, ago="5", part="door skin", once="a")
    words, act = offered(browser_.get("/").text)
    assert words == "Started: Two-part epoxy panel adhesive, door skin"
    assert send(browser_, "/undo", act=act, once="b", back="/parts").location == "/parts"
    assert garage.bench.view(garage.clock()).steps == ()
    assert parts.parts(garage.bench.reader, garage.clock()) == []
    words, act = offered(browser_.get("/").text)
    assert words.startswith("Undone: Started: ")
    assert send(browser_, "/undo", act=act, once="b").status_code == 303
    assert garage.bench.view(garage.clock()).steps == ()
    send(browser_, "/undo", act=act, once="c")
    assert len(garage.bench.view(garage.clock()).steps) == 1


def test_a_touch_on_the_bench_is_told_which_act_it_was(
    garage: Garage, browser_: FlaskClient
) -> None:
    garage.mix(ADHESIVE, 5, part="door skin")
    told = touched(browser_, "dab", "1/tacky")["did"]["data"]
    assert told["label"] == "Undo"
    back = send(browser_, "/undo", live=True, act=told["act"]).json or {}
    assert back["said"] == "Undone: Dab: tacky (door skin)"
    assert back["label"] == "Bring it back"
    assert garage.bench.step(1).witnesses == ()


def test_the_page_after_a_touch_offers_its_undo(garage: Garage, browser_: FlaskClient) -> None:
    garage.mix(ADHESIVE, 50, part="door skin")
    says = "Mix used up, tools clean (door skin)"
    touched(browser_, "emptied", "1", once="f")
    words, act = offered(browser_.get("/undo").text)
    assert words == says
    assert send(browser_, "/undo", act=act, once="u").status_code == 303
    assert offered(browser_.get("/undo").text)[0] == f"Undone: {says}"


def test_each_form_of_a_step_offers_its_undo(garage: Garage, browser_: FlaskClient) -> None:
    garage.mix(ADHESIVE, 50, part="door skin")
    forms: list[tuple[str, dict[str, str], str, str]] = [
        ("step note", {"text": "thin"}, "", "Note: thin (door skin)"),
        ("step mark", {"ago": "0", "film": ""}, "coat", "Coat on 1 (door skin)"),
        ("step failed", {"why": "ran"}, "", "Failed (door skin)"),
    ]
    for number, (form, fields, value, says) in enumerate(forms):
        side = sent(browser_, form, fields, key="1", value=value, once=f"f{number}")[1]
        did = side["did"]["data"]
        assert (did["said"], did["label"]) == (says, "Undo"), form
        assert send(browser_, "/undo", act=did["act"], once=f"u{number}").status_code == 303
    assert garage.bench.step(1).state == "hardening"


def test_each_act_of_a_dash_page_offers_its_undo(garage: Garage, browser_: FlaskClient) -> None:
    acts: list[tuple[str, dict[str, str], str]] = [
        ("cleaned to metal", {"part": "rib"}, "rib: cleaned to bare metal"),
        ("working until", {"until": "22:30"}, "Working until 22:30"),
        ("mask opened", {"name": "mask"}, "Cartridge opened: mask"),
        ("room and use", {"room": "60", "fan": "300"}, "Room and fan saved"),
        ("typed reading", {"surface": "14"}, "Reading entered: surface temperature 14.0 °C"),
    ]
    for number, (form, fields, says) in enumerate(acts):
        did = sent(browser_, form, fields, once=f"f{number}")[1]["did"]["data"]
        assert (did["said"], did["label"]) == (says, "Undo"), form
        send(browser_, "/undo", act=did["act"], once=f"u{number}")
        assert offered(browser_.get("/undo").text)[0] == f"Undone: {says}"


@pytest.mark.parametrize(
    ("back", "to"),
    [
        ("/parts", "/parts"),
        ("//evil.example/", "/"),
        ("https://evil.example/", "/"),
        ("/\\evil.example", "/"),
        ("parts", "/"),
        ("/shelf/none", "/shelf"),
        (f"/shelf/{ADHESIVE}", f"/shelf/{ADHESIVE}"),
    ],
)
def test_undoing_leads_to_a_page_of_ours(
    garage: Garage, browser_: FlaskClient, back: str, to: str
) -> None:
    garage.mix(ADHESIVE, 5)
    act = garage.store.last_acts(1)[0]
    assert send(browser_, "/undo", act=act, back=back).location == to


@pytest.mark.parametrize("act", ["", "x", "0", "99", "9" * 40, "-1"])
def test_an_act_that_is_not_there_is_refused_in_words(browser_: FlaskClient, act: str) -> None:
    answer = send(browser_, "/undo", act=act)
    assert answer.status_code == 404
    assert "no act has the number" in answer.text


def test_a_page_of_another_site_undoes_nothing(garage: Garage, browser_: FlaskClient) -> None:
    garage.mix(ADHESIVE, 5)
    answer = browser_.post("/undo", data={"act": "1"}, headers={"Origin": "http://evil.example"})
    assert answer.status_code == 403
    assert garage.bench.view(garage.clock()).steps


def test_the_history_undoes_each_thing_and_an_undone_mix_keeps_its_page(
    garage: Garage, browser_: FlaskClient
) -> None:
    garage.mix(ADHESIVE, 50, part="door skin")
    garage.bench.test(1, "not-yet", now=garage.clock(), milestone="clamp_time")
    first, test = (event.id for event in garage.store.events([1])[1])
    assert browser_.get("/step/1/history").text.count(">Undo</button>") == 2
    touched(browser_, "step undo", f"1/{test}")
    assert garage.bench.step(1).answers == {}
    touched(browser_, "step undo", f"1/{first}")
    text = browser_.get("/step/1").text
    assert "It was mixed: bring it back" in text
    assert "was undone" in sent(browser_, "step note", {"text": "x"}, key="1")[0]["text"]
    history = browser_.get("/step/1/history").text
    assert history.count('aria-label="Bring it back: ') == 1


def test_what_was_entered_last_is_undone_and_brought_back_by_touch(
    garage: Garage, browser_: FlaskClient
) -> None:
    garage.mix(ADHESIVE, 5, part="door skin")
    assert "Started: Two-part epoxy panel adhesive, door skin" in browser_.get("/undo").text
    act = str(garage.store.last_acts(1)[0])
    did = touched(browser_, "undo act", act)["did"]["data"]
    assert did["label"] == "Bring it back"
    assert garage.bench.view(garage.clock()).steps == ()
    text = browser_.get("/undo").text
    assert ">undone<" in text
    assert "Bring it back: Undone: Started: " in text
    touched(browser_, "undo act", str(did["act"]))
    assert len(garage.bench.view(garage.clock()).steps) == 1


def test_only_the_last_few_entries_lie_open_each_with_when_it_was_entered_and_for_when(
    garage: Garage, browser_: FlaskClient
) -> None:
    cans.add(garage.store, ADHESIVE, CanDetails("B-1"), now=garage.clock())
    for number in range(OPEN):
        parts.mark(garage.store, f"part {number}", "", "body", now=garage.clock())
    now = garage.clock()
    parts.bared(garage.store, "rib", "", now=now, since=now - timedelta(minutes=74))
    text = browser_.get("/undo").text
    open_, _, folded = text.partition("<details>")
    assert open_.count(">Undo</button>") == OPEN
    assert ">19:42<small> for 18:28</small></span><span>rib: cleaned to bare metal" in open_
    assert "Can 1: added, Two-part epoxy panel adhesive" in folded
    assert ADHESIVE not in text.replace(f"/{ADHESIVE}", "")


@pytest.mark.parametrize("act", ["", "x", "0", "99", "9" * 40, "-1"])
def test_a_touch_on_an_act_that_is_not_there_is_refused(browser_: FlaskClient, act: str) -> None:
    assert "no act has the number" in touched(browser_, "undo act", act)["did"]["data"]["said"]


def test_finishing_asks_once_on_the_page(garage: Garage, browser_: FlaskClient) -> None:
    garage.mix(ADHESIVE, 50)
    text = json.dumps(touched(browser_, "step finish", "1", once="a")["asked"])
    assert "The clamps are not off yet: test from" in text
    assert garage.bench.step(1).state == "hardening"
    touched(browser_, "step finish sure", "1", once="a")
    assert garage.bench.step(1).state == "finished"
    assert "Not finished: undo" in browser_.get("/step/1").text


def test_the_product_is_corrected_on_the_step_s_page(garage: Garage, browser_: FlaskClient) -> None:
    garage.mix(ADHESIVE, 50, part="door skin")
    texts = {"why": "wrong can", "by": ""}
    sent(browser_, "step product", texts, key="1", value="epoxy-primer")
    assert garage.bench.step(1).sheet.id == "epoxy-primer"
    wrong, side = sent(browser_, "step product", texts, key="1", value="none")
    assert (set(wrong.values()), "did" in side) != ({""}, False)


def test_undoing_by_command(run: Run) -> None:
    run("mix", ADHESIVE, "--part", "door skin", "--ago", "5 min", "--acknowledge")
    code, out, _ = run("step", "note", "1", "thin")
    assert (code, out.splitlines()[-1]) == (0, "Undo with: curewatch undo")
    _, out, _ = run("undo")
    assert out.startswith("Undone: Note: thin (door skin).\nBring it back with: curewatch undo 3")
    _, out, _ = run("undo")
    assert out.startswith("Undone: Started: Two-part epoxy panel adhesive, door skin.")
    assert "door skin" not in run("bench")[1]
    code, _, err = run("undo")
    assert (code, err) == (2, "curewatch: there is nothing to undo; see: curewatch undo --list.\n")
    _, out, _ = run("undo", "4")
    assert out.startswith("Brought back: Started: ")
    lines = run("undo", "--list")[1].splitlines()
    assert len(lines) == 5
    assert lines[-1].endswith("Started: Two-part epoxy panel adhesive, door skin")
    assert "(undone)" in lines[-2]
    assert "Undo with" not in run("bench")[1]
    assert "Undo with" not in run("dab", "1", "tacky", "--json")[1]
    code, _, err = run("done", "1")
    assert code == 2
    assert "the clamps are not off yet" in err
    assert "--yes" in err
    assert run("step", "edit", "1", "--product", "epoxy-primer")[0] == 0
    assert "epoxy primer" in run("bench")[1]


def test_the_offer_stands_for_half_a_minute_and_then_goes(
    garage: Garage, address: str, browser: Browser
) -> None:
    garage.mix(ADHESIVE, 5, part="door skin")
    device, page = watched(browser)
    page.clock.install()
    opened(page, address)
    expect(page.locator(".js-plotly-plot .main-svg").first).to_be_attached()
    page.get_by_role("button", name="tacky").click()
    button = page.locator("#undo button")
    expect(button).to_have_text("Undo")
    page.clock.fast_forward(31_000)
    expect(button).to_be_visible()
    button.click()
    expect(page.locator("#toast")).to_have_text("Undone: Dab: tacky (door skin)")
    assert garage.bench.step(1).witnesses == ()
    page.clock.fast_forward(60_000)
    expect(button).to_be_hidden()
    assert device.said == []
