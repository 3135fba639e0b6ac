"""A step whose times cannot be worked out is shown as damaged; everything else goes on."""

from __future__ import annotations

import logging
from pathlib import Path
from typing import Any

import pytest

from curewatch.bench import reader
from curewatch.bench.bench import Bench
from curewatch.cure import forecast as model
from curewatch.errors import StoreError
from curewatch.garage import damaged
from curewatch.garage.damaged import REASON
from curewatch.garage.step import DamagedStep
from tests.conftest import Run
from tests.support import crafted_exports
from tests.support.logbooks import NOW


def fails_for(monkeypatch: pytest.MonkeyPatch, bench: Bench, number: int) -> None:
    """The model fails over the mix of one step."""
    forecast, mixed = model.forecast, bench.step(number).mixed_at

    def failing(sheet: Any, mix: Any, *more: Any) -> model.Forecast:
        if mix.mixed_at == mixed:
            raise ZeroDivisionError("float division by zero")
        return forecast(sheet, mix, *more)

    monkeypatch.setattr(reader, "forecast", failing)


@pytest.fixture
def bench(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Any:
    found = crafted_exports.rich(tmp_path / "data")
    fails_for(monkeypatch, found, 3)
    yield found
    found.store.close()


def test_the_bench_goes_on_without_it_and_its_failure_is_logged_once(
    bench: Bench, caplog: pytest.LogCaptureFixture
) -> None:
    with caplog.at_level(logging.ERROR):
        view = bench.view(NOW)
        with pytest.raises(DamagedStep, match="step 3 is damaged"):
            bench.step_view(3, NOW)
    assert [(each.step, each.what) for each in view.failed] == [(3, REASON)]
    assert 3 not in [step.id for step in view.steps]
    assert view.steps
    (log_record,) = [
        record for record in caplog.records if record.name == "curewatch.garage.damaged"
    ]
    assert log_record.getMessage().endswith("(failure 1 since the start)")
    assert log_record.exc_info
    assert bench.reader.failures.steps == {3}


def test_every_page_answers_and_it_is_removed_with_a_touch(bench: Bench) -> None:
    assert crafted_exports.failing(bench) == {}
    browser = crafted_exports.app(bench).test_client()
    for path in ("/", "/step/3", "/damaged"):
        answer = browser.get(path)
        assert (answer.status_code, REASON in answer.text) == (200, True), path
    assert "/step/3/history" in browser.get("/step/3").text
    texts = {"entry": damaged.failed_step(bench.store.events([3])[3], DamagedStep(3, "")).id}
    origin = {"Origin": "http://localhost"}
    answer = browser.post("/damaged/remove", data=texts | {"once": "a"}, headers=origin)
    assert answer.status_code == 303
    assert REASON not in browser.get("/").text
    assert bench.view(NOW).failed == ()


def test_what_is_exported_says_it_with_all_its_events(bench: Bench) -> None:
    data = crafted_exports.exported(bench)
    assert 3 not in [each["step"] for each in data["steps"]]
    lost = [each for each in data["damaged"] if each["of"] == "step 3"]
    assert len(lost) == len(bench.store.events([3])[3])


def test_the_commands_go_on_and_name_it(
    bench: Bench, run: Run, caplog: pytest.LogCaptureFixture
) -> None:
    with caplog.at_level(logging.CRITICAL):
        for words in crafted_exports.COMMANDS:
            code, _, text = run(*words.split())
            assert (code, "unforeseen" in text) == (0, False), (words, text)
        for words in ("bench", "log", "undo --damaged"):
            assert REASON in run(*words.split())[1], words


def test_what_the_disk_says_is_not_taken_for_a_damaged_step(bench: Bench) -> None:
    with pytest.raises(StoreError), bench.reader.failures.of(bench.step(1)):
        raise StoreError("the disk is full")
    assert bench.reader.failures.steps == set()
