"""Every way a step can start: what was not acknowledged is asked, and isocyanate is not sprayed."""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from flask.testing import FlaskClient

from curewatch.bench.reminders import cautions
from curewatch.bench.spraying import check_start, sprayable, unanswered
from curewatch.climate.reading import make_reading
from curewatch.errors import StepError
from curewatch.exchange.buttons import ButtonActions
from curewatch.exchange.presses import Presses
from curewatch.garage.unnamed_mix import waiting
from curewatch.logbook.history import history
from curewatch.logbook.paper import FieldFormatter
from curewatch.products.sheet import generic_sheets
from curewatch.settings.buttons import Button
from curewatch.wording.words import ReaderFormat
from tests.conftest import Run
from tests.support.dash_pages import buttons, mixing, touched
from tests.support.pages import EVENING, Garage, open_garage
from tests.support.steps import sheet as made

BERLIN = ZoneInfo("Europe/Berlin")
SHEETS = generic_sheets()
FILLER, URETHANE, SEALER = "fibre-polyester-filler", "urethane-high-build-primer", "seam-sealer"
ADHESIVE = "urethane-panel-adhesive"


@pytest.fixture
def garage(tmp_path: Path) -> Garage:
    garage = open_garage(tmp_path)
    for quantity, value in (("surface_temperature", 21.0), ("air_temperature", 21.0)):
        place = "panel" if quantity == "surface_temperature" else "air"
        garage.hear([make_reading(place, quantity, value, garage.clock(), "probe")])
    garage.hear([make_reading("air", "relative_humidity", 50.0, garage.clock(), "probe")])
    return garage


def mixed_now(browser: FlaskClient) -> None:
    answer = browser.post("/mixed", headers={"Origin": "http://localhost"})
    assert answer.status_code == 303


def offered(garage: Garage, act: str) -> set[str]:
    """What the bench offers to touch for an act on step 1."""
    keys = [key for do, key in buttons(garage.app.test_client()) if do == act]
    assert all(key.startswith("1/") for key in keys)
    return {key.removeprefix("1/") for key in keys}


def reminders_asked(garage: Garage) -> set[str]:
    """The reminders that the bench asks about, beside those that an occasion brings again."""
    return {key for key in offered(garage, "remind") if ":" not in key}


def how_applied(garage: Garage) -> set[str]:
    """The answers that the bench offers to how isocyanate is applied."""
    return offered(garage, "applied")


def by_page(garage: Garage, sheet: str) -> None:
    wrong, did = mixing(garage.app.test_client(), sheet, ago="3", why="trial")
    assert (wrong, did["go"]) == ({}, "/")


def by_touch(garage: Garage, sheet: str) -> None:
    browser = garage.app.test_client()
    mixed_now(browser)
    (touch,) = waiting(garage.store, garage.clock())
    did = touched(browser, "name touch", f"{touch.id}/{sheet}")["did"]["data"]
    assert did["said"].startswith("Started: ")


def by_repeat(garage: Garage, sheet: str) -> None:
    touched(garage.app.test_client(), "start again", sheet)


def by_button(garage: Garage, sheet: str) -> None:
    buttons = {"resin": Button("mix", sheet=sheet)}
    say = ReaderFormat(BERLIN)
    ButtonActions(
        garage.bench, Presses(), buttons, garage.clock, say, say.zone, garage.store.refuse
    ).press("resin")


WAYS = [by_page, by_touch, by_repeat, by_button]


@pytest.mark.parametrize("way", WAYS)
def test_what_was_not_acknowledged_is_asked_until_it_is(
    garage: Garage, way: Callable[[Garage, str], None]
) -> None:
    way(garage, FILLER)
    texts = {caution.key for caution in cautions(SHEETS[FILLER])}
    assert reminders_asked(garage) == texts
    garage.bench.emptied(1, now=garage.clock())
    garage.clock.at += timedelta(minutes=45)
    assert reminders_asked(garage) == texts, "none is dropped when half an hour is over"
    for key in sorted(texts):
        touched(garage.app.test_client(), "remind", f"1/{key}")
    assert reminders_asked(garage) == set()


def test_a_mix_told_an_hour_late_is_asked_about_too(garage: Garage) -> None:
    assert mixing(garage.app.test_client(), FILLER, ago="60")[0] == {}
    garage.bench.emptied(1, now=garage.clock())
    assert "respirator" in reminders_asked(garage)


def test_a_cup_to_clean_goes_before_reminders_of_an_hour_ago(garage: Garage) -> None:
    by_touch(garage, FILLER)
    garage.clock.at += timedelta(minutes=45)
    assert ("emptied", "1") in buttons(garage.app.test_client())
    assert reminders_asked(garage) == set()


@pytest.mark.parametrize("way", WAYS)
def test_isocyanate_in_the_cup_is_logged_and_asked_about_first(
    garage: Garage, way: Callable[[Garage, str], None]
) -> None:
    way(garage, URETHANE)
    mixed_now(garage.app.test_client())
    assert garage.bench.step_view(1, garage.clock()).unmasked
    assert how_applied(garage) == {"spray", "brush", "roller", "spread"}
    garage.clock.at += timedelta(hours=2)
    assert how_applied(garage), "it waits until it is answered"
    text = garage.app.test_client().get("/").text
    assert "How do you apply it?" in text.split('data-question="1"')[0], "it is the first"
    assert "what was it?" not in text, "nothing is asked before it"


@pytest.mark.parametrize("applied", ["brush", "roller", "spread", "spray"])
def test_one_answer_settles_it_and_is_kept(garage: Garage, applied: str) -> None:
    by_touch(garage, URETHANE)
    touched(garage.app.test_client(), "applied", f"1/{applied}")
    step = garage.bench.step(1)
    assert step.applied == applied
    assert not garage.bench.step_view(1, garage.clock()).unmasked
    assert how_applied(garage) == set()
    lines = history(garage.store.events([1])[1], FieldFormatter(BERLIN, ReaderFormat(BERLIN)))
    assert any(f"applied by: {applied}" in line.words for line in lines)
    mist = {
        reminder.key
        for reminder in garage.bench.step_view(1, EVENING + timedelta(minutes=30)).reminders
    }
    assert ("air-fed" in mist, "air-fed:wet" in mist) == ((applied == "spray"),) * 2
    assert ("respirator" in mist) == (applied != "spray"), "its solvent is breathed all the same"


def test_an_answer_that_is_none_is_refused(garage: Garage) -> None:
    by_touch(garage, URETHANE)
    data = touched(garage.app.test_client(), "applied", "1/thrown")["did"]["data"]
    assert "thrown" in data["said"]
    assert garage.bench.step_view(1, garage.clock()).unmasked


def test_the_page_asks_before_it_begins(garage: Garage) -> None:
    browser = garage.app.test_client()
    assert "how do you apply it?" in browser.get(f"/mix/{URETHANE}").text
    assert "how do you apply it?" not in browser.get(f"/mix/{ADHESIVE}").text
    for texts in ({}, {"applied": "spray"}, {"applied": "spray", "why": "it is already mixed"}):
        wrong, _ = mixing(browser, URETHANE, **texts)
        assert "without air-fed protection" in wrong["applied"]
        assert "--" not in wrong["applied"]
    assert garage.store.steps() == []
    assert mixing(browser, URETHANE, applied="brush")[0] == {}
    assert mixing(browser, URETHANE, applied="spray", acknowledged=["air-fed"])[0] == {}
    assert [garage.bench.step(number).applied for number in (1, 2)] == ["brush", "spray"]
    assert not garage.bench.step_view(2, garage.clock()).unmasked


@pytest.mark.parametrize(
    "words",
    [
        (),
        ("--ago", "0 min"),
        ("--why", "it is already mixed"),
        ("--applied", "spray"),
        ("--applied", "spray", "--ago", "0 min", "--why", "only a little"),
    ],
)
def test_no_word_on_the_command_line_lifts_the_one_stop(run: Run, words: tuple[str, ...]) -> None:
    run("reading", "add", "--surface", "21 C", "--air", "21 C", "--humidity", "50 %")
    code, out, err = run("mix", URETHANE, *words)
    assert (code, out, "without air-fed protection" in err) == (2, "", True)
    assert "--applied" in err
    assert json.loads(run("bench", "--json")[1])["steps"] == []


def test_the_command_line_answers_it_and_keeps_what_is_in_the_cup(run: Run) -> None:
    run("reading", "add", "--surface", "21 C", "--air", "21 C", "--humidity", "50 %")
    assert run("mix", URETHANE, "--applied", "roller")[0] == 0
    assert run("mix", URETHANE, "--applied", "spray", "--acknowledge")[0] == 0
    assert "STOP" not in run("bench")[1]
    code, out, _ = run("mix", URETHANE, "--ago", "3 min")
    assert (code, "STOP Never spray it without air-fed protection" in out) == (0, True)
    assert "STOP" in run("bench")[1]
    run("step", "edit", "3", "--applied", "brush")
    assert "STOP" not in run("bench")[1]
    (step, *_) = json.loads(run("log", "--json")[1])["steps"]
    assert step["record"]["applied"] == "brush"


def test_only_what_can_be_sprayed_and_contains_isocyanate_is_asked_about() -> None:
    assert {id for id, sheet in SHEETS.items() if sprayable(sheet)} == {URETHANE, SEALER}
    keys = {caution.key for caution in cautions(SHEETS[ADHESIVE])}
    assert ("isocyanate" in keys, "air-fed" in keys) == (True, False)
    check_start(SHEETS[ADHESIVE], "", [])
    with pytest.raises(StepError, match="how you apply it"):
        check_start(SHEETS[URETHANE], "", ["gloves"])
    check_start(SHEETS[URETHANE], "", ["air-fed"])
    assert not unanswered(made("solvent-1k"), "spray", [])


@pytest.mark.parametrize("sheet", [ADHESIVE, URETHANE, SEALER])
def test_what_is_said_to_be_sprayed_is_held_back_whatever_kind_it_is(sheet: str) -> None:
    with pytest.raises(StepError, match="Never spray it without air-fed"):
        check_start(SHEETS[sheet], "spray", ["gloves"])
    assert "air-fed" in {caution.key for caution in cautions(SHEETS[sheet], "spray")}
    check_start(SHEETS[sheet], "spray", ["air-fed"])


def test_what_was_answered_in_an_older_logbook_stays_answered(garage: Garage) -> None:
    text = SHEETS[ADHESIVE].text
    body = {"sheet_id": ADHESIVE, "sheet_text": text, "acknowledged": ["air-fed", "gloves"]}
    number = garage.store.add_step(ADHESIVE, garage.clock(), garage.clock(), body)
    reminders = {
        reminder.key: reminder
        for reminder in garage.bench.step_view(number, garage.clock()).reminders
    }
    assert reminders["isocyanate"].answered_at == garage.clock()
