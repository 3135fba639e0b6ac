"""The bench as Dash draws it: first by the server, then in parts, and what its touches record."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from typing import Any

import plotly.graph_objects as go
import pytest
from flask.testing import FlaskClient

from dashboard.pages.bench import page as bench_page
from tests.support.dash_pages import arriving, buttons, prop, send, touched
from tests.support.pages import EVENING, SETTINGS, Garage, open_garage, weather
from tests.support.scenes import STATES

LOOK = {"w": 1740, "h": 400, "layout": "garage", "theme": "dark"}


@pytest.fixture
def garage(tmp_path: Path) -> Iterator[Garage]:
    garage = open_garage(tmp_path)
    garage.hear(weather(EVENING))
    garage.mix("epoxy-panel-adhesive", 20, part="lower corner patch", job="camper", amount_g=60.0)
    yield garage
    garage.store.close()


@pytest.fixture
def browser(garage: Garage) -> FlaskClient:
    return garage.app.test_client()


def renewal(
    browser: FlaskClient, look: Any, stretch: Any, marks: Any, asked: Any = None
) -> dict[str, Any]:
    """The request for a renewal."""
    known = browser.get("/dash/_dash-dependencies").json or []
    output = next(str(e["output"]) for e in known if "lane-names.children" in str(e["output"]))
    names = [text.rsplit(".", 1) for text in output.strip(".").split("...")]
    return {
        "output": output,
        "outputs": [{"id": id, "property": name} for id, name in names],
        "inputs": [
            prop("again", "data", 1),
            prop("stretch", "data", stretch),
            prop("what-if", "data", asked),
        ],
        "state": [
            prop("look", "data", look),
            prop("marks", "data", marks),
            prop("url", "pathname", "/"),
        ],
        "changedPropIds": ["again.data"],
    }


def renewed(
    browser: FlaskClient, look: Any, stretch: Any, marks: Any, asked: Any = None
) -> dict[str, Any]:
    """What a renewal changes, by component."""
    answer = send(browser, renewal(browser, look, stretch, marks, asked))
    assert answer.status_code == 200, answer.text
    data: dict[str, Any] = (answer.json or {})["response"]
    return data


@pytest.mark.parametrize("layout", ["garage", "desk", "phone"])
@pytest.mark.parametrize("width", [120, 240, 300])
@pytest.mark.parametrize("state", ["cold", "many"])
def test_a_window_measured_while_it_is_narrow_is_drawn(
    tmp_path: Path, layout: str, width: int, state: str
) -> None:
    garage = open_garage(tmp_path)
    STATES[state](garage)
    device = garage.app.test_client()
    for name, value in (("room", f"{width}x200"), ("screen", f"{layout}-dark-{width}")):
        device.set_cookie(name, value)
    assert device.get("/").status_code == 200
    look = {"w": width, "h": 200, "layout": layout, "theme": "dark"}
    figure = renewed(device, look, None, {})["ribbons-figure"]["figure"]
    go.Figure(figure)
    garage.store.close()


def test_the_countdown_is_readable_before_any_script(browser: FlaskClient) -> None:
    text = browser.get("/").text
    first = text[text.index('id="first"') : text.index('id="react-entry-point"')]
    assert 'class="todo">Finish working lower corner patch</h2>' in first
    assert "<b>" in first[first.index('class="digits"') :][:200]
    assert "lower corner patch, Two-part epoxy panel adhesive: workable" in first
    assert " id=" not in first.removeprefix('id="first"')
    assert " style=" not in first


@pytest.mark.parametrize("state", sorted(STATES))
def test_every_state_is_drawn_by_the_server_and_by_dash(tmp_path: Path, state: str) -> None:
    garage = open_garage(tmp_path)
    STATES[state](garage)
    client = garage.app.test_client()
    assert client.get("/").status_code == 200
    answer = send(client, arriving("/"))
    assert answer.status_code == 200
    assert "Something went wrong" not in answer.text
    garage.store.close()


def test_a_renewal_brings_only_what_changed(garage: Garage, browser: FlaskClient) -> None:
    first = renewed(browser, LOOK, None, {})
    assert set(bench_page.PARTS) <= set(first)
    go.Figure(first["ribbons-figure"]["figure"])
    again = renewed(browser, LOOK, None, first["marks"]["data"])
    assert set(again) == {"bench", "marks"}
    garage.hear(weather(garage.clock() + timedelta(minutes=1), base_c=6, hours=0.05))
    later = renewed(browser, LOOK, None, first["marks"]["data"])
    assert "part-air" in later


STRETCHES = ([1, 2], ["a", "b"], [5, 1], ["9" * 40, 1], [None], "x", {"a": 1}, [1, 2, 3], 7)
LOOKS = (None, {"w": "x", "h": -5}, {"w": 1e12, "layout": "none"}, [1], 5)


def test_no_room_and_no_stretch_breaks_the_ribbons(browser: FlaskClient) -> None:
    odd = [*((LOOK, each) for each in STRETCHES), *((each, None) for each in LOOKS)]
    for look, stretch in odd:
        figure = renewed(browser, look, stretch, None)["ribbons-figure"]["figure"]
        start, end = figure["layout"]["xaxis"]["range"]
        assert start <= EVENING.timestamp() * 1000 <= end


def test_a_stretch_that_a_hand_chose_is_shown(browser: FlaskClient) -> None:
    chosen = [round((EVENING + timedelta(hours=n)).timestamp() * 1000) for n in (3, 9)]
    shown = renewed(browser, LOOK, chosen, {})["ribbons-figure"]["figure"]["layout"]["xaxis"]
    assert shown["range"] == chosen


def test_one_touch_records_the_dab(garage: Garage, browser: FlaskClient) -> None:
    told = touched(browser, "dab", "1/stringy")["did"]["data"]
    assert told["said"] == "Dab of lower corner patch at 19:42: stringy."
    assert told["label"] == "Undo"
    assert garage.bench.step(1).witnesses[0].state == "stringy"


def test_an_answer_is_recorded_and_said_and_one_that_can_hardly_be_is_asked_about(
    garage: Garage, browser: FlaskClient
) -> None:
    odd = touched(browser, "answer", "1/clamp_time/reached")
    assert "Really?" in json.dumps(odd["asked"])
    assert "did" not in odd
    assert garage.bench.step(1).reached.get("clamp_time") is None
    garage.clock.at += timedelta(hours=2)
    told = touched(browser, "answer", "1/working_time/gone-off")["did"]["data"]
    assert told["said"] == "Saved for lower corner patch: no longer workable."


def test_the_cup_the_fan_the_reminders_and_the_kind_of_part_are_touches(
    garage: Garage, browser: FlaskClient
) -> None:
    touched(browser, "in use", "1")
    assert garage.bench.step(1).in_use_until == garage.clock() + timedelta(minutes=15)
    touched(browser, "emptied", "1")
    assert garage.bench.step(1).emptied_at == garage.clock()
    touched(browser, "fan", "1/on")
    assert garage.bench.view(garage.clock()).steps[0].fan_on == garage.clock()
    said = touched(browser, "kind of part", "1/body")["did"]["data"]["said"]
    assert said == "Saved: plain body panel."
    number = garage.bench.start("fibre-polyester-filler", now=garage.clock())
    touched(browser, "remind", f"{number}/gloves")
    assert "gloves" in garage.bench.step(number).acknowledged


@pytest.mark.parametrize("do", ["dab", "answer", "emptied", "remind", "fan", "why", "name touch"])
def test_a_touch_that_cannot_be_is_said_and_no_fault_inside(
    browser: FlaskClient, do: str, caplog: pytest.LogCaptureFixture
) -> None:
    for key in ("", "x", "99", "99/tacky", "1/none", "/", "1" * 40):
        touched(browser, do, key)
    assert "a page failed" not in caplog.text


def heights(data: dict[str, Any]) -> set[float]:
    drawn = data["ribbons-figure"]["figure"]["data"]
    return {each["y"][0] for each in drawn if "fillgradient" in each}


def slid(browser: FlaskClient, warmer: Any, hours: Any = 3, before: Any = None) -> tuple[Any, str]:
    """What is stored and said once the sliders stand there; None: the store is left alone."""
    own = [{"what-if": name, "step": 1} for name in ("warmer", "hours", "said")]
    body = {
        "output": '..what-if.data...{"step":["ALL"],"what-if":"said"}.children..',
        "outputs": [
            {"id": "what-if", "property": "data"},
            [{"id": own[2], "property": "children"}],
        ],
        "inputs": [[prop(own[0], "value", warmer)], [prop(own[1], "value", hours)]],
        "state": [prop("what-if", "data", before)],
        "changedPropIds": ['{"step":1,"what-if":"warmer"}.value'],
    }
    answer = send(browser, body)
    assert answer.status_code == 200, answer.text
    response = (answer.json or {})["response"]
    said = response['{"step":1,"what-if":"said"}']["children"]
    return response.get("what-if", {}).get("data"), said


def test_a_slider_that_warms_the_panel_shows_shifted_borders_and_records_nothing(
    garage: Garage, browser: FlaskClient
) -> None:
    before = garage.store.events([1])[1]
    stored, text = slid(browser, 10)
    assert stored == {"step": 1, "warmer": 10.0, "hours": 3}
    assert text.startswith("10 °C warmer for 3 h: working time ends likely ")
    would, was = text.split(" at the earliest ")[1].removesuffix(").").split(" (as it is: ")
    assert would < was.split(", ")[1]
    assert len(heights(renewed(browser, LOOK, None, {}))) == 1
    drawn = renewed(browser, LOOK, None, {}, stored)
    assert len(heights(drawn)) == 2
    assert "below: 10 °C warmer for 3 h" in json.dumps(drawn["lane-names"], ensure_ascii=False)
    assert garage.store.events([1])[1] == before


def test_a_longer_lamp_moves_the_clamps_further_and_a_cooler_panel_the_other_way(
    browser: FlaskClient,
) -> None:
    """Once it cannot be worked any more, the next time ahead is the clamps'."""
    touched(browser, "answer sure", "1/working_time/gone-off")

    def clamps(warmer: int, hours: int) -> str:
        return slid(browser, warmer, hours)[1].split("clamps off likely ")[1].split(",")[0]

    assert clamps(10, 6) <= clamps(10, 1) <= clamps(0 + 1, 1)
    assert "cooler for 3 h" in slid(browser, -5)[1]


def test_sliders_that_are_drawn_anew_do_not_draw_the_bench_again(browser: FlaskClient) -> None:
    stored, _ = slid(browser, 10)
    assert slid(browser, 10, before=stored)[0] is None
    assert slid(browser, 0)[0] is None
    assert slid(browser, 0, before=stored)[0]["warmer"] == 0


def test_a_slider_stands_in_the_unit_of_its_reader(tmp_path: Path) -> None:
    fahrenheit = open_garage(tmp_path, settings=replace(SETTINGS, temperature_unit="F"))
    fahrenheit.mix("epoxy-panel-adhesive", 20)
    stored, text = slid(fahrenheit.app.test_client(), 18)
    fahrenheit.store.close()
    assert stored["warmer"] == pytest.approx(10.0)
    assert text.startswith("18 °F warmer")


@pytest.mark.parametrize(
    "odd",
    [
        *(5, "x", {"step": 99, "warmer": 5, "hours": 3}, {"step": "1", "warmer": 5, "hours": 3}),
        *({"step": 1}, {"step": 1, "warmer": 99, "hours": 3}, {"step": 1, "warmer": 5, "hours": 0}),
        *({"step": True, "warmer": 5, "hours": 3}, {"step": 1, "warmer": True, "hours": 3}),
    ],
)
def test_what_nobody_can_have_asked_leaves_the_ribbons_as_they_are(
    browser: FlaskClient, odd: Any
) -> None:
    assert len(heights(renewed(browser, LOOK, None, {}, odd))) == 1


def test_another_part_is_asked_about_by_a_touch(garage: Garage, browser: FlaskClient) -> None:
    garage.mix("epoxy-panel-adhesive", 5, part="roof seam")
    keys = [key for do, key in buttons(browser) if do == "what if"]
    assert keys == ["2"]
    data = touched(browser, "what if", "2")
    assert data["what-if"]["data"] == {"step": 2, "warmer": 0, "hours": 3}
    drawn = json.dumps(renewed(browser, LOOK, None, {}, data["what-if"]["data"]))
    assert "What if: roof seam" in drawn
    assert touched(browser, "what if", "x/99")["what-if"]["data"] is None


def test_a_lamp_over_the_label_s_limit_is_objected_to(garage: Garage, browser: FlaskClient) -> None:
    garage.hear(weather(garage.clock() + timedelta(minutes=1), base_c=24, hours=0.1))
    text = slid(browser, 20)[1]
    assert " But " in text
    assert " is over " in text


def test_the_bench_asks_for_the_look_that_tells_most_and_marks_what_to_look_for(
    garage: Garage, browser: FlaskClient
) -> None:
    """It asks quietly, of the step whose look it is, though another is mixed after it."""
    garage.clock.at += timedelta(minutes=40)
    garage.bench.test(1, "gone-off", now=garage.clock())
    garage.mix("epoxy-primer", 3, part="left rear rib")
    before = json.dumps(renewed(browser, LOOK, None, {})["asks"])
    assert "Look at the test dab" not in before
    looks = (
        (garage.clock() + timedelta(minutes=m), look)
        for m in range(150, 400, 10)
        if (look := garage.bench.view(garage.clock() + timedelta(minutes=m)).steps[0].asked_look)
    )
    garage.clock.at, look = next(looks)
    text = json.dumps(renewed(browser, LOOK, None, {}))
    assert "Look at the test dab: " in text
    assert "dab looking" in text
    sought = text[text.index('"sought"') - 400 : text.index('"sought"') + 400]
    assert f"1/{look.state}" in sought


def test_after_a_look_at_a_dab_that_turned_one_more_touch_says_when(
    garage: Garage, browser: FlaskClient
) -> None:
    question = "When did the dab turn stringy?"
    touched(browser, "dab", "1/tacky")
    assert question not in json.dumps(renewed(browser, LOOK, None, {}))
    touched(browser, "dab", "1/stringy")
    assert question in json.dumps(renewed(browser, LOOK, None, {}))
    look = garage.bench.step(1).witnesses[-1]
    touched(browser, "step turned", f"1/{look.id}/5")
    assert garage.bench.step(1).witnesses[-1].turned_min == 5
    assert question not in json.dumps(renewed(browser, LOOK, None, {}))


def test_a_look_worth_most_is_silent_unless_the_device_wants_a_sound(
    garage: Garage, browser: FlaskClient
) -> None:
    garage.clock.at += timedelta(minutes=40)
    garage.bench.test(1, "gone-off", now=garage.clock())
    instants = (garage.clock() + timedelta(minutes=m) for m in range(150, 400, 10))
    garage.clock.at = next(at for at in instants if garage.bench.view(at).steps[0].asked_look)
    kinds = [alarm["kind"] for alarm in (browser.get("/state.json").json or {})["alarms"]]
    assert "look" not in kinds
    browser.post("/choices", data={"looks": "sound"}, headers={"Origin": "http://localhost"})
    (heard,) = [a for a in (browser.get("/state.json").json or {})["alarms"] if a["kind"] == "look"]
    assert heard["say"] == "lower corner patch: look at the test dab"
    assert heard["once"]
