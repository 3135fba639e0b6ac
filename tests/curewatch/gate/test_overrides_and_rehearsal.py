"""Before a mix: overrides with their reason, a dry rehearsal, and what each keeps."""

from __future__ import annotations

import json
from datetime import timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from flask.testing import FlaskClient
from hypothesis import given
from hypothesis import strategies as st

from curewatch.bench.bench import Details
from curewatch.errors import StepError
from curewatch.garage.step import override_words
from curewatch.gate import rehearsal, starting
from curewatch.gate.check import ORDER
from curewatch.gate.gate import as_json, gate
from curewatch.gate.gather import ask
from curewatch.gate.rehearsal import hold
from curewatch.wording.words import ReaderFormat
from tests.conftest import Run
from tests.support.dash_pages import proposing, sent, touched
from tests.support.pages import EVENING, Garage, open_garage, weather

ADHESIVE, PRIMER = "epoxy-panel-adhesive", "epoxy-primer"
BERLIN = ZoneInfo("Europe/Berlin")
lengths = st.floats(0.5, 300)


@pytest.fixture
def cold(run: Run) -> Run:
    """A panel of 8 C, under the sheets' least."""
    run("reading", "add", "--surface", "8 C", "--air", "9 C", "--humidity", "60 %")
    return run


def test_a_stop_needs_a_reason_on_the_command_line(cold: Run) -> None:
    code, out, err = cold("mix", ADHESIVE, "--amount", "60 g")
    assert (code, out, err.count("\n")) == (2, "", 1)
    assert "below the label's 10 °C" in err
    assert "--why" in err
    assert json.loads(cold("bench", "--json")[1])["steps"] == []
    assert cold("mix", ADHESIVE, "--why", "a trial piece only")[0] == 0
    text = cold("log", "--json")[1]
    assert "a trial piece only" in text
    assert "below the label's 10 °C" in text


def test_what_is_in_the_cup_is_kept_and_its_reason_asked_afterwards(cold: Run) -> None:
    code, out, _ = cold("mix", ADHESIVE, "--ago", "2 min")
    assert code == 0
    assert "curewatch step why 1" in out
    code, out, _ = cold("step", "why", "1", "the lamp stood over it")
    assert (code, "below the label's 10 °C" in out) == (0, True)
    assert "the lamp stood over it" in cold("log", "--json")[1]
    code, _, err = cold("step", "why", "1", "again")
    assert (code, "no stop that waits for a reason" in err) == (2, True)


def test_a_mix_that_the_gate_lets_go_needs_none(run: Run) -> None:
    run("reading", "add", "--surface", "20 C", "--air", "20 C", "--humidity", "50 %")
    code, out, _ = run("mix", ADHESIVE)
    assert (code, "Mixed despite" in out) == (0, False)
    assert run("step", "why", "1", "why not")[0] == 2


@pytest.fixture
def garage(tmp_path: Path) -> Garage:
    garage = open_garage(tmp_path)
    garage.hear(weather(EVENING, base_c=2.0))
    return garage


def test_the_later_reason_takes_the_place_of_the_missing_one(garage: Garage) -> None:
    now = garage.clock()
    number = garage.mix(ADHESIVE, 2)
    starting.record_override(garage.bench, number, ["too cold"], "", now=now)
    assert garage.bench.step(number).unexplained == ("too cold",)
    assert starting.explain(garage.bench, number, " it was  mixed ", now=now) == ("too cold",)
    (against,) = garage.bench.step(number).overrides
    assert (against.stops, against.why) == (("too cold",), "it was mixed")
    with pytest.raises(StepError, match="no stop that waits"):
        starting.explain(garage.bench, number, "again", now=now)
    kinds = [event.kind for event in garage.store.events([number])[number]]
    assert kinds.count("overridden") == 2, "what stood before stays in the log"


# the sentence the trade asks for, to the word
def test_the_words_of_a_rehearsal() -> None:
    assert hold(24, 26, 40).words == "24 min rehearsed, 26 to 40 min here: too close"
    assert hold(24, 26, 40).verdict == "caution"
    assert (hold(27, 26, 40).verdict, hold(15, 26, 40).verdict) == ("stop", "go")
    assert hold(70, 65, None).words == "1 h 10 rehearsed, 1 h 05 or more here: too long"
    assert "no working time can be given" in hold(5, None, None).words


@given(lengths, lengths, lengths)
def test_a_longer_rehearsal_or_a_shorter_time_never_helps(
    took: float, more: float, early: float
) -> None:
    here = ORDER.index(hold(took, early, 2 * early).verdict)
    assert ORDER.index(hold(took + more, early, 2 * early).verdict) <= here
    assert ORDER.index(hold(took, early / 2, early).verdict) <= here


def send(browser: FlaskClient, path: str, **fields: object) -> int:
    return browser.post(path, data=fields, headers={"Origin": "http://localhost"}).status_code


def test_what_is_spread_by_hand_is_rehearsed_without_nozzle_and_clamps(tmp_path: Path) -> None:
    garage = open_garage(tmp_path)
    garage.hear(weather(EVENING, base_c=18.0))
    browser, path = garage.app.test_client(), "/mix/fibre-polyester-filler/rehearse"
    assert "Go through all of it with nothing mixed" in browser.get(path).text
    touched(browser, "rehearsal start", "fibre-polyester-filler\n", once="a")
    text = browser.get(path).text
    assert "Done: stop" in text
    assert not [word for word in ("nozzle", "Last clamp") if word in text]
    garage.store.close()


def test_the_stopwatch_runs_on_over_a_reload(tmp_path: Path) -> None:
    garage = open_garage(tmp_path)
    garage.hear(weather(EVENING, base_c=18.0))
    browser, path = garage.app.test_client(), f"/mix/{ADHESIVE}/rehearse?part=skin"
    assert "Start the stopwatch" in browser.get(path).text
    touched(browser, "rehearsal start", f"{ADHESIVE}\nskin", once="a")
    begun = garage.clock()
    garage.clock.at += timedelta(minutes=24)
    assert "Last clamp on" in browser.get(path).text
    assert rehearsal.running(garage.store, ADHESIVE, garage.clock()) == begun
    touched(browser, "rehearsal stop", f"{ADHESIVE}\nskin", once="b")
    assert "24 min rehearsed" in browser.get(path).text
    proposal = ask(garage.bench, ADHESIVE, garage.clock(), Details(part="skin"), zone=BERLIN)
    checks = as_json(gate(proposal, ReaderFormat(BERLIN)))["checks"]
    (check,) = [verdict for verdict in checks if verdict["question"] == "rehearsal"]
    assert check["figure"] == 24
    other = ask(garage.bench, ADHESIVE, garage.clock(), Details(part="door"), zone=BERLIN)
    assert other.rehearsed_min is None
    garage.clock.at += timedelta(days=15)
    later = ask(garage.bench, ADHESIVE, garage.clock(), Details(part="skin"), zone=BERLIN)
    assert later.rehearsed_min is None


def test_a_touch_sent_twice_stops_once(tmp_path: Path) -> None:
    garage = open_garage(tmp_path)
    browser, key = garage.app.test_client(), f"{ADHESIVE}\n"
    touched(browser, "rehearsal start", key, once="a")
    garage.clock.at += timedelta(minutes=3)
    for _ in range(2):
        touched(browser, "rehearsal stop", key, once="b")
    assert "no rehearsal is running" in str(touched(browser, "rehearsal stop", key, once="c"))
    wrong, _ = sent(browser, "rehearsal took", {"took": "soon"}, key=key)
    assert "is not a number" in wrong["took"]
    kept = garage.store.entries("rehearsal", ADHESIVE)
    assert [entry.kind for entry in kept] == ["begun", "took"]


def test_a_rehearsal_from_the_terminal(run: Run) -> None:
    run("reading", "add", "--surface", "21 C", "--air", "21 C", "--humidity", "50 %")
    code, out, _ = run("check", ADHESIVE, "--rehearse", "--took", "20 min", "--json")
    data = json.loads(out)
    assert (code, data["took_min"]) == (0, 20)
    assert data["early_min"] < 50 < data["late_min"]
    questions = json.loads(run("check", ADHESIVE, "--json")[1])["checks"]
    assert any(question["question"] == "rehearsal" for question in questions)
    assert "stopwatch is running" in run("check", ADHESIVE, "--rehearse")[1]
    assert "rehearsed" in run("check", ADHESIVE, "--rehearse")[1]
    assert run("check", ADHESIVE, "--rehearse", "--took", "0 min")[0] == 2


def test_the_gate_is_asked_again_with_what_was_typed(tmp_path: Path) -> None:
    garage = open_garage(tmp_path)
    garage.hear(weather(EVENING, base_c=18.0))
    browser = garage.app.test_client()
    follows = proposing(browser, ADHESIVE, part="brake bracket", amount="150")
    assert "licensed practice" in json.dumps(follows)
    assert "is not a number" in json.dumps(proposing(browser, ADHESIVE, amount="much"))
    assert garage.store.steps() == []


def _told(cold: Run) -> str:
    code, out, _ = cold("step", "show", "1", "--history")
    assert code == 0
    return out


def test_a_reason_despite_caution_stands_in_the_log(run: Run) -> None:
    run("reading", "add", "--surface", "14 C", "--air", "15 C", "--humidity", "60 %")
    code, _, err = run("mix", ADHESIVE, "--amount", "60 g", "--why", "two cups, spread at once")
    assert (code, err) == (0, "")
    text = _told(run)
    assert "mixed despite caution: " in text
    assert "Reason: two cups, spread at once" in text
    code, out, _ = run("log")
    assert "mixed despite caution: " in out
    assert "despite a stop" not in out


def test_reasons_for_a_stop_are_read_as_sentences() -> None:
    """With and without a full stop of their own: one between them, one at the end."""
    words = override_words("stop", ["Too cold: 4 °C.", "the humidity is not known"], "a trial")
    assert (
        words == "mixed despite a stop: Too cold: 4 °C; the humidity is not known. Reason: a trial"
    )


def test_a_reason_that_nothing_asked_for_is_kept_as_a_note(run: Run) -> None:
    run("reading", "add", "--surface", "20 C", "--air", "20 C", "--humidity", "50 %")
    run("mix", ADHESIVE, "--amount", "5 g", "--why", "the last of the tin")
    assert "the last of the tin" in _told(run)


def test_thinking_without_a_reason_is_no_override(run: Run) -> None:
    run("reading", "add", "--surface", "14 C", "--air", "15 C", "--humidity", "60 %")
    run("mix", ADHESIVE, "--amount", "60 g")
    assert "Because" not in _told(run)
