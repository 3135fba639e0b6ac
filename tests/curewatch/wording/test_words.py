"""What the pages say, as a table."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from curewatch.bench.bench import Details
from curewatch.bench.views import Change, ShownTimes
from curewatch.cure.belief import learned
from curewatch.cure.explanation import learned_notice
from curewatch.cure.forecast import Forecast
from curewatch.cure.inputs import Mix
from curewatch.gate.gate import gate
from curewatch.gate.gather import ask
from curewatch.notice import Notice
from curewatch.notice_words import sentence
from curewatch.products.sheet import KINDS, generic_sheets
from curewatch.vocabulary import MILESTONES, STATES
from curewatch.wording import milestone_words, words
from curewatch.wording.words import ReaderFormat
from tests.support.pages import EVENING, open_garage, weather
from tests.support.steps import START, even, forecast_at

BERLIN = ReaderFormat(ZoneInfo("Europe/Berlin"))
FAR_WEST = ReaderFormat(ZoneInfo("America/Denver"), "F", 12, ",")
NOW = datetime(2026, 10, 14, 17, 42, tzinfo=UTC)


@pytest.mark.parametrize(
    ("minutes", "rounding", "sentence"),
    [
        (0, "down", "0 s"),
        (-3, "down", "0 s"),
        (0.5, "down", "30 s"),
        (0.999, "up", "1 min"),
        (1, "down", "1 min"),
        (14.9, "down", "14 min"),
        (14.1, "up", "15 min"),
        (14, "up", "14 min"),
        (59.5, "up", "1 h"),
        (60, "down", "1 h"),
        (65, "down", "1 h 05"),
        (200, "down", "3 h 20"),
        (1440, "down", "24 h"),
        (48 * 60, "down", "2 days"),
        (10_080, "up", "7 days"),
    ],
)
def test_a_length_is_said_as_people_say_it(
    minutes: float, rounding: words.Rounding, sentence: str
) -> None:
    assert words.duration(minutes, rounding) == sentence


@pytest.mark.parametrize(
    ("manner", "at", "words"),
    [
        (BERLIN, NOW, "19:42"),
        (BERLIN, NOW + timedelta(hours=11, minutes=28), "tomorrow 07:10"),
        (BERLIN, NOW - timedelta(days=1), "yesterday 19:42"),
        (BERLIN, NOW + timedelta(days=3), "Sat 19:42"),
        (BERLIN, NOW + timedelta(days=30), "13 Nov 18:42"),
        (FAR_WEST, NOW, "11:42 am"),
        (FAR_WEST, NOW + timedelta(hours=1), "12:42 pm"),
    ],
)
def test_a_moment_names_its_day_where_it_is_not_today(
    manner: ReaderFormat, at: datetime, words: str
) -> None:
    assert manner.moment(at, NOW) == words


@pytest.mark.parametrize(
    ("manner", "quantity", "amount", "sentence"),
    [
        (BERLIN, "surface_temperature", 14.24, "14.2 °C"),
        (BERLIN, "surface_temperature", -0.04, "0.0 °C"),
        (BERLIN, "surface_temperature", -3.6, "−3.6 °C"),
        (BERLIN, "relative_humidity", 67.6, "68 %"),
        (FAR_WEST, "air_temperature", 10.0, "50,0 °F"),
        (FAR_WEST, "dew_point_spread", 5.0, "9,0 °F"),
    ],
)
def test_a_value_is_said_in_the_readers_unit_and_mark(
    manner: ReaderFormat, quantity: str, amount: float, sentence: str
) -> None:
    assert words.value(manner, quantity, amount) == sentence


def _at(hour: int, minute: int = 0, day: int = 0) -> datetime:
    return NOW.astimezone(BERLIN.zone).replace(hour=hour, minute=minute) + timedelta(days=day)


EVENING_TIMES = ShownTimes(_at(23, 52), _at(2, 57, 1))
LATER_TIMES = ShownTimes(_at(1, 6, 1), _at(15, 29, 1))


def _change(
    milestone: str,
    later_min: float,
    panel: tuple[float, float],
    entered: bool = False,
    times: tuple[ShownTimes, ShownTimes] = (EVENING_TIMES, LATER_TIMES),
) -> Change:
    return Change(milestone, later_min, NOW, *panel, entered, *times)


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        (
            _change("clamp_time", -752, (9.0, 9.0), entered=True),
            "clamps off now likely 23:52, by tonight 02:57 at the latest (was tonight 01:06, "
            "tomorrow 15:29), because of what you entered.",
        ),
        (
            _change("clamp_time", 752, (16.0, 14.2), times=(LATER_TIMES, EVENING_TIMES)),
            "clamps off now likely tonight 01:06, by tomorrow 15:29 at the latest (was 23:52, "
            "tonight 02:57), because the panel cooled from 16.0 to 14.2 °C.",
        ),
        (
            _change("sand_ready", -70.0, (9.0, 14.0)),
            "sand-ready now likely 23:52, by tonight 02:57 at the latest (was tonight 01:06, "
            "tomorrow 15:29), because the panel warmed from 9.0 to 14.0 °C.",
        ),
        (
            _change("sand_ready", 70.0, (9.0, 9.0), times=(LATER_TIMES, EVENING_TIMES)),
            "sand-ready now likely tonight 01:06, by tomorrow 15:29 at the latest (was 23:52, "
            "tonight 02:57), because the forecast temperature changed.",
        ),
        (
            _change("sand_ready", -70.0, (15.6, 15.2), times=(EVENING_TIMES, LATER_TIMES)),
            "sand-ready now likely 23:52, by tonight 02:57 at the latest (was tonight 01:06, "
            "tomorrow 15:29), more certain now, with more readings.",
        ),
        (
            _change(
                "working_time",
                -20.0,
                (9.0, 9.0),
                entered=True,
                times=(ShownTimes(_at(20, 10), _at(20)), ShownTimes(_at(20, 35), _at(20, 20))),
            ),
            "working time ends now likely 20:10, at the earliest 20:00 (was 20:35, 20:20), "
            "because of what you entered.",
        ),
        (
            _change(
                "clamp_time",
                30.0,
                (9.0, 9.0),
                times=(ShownTimes(None, _at(21)), ShownTimes(_at(20, 10), _at(20, 30))),
            ),
            "clamps off now by 21:00 at the latest (was 20:30), because the forecast "
            "temperature changed.",
        ),
    ],
)
def test_a_border_that_moved_is_said_with_its_new_times_and_its_cause(
    change: Change, sentence: str
) -> None:
    assert words.moved(change, NOW, BERLIN) == sentence


def test_every_milestone_has_its_words() -> None:
    for table in (
        milestone_words.DO,
        milestone_words.THEN,
        milestone_words.TEST,
        milestone_words.QUESTION,
    ):
        assert list(table) == list(MILESTONES)


def test_every_state_and_kind_has_its_word() -> None:
    assert set(words.STATES) == set(STATES)
    assert set(words.KIND) == set(KINDS)


def _all_texts(value: object) -> list[str]:
    if isinstance(value, str):
        return [value]
    if isinstance(value, dict):
        return [text for each in value.values() for text in _all_texts(each)]
    if isinstance(value, tuple):
        return [text for each in value for text in _all_texts(each)]
    return []


def test_no_word_promises_anything() -> None:
    answers = ("ANSWERS", "SAVED")  # what a person found is theirs to say
    texts = [
        text
        for name in vars(words)
        if name.isupper() and name not in answers
        for text in _all_texts(vars(words)[name])
    ]
    assert len(texts) > 60
    for text in texts:
        assert not re.search(r"\b(safe|safely|certain|certainly|guarantee\w*)\b", text, re.I), text
        assert not re.search(r"(?<!sand-)\bready\b", text, re.I), text


@given(st.floats(0, 20_000))
def test_waiting_is_never_said_shorter_than_it_is(minutes: float) -> None:
    def counted(rounding: str) -> float:
        unit = {"s": 1 / 60, "min": 1.0, "h": 60.0, "": 1.0, "days": 1440.0}
        pairs = words.parts(minutes, rounding)  # type: ignore[arg-type]
        return sum(float(figure) * unit[name] for figure, name in pairs)

    assert counted("down") <= minutes + 1e-5
    assert counted("up") >= minutes - 1 / 60 - 1e-5


@pytest.mark.parametrize(
    ("late_s", "sentence"),
    [(0, ""), (20, ""), (180, "entered 3 min later"), (7200, "entered 2 h later")],
)
def test_a_mix_told_afterwards_says_so(late_s: float, sentence: str) -> None:
    assert words.entered_late(NOW, NOW + timedelta(seconds=late_s)) == sentence


LEAKS = re.compile(r"\d ?(°?C|K)\b|(?<![\d.])\d+\.\d+(?![\d.])|\bx\d|\d um\b|\b\d\d:\d\d(?! [ap]m)")


def _notices(forecast: Forecast) -> Iterator[Notice]:
    yield from forecast.reason
    yield from forecast.warnings
    for milestone in forecast.milestones:
        yield from milestone.warnings


def _of_the_model() -> Iterator[Notice]:
    for sheet in generic_sheets().values():
        for celsius in (-8.0, 3.5, 9.0, 14.2, 21.0, 38.0, 44.0):
            mix = Mix(START, 60.5, film_um=80.0)
            yield from _notices(forecast_at(sheet, celsius, humidity_pct=86.0, mix=mix))
            yield from _notices(forecast_at(sheet, celsius, now_min=90.0))
        yield learned_notice(learned(sheet))
    for source in ("surface", "air", "assumed"):
        yield from replace(even(9.5, 30.0), source=source).notes


def _of_the_bench(folder: Path) -> Iterator[str]:
    for number, base_c in enumerate((2.0, 14.0)):
        garage = open_garage(folder / str(number))
        garage.hear(weather(EVENING, base_c=base_c, hours=30))
        for sheet in generic_sheets():
            garage.mix(sheet, 40, part="rib", amount_g=60.5)
        view = garage.bench.view(garage.clock())
        notices = [*view.notes, *(view.track.basis if view.track else ())]
        for step in view.steps:
            notices += [*_notices(step.forecast), *step.warnings]
        yield from (sentence(notice, FAR_WEST) for notice in notices)
        for sheet in generic_sheets():
            proposal = ask(garage.bench, sheet, garage.clock(), Details(amount_g=250.5))
            for check in gate(proposal, FAR_WEST).checks:
                yield from (check.words, check.change, check.source)
        garage.store.close()


def test_no_sentence_of_model_gate_or_outlook_leaks_celsius_or_a_point(tmp_path: Path) -> None:
    model = {sentence(notice, FAR_WEST) for notice in _of_the_model()}
    texts = model | {text for text in _of_the_bench(tmp_path) if text}
    assert len(texts) > 150
    for text in sorted(texts):
        assert not LEAKS.search(text), text


@pytest.mark.parametrize(
    ("manner", "sentence"),
    [
        (BERLIN, "roof seam: recoat window closes 21:20, in 1 h 38; "
         "after that scuff before coating."),
        (FAR_WEST, "roof seam: recoat window closes 1:20 pm, in 1 h 38; "
         "after that scuff before coating."),
    ],
)  # fmt: skip
def test_a_window_that_shuts_is_said_with_its_time_and_what_comes_after(
    manner: ReaderFormat, sentence: str
) -> None:
    assert words.shuts("roof seam", NOW + timedelta(minutes=98), NOW, manner) == sentence


def test_what_an_empty_garage_says_names_no_command_and_no_topic() -> None:
    for text in words.EMPTY.values():
        assert "curewatch" not in text
