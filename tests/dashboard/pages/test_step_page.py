"""A step's page as Dash draws it: ribbon and conditions in one figure, actions, chips, history."""

from __future__ import annotations

import html
import itertools
import json
import re
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path
from typing import Any

import plotly.graph_objects as go
import pytest
from flask.testing import FlaskClient

from curewatch.bench import marks
from curewatch.bench.bench import Details
from curewatch.walltime import to_ms
from tests.support.dash_pages import arriving, send, sent, touched
from tests.support.pages import EVENING, Garage, open_garage, weather

ADHESIVE = "epoxy-panel-adhesive"


def stepped(folder: Path) -> Garage:
    """A bonded patch with a coat, a dab, a test and heat; in the evening's cold."""
    garage = open_garage(folder)
    garage.hear(weather(EVENING))
    garage.mix(ADHESIVE, 300, part="door skin", job="corner", amount_g=60.0, batch="A-14")
    mixed = garage.bench.step(1).mixed_at
    garage.bench.witness(1, "tacky", now=mixed + timedelta(minutes=100))
    garage.bench.test(1, "not-yet", now=mixed + timedelta(minutes=200), milestone="clamp_time")
    marks.mark(garage.bench, 1, "clamps-on", now=EVENING, at=mixed + timedelta(minutes=20))
    return garage


@pytest.fixture(scope="module")
def seen(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Garage]:
    """The same for tests that only read."""
    garage = stepped(tmp_path_factory.mktemp("step"))
    yield garage
    garage.store.close()


@pytest.fixture
def garage(tmp_path: Path) -> Iterator[Garage]:
    garage = stepped(tmp_path)
    yield garage
    garage.store.close()


@pytest.fixture
def browser(garage: Garage) -> FlaskClient:
    return garage.app.test_client()


def first(app: Any, address: str = "/step/1") -> str:
    """What of a page can be read before any script."""
    answer = app.test_client().get(address)
    assert answer.status_code == 200, answer.text
    text = answer.text
    return html.unescape(text[text.index('id="first"') : text.index('id="react-entry-point"')])


def find(tree: Any, key: str) -> list[Any]:
    """Everything under that key, however deep."""
    if isinstance(tree, list):
        return [each for item in tree for each in find(item, key)]
    if not isinstance(tree, dict):
        return []
    own = [tree[key]] if key in tree else []
    return own + [each for value in tree.values() for each in find(value, key)]


def drawn(garage: Garage, search: str = "", screen: str = "") -> Any:
    """The step's figure."""
    browser = garage.app.test_client()
    if screen:
        browser.set_cookie("screen", screen)
    return find(send(browser, arriving("/step/1", search)).json, "figure")[0]


def test_the_step_can_be_read_before_any_script(seen: Garage) -> None:
    text = first(seen.app)
    assert "60 g, Two-part epoxy panel adhesive, mixed 14:42, for corner" in text
    for summary in ("Dab check", "Test: ", "Finish", "Times of every milestone", "Reminders"):
        assert f"<summary>{summary}" in text, summary
    assert "<span>Batch:</span><b>A-14</b>" in text
    assert "<span>Grit:</span><b>add</b>" in text
    assert 'href="/step/1/history"' in text
    assert "least / mean / most" in text


@pytest.mark.parametrize("screen", ["", "desk-light-1220", "phone-dark-366"])
def test_its_figure_is_valid_on_every_screen(seen: Garage, screen: str) -> None:
    figure = drawn(seen, screen=screen)
    assert go.Figure(figure).layout.yaxis8.domain[1] == 1
    domains = [axis["domain"] for name, axis in figure["layout"].items() if name[:5] == "yaxis"]
    spans = sorted(map(tuple, domains))
    assert all(low[1] <= high[0] + 1e-9 for low, high in itertools.pairwise(spans))


def test_its_figure_shows_ribbon_air_and_marks_on_one_axis(seen: Garage) -> None:
    figure = drawn(seen)
    texts = [text for each in figure["data"] if isinstance(each.get("text"), list)
             for text in each["text"]]  # fmt: skip
    for said in ("dab tacky", "clamps off: not yet", "clamps on"):
        assert any(said in text for text in texts), said
    ribbon = [each for each in figure["data"] if each.get("yaxis") == "y8"]
    assert any("door skin: " in str(each.get("text")) for each in ribbon)
    assert "10 °C" in [note["text"] for note in figure["layout"]["annotations"]]
    start, end = figure["layout"]["xaxis"]["range"]
    assert start < to_ms(seen.bench.step(1).mixed_at) < to_ms(EVENING) < end


def test_an_address_shows_its_stretch_and_a_closed_step_no_flag_of_now(garage: Garage) -> None:
    start, end = to_ms(EVENING) - 7_200_000, to_ms(EVENING) - 3_600_000
    assert drawn(garage, f"?from={start}&to={end}")["layout"]["xaxis"]["range"] == [start, end]
    whole = drawn(garage, "?from=9&to=x")["layout"]["xaxis"]["range"]
    assert whole == drawn(garage)["layout"]["xaxis"]["range"]
    garage.bench.finish(1, now=EVENING)
    garage.clock.at += timedelta(days=1)
    notes = [note["text"] for note in drawn(garage)["layout"]["annotations"]]
    assert "19:42" not in notes
    assert "Not finished: undo" in first(garage.app)


def test_a_dab_is_recorded_with_one_touch_and_when_it_was_seen(
    garage: Garage, browser: FlaskClient
) -> None:
    wrong, side = sent(browser, "step dab", {"ago": "5"}, key="1/smear", value="hard")
    assert set(wrong.values()) == {""}
    assert side["did"]["data"]["said"] == "Dab at 19:37: hard."
    wrong, _ = sent(browser, "step dab", {"ago": "x"}, key="1/cup", value="hard")
    assert "not a number of minutes" in wrong["ago"]
    assert [look.state for look in garage.bench.step(1).witnesses] == ["tacky", "hard"]


def test_when_the_dab_turned_is_asked_for_a_while_and_answered_with_a_touch(
    garage: Garage, browser: FlaskClient
) -> None:
    assert "When did the dab turn" not in first(garage.app), "tacky turns at no milestone"
    sent(browser, "step dab", {"ago": "0"}, key="1/smear", value="hard")
    assert "When did the dab turn hard?" in first(garage.app)
    look = garage.bench.step(1).witnesses[-1].id
    touched(browser, "step turned", f"1/{look}/5")
    assert garage.bench.step(1).witnesses[-1].turned_min == 5.0
    text = first(garage.app)
    assert "When did the dab turn" not in text
    assert "hard, turned 5 min before" in text


def test_what_can_hardly_be_is_asked_about_first(garage: Garage, browser: FlaskClient) -> None:
    side = touched(browser, "step answer", "1/full_cure/reached")
    assert "Yes, I tested it" in json.dumps(side["asked"])
    assert "full_cure" not in garage.bench.step(1).reached
    side = touched(browser, "step answer sure", "1/full_cure/reached")
    assert "full_cure" in garage.bench.step(1).reached
    assert side["did"]["data"]["label"] == "Undo"


def test_a_step_leaves_the_bench_once_that_was_asked_about(
    garage: Garage, browser: FlaskClient
) -> None:
    side = touched(browser, "step finish", "1")
    assert "the clamps are not off yet" in json.dumps(side["asked"]).lower()
    assert garage.bench.step(1).closed_at is None
    touched(browser, "step finish sure", "1")
    assert garage.bench.step(1).state == "finished"


@pytest.mark.parametrize(
    ("name", "text", "value"),
    [
        ("amount_g", "70 g", 70.0),
        ("batch", "A-41", "A-41"),
        ("grit", "P80", "P80"),
        ("mixed_at", "200", EVENING - timedelta(minutes=200)),
        ("product_c", "8 C", 8.0),
    ],
)
def test_every_field_is_corrected_in_its_place_with_the_reason(
    garage: Garage, browser: FlaskClient, name: str, text: str, value: object
) -> None:
    values = {"value": text, "why": "misread", "by": "Ann"}
    wrong, _ = sent(browser, "step field", values, key=f"1/{name}")
    assert set(wrong.values()) == {""}
    step = garage.bench.step(1)
    assert (step.mixed_at if name == "mixed_at" else step.recorded[name]) == value
    history = first(garage.app, "/step/1/history")
    assert "Reason: misread" in history
    assert "by Ann" in history


@pytest.mark.parametrize(
    ("name", "text"), [("amount_g", "x g"), ("mixed_at", "-3"), ("grit", " "), ("film_um", "0 um")]
)
def test_what_is_wrong_is_said_at_its_box(
    garage: Garage, browser: FlaskClient, name: str, text: str
) -> None:
    events = garage.store.events([1])[1]
    wrong, side = sent(browser, "step field", {"value": text}, key=f"1/{name}")
    assert wrong["value"], side
    assert garage.store.events([1])[1] == events


def test_the_history_says_days_and_products_as_people_do(
    garage: Garage, browser: FlaskClient
) -> None:
    garage.bench.test(1, "not-yet", now=garage.clock(), milestone="clamp_time")
    texts = {"why": "wrong can", "by": ""}
    sent(browser, "step product", texts, key="1", value="epoxy-primer")
    history = first(garage.app, "/step/1/history")
    assert "mixed Two-part epoxy panel adhesive" in history
    assert "product: Two-part epoxy panel adhesive" in history
    assert "→ Two-part epoxy primer" in history
    assert "dab: " in history
    assert not re.search(r"\d{4}-\d\d-\d\d|epoxy-p|sheet|\(smear\)", history)


def test_the_label_as_it_was_then_is_a_table_and_no_file(garage: Garage) -> None:
    text = first(garage.app)
    label = text[text.index("label as it was then") :]
    assert "By the label, at" in label
    assert "Hardener" in label or "Contains" in label
    assert "[[times]]" not in text
    assert "chemistry =" not in text


def test_each_entry_of_the_history_is_undone_and_brought_back(
    garage: Garage, browser: FlaskClient
) -> None:
    dab = garage.bench.step(1).witnesses[0].id
    assert "Undo: " in first(garage.app, "/step/1/history")
    touched(browser, "step undo", f"1/{dab}")
    assert garage.bench.step(1).witnesses == ()
    assert "Bring it back: " in first(garage.app, "/step/1/history")


def test_a_product_and_a_choice_are_entered_with_one_touch(
    garage: Garage, browser: FlaskClient
) -> None:
    sent(browser, "step field", {}, key="1/applied", value="brush")
    assert garage.bench.step(1).applied == "brush"
    sent(browser, "step product", {"why": "", "by": ""}, key="1", value="epoxy-primer")
    assert garage.bench.step(1).sheet.id == "epoxy-primer"


def test_the_step_says_what_it_waits_for_and_once_off_the_bench_no_more(garage: Garage) -> None:
    waits = re.compile(r'class="lead next"><b>Clamps off: (test now|test from [^<]+)</b>')
    assert waits.search(first(garage.app))
    garage.bench.finish(1, now=EVENING)
    assert "lead next" not in first(garage.app)


def test_a_reminder_s_answer_and_its_source_are_sentences_of_their_own(garage: Garage) -> None:
    app = garage.app
    touched(app.test_client(), "step reminder", "1/gloves")
    answered = r'\. <span class="done">Answered [^<]+\.</span><small class="hint">[A-Z]'
    assert re.search(answered, first(app))


def test_the_forecast_is_named_and_an_expiry_is_said_as_a_day(garage: Garage) -> None:
    garage.bench.amend(1, Details(expiry="2027-03-01"), now=EVENING)
    shown = first(garage.app)
    assert "forecast, 9 in 10 within the band" in shown
    assert "1 Mar 2027" in shown
    garage.bench.finish(1, now=EVENING)
    shown = first(garage.app)
    assert "forecast, 9 in 10" not in shown
    assert "just now" not in shown, "what a sensor reads now is nothing to a step that is over"
