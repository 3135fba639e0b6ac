"""The air page as Dash draws it: first by the server, then by callbacks, in front of no guard's
back."""

from __future__ import annotations

import json
import random
import re
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from flask.testing import FlaskClient

from curewatch.climate.reading import Reading
from dashboard.pages.air.periods import period, with_limit
from tests.support.dash_pages import ASK, ORIGIN, arriving, prop, send, touched
from tests.support.many import cases
from tests.support.pages import EVENING, Garage, open_garage, weather

DAY = timedelta(days=1)


@pytest.fixture(scope="module")
def garage(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Garage]:
    garage = open_garage(tmp_path_factory.mktemp("air"))
    garage.hear(weather(EVENING))
    garage.mix("epoxy-panel-adhesive", 20, part="door skin", amount_g=60.0)
    yield garage
    garage.store.close()


@pytest.fixture
def browser(garage: Garage) -> FlaskClient:
    return garage.app.test_client()


def arrived(search: str = "") -> dict[str, Any]:
    return arriving("/air", search)


def did_output(browser: FlaskClient) -> str:
    """The name of the toast's store as a second output."""
    known = browser.get("/dash/_dash-dependencies").json or []
    return next(str(each["output"]) for each in known if "typed-said" in each["output"])


def typed(browser: FlaskClient, line: str) -> dict[str, Any]:
    output = did_output(browser)
    names = [text.rsplit(".", 1) for text in output.strip(".").split("...")]
    body = {
        "output": output,
        "outputs": [{"id": id, "property": name} for id, name in names],
        "inputs": [prop("typed-save", "n_clicks", 1), prop("typed", "n_submit", 0)],
        "state": [prop("typed", "value", line)],
        "changedPropIds": ["typed-save.n_clicks"],
    }
    answer = send(browser, body)
    assert answer.status_code == 200, answer.text
    data: dict[str, Any] = (answer.json or {})["response"]
    return data


def test_a_garage_without_a_reading_has_no_forecast_to_show(tmp_path: Path) -> None:
    garage = open_garage(tmp_path)
    device = garage.app.test_client()
    assert "forecast" not in device.get("/air").text
    assert "forecast" not in send(device, arrived()).text
    garage.hear(weather(EVENING, hours=3))
    assert "forecast" in send(device, arrived()).text
    garage.store.close()


def test_the_first_page_can_be_read_before_any_script(browser: FlaskClient) -> None:
    text = browser.get("/air").text
    first = text[text.index('id="first"') : text.index('id="react-entry-point"')]
    assert "<b>16.0 °C</b>" in first
    assert "Below 10 °C for 5 h 20 in all." in first
    assert '<a href="/step/1">door skin: ' in first
    assert " id=" not in first.removeprefix('id="first"')
    assert "JavaScript" in first


def test_what_dash_draws_says_the_same_as_the_first_page(browser: FlaskClient) -> None:
    answer = send(browser, arrived())
    text = json.dumps(answer.json, ensure_ascii=False)
    assert "Below 10 °C for 5 h 20 in all." in text
    assert '"type": "Graph"' in text


def test_an_address_shows_its_period_and_its_limit(browser: FlaskClient) -> None:
    text = browser.get("/air?span=7d&limit=12").text
    assert '<a class="button" href="/air?span=7d&amp;limit=12" aria-current="true">' in text
    assert "Below 12 °C" in text
    assert "isn&#39;t a temperature" in browser.get("/air?limit=cold").text


@pytest.mark.parametrize(
    "search",
    [
        "span=nonsense",
        "from=5&to=4",
        "from=&to=9",
        "from=-3&to=x",
        "limit=1e9",
        "limit=%00",
        "a=" * 9,
        "&".join(f"a{number}=1" for number in range(40)),
    ],
)
def test_no_address_breaks_the_page(browser: FlaskClient, search: str) -> None:
    for path in ("/air", "/air.csv"):
        assert browser.get(f"{path}?{search}").status_code == 200


@pytest.mark.parametrize("path", ["/air", "/air.csv", "/logbook"])
def test_an_address_that_is_no_text_breaks_no_page(browser: FlaskClient, path: str) -> None:
    raw = {"QUERY_STRING": "span=7d&limit=\xff"}
    assert browser.get(path, environ_overrides=raw).status_code < 500


def test_a_period_moves_and_narrows_by_its_own_links() -> None:
    shown = period("span=24h", EVENING, EVENING - DAY, 10.0)
    assert (shown.start, shown.end) == (EVENING - DAY, EVENING + DAY / 2)
    closer = period(shown.moved("/air", 0, 0.5).partition("?")[2], EVENING, EVENING - DAY, 10.0)
    assert closer.end - closer.start == DAY * 0.75
    later = period(shown.moved("/air", 0.5).partition("?")[2], EVENING, EVENING - DAY, 10.0)
    assert later.start == shown.start + DAY * 0.75
    assert period(with_limit("?span=7d", "12"), EVENING, EVENING - DAY, 10.0).limit_c == 12.0


def test_what_is_shown_is_had_as_csv(browser: FlaskClient) -> None:
    answer = browser.get("/air.csv?span=7d")
    head, *rows = answer.text.splitlines()
    assert head.startswith('time,"surface, C, mean","surface, C, least","surface, C, most"')
    assert re.match(r"2026-10-1\dT\d\d:30:00\+02:00,\d+\.\d\d,", rows[0])
    assert 47 <= len(rows) <= 50
    assert answer.mimetype == "text/csv"


def test_a_line_typed_is_stored_said_and_taken_back(garage: Garage, browser: FlaskClient) -> None:
    data = typed(browser, "15,2 62 %")
    assert data["typed"]["value"] == ""
    did = data[next(name for name in data if name.startswith("did"))]["data"]
    assert did["label"] == "Undo"
    stands = {
        reading.quantity: reading.value
        for reading in garage.store.latest()
        if reading.source == "typed"
    }
    assert stands == {"surface_temperature": 15.2, "relative_humidity": 62.0}
    key = f"panel/surface_temperature/{round(EVENING.timestamp() * 1000)}"
    assert "Take back" in browser.get("/air").text
    back = touched(browser, "take back", key)
    assert "taken back" in back["did"]["data"]["said"].casefold()
    gone = [reading.quantity for reading in garage.store.latest() if reading.source == "typed"]
    assert gone == ["relative_humidity"]


def test_a_typed_reading_that_differs_from_a_live_sensor_is_told_which_one_counts(
    garage: Garage, browser: FlaskClient
) -> None:
    sensed = next(e for e in garage.store.latest() if e.quantity == "surface_temperature")
    alike = typed(browser, f"{sensed.value + 0.4:.1f}")
    assert alike["typed-said"]["children"] == []
    other = typed(browser, f"{sensed.value - 1.2:.1f}")
    text = json.dumps(other["typed-said"], ensure_ascii=False)
    assert f"The sensor there shows {sensed.value:.1f} °C" in text
    assert "While it reports, its readings count; yours is only kept beside them." in text
    assert "/air/sensors" in text
    assert other["typed"]["value"] == ""


def test_an_odd_value_is_asked_about_and_entered_on_the_answer(
    garage: Garage, browser: FlaskClient
) -> None:
    garage.hear([Reading("bench", "surface_temperature", 8.0, EVENING, "mqtt")])
    before = len(garage.store.latest())
    data = typed(browser, "48")
    text = json.dumps(data["typed-said"], ensure_ascii=False)
    assert "Is this right?" in text
    assert "value" not in data.get("typed", {})
    assert len(garage.store.latest()) == before
    touched(browser, "enter", "surface 48 C")
    assert 48.0 in [reading.value for reading in garage.store.latest()]


@pytest.mark.parametrize("line", ["cold", "", "400", "140 %", "pannel 12"])
def test_a_line_that_cannot_be_says_why_and_stays(browser: FlaskClient, line: str) -> None:
    data = typed(browser, line)
    assert '"className": "problem"' in json.dumps(data["typed-said"])
    assert "value" not in data.get("typed", {})


def test_a_callback_needs_our_origin_and_its_address_is_no_page(browser: FlaskClient) -> None:
    assert browser.post(ASK, json=arrived()).status_code == 403
    assert send(browser, arrived(), Origin="https://elsewhere.example").status_code == 403
    assert send(browser, arrived(), Origin="null").status_code == 403
    assert send(browser, arrived(), **{"Sec-Fetch-Site": "cross-site"}).status_code == 403
    for path in ("/dash/", "/dash/air", "/dash/x/y"):
        assert browser.get(path).status_code == 404
    for path in ("os/path.py", "dash/../x", "dcc/none.js"):
        assert browser.get(f"/dash/_dash-component-suites/{path}").status_code in (400, 404)


def mutated(random: random.Random) -> Any:
    """A callback's body with something in it changed."""
    body = arrived()
    odd: list[Any] = [None, 1, "", [], {}, "x" * 50, [{}], {"id": 1}, True, -1.5, {"a": ["b"]}]
    for _ in range(random.randint(1, 3)):
        key = random.choice([*body, "x"])
        if random.random() < 0.3:
            body.pop(key, None)
        else:
            body[key] = random.choice(odd)
    return random.choice([body, body, body, random.choice(odd)])


def test_no_malformed_callback_is_a_fault_inside(browser: FlaskClient) -> None:
    chance = random.Random(4)
    codes = [send(browser, mutated(chance)).status_code for _ in range(cases(60))]
    codes += [browser.post(ASK, data=b"\xff{", headers=ORIGIN).status_code]
    assert max(codes) < 500
    assert codes.count(400) > len(codes) / 2


def test_scripts_come_compressed_and_plotly_s_address_lasts(browser: FlaskClient) -> None:
    text = browser.get("/air").text
    address = re.search(r'data-plotly="([^"]+)"', text)
    assert address
    answer = browser.get(address[1], headers={"Accept-Encoding": "gzip"})
    assert answer.headers["Cache-Control"].endswith("immutable")
    assert len(answer.data) < 1_600_000
    script = re.search(r'src="(/dash/_dash-component-suites/[^"]+)"', text)
    assert script
    small = browser.get(script[1], headers={"Accept-Encoding": "gzip"})
    assert small.headers["Content-Encoding"] == "gzip"
    assert "no-store" not in small.headers["Cache-Control"]
    assert browser.get(script[1]).headers.get("Content-Encoding") is None


def test_a_fault_inside_a_callback_is_said_and_noted(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    garage = open_garage(tmp_path)
    monkeypatch.setattr("dashboard.pages.air.data.air_history", lambda *_, **__: 1 / 0)
    answer = send(garage.app.test_client(), arrived())
    assert "Something went wrong inside" in answer.text
    assert "a page failed" in caplog.text
    garage.store.close()
