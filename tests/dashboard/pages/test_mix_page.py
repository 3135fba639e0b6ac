"""Before a mix: the answer first and live, the gate, and a clock that starts only where a button
says so, once."""

from __future__ import annotations

import json
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import plotly.graph_objects as go
import pytest
from flask.testing import FlaskClient

from curewatch.bench.bench import Details
from curewatch.formats import ReaderFormat
from curewatch.garage import evening, parts, unnamed_mix
from curewatch.garage.shelf import find_sheet
from curewatch.plan.mix_by import mix_by
from curewatch.warmth import owned
from curewatch.wording import mix_words
from dashboard.context.page_context import PageContext
from dashboard.figures.palette import Screen
from dashboard.figures.ribbons import starts
from dashboard.figures.ribbons.proposed import ProposedDrawing, figure
from dashboard.pages.mix import when
from dashboard.pages.mix.data import proposed
from dashboard.pages.mix.details import heat_of
from tests.support.dash_pages import (
    ORIGIN,
    arriving,
    drawn,
    filling,
    mixing,
    proposing,
    send,
    sent,
    touched,
    typed,
    warming,
)
from tests.support.pages import EVENING, SETTINGS, Garage, open_garage, weather

ADHESIVE, FILLER, PRIMER = "epoxy-panel-adhesive", "fibre-polyester-filler", "epoxy-primer"
BERLIN = ZoneInfo("Europe/Berlin")
SAY = ReaderFormat(BERLIN)


@pytest.fixture
def garage(tmp_path: Path) -> Iterator[Garage]:
    """A garage with a step hardening."""
    garage = open_garage(tmp_path)
    garage.hear(weather(EVENING, base_c=16.0, hours=2))
    garage.mix(ADHESIVE, 20, part="lower corner patch", amount_g=60.0)
    yield garage
    garage.store.close()


@pytest.fixture
def browser(garage: Garage) -> FlaskClient:
    return garage.app.test_client()


def texts(found: Any) -> str:
    return json.dumps(found, ensure_ascii=False)


def test_what_is_picked_of_can_be_read_before_any_script(garage: Garage) -> None:
    text = garage.app.test_client().get(f"/mix/{PRIMER}").text
    first = text[text.index('id="first"') : text.index('id="react-entry-point"')]
    for said in ("just now", "10 min ago", "Respirator on", "Sand-ready", "Recoat opens"):
        assert f">{said}<" in first
    assert first.count('value="0" checked') == 1


def test_a_mix_needs_nothing_but_the_touch(garage: Garage, browser: FlaskClient) -> None:
    wrong, did = mixing(browser, PRIMER)
    assert (wrong, did["go"], did["label"]) == ({}, "/", "Undo")
    assert garage.bench.step(2).mixed_at == garage.clock()
    assert [reminder.key for reminder in garage.bench.step_view(2, garage.clock()).reminders]
    browser.post("/undo", data={"act": str(did["act"])}, headers=ORIGIN)
    assert [step.id for step in garage.bench.view(garage.clock()).steps] == [1]


def test_the_last_part_and_amount_are_offered_and_not_filled_in(
    garage: Garage, browser: FlaskClient
) -> None:
    """Who reads no further books no wrong part; a touch on a part brings its job along."""
    garage.mix(FILLER, 30, part="roof seam", job="camper", amount_g=35.0, hardener_pct=2.0)
    page = drawn(browser, f"/mix/{FILLER}")
    boxes = typed(page)
    assert (boxes["part"], boxes["job"], boxes["amount"]) == ("", "", "")
    assert boxes["hardener"] == "2 %"
    chips = filling(page)
    assert {"part": "roof seam", "job": "camper"} in chips
    assert {"part": "lower corner patch", "job": ""} in chips
    assert {"amount": "35 g"} in chips


def test_a_part_that_the_address_names_stands_in_its_box(browser: FlaskClient) -> None:
    answer = send(browser, arriving(f"/mix/{FILLER}", "?part=rib&job=camper"))
    boxes = typed((answer.json or {})["response"]["page"]["children"])
    assert (boxes["part"], boxes["job"]) == ("rib", "camper")


def test_a_mix_keeps_what_was_entered_and_acknowledged(
    garage: Garage, browser: FlaskClient
) -> None:
    mixing(browser, FILLER, ago="3", part="left rear rib", amount="35", hardener="2,0",
           acknowledged=["gloves", "ventilation"])  # fmt: skip
    step = garage.bench.step(2)
    assert step.mixed_at == garage.clock() - timedelta(minutes=3)
    assert (step.part, step.amount_g, step.hardener_pct) == ("left rear rib", 35.0, 2.0)
    assert set(step.acknowledged) == {"gloves", "ventilation"}


def test_a_stop_is_passed_only_by_saying_why_and_that_is_in_the_log(tmp_path: Path) -> None:
    garage = open_garage(tmp_path)
    garage.hear(weather(EVENING, base_c=2.0, hours=2))
    browser = garage.app.test_client()
    assert proposing(browser, PRIMER)["mix-why"] == {"open": True, "hidden": False}
    wrong, _ = mixing(browser, PRIMER, part="roof seam")
    assert "Say first why you mix anyway" in wrong["why"]
    assert wrong[""].startswith("Not started.")
    assert not garage.store.steps()
    assert mixing(browser, PRIMER, why="it is already mixed")[0] == {}
    (against,) = garage.bench.step(1).overrides
    assert against.why == "it is already mixed"
    assert "below the label" in against.stops[0]
    assert "it is already mixed" in browser.get("/logbook").text
    garage.store.close()


def test_two_touches_of_one_button_start_one_mix(garage: Garage, browser: FlaskClient) -> None:
    for _ in range(2):
        assert mixing(browser, ADHESIVE, once="same", part="roof seam")[0] == {}
    assert [row.id for row in garage.store.steps()] == [1, 2]


def test_enter_in_a_box_starts_nothing(garage: Garage, browser: FlaskClient) -> None:
    assert mixing(browser, ADHESIVE, send="", part="roof seam") == ({}, None)
    assert [row.id for row in garage.store.steps()] == [1]


@pytest.mark.parametrize(
    ("field", "text", "says"),
    [
        ("amount", "0 g", "an amount of '0 g' cannot be mixed"),
        ("amount", "much", "“much” is not a number; type a number, like 60"),
        ("hardener", "9", "outside the label's 1..3 %"),
        ("ago", "-5", "not within the last week"),
        ("ago", "99999", "not within the last week"),
        ("ago", "soon", "is not a number of minutes"),
    ],
)
def test_a_mix_that_cannot_be_says_why_and_starts_nothing(
    garage: Garage, browser: FlaskClient, field: str, text: str, says: str
) -> None:
    wrong, _ = mixing(browser, FILLER, part="left rear rib", **{field: text})
    assert says in " ".join(wrong.values())
    assert field != "amount" or text == "0 g" or says in wrong["amount"]
    assert len(garage.store.steps()) == 1


def test_a_row_opens_and_the_repeat_says_what_it_does_and_is_undone(
    garage: Garage, browser: FlaskClient
) -> None:
    text = browser.get("/mix").text
    assert f'href="/mix/{ADHESIVE}"' in text
    assert "Mixed again now: lower corner patch, 60 g" in text
    assert len(garage.store.steps()) == 1
    for _ in range(2):
        side = touched(browser, "mix again", "1", once="r")
    assert [row.id for row in garage.store.steps()] == [1, 2]
    step = garage.bench.step(2)
    assert (step.part, step.amount_g) == ("lower corner patch", 60.0)
    act = touched(browser, "mix again", "2", once="s")["did"]["data"]["act"]
    browser.post("/undo", data={"act": str(act)}, headers=ORIGIN)
    assert len(garage.bench.view(garage.clock()).steps) == 2
    assert "said" in side["did"]["data"]


def test_the_answer_stands_first_and_follows_what_is_entered(
    garage: Garage, browser: FlaskClient
) -> None:
    text = browser.get(f"/mix/{ADHESIVE}").text
    assert text.index("Mixed now: workable until 20:") < text.index('class="fit')
    assert "clamps off between" in text
    plain = texts(proposing(browser, ADHESIVE))
    heated = texts(proposing(browser, ADHESIVE, heat="21", heat_for="3"))
    assert "With the panel at 21 °C for 3 h: workable until" in heated
    assert "With the panel" not in plain
    large = texts(proposing(browser, ADHESIVE, amount="900"))
    assert "900 g in one cup" in large


@pytest.mark.parametrize(
    ("box", "typed_in", "said"),
    [
        ("amount", "much", "“much” is not a number; type a number, like 60"),
        ("heat", "hot", "“hot” is not a number; type a number, like 14.5"),
        ("heat_for", "99", "no length of heating"),
        ("place", "moon", "moon"),
    ],
)
def test_a_box_that_cannot_be_read_says_so_itself(
    garage: Garage, browser: FlaskClient, box: str, typed_in: str, said: str
) -> None:
    answer = proposing(browser, ADHESIVE, **{"heat": "21", box: typed_in})
    assert list(answer["wrong"]) == [box]
    assert said in answer["wrong"][box]
    assert said not in texts(answer["mix-answer"]["children"])
    assert "one of the boxes below cannot be read" in texts(answer["mix-answer"]["children"])
    assert proposing(browser, ADHESIVE, heat="21")["wrong"] == {}


def test_a_remedy_is_a_touch_and_what_is_fine_is_folded(tmp_path: Path) -> None:
    garage = open_garage(tmp_path)
    garage.hear(weather(EVENING, base_c=2.0, hours=2))
    proposal = proposing(garage.app.test_client(), ADHESIVE)
    follows = texts(proposal)
    assert "See it with the panel at 21 °C" in follows
    assert {"heat": "21"} in filling(list(proposal.values()))
    assert "checks OK" in follows
    garage.store.close()


def test_the_product_whose_page_was_opened_is_remembered_until_it_is_mixed(
    garage: Garage, browser: FlaskClient
) -> None:
    browser.get(f"/mix/{PRIMER}")
    assert browser.get_cookie("mixing") is not None
    mixing(browser, PRIMER)
    assert browser.get_cookie("mixing") is None


@pytest.mark.parametrize("layout", ["garage", "desk", "phone"])
def test_the_ribbon_shows_the_stopping_time_and_the_heat(garage: Garage, layout: str) -> None:
    stop = EVENING + timedelta(hours=4)
    evening.set_stop(garage.store, stop, now=EVENING, zone=BERLIN)
    sheet = find_sheet(garage.store, ADHESIVE)
    view = garage.bench.view(EVENING)
    heat = heat_of({"heat": "30", "heat_for": "2"}, EVENING, "C")
    context = PageContext(garage.bench, garage.store, garage.clock, SETTINGS, 1.0, BERLIN)
    mix = proposed(context, sheet, Details(amount_g=60.0), heat, EVENING, SAY)
    assert mix.heated is not None
    plain, warm = (step.by_name["clamp_time"].late for step in (mix.view, mix.heated))
    assert plain is None or (warm is not None and warm < plain)
    drawn = ProposedDrawing(mix.view, mix.heated, view, mix.gate.proposal.stop_at)
    fig = figure(drawn, SAY, Screen("dark", layout, 366.0 if layout == "phone" else 1400.0))
    go.Figure(fig)
    assert "you stop 23:42" in [each["text"] for each in fig["layout"]["annotations"]]


def test_a_touch_without_a_name_is_named_by_one_touch(garage: Garage, browser: FlaskClient) -> None:
    browser.post("/mixed", headers=ORIGIN)
    (touch,) = unnamed_mix.waiting(garage.store, garage.clock())
    garage.clock.at += timedelta(minutes=4)
    text = browser.get(f"/mixed/{touch.id}").text
    assert "Its clock runs since 4 min ago" in text
    assert "as last: 60 g" in text
    touched(browser, "name mix", json.dumps([touch.id, ADHESIVE, True]), once="n")
    step = garage.bench.step(2)
    assert (step.mixed_at, step.amount_g) == (EVENING, 60.0)
    assert unnamed_mix.waiting(garage.store, garage.clock()) == []
    assert browser.get(f"/mixed/{touch.id}").status_code == 404


def test_a_rehearsal_typed_in_minutes_is_kept_and_undone(
    garage: Garage, browser: FlaskClient
) -> None:
    _, side = sent(browser, "rehearsal took", {"took": "20"}, key=f"{ADHESIVE}\n")
    assert side["did"]["data"]["said"] == "Rehearsed in 20 min"
    assert "20 min rehearsed" in browser.get(f"/mix/{ADHESIVE}/rehearse").text
    act = side["did"]["data"]["act"]
    browser.post("/undo", data={"act": str(act)}, headers=ORIGIN)
    assert "20 min rehearsed" not in browser.get(f"/mix/{ADHESIVE}/rehearse").text


def test_no_time_is_given_for_a_structural_joint(garage: Garage) -> None:
    garage.mix(ADHESIVE, 5, part="seat mount")
    view = garage.bench.step_view(2, EVENING)
    assert "Mixed now" not in mix_words.answer(view, SAY)


def said_when(answer: dict[str, Any]) -> str:
    return texts(answer["mix-when"]["children"])


def test_the_page_says_between_when_and_when_to_mix_for_what_is_waited_for(
    tmp_path: Path,
) -> None:
    garage = open_garage(tmp_path)
    garage.hear(weather(EVENING, base_c=21.0, hours=2))
    browser = garage.app.test_client()
    assert said_when(proposing(browser, FILLER)) == "[]"
    whole = proposing(browser, FILLER, wait="sand_ready", by="23:30")
    text = "sand-ready before 23:30, 9 in 10."
    assert text in said_when(whole)
    assert text in texts(whole["mix-answer"]["children"])
    assert "mix by " in texts(whole["mix-answer"]["children"])
    assert "recoat opens before 23:30" in said_when(
        proposing(browser, FILLER, wait="recoat_opens", by="23:30")
    )
    wrong = proposing(browser, FILLER, by="half past")
    assert "half past" in said_when(wrong)
    assert "workable until" in texts(wrong["mix-answer"]["children"])
    evening.set_stop(garage.store, garage.clock() + timedelta(hours=3), now=garage.clock(),
                     zone=BERLIN)  # fmt: skip
    assert "sand-ready before 22:42" in said_when(proposing(browser, FILLER))
    garage.store.close()


def test_a_structural_joint_has_no_start_and_no_table(garage: Garage, browser: FlaskClient) -> None:
    parts.mark(garage.store, "roof seam", "", "structural", now=garage.clock())
    answer = proposing(browser, ADHESIVE, part="roof seam", by="23:30")
    for shown in (
        said_when(answer),
        texts(warming(browser, ADHESIVE, part="roof seam", by="23:30")),
    ):
        assert "in 10" not in shown
        assert "maker" in shown


def test_the_chances_of_every_start_are_drawn_in_tenths_and_can_be_read(garage: Garage) -> None:
    found = mix_by(garage.bench, FILLER, garage.clock(), Details(), milestone="sand_ready",
                   by=garage.clock() + timedelta(hours=3), zone=BERLIN)  # fmt: skip
    for screen in (Screen(), Screen("light", "desk", 1240.0), Screen("dark", "phone", 360.0)):
        drawn = starts.StartsDrawing(when.points(found, SAY), SAY, screen)
        picture = starts.figure(drawn)
        go.Figure(picture)
        chances, sure, reader = picture["data"]
        assert max(chance for chance in chances["y"] if chance is not None) == 9
        assert {each for each in sure["y"] if each is not None} == {9}
        assert reader["text"][0] == "Mixed now: 9 in 10"
        assert reader["text"][-1].endswith("less than 1 in 10")
        assert len(reader["x"]) == len(chances["x"]) <= 300


def test_what_heat_would_change_is_worked_out_when_its_fold_is_opened(tmp_path: Path) -> None:
    garage = open_garage(tmp_path)
    garage.hear(weather(EVENING, base_c=17.0, hours=2))
    browser, now = garage.app.test_client(), garage.clock()
    assert "Lamps and heaters" not in browser.get(f"/mix/{ADHESIVE}").text
    assert "Enter by when you want it." in texts(warming(browser, ADHESIVE))
    assert "Enter the lamps and heaters you own" in texts(warming(browser, ADHESIVE, by="23:30"))
    owned.own(garage.store, "work lamp", 500, "panel", now=now)
    owned.set_energy_price(garage.store, 0.32, now=now)
    shown = texts(warming(browser, ADHESIVE, by="23:30"))
    for text in ("No heat", "Work lamp", "9 in 10", "kWh for ", "carbon monoxide", "35 °C",
                 "switches nothing", "is assumed, 30 % either way"):  # fmt: skip
        assert text in shown
    assert "curewatch heater" not in shown
    assert "“much” is not a number" in texts(warming(browser, ADHESIVE, by="23:30", amount="much"))
    garage.store.close()
