"""The plan's page: it asks two things, answers them, takes corrections at their boxes, and gives
the bench one line that is never an alarm."""

from __future__ import annotations

import json
import threading
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from flask.testing import FlaskClient

from curewatch.errors import StepError
from curewatch.formats import ReaderFormat
from curewatch.garage import parts
from curewatch.ways import entered, words
from curewatch.ways.gather import part_plan
from curewatch.week import kept
from curewatch.week import words as words_of_week
from curewatch.week.helps import WeekHelp
from dashboard.context import planning
from dashboard.context.page_context import PageContext
from tests.support.dash_pages import ORIGIN, buttons, forms, prop, send, sent, touched
from tests.support.pages import EVENING, Garage, open_garage, weather
from tests.support.wishes import promised

BERLIN = ZoneInfo("Europe/Berlin")
SAY = ReaderFormat(BERLIN)
WEEK = "Mon-Fri 18:00-22:30, Sat 9-18"
WISH = {"part": "rear corner", "by": "Sat 18:00", "way": "prime-bare-metal", "end": "primed"}


@pytest.fixture
def garage(tmp_path: Path) -> Iterator[Garage]:
    garage = open_garage(tmp_path)
    garage.hear(weather(EVENING, base_c=20.0, hours=4))
    yield garage
    garage.store.close()


@pytest.fixture
def browser(garage: Garage) -> FlaskClient:
    return garage.app.test_client()


@pytest.fixture
def wished(browser: FlaskClient) -> FlaskClient:
    """A browser of a garage in which hours and a wish were entered."""
    sent(browser, "plan hours", {"week": WEEK, "loud": "21:30"})
    assert not any(sent(browser, "plan wish", WISH)[0].values())
    return browser


def answered(browser: FlaskClient) -> str:
    """What the page answers once it is there."""
    body = {
        "output": "plan-answer.children",
        "outputs": {"id": "plan-answer", "property": "children"},
        "inputs": [prop("plan-answer", "className", "plan-answer")],
        "state": [prop("url", "pathname", "/plan")],
        "changedPropIds": [],
    }
    answer = send(browser, body)
    assert answer.status_code in (200, 204), answer.text
    return json.dumps(answer.json, ensure_ascii=False) if answer.status_code == 200 else ""


def asked(browser: FlaskClient) -> set[str]:
    return {json.loads(name)[0] for name in forms(browser, "/plan")}


def context_of(garage: Garage) -> PageContext:
    context: PageContext = garage.app.extensions["curewatch"]
    return context


def test_with_nothing_entered_it_asks_two_things(browser: FlaskClient) -> None:
    assert asked(browser) == {"plan hours", "plan wish"}
    text = browser.get("/plan").text
    assert text.index("When are you in the garage?") > text.index("Say when you are in the garage")
    assert "Working it out" not in text
    assert answered(browser) == ""
    assert 'href="/plan" id="to-plan" aria-current="page"' in text


def test_a_wish_is_answered_with_its_sentence_and_the_next_step(
    garage: Garage, browser: FlaskClient
) -> None:
    sent(browser, "plan hours", {"week": WEEK, "loud": "21:30"})
    _, side = sent(browser, "plan wish", WISH)
    assert side["did"]["data"]["said"] == "Saved: rear corner, primed by Sat 18:00."
    assert "Working it out" in browser.get("/plan").text
    shown = answered(browser)
    plan = part_plan(garage.bench, "rear corner", "", None, garage.clock(), BERLIN)
    assert words.sentence(plan, SAY) in shown
    first = planning.work_out(context_of(garage)).week.steps[0]
    begin = words.between_words(first.start, first.latest, garage.clock(), SAY)
    assert f": clean to bare metal, degrease; begin {begin}." in shown
    assert words.PROPOSAL in shown
    assert words.sentence(plan, SAY) in browser.get("/plan").text
    browser.post("/undo", data={"act": str(side["did"]["data"]["act"])}, headers=ORIGIN)
    assert entered.wished(garage.store) == []
    assert entered.way_of(garage.store, "rear corner", "") is None


@pytest.mark.parametrize(
    ("form", "change", "field", "says"),
    [
        ("plan hours", {"week": "sometimes"}, "week", "names no day with hours"),
        ("plan hours", {"loud": "late"}, "loud", "late"),
        ("plan hours", {"clamps": "many"}, "clamps", "is no number of clamps"),
        ("plan hours", {"clamps": "0"}, "clamps", "is no number of clamps"),
        ("plan wish", {"part": " "}, "part", "has no name"),
        ("plan wish", {"by": "soon"}, "by", "soon"),
        ("plan wish", {"end": "bonded"}, "end", "does not end in 'bonded'"),
        ("plan wish", {"way": "x", "end": ""}, "way", "how is it worked on?"),
    ],
)
def test_what_cannot_be_is_refused_at_its_box_and_nothing_is_kept(
    garage: Garage, browser: FlaskClient, form: str, change: dict[str, str], field: str, says: str
) -> None:
    values = {"plan hours": {"week": WEEK, "loud": ""}, "plan wish": WISH}[form] | change
    wrong, _ = sent(browser, form, values)
    assert says in wrong[field]
    assert entered.hours(garage.store) is None
    assert entered.wished(garage.store) == []
    assert entered.way_of(garage.store, "rear corner", "") is None


def test_hands_on_minutes_are_corrected_and_stay_with_the_next_wish(
    garage: Garage, wished: FlaskClient
) -> None:
    key = "rear corner\n"
    wrong, _ = sent(wished, "plan minutes", {"0": "30", "1": "0"}, key=key)
    assert "is no length of work" in wrong["1"]
    sent(wished, "plan minutes", {"0": "30", "1": "1 h"}, key=key)
    sent(wished, "plan wish", WISH | {"by": ""})
    way = entered.way_of(garage.store, "rear corner", "")
    assert way is not None
    assert [step.hands_min for step in way.steps] == [30, 60]
    assert entered.wish_of(garage.store, "rear corner", "") == entered.PartWish("primed", None)
    assert touched(wished, "plan wish dropped", key)["did"]["data"]["label"] == "Undo"
    assert entered.wished(garage.store) == []


def test_a_day_is_otherwise_and_the_days_are_listed(garage: Garage, wished: FlaskClient) -> None:
    wrong, _ = sent(wished, "plan day", {"day": "someday", "hours": ""})
    assert wrong["day"]
    wrong, _ = sent(wished, "plan day", {"day": "Thu", "hours": "9"})
    assert wrong["hours"]
    sent(wished, "plan day", {"day": "Thu", "hours": ""})
    text = wished.get("/plan").text
    assert "Sat: 09:00 to 18:00" in text
    assert "not there" in text.split("15 Oct")[1][:20]


def test_a_structural_part_has_the_makers_procedure_and_no_times(
    garage: Garage, wished: FlaskClient
) -> None:
    touched(wished, "plan remind")
    assert heard(wished)
    touched(wished, "plan let go")
    assert planning.tonight(context_of(garage)) is not None
    touched(wished, "plan remind")
    parts.mark(garage.store, "rear corner", "", "structural", now=garage.clock())
    assert planning.tonight(context_of(garage)) is None, "also before it is planned again"
    assert heard(wished) == []
    assert planning.begins(context_of(garage)) is None
    shown = answered(wished)
    assert "maker" in shown
    assert "in 10" not in shown
    assert planning.tonight(context_of(garage)) is None


def test_a_plan_is_kept_until_something_is_entered_or_ten_minutes_are_over(
    garage: Garage, wished: FlaskClient
) -> None:
    context = context_of(garage)
    assert planning.current(context) is None
    first = planning.work_out(context)
    assert planning.work_out(context) is first
    garage.clock.at += timedelta(minutes=10)
    second = planning.work_out(context)
    assert second is not first
    sent(wished, "plan wish", WISH | {"by": "Sat 17:00"})
    assert planning.current(context) is None


def test_the_bench_has_one_line_of_the_plan_only_where_something_is_wished(
    garage: Garage, browser: FlaskClient
) -> None:
    assert 'class="planned"' not in browser.get("/").text
    sent(browser, "plan hours", {"week": WEEK, "loud": "21:30"})
    sent(browser, "plan wish", WISH)
    assert "Tonight on" not in browser.get("/").text
    planning.work_out(context_of(garage))
    text = browser.get("/").text
    assert "Tonight on rear corner: clean to bare metal, degrease; begin " in text
    assert 'class="planned"' in text
    touched(browser, "plan wish dropped", "rear corner\n")
    assert "Tonight on" not in browser.get("/").text


def test_several_wishes_share_one_pair_of_hands_and_are_listed_by_evening(
    garage: Garage, wished: FlaskClient
) -> None:
    sent(wished, "plan hours", {"week": WEEK, "loud": "21:30", "clamps": "12"})
    sent(wished, "plan wish", WISH | {"part": "door", "by": "", "way": "fill-a-dent"})
    assert entered.clamps(garage.store) == 12
    shown = answered(wished)
    week = planning.work_out(context_of(garage)).week
    for part in week.parts:
        assert words_of_week.sentence(part, week, SAY).partition(": ")[2][1:] in shown
    for step in week.tonight:
        assert f": {step.does}" in shown
    ends = [step.end for step in week.steps]
    starts = [step.start for step in week.steps]
    assert all(end <= start for end, start in zip(ends, starts[1:], strict=False))
    assert "The week, step by step" in shown
    assert "What holds them up, and what would help" in shown
    assert "plan-strip" not in shown  # this device has not said that it is a desk
    wished.set_cookie("screen", "desk-light-1240")
    assert '"plan-strip"' in answered(wished)


def test_a_wish_beyond_the_forecast_has_no_chance(garage: Garage, browser: FlaskClient) -> None:
    sent(browser, "plan hours", {"week": WEEK, "loud": "", "clamps": ""})
    sent(browser, "plan wish", WISH | {"by": "24 Oct 2026 18:00"})
    shown = answered(browser)
    assert planning.work_out(context_of(garage)).alone is None
    assert "Likely primed by" in shown


def test_what_the_page_showed_is_kept_and_what_moved_is_said(
    garage: Garage, wished: FlaskClient
) -> None:
    assert kept.shown(garage.store) == ()
    answered(wished)
    first = kept.shown(garage.store)
    assert [step.number for step in first] == [0, 1]
    for _ in range(3):  # shown again, it is not kept again
        garage.clock.at += timedelta(minutes=11)
        answered(wished)
    assert len(garage.store.entries(kept.PLAN)) == 1
    sent(wished, "plan day", {"day": "today", "hours": ""})
    shown = answered(wished)
    assert "Moved since it was last shown" in shown
    assert " instead of " in shown


def heard(browser: FlaskClient) -> list[dict[str, Any]]:
    """What a page would sound of the plan."""
    alarms = (browser.get("/state.json").json or {})["alarms"]
    return [alarm for alarm in alarms if alarm["kind"] == "begin"]


def test_a_plan_that_is_taken_over_reminds_on_the_bench_in_the_calendar_and_by_a_sound(
    garage: Garage, wished: FlaskClient
) -> None:
    first = answered(wished)
    assert words.PROPOSAL in first
    assert "Remind me of this plan" in first
    assert heard(wished) == []
    side = touched(wished, "plan remind")
    assert side["did"]["data"]["said"] == "Reminders of the plan switched on"
    shown = answered(wished)
    assert words.REMINDS in shown
    assert words.PROPOSAL not in shown
    assert "Remind me no more" in shown
    sounds = heard(wished)
    assert [(alarm["once"], alarm["step"]) for alarm in sounds] == [(True, None)] * 2
    assert sounds[0]["say"].startswith("rear corner: clean to bare metal, degrease; begin ")
    garage.clock.at = datetime.fromtimestamp(sounds[0]["at"] / 1000, UTC)
    wished.post("/silence", headers=ORIGIN)
    assert (wished.get("/state.json").json or {})["pressed"]["silenced"] == [sounds[0]["key"]]
    bench = wished.get("/").text
    assert "Rear corner: " in bench
    assert "clean to bare metal, degrease; begin " in bench
    assert "Tonight on" not in bench
    assert ("plan begun", "rear corner\n") in buttons(wished)
    calendar = wished.get("/bench.ics").text.replace("\r\n ", "")
    assert "SUMMARY:begin: rear corner: clean to bare metal\\, degrease" in calendar
    assert calendar.count("BEGIN:VALARM") == 2
    wished.post("/undo", data={"act": str(side["did"]["data"]["act"])}, headers=ORIGIN)
    assert heard(wished) == []
    assert words.PROPOSAL in answered(wished)


def test_a_step_that_was_begun_reminds_no_more(garage: Garage, wished: FlaskClient) -> None:
    touched(wished, "plan remind")
    side = touched(wished, "plan begun", "rear corner\n")
    did = side["did"]["data"]
    assert did["said"] == "rear corner: begun, clean to bare metal, degrease"
    assert parts.part(garage.bench.reader, "rear corner", "", garage.clock()).bare_since
    assert [alarm["say"].split(";")[0] for alarm in heard(wished)] == ["rear corner: prime"]
    assert ("plan begun", "rear corner\n") not in buttons(wished)
    assert "CANCELLED" in wished.get("/bench.ics").text
    touched(wished, "plan let go")
    assert heard(wished) == []
    wished.post("/undo", data={"act": str(did["act"])}, headers=ORIGIN)
    assert parts.part(garage.bench.reader, "rear corner", "", garage.clock()).bare_since is None
    assert ("plan begun", "rear corner\n") not in buttons(wished), "nothing reminds any more"


def test_a_plan_that_moves_while_the_bench_is_open_takes_its_reminders_along(
    garage: Garage, wished: FlaskClient
) -> None:
    touched(wished, "plan remind")
    before = heard(wished)[0]["at"]
    garage.clock.at += timedelta(days=1)
    context = context_of(garage)
    planning.follow(context, planning.work_out(context))
    assert planning.current(context) is not None
    assert heard(wished)[0]["at"] > before
    assert "Moved from " in wished.get("/").text


def tried(browser: FlaskClient, *, polls: int = 0) -> dict[str, Any]:
    """What the page shows of what would help: touched, or asked again."""
    body = {
        "output": "..plan-helps.children...plan-helps-again.disabled..",
        "outputs": [
            {"id": "plan-helps", "property": "children"},
            {"id": "plan-helps-again", "property": "disabled"},
        ],
        "inputs": [
            prop("plan-helps-try", "n_clicks", 1),
            prop("plan-helps-again", "n_intervals", polls),
        ],
        "state": [prop("url", "pathname", "/plan")],
        "changedPropIds": ["plan-helps-try.n_clicks"],
    }
    answer = send(browser, body)
    assert answer.status_code == 200, answer.text
    data: dict[str, Any] = (answer.json or {})["response"]
    return data


def test_what_would_help_several_parts_is_tried_beside_the_pages_with_its_cautions(
    garage: Garage, wished: FlaskClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    sent(wished, "plan wish", WISH | {"part": "door", "by": "", "way": "fill-a-dent"})
    assert "Try what would help" in answered(wished)
    week, may_end = planning.work_out(context_of(garage)).week, threading.Event()

    def helps(_bench: Any, _now: Any, _zone: Any) -> tuple[WeekHelp, ...]:
        assert may_end.wait(30)
        return (WeekHelp("lamp", "work lamp", "door", week.parts[:1]),)

    monkeypatch.setattr("curewatch.week.gather.week_helps", helps)
    first = tried(wished)
    assert "takes some seconds" in json.dumps(first)
    assert first["plan-helps-again"]["disabled"] is False
    may_end.set()
    trial = context_of(garage).background.begun(week)
    assert trial is not None
    trial.result(30)
    then = tried(wished, polls=1)
    shown = json.dumps(then, ensure_ascii=False)
    assert then["plan-helps-again"]["disabled"] is True
    assert "Work lamp on door while you are there, once the clamps are on: rear corner: " in shown
    assert "Heat only while you are there" in shown
    assert "carbon monoxide" in shown
    assert "Heat only while you are there" in wished.get("/plan").text


def test_a_trial_that_failed_says_why(
    garage: Garage, wished: FlaskClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    sent(wished, "plan wish", WISH | {"part": "door", "by": "", "way": "fill-a-dent"})
    week = planning.work_out(context_of(garage)).week

    def helps(_bench: Any, _now: Any, _zone: Any) -> tuple[WeekHelp, ...]:
        raise StepError("when are you there?", fix="enter it")

    monkeypatch.setattr("curewatch.week.gather.week_helps", helps)
    tried(wished)
    trial = context_of(garage).background.begun(week)
    assert trial is not None
    assert isinstance(trial.exception(30), StepError)
    assert "When are you there?" in json.dumps(tried(wished, polls=1))


def test_how_often_promises_held_is_said_after_ten(
    garage: Garage, wished: FlaskClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("tests.support.wishes.NOW", garage.clock())
    promised(garage.bench, 9, made=9, held=7)
    assert "Your 9 in 10 held" not in answered(wished)
    promised(garage.bench, 8, made=10, held=8)
    shown = answered(wished)
    assert "Your 8 in 10 held 8 of 10." in shown
    assert "Your 9 in 10 held" not in shown
    assert "Your 8 in 10 held 8 of 10." in wished.get("/plan").text


def test_another_chance_that_is_shown_is_kept_at_once(garage: Garage, wished: FlaskClient) -> None:
    answered(wished)
    context = context_of(garage)
    plans = planning.work_out(context)
    planning.keep_shown(context, plans)
    assert len(garage.store.entries(kept.PLAN)) == 1
    part = replace(plans.week.parts[0], chance=0.31)
    planning.keep_shown(context, replace(plans, week=replace(plans.week, parts=(part,))))
    last: Any = garage.store.entries(kept.PLAN)[-1].body["promises"]
    assert [row["tenths"] for row in last] == [3]
