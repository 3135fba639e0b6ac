"""Which readings are flagged and why: what a fault looks like, and what honest air looks like."""

from __future__ import annotations

import math
import time
from collections.abc import Callable, Sequence
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from curewatch.climate.flag import Flag
from curewatch.climate.psychrometrics import FloatArray
from curewatch.climate.reading import QUANTITIES, Quantity, Reading
from curewatch.climate.series import lagged
from curewatch.quality.control import STUCK_S, QualityControl
from curewatch.quality.single_sensor import (
    FAR_PERSISTS_S,
    PERSISTS,
    PERSISTS_S,
    STEP_LIMITS,
    within_step_limits,
)
from curewatch.quality.state import ReadingContext
from demo.seed import SHOWN, history
from tests.support.many import cases
from tests.support.weather import year

AT = datetime(2026, 11, 25, 17, 5, tzinfo=UTC)
SURFACE, AIR, DAMP = QUANTITIES
Course = Sequence[tuple[float, float]]
Flags = list[Flag | None]
FAILED = Flag("failed")


def reading(
    minute: float,
    value: float,
    quantity: Quantity = SURFACE,
    place: str = "panel",
    source: str = "probe",
) -> Reading:
    return Reading(place, quantity, value, AT + timedelta(minutes=minute), source)


def judged(
    course: Sequence[Reading], judge: QualityControl | None = None, **values: float
) -> Flags:
    """The flags of readings in the order given, the sensors giving what is read."""
    judge = judge or QualityControl()
    return [judge.flag(reading, ReadingContext(reading.value, **values)) for reading in course]


def codes(flags: Flags) -> list[str]:
    """The codes of flags, '' for a reading that may be used."""
    return ["" if flag is None else flag.code for flag in flags]


def every(
    minutes: float, count: int, value: Callable[[float], float], **where: str
) -> list[Reading]:
    """Readings at even times. minutes: between two [min]"""
    return [reading(minutes * n, value(minutes * n), **where) for n in range(count)]  # type: ignore[arg-type]


def jump(gap: float, seconds: float = 60.0) -> Flag:
    return Flag("jump", gap=gap, seconds=seconds)


@pytest.mark.parametrize(
    ("quantity", "course", "flags"),
    [
        # a fault of one reading is flagged alone
        (SURFACE, [(0, 14), (1, 45), (2, 14.1)], [None, jump(31.0), None]),
        (AIR, [(0, 12), (1, -40), (2, 12)], [None, jump(-52.0), None]),
        (DAMP, [(0, 45), (1, 100), (2, 45)], [None, jump(55.0), None]),
        # a lamp on thin sheet, a door on 20 K, a breath: none is a jump
        (SURFACE, [(n, 14 + 8 * n) for n in range(5)], [None] * 5),
        (AIR, [(0, 18), (1, 5.4), (2, 0.7), (3, -1)], [None] * 4),
        (DAMP, [(0, 50), (0.2, 74), (1, 88)], [None] * 3),
        # what may have happened since the last reading grows with the time, but not without end
        (SURFACE, [(0, 10), (5, 48)], [None, None]),
        (SURFACE, [(0, 10), (300, 60)], [None, jump(50.0, 18_000.0)]),
        (SURFACE, [(0, 10), (800, 60)], [None, None]),
        # a thermometer that did not measure
        (SURFACE, [(0, 80), (1, 85.0)], [None, FAILED]),
        (SURFACE, [(0, 80), (1, 85.1)], [None, None]),
    ],
)
def test_a_step_that_cannot_be_is_flagged_and_one_that_can_be_is_not(
    quantity: Quantity, course: Course, flags: Flags
) -> None:
    assert judged([reading(minute, value, quantity) for minute, value in course]) == flags


def test_a_new_level_that_persists_is_believed_after_three_minutes() -> None:
    flags = judged(every(0.5, 20, lambda minute: 10.0 if minute < 2 else 60.0))
    flagged = [n for n, flag in enumerate(flags) if flag]
    assert flagged == [4, 5, 6, 7, 8, 9]


def test_a_fault_that_comes_and_goes_is_never_believed() -> None:
    flags = judged(every(1, 60, lambda minute: 14.0 if minute % 2 else 60.0)[1:])
    assert sum(map(bool, flags)) == 29


def warming(minute: float) -> float:
    return 12.0 + minute / 30


def stuck_beside(other: Callable[[float], float], **where: str) -> Flags:
    """The flags of a probe on the panel that gives 14.2 all the time, beside another sensor."""
    where = {"quantity": AIR, "place": "air", "source": "air"} | where
    judge = QualityControl()
    flags: Flags = []
    for n in range(60):
        judged([reading(5 * n, other(5 * n), **where)], judge)  # type: ignore[arg-type]
        flags += judged([reading(5 * n + 1, 14.2)], judge)
    return flags


def test_a_probe_that_stands_still_while_the_air_moves_is_stuck_since_its_last_change() -> None:
    flags = stuck_beside(warming)
    first = next(n for n, flag in enumerate(flags) if flag)
    assert 5 * first >= STUCK_S / 60
    assert set(flags[first:]) == {Flag("stuck", since=AT + timedelta(minutes=1), value=14.2)}


@pytest.mark.parametrize(
    ("other", "where"),
    [
        (lambda minute: 12.0, {}),
        (lambda minute: 12.0 + (5 if 60 < minute < 80 else 0), {}),
        (lambda minute: 12.0 + minute / 60, {"place": "outdoors"}),
        (warming, {"quantity": DAMP}),
        (warming, {"quantity": SURFACE, "place": "tailgate"}),
        (warming, {"place": "panel", "source": "typed"}),
        (warming, {"source": "file logger.csv"}),
    ],
    ids=["all is still", "a door", "outdoors, a little", "damper", "a lamp", "typed", "a file"],
)
def test_standing_still_is_no_fault_while_nothing_tells_that_it_should_move(
    other: Callable[[float], float], where: dict[str, str]
) -> None:
    assert set(stuck_beside(other, **where)) == {None}


def test_one_changed_digit_lifts_the_flag() -> None:
    judge = QualityControl()
    for n in range(60):
        judged([reading(5 * n, warming(5 * n), AIR, "air", "air"), reading(5 * n + 1, 14.2)], judge)
    assert codes(judged([reading(301, 14.2)], judge)) == ["stuck"]
    assert judged([reading(302, 14.3)], judge) == [None]


@pytest.mark.parametrize(
    ("value", "place", "after_h"),
    [(100.0, "air", 6.0), (99.9, "air", 6.0), (100.0, "outdoors", 24.0), (0.0, "air", 0.5)],
)
def test_a_hygrometer_that_stays_at_an_end_is_flagged_after_a_while(
    value: float, place: str, after_h: float
) -> None:
    flags = judged(every(10, 150, lambda minute: value, quantity=DAMP, place=place))
    assert [bool(flag) for flag in flags] == [10 * n >= 60 * after_h for n in range(150)]
    assert flags[-1] == Flag("end", since=AT, value=value)


LAGS = [
    (60.0, Flag("zone", seconds=3600.0)),
    (330.0, Flag("zone", seconds=19_800.0)),
    (60.0 * 24 * 40, Flag("clock", seconds=40 * 86_400 + 2)),
    (17.0, None),
    (75.0, None),
    (0.0, None),
]


@pytest.mark.parametrize(("lag_min", "flag"), LAGS)
def test_a_clock_that_is_off_by_a_zone_or_by_days_is_flagged(
    lag_min: float, flag: Flag | None
) -> None:
    judge = QualityControl()
    flags = [
        judge.flag(reading(5 * n, 14 + n / 10), ReadingContext(14 + n / 10, 60 * lag_min + n % 3))
        for n in range(12)
    ]
    assert flags[:4] == [None] * 4
    assert flags[-1] == flag


def test_what_waited_at_a_broker_for_hours_is_no_wrong_clock() -> None:
    judge = QualityControl()
    flags = [
        judge.flag(reading(n, 14.0 + n / 50), ReadingContext(14.0, 60 * (200 - n)))
        for n in range(200)
    ]
    assert set(flags) == {None}


def beside(
    values: dict[str, float], checked: dict[str, float] | None = None, hours: float = 3
) -> dict[str, Flags]:
    """The flags of sensors at one place that give these values all the time, a little noisy."""
    judge = QualityControl()
    flags: dict[str, Flags] = {source: [] for source in values}
    for n in range(round(12 * hours)):
        for source, value in values.items():
            seen = value + 0.1 * (n % 2)
            context = ReadingContext(seen, checked_s=(checked or {}).get(source, float("-inf")))
            flags[source].append(judge.flag(reading(5 * n, seen, source=source), context))
    return flags


def test_of_two_that_differ_the_one_without_a_check_is_flagged() -> None:
    november = datetime(2026, 11, 3, tzinfo=UTC).timestamp()
    flags = beside({"a": 14.0, "b": 16.5}, {"a": november})
    assert set(flags["a"]) == {None}
    assert flags["b"][:12] == [None] * 12
    other_checked = datetime.fromtimestamp(november, UTC)
    assert flags["b"][-1] == Flag(
        "apart", since=AT, gap=2.5, source="a", other_checked=other_checked
    )


def test_of_two_that_differ_the_one_with_the_older_check_is_flagged() -> None:
    old, new = (datetime(2026, month, 3, tzinfo=UTC).timestamp() for month in (6, 11))
    flags = beside({"a": 14.0, "b": 16.5}, {"a": old, "b": new})
    flag = flags["a"][-1]
    assert flag is not None
    assert [moment.timestamp() for moment in (flag.checked, flag.other_checked) if moment] == [
        old,
        new,
    ]
    assert flag.gap == pytest.approx(-2.5, abs=0.11)
    assert set(flags["b"]) == {None}


def test_of_two_equally_unknown_both_stay_in_use() -> None:
    flags = beside({"a": 14.0, "b": 16.5})
    assert set(flags["a"] + flags["b"]) == {None}


def test_of_three_the_one_that_stands_against_the_others_is_flagged() -> None:
    flags = beside({"a": 14.0, "b": 14.4, "c": 18.0})
    assert set(flags["a"] + flags["b"]) == {None}
    flag = flags["c"][-1]
    assert flag is not None
    assert (flag.code, flag.others, flag.since) == ("outvoted", 2, AT)
    assert (flag.gap or 0) > 3


def test_sensors_within_their_errors_agree_and_a_patch_of_sun_passes() -> None:
    checked = {"a": 0.0}
    near_by = beside({"a": 14.0, "b": 15.5}, checked)
    assert set(near_by["a"] + near_by["b"]) == {None}
    assert set(beside({"a": 14.0, "b": 18.0}, checked, hours=0.9)["b"]) == {None}


def test_what_was_typed_is_not_judged() -> None:
    typed = [reading(n, 14.0 if n % 2 else 60.0, source="typed") for n in range(20)]
    assert set(judged(typed)) == {None}


def test_what_comes_late_is_judged_by_its_neighbours_and_changes_nothing() -> None:
    judge = QualityControl()
    course = every(1, 10, lambda minute: 14.0 + minute / 10)
    judged(course[:5] + course[6:], judge)
    assert judged([reading(4.5, 14.5), reading(5.5, 70.0)], judge) == [None, Flag("spike")]
    assert judged([reading(10, 15.0)], judge) == [None]


steps = st.lists(st.tuples(st.floats(1.0, 3600.0), st.floats(-1.0, 1.0)), min_size=1, max_size=60)


@given(st.sampled_from(QUANTITIES), steps)
def test_a_course_that_keeps_to_the_physics_is_never_a_jump(
    quantity: Quantity, steps: list[tuple[float, float]]
) -> None:
    at_s, value, course = 0.0, 20.0, [reading(0, 20.0, quantity)]
    for gap_s, share in steps:
        at_s += gap_s
        value += 0.99 * share * STEP_LIMITS[quantity].allowed(gap_s)
        course.append(reading(at_s / 60, value, quantity))
    assert "jump" not in codes(judged(course))


@given(
    st.sampled_from(QUANTITIES),
    st.floats(-40, 60),
    st.floats(-40, 60),
    st.floats(2.0, 900.0),
)
def test_no_true_change_is_flagged_longer_than_it_must_last_to_be_believed(
    quantity: Quantity, before: float, after: float, gap_s: float
) -> None:
    far = quantity == AIR and abs(after - before) > STEP_LIMITS[AIR].soon
    lasts_s = FAR_PERSISTS_S if far else PERSISTS_S
    count = PERSISTS + math.ceil(lasts_s / gap_s) + 2
    course = [reading(0, before, quantity)]
    course += [reading((n + 1) * gap_s / 60, after, quantity) for n in range(count)]
    texts = codes(judged(course))
    assert texts.count("jump") <= max(PERSISTS - 1, lasts_s / gap_s + 2)
    assert texts[-1] != "jump"


@settings(max_examples=60)
@given(st.lists(st.floats(-50, 90), min_size=1, max_size=30), st.data())
def test_a_reading_that_comes_again_is_judged_as_it_was(
    values: list[float], data: st.DataObject
) -> None:
    judge = QualityControl()
    course = [reading(n, value) for n, value in enumerate(values)]
    first = judged(course, judge)
    again = data.draw(st.lists(st.integers(0, len(course) - 1)))
    assert judged([course[n] for n in again], judge) == [first[n] for n in again]


@pytest.mark.alone
def test_the_five_thousandth_reading_costs_what_the_hundredth_cost() -> None:
    judge, took = QualityControl(), []
    for hundred in range(50):
        course = [reading(100 * hundred + n, 14 + n % 7) for n in range(100)]
        begun = time.process_time()
        judged(course, judge)
        took.append(time.process_time() - begun)
    assert min(took[-10:]) < 2 * min(took[:10])


# the hour of the year at which each begins: winter and summer, then spring and autumn
FORTNIGHTS = (0, 24 * 180, 24 * 90, 24 * 280)


def share_flagged(course: Sequence[Reading]) -> float:
    """The share of readings that are flagged. [-]"""
    flags = judged(sorted(course, key=lambda reading: reading.at))
    return sum(map(bool, flags)) / len(flags)


def test_the_demo_s_fortnight_has_no_flagged_reading() -> None:
    assert share_flagged(list(history(SHOWN))) == 0


def test_of_a_year_of_open_weather_only_the_row_known_to_be_bad_is_flagged() -> None:
    weather = year()
    hours = range(weather.outdoors_c.size)
    channels: list[tuple[FloatArray, Quantity, str]] = [
        (weather.outdoors_c, AIR, "outdoors"),
        (weather.humidity_pct, DAMP, "outdoors"),
        (weather.garage_c, AIR, "air"),
    ]
    course = [
        reading(60 * hour, round(float(values[hour]), 1), quantity, place, f"{place} {quantity}")
        for values, quantity, place in channels
        for hour in hours
    ]
    assert len(course) > 26_000
    course.sort(key=lambda reading: reading.at)
    flagged = [reading.value for reading, flag in zip(course, judged(course), strict=True) if flag]
    assert flagged == [-10.5]


@pytest.mark.parametrize("first", FORTNIGHTS[: cases(2)])
def test_doors_heater_and_coarse_digits_are_flagged_in_less_than_one_of_a_thousand(
    first: int,
) -> None:
    """A fortnight minute by minute: 30 doors opened for 20 min, 10 times a heater for 3 h."""
    weather, rng = year(), np.random.default_rng(first)
    minutes: FloatArray = np.arange(14 * 1440, dtype=np.float64) + 60.0 * first
    out, inside, wet = (
        np.interp(minutes / 60, np.arange(values.size), values)
        for values in (weather.outdoors_c, weather.garage_c, weather.humidity_pct)
    )
    door, heat = np.zeros(minutes.size), np.zeros(minutes.size)
    for at in rng.integers(0, minutes.size - 200, 30):
        door[at : at + 20] = 1
    for at in rng.integers(0, minutes.size - 200, 10):
        heat[at : at + 180] = 15
    gone, warmer = lagged(60 * minutes, door, 1.0), lagged(60 * minutes, heat, 40.0)
    air = inside + warmer * (1 - gone) + (out - inside) * gone
    damp = np.clip(60 + (wet - 60) / 2 - 2.5 * (air - inside), 5, 97)
    sensors: list[tuple[FloatArray, float, int, Quantity, str]] = [
        (out, 0.1, 5, AIR, "outdoors"),
        (air + rng.normal(0, 0.1, air.size), 0.5, 1, AIR, "air"),
        (
            lagged(60 * minutes, air, 3.0) + rng.normal(0, 0.04, air.size),
            0.0625,
            1,
            SURFACE,
            "panel",
        ),
        (lagged(60 * minutes, air, 360.0), 0.5, 10, AIR, "shelf"),
        (damp, 1.0, 1, DAMP, "air"),
    ]
    course = [
        reading(n, round(float(values[n]) / digit) * digit, quantity, place, f"{place} {quantity}")
        for values, digit, gap, quantity, place in sensors
        for n in range(0, values.size, gap)
    ]
    assert share_flagged(course) < 0.001


def found_after_h(rng: np.random.Generator) -> float:
    """How long a panel's probe that froze in a garage of the open weather goes unnoticed. [h]"""
    weather = year()
    first = int(rng.integers(0, weather.garage_c.size - 80))
    minutes: FloatArray = np.arange(0, 60.0 * 72, 5)
    air = np.interp(first + minutes / 60, np.arange(weather.garage_c.size), weather.garage_c)
    panel = lagged(60 * minutes, air, 3.0)
    air = np.round(10 * (air + rng.normal(0, 0.05, air.size))) / 10
    panel = np.round(16 * (panel + rng.normal(0, 0.04, air.size))) / 16
    froze = int(rng.integers(12 * 12, 24 * 12))
    panel[froze:] = panel[froze]
    judge = QualityControl()
    for n, minute in enumerate(minutes):
        judged([reading(minute, float(air[n]), AIR, "air", "air")], judge)
        if judged([reading(minute, float(panel[n]))], judge)[0]:
            return (n - froze) / 12
    return float("inf")


def test_a_frozen_probe_is_noticed_within_half_a_day_more_often_than_not() -> None:
    rng = np.random.default_rng(2)
    after = [found_after_h(rng) for _ in range(60)]
    assert min(after) > 0
    assert np.median(after) <= 12
    assert np.mean([value <= 48 for value in after]) >= 0.85


def test_a_door_on_fifteen_degrees_is_near_for_a_probe_of_any_speed() -> None:
    for lag_s in (8.0, 60.0, 300.0):
        for gap_s in (1.0, 10.0, 60.0, 600.0):
            seen = 15 * (1 - np.exp(-gap_s / max(lag_s, 60.0)))
            assert within_step_limits(AIR, gap_s, seen)


def test_after_a_clock_was_ahead_the_next_readings_are_judged_again() -> None:
    judge, start = QualityControl(), datetime(2026, 10, 17, 18, 0, tzinfo=UTC)

    def flag(minutes: float, value: float) -> Flag | None:
        at = start + timedelta(minutes=minutes)
        return judge.flag(
            Reading("panel", "surface_temperature", value, at, "probe"), ReadingContext(value)
        )

    assert flag(0, 14.0) is None
    assert flag(30 * 24 * 60, 14.0) is None
    assert [flag(minutes, 14.0) for minutes in (1, 2, 3)] == [None] * 3
    jumped = flag(4, 70.0)
    assert jumped is not None
    assert jumped.code == "jump"


FAULT = [(minute, -2.0 if 60 <= minute < 85 else 20.0) for minute in range(0, 180, 5)]


def test_air_that_falls_by_twenty_degrees_at_once_is_not_believed_for_half_an_hour() -> None:
    texts = codes(judged([reading(minute, value, AIR) for minute, value in FAULT]))
    assert texts == ["jump" if 60 <= minute < 85 else "" for minute, _ in FAULT]


def test_air_that_falls_as_far_beside_another_thermometer_that_falls_is_believed() -> None:
    judge, flags = QualityControl(), []
    for minute, value in FAULT:
        judged([reading(minute, value, AIR, "air", "other")], judge)
        flags += judged([reading(minute + 0.5, value, AIR, "air", "this")], judge)
    assert set(flags) == {None}


def test_a_humidity_that_rests_while_the_temperature_swings_is_not_stuck() -> None:
    judge, flags = QualityControl(), []
    for n in range(60):
        judged([reading(5 * n, 10 + n / 5, AIR, "air", "warmth")], judge)
        flags += judged([reading(5 * n, 65.0, DAMP, "air", "damp")], judge)
    assert set(flags) == {None}
