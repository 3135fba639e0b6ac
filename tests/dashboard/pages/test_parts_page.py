"""Parts, the evening, the night and the cans as pages, by their routes."""

from __future__ import annotations

import json
import re
from datetime import timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from flask.testing import FlaskClient

from curewatch.garage import cans, evening, parts
from curewatch.garage.cans import CanDetails
from tests.support.dash_pages import arriving, mixing, send, sent, touched
from tests.support.pages import ALL_REMINDERS, EVENING, Garage, open_garage, weather

BERLIN = ZoneInfo("Europe/Berlin")
RIB = {"part": "left rear rib", "job": "corner"}
RIB_KEY = '["left rear rib","corner","panel"]'


@pytest.fixture
def garage(tmp_path: Path) -> Garage:
    garage = open_garage(tmp_path)
    garage.hear(weather(EVENING))
    garage.mix("epoxy-panel-adhesive", 20, part="lower patch", job="corner")
    return garage


@pytest.fixture
def browser(garage: Garage) -> FlaskClient:
    return garage.app.test_client()


def drawn(browser: FlaskClient, path: str, search: str = "") -> str:
    """A page's components as Dash draws them."""
    return json.dumps(send(browser, arriving(path, search)).json, ensure_ascii=False)


def one(browser: FlaskClient) -> str:
    """The page of the rib."""
    return browser.get("/parts", query_string=RIB).text


def test_the_list_says_what_is_next_and_what_fits_before_one_stops(browser: FlaskClient) -> None:
    assert "Clamps off: test from" in browser.get("/parts").text
    wrong, more = sent(browser, "working until", {"until": "23:30"})
    assert (wrong["until"], more["did"]["data"]["label"]) == ("", "Undo")
    text = browser.get("/parts").text
    assert "Before 23:30" in text
    assert '"value": "23:30"' in drawn(browser, "/parts")


def test_a_stopping_time_that_is_none_is_refused_at_its_box(browser: FlaskClient) -> None:
    wrong, more = sent(browser, "working until", {"until": "late"})
    assert "is not a time of day" in wrong["until"]
    assert "did" not in more


def test_a_bare_part_is_told_covered_and_marked_by_touch(
    garage: Garage, browser: FlaskClient
) -> None:
    texts = RIB | {"since": "18:00", "grit": "80", "cleaned_with": "panel wipe"}
    sent(browser, "cleaned to metal", texts, once="a")
    sent(browser, "cleaned to metal", texts, once="a")
    assert len(garage.store.entries(parts.SUBJECT)) == 1
    text = one(browser)
    assert "Bare since 18:00, 1 h 42, counts as 3 h" in text
    assert "80 grit, cleaned with panel wipe" in text
    touched(browser, "mark part", RIB_KEY[:-1] + ',"structural"]')
    assert "the maker&#39;s procedure" in one(browser)
    assert "test from" not in one(browser)
    touched(browser, "mark part", RIB_KEY[:-1] + ',"body"]')
    touched(browser, "covered", RIB_KEY)
    assert "Bare since" not in one(browser)
    touched(browser, "part finished", RIB_KEY)
    assert "<b>Finished</b>" in one(browser)
    wrong, _ = sent(browser, "cleaned again", {"since": "soon"}, key=RIB_KEY)
    assert "is not a time of day" in wrong["since"]
    sent(browser, "cleaned again", {"since": "17:00", "grit": "", "cleaned_with": ""}, key=RIB_KEY)
    assert "Bare since 17:00" in one(browser)


def test_finishing_a_part_asks_once_while_something_on_it_is_curing(
    garage: Garage, browser: FlaskClient
) -> None:
    key = '["lower patch","corner","panel"]'
    text = json.dumps(touched(browser, "part finished", key)["asked"], ensure_ascii=False)
    assert "Two-part epoxy panel adhesive on it is still curing. Clamps off: test from" in text
    assert not parts.find(garage.store, "lower patch", "corner").done
    touched(browser, "part finished sure", key)
    assert parts.find(garage.store, "lower patch", "corner").done


@pytest.mark.parametrize("key", ["", "x", "[]", "[1,2,3]", '["nothing","",""]', "{}"])
def test_a_touch_on_a_part_that_is_not_there_says_so(browser: FlaskClient, key: str) -> None:
    assert "there is no" in str(touched(browser, "covered", key))


def test_after_filler_on_bare_metal_the_part_asks(garage: Garage, browser: FlaskClient) -> None:
    sent(browser, "cleaned to metal", RIB)
    garage.clock.at += timedelta(hours=1)
    garage.mix("fibre-polyester-filler", 5, **RIB)
    assert "is any metal still bare?" in one(browser)
    touched(browser, "still bare", RIB_KEY)
    assert "is any metal still bare?" not in one(browser)
    assert "Bare since" in one(browser)


def test_a_part_nobody_told_of_is_said_so(browser: FlaskClient) -> None:
    answer = browser.get("/parts?part=nothing")
    assert answer.status_code == 404
    assert "no such part" in answer.text


def test_names_with_markup_stay_text(browser: FlaskClient) -> None:
    bad = {"part": '<script>alert("x")</script>', "job": "../../etc & <b>"}
    sent(browser, "cleaned to metal", bad | {"cleaned_with": "<i>"})
    text = browser.get("/parts").text + browser.get("/parts", query_string=bad).text
    assert "<script>alert" not in text
    assert "&lt;script&gt;" in text


def test_what_asks_stands_first_and_finished_parts_are_folded(
    garage: Garage, browser: FlaskClient
) -> None:
    garage.mix("fibre-polyester-filler", 600, part="wheel arch", job="corner")
    sent(browser, "cleaned to metal", {"part": "door skin", "job": "corner"})
    sent(browser, "cleaned to metal", {"part": "sill", "job": "corner"})
    touched(browser, "part finished", '["sill","corner","panel"]')
    text = browser.get("/parts").text
    rows = [text.index(name) for name in ("wheel arch", "door skin", "lower patch")]
    assert rows == sorted(rows)
    assert "Finished, 1" in text[rows[-1] :]
    assert "sill" not in text[: text.index("Finished, 1")]


def test_the_bench_asks_once_at_the_end_of_an_evening(garage: Garage, browser: FlaskClient) -> None:
    sent(browser, "cleaned to metal", RIB)
    assert "Is any metal bare?" not in browser.get("/").text
    garage.clock.at += timedelta(hours=2)
    assert "Is any metal bare?" in browser.get("/").text
    touched(browser, "bare metal", "as listed")
    text = browser.get("/").text
    assert "Is any metal bare?" not in text
    assert "Bare metal: <b>left rear rib" in text
    assert evening.answered(garage.store, garage.clock(), BERLIN)


def test_none_takes_the_listed_ones_off(garage: Garage, browser: FlaskClient) -> None:
    sent(browser, "cleaned to metal", RIB)
    garage.clock.at += timedelta(hours=2)
    touched(browser, "bare metal", "none")
    assert "Bare metal:" not in browser.get("/").text


def morning_after(garage: Garage, base_c: float) -> None:
    """The next morning at half past six, after a night about a temperature. [C]"""
    garage.clock.at += timedelta(hours=10, minutes=48)
    garage.hear(weather(garage.clock.at, base_c, hours=11))


def test_the_morning_tells_the_night_on_the_bench_and_on_its_page(
    garage: Garage, browser: FlaskClient
) -> None:
    assert "Last night: " not in browser.get("/").text
    morning_after(garage, 9.0)
    assert "Last night: <b>lower patch" in browser.get("/").text
    text = browser.get("/morning").text
    assert re.search(r"Lower patch did not cure for \d+ h( \d\d)? \(below 10 °C\)\. Cold", text)
    assert "Coldest 5.0 °C at " in text
    assert "Not curing since" in text or "Not curing from" in text
    assert '"type": "Graph"' in drawn(browser, "/morning")


def test_a_warm_night_names_no_standstill(garage: Garage, browser: FlaskClient) -> None:
    morning_after(garage, 18.0)
    text = browser.get("/morning").text
    assert "Nothing was too cold to cure." in text
    assert "Not curing" not in text
    assert "test now" in text or "test from" in text


def test_the_first_sentence_of_the_morning_says_what_to_test(
    garage: Garage, browser: FlaskClient
) -> None:
    garage.mix("fibre-polyester-filler", 30, part="wheel arch")
    morning_after(garage, 18.0)
    assert 'told">Test now: ' in browser.get("/morning").text


def test_a_structural_joint_has_a_night_without_figures(
    garage: Garage, browser: FlaskClient
) -> None:
    parts.mark(garage.store, "lower patch", "corner", "structural", now=garage.clock())
    morning_after(garage, 9.0)
    text = browser.get("/morning").text
    assert "the maker&#39;s procedure" in text
    assert "not cure" not in text
    assert "test from" not in text
    assert '"type": "Graph"' not in drawn(browser, "/morning")


def test_a_night_with_nothing_on_the_bench_says_so(tmp_path: Path) -> None:
    text = open_garage(tmp_path).app.test_client().get("/morning").text
    assert "Nothing was on the bench last night, and no metal was bare." in text


def test_among_very_many_parts_the_oldest_still_has_its_page(
    garage: Garage, browser: FlaskClient
) -> None:
    for number in range(85):
        parts.mark(garage.store, f"part {number}", f"job {number % 3}", "body", now=garage.clock())
    text = browser.get("/parts").text
    assert "Only the parts worked on last." in text
    assert 'href="/parts?job=job+2"' in text
    hidden = next(n for n in range(85) if f">part {n}<" not in text)
    query = {"part": f"Part {hidden}", "job": f"JOB {hidden % 3}"}
    assert f"<h1>part {hidden}</h1>" in browser.get("/parts", query_string=query).text
    only = browser.get("/parts?job=job 2").text
    assert "part 2<" in only
    assert "part 1<" not in only


def test_the_mix_page_leaves_the_batch_to_the_can_in_use(
    garage: Garage, browser: FlaskClient
) -> None:
    garage.mix("epoxy-primer", 300, part="roof", batch="old one")
    assert '"old one"' in drawn(browser, "/mix/epoxy-primer")
    cans.add(garage.store, "epoxy-primer", CanDetails("P-7", "H-2"), now=garage.clock())
    text = drawn(browser, "/mix/epoxy-primer")
    assert '"old one"' not in text
    assert "P-7, hardener H-2, the can in use" in text
    mixing(browser, "epoxy-primer", acknowledged=list(ALL_REMINDERS), why="a trial")
    step = garage.bench.step(3)
    assert (step.batch, step.recorded["hardener_batch"]) == ("P-7", "H-2")


def test_from_a_part_to_its_mix_the_part_is_filled_in(garage: Garage, browser: FlaskClient) -> None:
    garage.mix("epoxy-primer", 3000, part="roof", job="top")
    sent(browser, "cleaned to metal", RIB)
    text = one(browser)
    link = text.split('href="/mix/')[1].split('"')[0].replace("&amp;", "&")
    form = drawn(browser, *f"/mix/{link}".split("?"))
    assert '"value": "left rear rib"' in form
    assert '"value": "corner"' in form
