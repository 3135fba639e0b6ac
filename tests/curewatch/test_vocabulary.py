"""The answers to a test: the state found, in the same words everywhere; the later one counts."""

from __future__ import annotations

import json
import sqlite3
from contextlib import closing
from datetime import timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from curewatch.bench.bench import Bench
from curewatch.bench.plausible import soonest_min, too_soon
from curewatch.bench.views import MilestoneView
from curewatch.errors import ConfigError, StepError, UnlikelyError
from curewatch.exchange import export_json, import_json
from curewatch.exchange.log_schema import MILESTONE
from curewatch.garage.step import Step
from curewatch.gate import starting
from curewatch.settings.settings import parse_settings
from curewatch.store.migrations import schema
from curewatch.store.search import StepQuery
from curewatch.store.store import Store
from curewatch.vocabulary import ANSWERS, MILESTONES, answers_to
from curewatch.wording import milestone_words, words
from tests.conftest import Run
from tests.support.dash_pages import touched
from tests.support.logbooks import ADHESIVE, NOW, PRIMER, ago, garage_air, opened
from tests.support.pages import open_garage

EARLIER = {
    "working_time": ("gone-off", "still-works"),
    "pot_life": ("gone-off", "still-works"),
    "clamp_time": ("reached", "not-yet"),
    "recoat_closes": ("reached", "later"),
}


@pytest.fixture
def bench(tmp_path: Path) -> Bench:
    """Ten hours at 14 °C with an adhesive on the bench."""
    garage = opened(tmp_path)
    garage.store.add_readings(garage_air(3000))
    garage.start(ADHESIVE, now=ago(600))
    return garage


def seen(bench: Bench, name: str = "clamp_time") -> MilestoneView:
    return bench.step_view(1, NOW).by_name[name]


def late_min(bench: Bench, name: str) -> float:
    moment = seen(bench, name).late
    assert moment is not None
    return bench.step(1).after_min(moment)


def test_every_milestone_is_answered_with_the_state_that_was_found() -> None:
    assert answers_to("working_time") == answers_to("pot_life") == (
        "still-works", "gone-off", "later",
    )  # fmt: skip
    for name in ("clamp_time", "sand_ready", "recoat_opens", "full_cure"):
        assert answers_to(name) == ("not-yet", "reached", "later")
    assert answers_to("recoat_closes") == ("reached", "later"), "the label's clock shuts it"


def test_page_button_and_json_know_the_same_words() -> None:
    for name in MILESTONES:
        assert {*milestone_words.ANSWERS[name], "later"} == set(answers_to(name))
    assert MILESTONE["properties"]["answered"]["anyOf"][0]["enum"] == list(ANSWERS)
    for answer in ANSWERS:
        settings = parse_settings(f"[buttons.a]\ndoes='answer'\nresult='{answer}'", Path())
        assert settings.buttons["a"].result == answer


@pytest.mark.parametrize("old", ["passed", "failed"])
def test_the_words_of_before_are_refused_with_the_present_ones(run: Run, old: str) -> None:
    run("mix", ADHESIVE)
    code, _, refused = run("test", "1", old)
    assert code == 2
    assert "use still-works, gone-off, later" in refused
    with pytest.raises(ConfigError, match="'still-works', 'gone-off', 'not-yet', 'reached'"):
        parse_settings(f"[buttons.a]\ndoes='answer'\nresult='{old}'", Path())


def test_still_good_never_brings_what_is_waited_for_nearer(bench: Bench) -> None:
    before = late_min(bench, "clamp_time")
    bench.test(1, "still-works", now=ago(570), milestone="working_time")
    assert late_min(bench, "clamp_time") >= before
    assert not seen(bench, "working_time").reached


def test_the_bench_in_the_terminal_says_the_test_and_its_answers(run: Run) -> None:
    run("mix", ADHESIVE)
    _, text, _ = run("bench")
    assert milestone_words.TEST["working_time"] in text
    assert "Answer with: curewatch test 1 still-works, gone-off or later" in text
    _, text, _ = run("bench", "--json")
    assert json.loads(text)["next"][0]["answers"] == list(answers_to("working_time"))


def before_these_words(bench: Bench, number: int) -> None:
    """Tell tests of a step in the words of before."""
    for minute, name in enumerate(EARLIER):
        for result in ("failed", "passed"):
            body = {"milestone": name, "result": result, "until": NOW.isoformat()}
            bench.store.add_event(number, "tested", ago(99 - minute), ago(99 - minute), body)


def results(step: Step) -> dict[str, tuple[str, ...]]:
    return {name: tuple(answer.result for answer in step.answers[name]) for name in EARLIER}


EXPECTED = {name: (not_over, over) for name, (over, not_over) in EARLIER.items()}


def test_a_logbook_of_before_opens_in_the_present_words(bench: Bench) -> None:
    before_these_words(bench, bench.start(PRIMER, now=ago(200)))
    path = bench.store.path
    bench.store.close()
    assert schema._answers_in_present_words in schema.MIGRATIONS
    with closing(sqlite3.connect(path)) as db:
        schema._answers_in_present_words(db)
        db.commit()
    with closing(Store(path)) as store:
        again = Bench(store)
        assert results(again.step(2)) == EXPECTED
        assert set(again.step(2).reached) == set(EARLIER)
        assert again.step_view(2, NOW).by_name["working_time"].answered == "gone-off"


def test_an_export_of_before_is_taken_in_once_in_the_present_words(
    bench: Bench, tmp_path: Path
) -> None:
    number = bench.start(PRIMER, now=ago(200))
    for name, both in EXPECTED.items():
        for result in both:
            body = {"milestone": name, "result": result}
            bench.store.add_event(number, "tested", ago(99), ago(99), body)
    data = json.loads("".join(export_json.pieces(bench, StepQuery(), NOW))) | {"curewatch": 1}
    for event in data["steps"][0]["events"][1:]:
        over = event["body"]["result"] == EXPECTED[event["body"]["milestone"]][1]
        event["body"]["result"] = "passed" if over else "failed"
    parcel = import_json.unpack(json.dumps(data), "a.json")
    (tmp_path / "other").mkdir()
    other = opened(tmp_path / "other")
    for new in (2, 0):
        assert import_json.take_in(other.store, parcel).taken.steps == new
    assert results(other.step(2)) == EXPECTED


def test_a_caution_was_a_think_in_an_earlier_logbook_and_export(
    bench: Bench, tmp_path: Path
) -> None:
    starting.record_override(bench, 1, ["too warm"], "a trial", now=NOW, verdict="think")
    starting.record_override(bench, 1, ["too cold"], "a lamp", now=NOW)
    data = json.loads("".join(export_json.pieces(bench, StepQuery(), NOW)))
    path = bench.store.path
    bench.store.close()
    with closing(sqlite3.connect(path)) as db:
        before = schema.MIGRATIONS.index(schema._verdicts_in_present_words)
        db.execute(f"PRAGMA user_version = {before}")
    (tmp_path / "other").mkdir()
    other = opened(tmp_path / "other")
    import_json.take_in(other.store, import_json.unpack(json.dumps(data), "a.json"))
    with closing(Store(path)) as store:
        for step in (Bench(store).step(1), other.step(1)):
            assert [mixed.verdict for mixed in step.overrides] == ["caution", "stop"]
        bodies = [event.body for event in store.events([1])[1] if event.kind == "overridden"]
    assert [body.get("verdict") for body in bodies] == ["caution", None]


def test_a_test_put_off_or_found_too_early_is_asked_again(bench: Bench) -> None:
    bench.test(1, "later", now=NOW, milestone="clamp_time")
    milestone = seen(bench)
    assert milestone.shown is not None
    assert milestone.shown >= NOW + timedelta(minutes=10)
    text = milestone_words.recorded("later", milestone, NOW, words.ReaderFormat(ZoneInfo("UTC")))
    assert text == f"I'll ask again at {milestone.shown:%H:%M}."


def test_an_answer_that_does_not_fit_the_test_is_refused_with_those_that_do(bench: Bench) -> None:
    for name, wrong in (
        ("working_time", "reached"),
        ("clamp_time", "gone-off"),
        ("recoat_closes", "not-yet"),
    ):
        number = bench.start(PRIMER, now=NOW) if name == "recoat_closes" else 1
        with pytest.raises(StepError, match=f"use {', '.join(answers_to(name))}"):
            bench.test(number, wrong, now=NOW, milestone=name)


def test_not_yet_after_reached_opens_it_again_and_is_shown(bench: Bench) -> None:
    bench.test(1, "gone-off", now=ago(500), milestone="working_time")
    untouched = late_min(bench, "clamp_time")
    bench.test(1, "reached", now=ago(100), milestone="clamp_time")
    assert late_min(bench, "clamp_time") < untouched
    bench.test(1, "not-yet", now=ago(60), milestone="clamp_time")
    milestone = seen(bench)
    assert (milestone.reached, milestone.not_yet, milestone.reopened) == (False, True, ago(100))
    assert bench.view(NOW).due[0].milestone.name == "clamp_time"
    assert milestone.shown is not None
    assert milestone.shown >= ago(60) + timedelta(minutes=10)
    assert late_min(bench, "clamp_time") > 540, "not before it was found not yet reached"


def test_not_yet_at_one_opens_what_comes_after_it_too(bench: Bench) -> None:
    bench.test(1, "reached", now=ago(30), milestone="sand_ready")
    assert bench.view(NOW).due[0].milestone.name == "full_cure"
    bench.test(1, "not-yet", now=ago(20), milestone="clamp_time")
    assert [bench.step(1).reached, set(bench.step(1).reopened)] == [{}, {"sand_ready"}]
    assert bench.view(NOW).due[0].milestone.name in ("working_time", "clamp_time")


def test_reached_a_second_time_does_not_move_when_it_was(bench: Bench) -> None:
    bench.test(1, "reached", now=ago(100), milestone="clamp_time")
    before = bench.step_view(1, NOW)
    bench.test(1, "reached", now=NOW, milestone="clamp_time")
    assert bench.step(1).reached["clamp_time"].at == ago(100)
    after = bench.step_view(1, NOW)
    assert after.by_name["sand_ready"] == before.by_name["sand_ready"]


def test_reached_once_more_after_not_yet_is_when_it_was(bench: Bench) -> None:
    for minutes, result in ((100, "reached"), (60, "not-yet"), (5, "reached")):
        bench.test(1, result, now=ago(minutes), milestone="clamp_time")
    assert bench.step(1).reached["clamp_time"].at == ago(5)
    assert seen(bench).reopened is None


FRESH = 1.0


@pytest.mark.parametrize("name", ["full_cure", "clamp_time", "working_time", "pot_life"])
def test_what_can_hardly_be_is_refused_until_it_is_sure(tmp_path: Path, name: str) -> None:
    bench = opened(tmp_path)
    bench.start(ADHESIVE, now=ago(FRESH))
    over = "gone-off" if "gone-off" in answers_to(name) else "reached"
    with pytest.raises(UnlikelyError, match="after only 1 min: hardly possible before"):
        bench.test(1, over, now=NOW, milestone=name)
    assert bench.step(1).answers == {}
    bench.test(1, over, now=NOW, milestone=name, sure=True)
    assert name in bench.step(1).reached


def test_a_window_is_not_over_before_its_label_says(tmp_path: Path) -> None:
    bench = opened(tmp_path)
    bench.start(PRIMER, now=ago(600))
    with pytest.raises(UnlikelyError, match="recoat closes after only"):
        bench.test(1, "reached", now=NOW, milestone="recoat_closes")


def test_what_is_due_is_never_asked_about(bench: Bench) -> None:
    for name in ("working_time", "clamp_time", "sand_ready"):
        step = bench.step_view(1, NOW)
        shown = step.by_name[name].shown
        assert shown is not None
        assert too_soon(step, name, bench.step(1).after_min(shown)) == ""


@given(early=st.floats(1, 1e4), wider=st.floats(1, 5), label=st.floats(1, 1e4))
def test_the_soonest_lies_before_the_early_bound(early: float, wider: float, label: float) -> None:
    """One in a thousand is 3.09 standard deviations, one in twenty 1.645 (any normal table)."""
    soonest = soonest_min(early, early * wider, label)
    assert 0 < soonest <= early * (1 + 1e-9)
    assert soonest == pytest.approx(early * wider * wider ** (-3.0902 / 1.6449), rel=1e-3)


def test_the_command_refuses_it_without_yes(run: Run) -> None:
    run("mix", ADHESIVE, "--ago", "1 min")
    told = ("test", "1", "reached", "--milestone", "full_cure")
    code, _, sentence = run(*told)
    assert code == 2
    assert "full cure after only 1 min" in sentence
    assert "add --yes" in sentence
    assert run(*told, "--yes")[0] == 0


def test_the_page_asks_really_and_stores_it_once_it_is_said_to_be_so(tmp_path: Path) -> None:
    garage = open_garage(tmp_path)
    garage.mix(ADHESIVE, 1)
    browser = garage.app.test_client()
    text = json.dumps(touched(browser, "answer", "1/full_cure/reached")["asked"])
    assert "Really?" in text
    assert "Full cure after only 1 min" in text
    assert garage.bench.step(1).reached == {}
    touched(browser, "answer sure", "1/full_cure/reached")
    assert "full_cure" in garage.bench.step(1).reached
    garage.store.close()


def test_taken_back_it_is_as_if_it_was_never_answered(bench: Bench) -> None:
    before = seen(bench)
    bench.test(1, "reached", now=ago(100), milestone="clamp_time")
    event = bench.store.events([1])[1][-1].id
    bench.store.add_event(1, "forgot", NOW, NOW, {"event": event})
    assert seen(bench) == before
