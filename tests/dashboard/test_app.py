"""The pages over HTTP: what they hold, what they refuse, how they answer."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from flask.testing import FlaskClient
from werkzeug.test import TestResponse

from curewatch.garage import unnamed_mix
from curewatch.products.label import id_of
from curewatch.products.sheet import generic_sheets
from curewatch.wording import milestone_words, words
from dashboard.access.guard import POLICY, host_is_ours
from dashboard.app import _DASH
from dashboard.pages.delivery import policy
from dashboard.pages.routes import Routes
from tests.support.dash_pages import buttons, mixing, sent, touched
from tests.support.notices import codes
from tests.support.pages import EVENING, SETTINGS, Garage, open_garage, weather

PAGES = (
    "/", "/mix", "/mix/epoxy-primer", "/air", "/air/sensors", "/air/salt",
    "/shelf", "/shelf/epoxy-primer", "/shelf/epoxy-primer/edit", "/shelf/new", "/logbook",
    "/choices", "/step/1", "/air/out", "/air/masks", "/mix/epoxy-panel-adhesive/rehearse",
    
    "/parts", "/parts?part=lower corner patch&job=camper", "/morning",
)  # fmt: skip
ORIGIN = {"Origin": "http://localhost"}


@pytest.fixture
def garage(tmp_path: Path) -> Iterator[Garage]:
    """A garage with two days of weather and one step hardening."""
    garage = open_garage(tmp_path)
    garage.hear(weather(EVENING))
    garage.mix("epoxy-panel-adhesive", 20, part="lower corner patch", job="camper", amount_g=60.0)
    yield garage
    garage.store.close()


@pytest.fixture
def browser(garage: Garage) -> FlaskClient:
    return garage.app.test_client()


def page(browser: FlaskClient) -> str:
    """The bench as it is seen: without what it keeps for when its countdown runs out."""
    text = browser.get("/").text
    return re.sub(r'<div[^>]*class="band due after".*?</section>', "", text, flags=re.S)


def send(browser: FlaskClient, path: str, **fields: Any) -> TestResponse:
    headers = ORIGIN | ({"X-Live": "1"} if fields.pop("live", False) else {})
    return browser.post(path, data=fields, headers=headers)


def drawn_by_dash(path: str) -> bool:
    return Routes(_DASH).at(path.partition("?")[0]) is not None


@pytest.mark.parametrize("path", PAGES)
def test_every_page_answers_with_caution_and_strict_headers(
    browser: FlaskClient, path: str
) -> None:
    answer = browser.get(path)
    assert answer.status_code == 200
    assert "The label and the safety data sheet come first" in answer.text
    assert "licensed practice" in answer.text
    assert answer.headers["Content-Security-Policy"] == (
        policy() if drawn_by_dash(path) else POLICY
    )
    assert answer.headers["X-Content-Type-Options"] == "nosniff"
    assert not re.search(r"<script(?![^>]*src=)|\sstyle=|\son\w+=", answer.text)


@pytest.mark.parametrize("path", PAGES)
def test_no_page_says_ready_or_safe(browser: FlaskClient, path: str) -> None:
    text = re.sub(r"<[^>]*>", " ", browser.get(path).text)
    assert not re.search(r"\bsafe\b", text, re.I)
    assert not re.search(r"(?<!sand-)(?<!sand )\bready\b", text, re.I)


@pytest.mark.parametrize(
    ("path", "entry"),
    [
        ("/", "bench"),
        ("/mix/epoxy-primer", "mix"),
        ("/air/sensors", "air"),
        ("/step/1", "log"),
        ("/step/1/history", "log"),
        ("/undo", "log"),
        ("/morning", "parts"),
        ("/heaters", "settings"),
    ],
)
def test_the_menu_marks_where_a_page_belongs(browser: FlaskClient, path: str, entry: str) -> None:
    text = browser.get(path).text
    assert re.findall(r'id="to-([a-z]+)" aria-current="page"', text) == [entry]


def test_the_bench_says_that_its_logbook_was_deleted(browser: FlaskClient, garage: Garage) -> None:
    assert words.LOGBOOK_GONE not in page(browser)
    garage.store.path.unlink()
    assert words.LOGBOOK_GONE in page(browser)
    wrong, _ = sent(browser, "step note", {"text": "dry by noon"}, key="1")
    assert "was deleted, moved or replaced" in wrong["text"]


def test_the_bench_says_what_to_do_next_and_why(browser: FlaskClient) -> None:
    text = browser.get("/").text
    assert "Finish working lower corner patch" in text
    assert 'role="timer"' in text
    assert "°C: ×" in text
    assert "likely good to" in text


def test_a_countdown_that_ran_out_says_test_now_and_counts_up(
    garage: Garage, browser: FlaskClient
) -> None:
    garage.clock.at += timedelta(hours=2)
    text = browser.get("/").text
    assert "<em>Test now</em>" in text
    assert milestone_words.TEST["working_time"] in text
    assert "data-up=" in text
    for name in ("No, it drags", "Yes", "Ask me in 10 min"):
        assert f">{name}</button>" in text


def test_an_answer_moves_the_bench_on(garage: Garage, browser: FlaskClient) -> None:
    garage.clock.at += timedelta(hours=2)
    did = touched(browser, "answer", "1/working_time/gone-off")["did"]["data"]
    assert did["said"] == "Saved for lower corner patch: no longer workable."
    text = browser.get("/").text
    assert "Unclamp lower corner patch" in text or "Clamps off? lower corner patch" in text


def test_later_puts_it_off_for_ten_minutes(garage: Garage, browser: FlaskClient) -> None:
    garage.clock.at += timedelta(hours=2)
    touched(browser, "answer", "1/working_time/later")
    assert "<em>Test now</em>" not in page(browser)
    garage.clock.at += timedelta(minutes=11)
    assert "<em>Test now</em>" in page(browser)


def test_a_witness_is_recorded_with_one_touch(garage: Garage, browser: FlaskClient) -> None:
    did = touched(browser, "dab", "1/stringy")["did"]["data"]
    assert did["said"] == "Dab of lower corner patch at 19:42: stringy."
    assert garage.bench.step(1).witnesses[0].state == "stringy"
    assert "stringy" in browser.get("/step/1").text
    event = garage.bench.step(1).witnesses[0].id
    touched(browser, "step undo", f"1/{event}")
    assert not garage.bench.step(1).witnesses


def test_a_touch_that_could_not_be_stored_may_be_sent_again(
    garage: Garage, browser: FlaskClient
) -> None:
    def touch() -> str:
        return str(touched(browser, "dab", "1/stringy", once="w")["did"]["data"]["said"])

    garage.store._connection.execute("PRAGMA query_only = ON")
    assert "Seen" not in touch()
    garage.store._connection.execute("PRAGMA query_only = OFF")
    assert touch() == "Dab of lower corner patch at 19:42: stringy."
    assert len(garage.bench.step(1).witnesses) == 1
    assert touch() == "Saved."
    assert len(garage.bench.step(1).witnesses) == 1


def test_reminders_that_nobody_answered_wait_on_the_bench(
    garage: Garage, browser: FlaskClient
) -> None:
    mixing(browser, "fibre-polyester-filler", part="rib")
    assert "Respirator on" in browser.get("/").text
    assert ("remind", "2/respirator") in buttons(browser)
    touched(browser, "remind", "2/respirator")
    assert ("remind", "2/respirator") not in buttons(browser)
    assert garage.bench.step(2).acknowledged.keys() == {"respirator"}


def test_a_typed_reading_is_kept_in_celsius(garage: Garage, browser: FlaskClient) -> None:
    boxes = {"place": "panel", "surface": "12,5", "humidity": "68", "ago": "0"}
    sent(browser, "typed reading", boxes)
    last = {(reading.place, reading.quantity): reading.value for reading in garage.store.latest()}
    assert ("panel", "relative_humidity") in last
    typed = [reading for reading in garage.store.latest() if reading.source == "typed"]
    assert {reading.value for reading in typed} == {12.5, 68.0}


def test_a_reader_in_fahrenheit_types_and_reads_fahrenheit(tmp_path: Path) -> None:
    garage = open_garage(tmp_path, settings=replace(SETTINGS, temperature_unit="F", hours=12))
    page = garage.app.test_client()
    sent(page, "typed reading", {"place": "panel", "surface": "50"})
    assert garage.store.latest()[0].value == pytest.approx(10.0)
    assert "50.0 °F" in page.get("/").text
    assert "7:42 pm" in page.get("/").text
    garage.store.close()


@pytest.mark.parametrize(
    ("fields", "box", "sentence"),
    [
        ({}, "", "no reading was typed"),
        ({"surface": "abc"}, "", "is not a temperature"),
        ({"surface": "200"}, "", "is outside"),
        ({"humidity": "140"}, "", "is outside 0..100 %"),
        ({"surface": "12", "place": "Über"}, "", "is not a name for a place"),
        ({"surface": "12", "ago": "long"}, "ago", "is not a number of minutes"),
    ],
)
def test_a_reading_that_cannot_be_says_why(
    browser: FlaskClient, fields: dict[str, str], box: str, sentence: str
) -> None:
    wrong, more = sent(browser, "typed reading", fields)
    assert sentence in wrong[box]
    assert "did" not in more


def test_what_was_refused_is_counted_in_sight(garage: Garage, browser: FlaskClient) -> None:
    garage.store.refuse(EVENING, "mqtt curewatch/panel/surface_temperature", "NaN is not a number.")
    text = browser.get("/air/sensors").text
    assert "NaN is not a number." in text


def test_a_removed_product_is_off_the_mix_page(garage: Garage, browser: FlaskClient) -> None:
    text = generic_sheets()["epoxy-panel-adhesive"].text.replace("Two-part epoxy", "Mine")
    garage.store.save_sheet("mine", text, garage.clock())
    garage.mix("mine", 5)
    assert 'href="/mix/mine"' in browser.get("/mix").text
    garage.store.remove_sheet("mine", garage.clock())
    assert 'href="/mix/mine"' not in browser.get("/mix").text


def test_a_doubtful_sheet_kept_before_still_times_its_steps(garage: Garage) -> None:
    text = generic_sheets()["epoxy-panel-adhesive"].text.replace("Two-part epoxy", "Old")
    row = '[[times]]\ntemperature = "15 C"\nclamp_time = "10 min"\n\n[limits]'
    garage.store.save_sheet("old", text.replace("[limits]", row), garage.clock())
    number = garage.mix("old", 5)
    view = garage.bench.step_view(number, garage.clock())
    assert view.by_name["clamp_time"].shown is not None
    assert "check-figures" in codes(view.warnings)


@pytest.mark.parametrize(
    ("name", "id"), [("Grey tin", "grey-tin"), ("  ", "sheet"), ("Ä" * 3 + "x" * 90, "x" * 60)]
)
def test_an_id_comes_from_the_name(name: str, id: str) -> None:
    assert id_of(name) == id


def test_the_logbook_shows_conditions_and_gives_csv(garage: Garage, browser: FlaskClient) -> None:
    garage.clock.at += timedelta(minutes=30)
    text = browser.get("/logbook").text
    assert "camper" in text
    assert "humidity 72 %" in text
    assert "least / mean / most" in browser.get("/step/1").text
    answer = browser.get("/logbook.csv")
    assert answer.headers["Content-Type"].startswith("text/csv")
    assert answer.text.splitlines()[0].startswith("step,job,part")
    assert "lower corner patch" in answer.text


def test_a_step_is_finished_or_abandoned_with_a_reason(
    garage: Garage, browser: FlaskClient
) -> None:
    assert "needs a reason" in sent(browser, "step failed", {"why": " "}, key="1")[0]["why"]
    sent(browser, "step failed", {"why": "never set"}, key="1")
    assert "Nothing on the bench" in browser.get("/").text
    assert "never set" in browser.get("/step/1").text


def test_details_are_added_later_and_marked(garage: Garage, browser: FlaskClient) -> None:
    wrong, side = sent(browser, "step field", {"value": "L7"}, key="1/batch")
    assert (set(wrong.values()), garage.bench.step(1).batch) == ({""}, "L7")
    assert side["did"]["data"]["label"] == "Undo"
    wrong, _ = sent(browser, "step field", {"value": "0 g"}, key="1/amount_g")
    assert wrong["value"] != ""


def test_the_state_tells_the_time_and_whether_anything_changed(
    garage: Garage, browser: FlaskClient
) -> None:
    first = browser.get("/state.json").json
    garage.clock.at += timedelta(seconds=2)
    again = browser.get("/state.json").json
    assert first
    assert again
    assert again["now"] - first["now"] == 2000
    assert again["speed"] == 0
    assert again["revision"] == first["revision"]
    garage.hear(weather(garage.clock(), base_c=6, hours=0.05))
    assert (browser.get("/state.json").json or {})["revision"] != first["revision"]


def test_the_state_names_what_should_sound_and_when(garage: Garage, browser: FlaskClient) -> None:
    state = browser.get("/state.json").json
    assert state is not None
    assert {each["kind"] for each in state["alarms"]} == {"due", "ending"}
    garage.clock.at += timedelta(hours=3)
    late = browser.get("/state.json").json
    assert late is not None
    assert "lost" in {each["kind"] for each in late["alarms"]}


def test_an_old_reading_is_dimmed_and_says_so(garage: Garage, browser: FlaskClient) -> None:
    garage.clock.at += timedelta(hours=3)
    text = browser.get("/").text
    assert 'class="figure old"' in text
    assert re.search(r"old:\s*<time[^>]*>3 h ago", text)


@pytest.mark.parametrize(
    "headers",
    [{}, {"Origin": "http://evil.example"}, {"Origin": "null"}, {"Referer": "http://a.example/"}],
)
def test_a_form_from_elsewhere_is_refused(
    garage: Garage, browser: FlaskClient, headers: dict[str, str]
) -> None:
    assert browser.post("/mixed", headers=headers).status_code == 403
    assert unnamed_mix.waiting(garage.store, garage.clock()) == []


@pytest.mark.parametrize(
    ("host", "ours"),
    [
        ("127.0.0.1:8050", True),
        ("localhost", True),
        ("[::1]:8050", True),
        ("192.168.1.7:8050", True),
        ("evil.example", False),
        ("", False),
    ],
)
def test_only_this_machines_names_are_answered(host: str, ours: bool) -> None:
    assert host_is_ours(host) is ours


def test_another_hosts_name_is_refused_with_a_plain_page(browser: FlaskClient) -> None:
    answer = browser.get("/", headers={"Host": "evil.example"})
    assert answer.status_code == 400
    assert "did not understand" in answer.text


@pytest.mark.parametrize(
    ("path", "code"),
    [
        ("/nowhere", 404),
        ("/step/99", 404),
        ("/shelf/none", 404),
        ("/mix/none", 404),
        ("/assets/x/y", 404),
    ],
)
def test_what_is_not_there_is_said_plainly(browser: FlaskClient, path: str, code: int) -> None:
    answer = browser.get(path)
    assert answer.status_code == code
    assert "Traceback" not in answer.text
    assert "Back to the bench" in answer.text
    assert re.search(r"there is no|: curewatch ", answer.text) is None, "a sentence, no command"


def test_a_fault_inside_gives_a_plain_page(garage: Garage, browser: FlaskClient) -> None:
    garage.store.close()
    answer = browser.get("/")
    assert answer.status_code >= 400
    assert "Traceback" not in answer.text


def test_too_much_at_once_is_refused(browser: FlaskClient) -> None:
    assert send(browser, "/undo", text="x" * 300_000).status_code == 413


def test_static_files_are_kept_by_their_content(browser: FlaskClient) -> None:
    text = browser.get("/").text
    for name in ("curewatch.css", "curewatch.js"):
        path = re.search(rf"/assets/[0-9a-f]{{12}}/{re.escape(name)}", text)
        assert path
        assert "immutable" in browser.get(path[0]).headers["Cache-Control"]
    assert "no-store" in browser.get("/").headers["Cache-Control"]


def test_the_manifest_names_the_app_and_its_icons(browser: FlaskClient) -> None:
    found = browser.get("/manifest.webmanifest").json
    assert found is not None
    assert found["name"] == "curewatch"
    for icon in found["icons"]:
        assert browser.get(icon["src"]).status_code == 200


def test_choices_are_kept_on_the_device(browser: FlaskClient) -> None:
    send(browser, "/choices", theme="light")
    send(browser, "/choices", layout="nonsense")
    browser.set_cookie("decimal", "comma")
    text = browser.get("/").text
    assert 'data-theme="light"' in text
    assert re.search(r"\d,\d °C", text)
    assert 'data-layout="garage"' in text


def test_a_first_start_teaches(tmp_path: Path) -> None:
    garage = open_garage(tmp_path)
    text = garage.app.test_client().get("/").text
    assert "Nothing on the bench" in text
    assert "Start the clock when hardener meets resin" in text
    assert "Nothing measured yet" in garage.app.test_client().get("/air").text
    assert "No step yet" in garage.app.test_client().get("/logbook").text
    garage.store.close()


def test_a_bench_too_cold_gives_no_time_and_says_what_would_help(tmp_path: Path) -> None:
    garage = open_garage(tmp_path)
    garage.hear(weather(EVENING, base_c=2.0))
    number = garage.mix("epoxy-panel-adhesive", 5, part="lower corner patch")
    text = garage.app.test_client().get("/").text
    assert "Finish working lower corner patch" in text
    assert "below this product&#39;s minimum: it may not cure properly" in text
    assert "can be given" not in text
    garage.bench.test(number, "gone-off", milestone="working_time", now=garage.clock(), sure=True)
    text = garage.app.test_client().get("/").text
    assert "can be given" in text
    assert "lower corner patch: no time for" in text
    garage.store.close()


def mixed(browser: FlaskClient, **fields: Any) -> str:
    answer = send(browser, "/mixed", live=True, **fields)
    assert answer.json
    return str(answer.json["said"])


def test_mixed_now_with_nothing_said_keeps_the_moment_and_asks(
    garage: Garage, browser: FlaskClient
) -> None:
    assert mixed(browser, once="m") == "Mixed at 19:42. What was it?"
    assert len(garage.store.steps()) == 1
    text = page(browser)
    assert "what was it?" in text
    garage.clock.at += timedelta(minutes=3)
    number = unnamed_mix.waiting(garage.store, garage.clock())[0].id
    assert named(browser, number) == "Started: Two-part epoxy primer"
    step = garage.bench.step(2)
    assert (step.mixed_at, step.recorded_at) == (EVENING, garage.clock())
    assert "what was it?" not in page(browser)


def named(browser: FlaskClient, number: int) -> str:
    """Name a touch the epoxy primer: what the toast says."""
    did = touched(browser, "name touch", f"{number}/epoxy-primer")["did"]["data"]
    return str(did["said"])


def test_on_an_empty_bench_one_name_is_one_button(garage: Garage, browser: FlaskClient) -> None:
    for step in garage.bench.view(garage.clock()).steps:
        garage.bench.finish(step.id, now=garage.clock())
    text = browser.get("/").text
    assert len(re.findall(r">\s*(?:<b>)?Mixed now<", text)) == 1
    assert "<b>Start again, clock runs at once</b>" in text


def test_mixed_again_takes_all_but_the_part_from_the_last_time(
    garage: Garage, browser: FlaskClient
) -> None:
    touched(browser, "start again", "epoxy-panel-adhesive")
    step = garage.bench.step(2)
    assert (step.part, step.job, step.amount_g) == ("", "camper", 60.0)


def test_a_touch_is_named_once(garage: Garage, browser: FlaskClient) -> None:
    mixed(browser)
    number = unnamed_mix.waiting(garage.store, garage.clock())[0].id
    named(browser, number)
    assert "was named already" in named(browser, number)
    assert len(garage.store.steps()) == 2
    assert browser.get(f"/mixed/{number}").status_code == 404


def test_a_touch_can_be_taken_back(garage: Garage, browser: FlaskClient) -> None:
    mixed(browser)
    found = unnamed_mix.waiting(garage.store, garage.clock())[0]
    assert "Nothing was mixed" in browser.get(f"/mixed/{found.id}").text
    assert send(browser, "/undo", act=found.act, once="x").status_code == 303
    assert "what was it?" not in page(browser)


@pytest.mark.parametrize(
    ("act", "key", "sentence"),
    [
        ("start again", "none", "there is no product 'none'"),
        ("name touch", "99/epoxy-primer", "was named already"),
    ],
)
def test_mixed_now_with_what_is_not_there_says_so(
    garage: Garage, browser: FlaskClient, act: str, key: str, sentence: str
) -> None:
    assert sentence in touched(browser, act, key)["did"]["data"]["said"]
    assert len(garage.store.steps()) == 1


def test_mixed_against_a_stop_runs_and_its_reason_is_told_afterwards(tmp_path: Path) -> None:
    garage = open_garage(tmp_path)
    garage.hear(weather(EVENING, base_c=2.0))
    browser = garage.app.test_client()
    touched(browser, "start again", "epoxy-primer")
    assert garage.bench.step(1).unexplained
    assert "mixing anyway because" in page(browser)
    assert sent(browser, "step why", {"why": " "}, key="1")[0]["why"]
    assert garage.bench.step(1).unexplained
    sent(browser, "step why", {"why": "a trial piece only"}, key="1")
    assert garage.bench.step(1).unexplained == ()
    assert {override.why for override in garage.bench.step(1).overrides} == {"a trial piece only"}
    garage.store.close()


def test_only_what_sounds_now_is_logged_as_heard(garage: Garage, browser: FlaskClient) -> None:
    garage.clock.at += timedelta(hours=2)
    state = browser.get("/state.json").json
    assert state is not None
    key = next(each["key"] for each in state["alarms"] if each["kind"] == "due")
    for sounded in (key, key, "due.1.full_cure.0", "made up"):
        assert send(browser, "/step/1/sounded", live=True, key=sounded).status_code == 200
    words_kept = [happening.body["words"] for happening in garage.bench.step(1).of("sounded")]
    assert words_kept == ["working time, lower corner patch: test now"]
    assert "working time, lower corner patch: test now" in browser.get("/step/1").text


def test_the_cup_is_told_empty_from_page_and_command_alike(
    garage: Garage, browser: FlaskClient
) -> None:
    garage.clock.at += timedelta(minutes=40)
    assert "Cup empty, tools cleaned" in page(browser)
    touched(browser, "in use", "1")
    assert garage.bench.step(1).in_use_until == garage.clock() + timedelta(minutes=15)
    touched(browser, "emptied", "1")
    assert garage.bench.step(1).emptied_at == garage.clock()
    garage.clock.at += timedelta(minutes=20)
    assert "Cup empty, tools cleaned" not in page(browser)


def test_the_reason_is_about_the_milestone_that_is_counted_down_to(
    garage: Garage, browser: FlaskClient
) -> None:
    assert "label working time 50 min" in page(browser)
    touched(browser, "answer sure", "1/working_time/gone-off")
    assert "label clamps off 4 h" in page(browser)
    milestones = garage.bench.step_view(1, garage.clock()).milestones
    clamps = next(milestone for milestone in milestones if milestone.name == "clamp_time")
    assert clamps.likely
    garage.clock.at = clamps.likely + timedelta(minutes=5)
    garage.hear(weather(garage.clock(), hours=3))
    text = page(browser)
    assert "likely since" in text
    assert "label clamps off 4 h" in text
