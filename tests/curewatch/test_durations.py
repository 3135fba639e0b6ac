"""Lengths of time and instants: rounded to the careful side, said one way everywhere."""

from __future__ import annotations

import ast
import re
from datetime import UTC, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from curewatch.durations import Rounding, ago, between, duration, full_minute, on_wall, parts
from curewatch.durations import rounding as rounding_of
from curewatch.formats import ReaderFormat
from curewatch.vocabulary import MILESTONES

TOP = Path(__file__).resolve().parents[2]
UNITS = {"s": 1 / 60, "min": 1.0, "h": 60.0, "days": 1440.0, "": 1.0}
BERLIN = ReaderFormat(ZoneInfo("Europe/Berlin"))
YEARS = st.integers(1_700_000_000, 1_900_000_000).map(lambda s: datetime.fromtimestamp(s / 7, UTC))


def minutes_said(minutes: float, how: Rounding) -> float:
    """What a length's words amount to. [min]"""
    return sum(float(figure) * UNITS[unit] for figure, unit in parts(minutes, how))


@given(st.floats(0.0, 60_000.0))
def test_up_never_says_less_and_down_never_more(minutes: float) -> None:
    assert minutes_said(minutes, "up") >= minutes - 1e-5
    assert minutes_said(minutes, "down") <= minutes + 1e-5
    low, high = minutes_said(minutes, "down"), minutes_said(minutes, "up")
    assert low <= minutes_said(minutes, "near") <= high


@given(st.floats(0.0, 60_000.0), st.floats(0.0, 60_000.0), st.sampled_from(["up", "down", "near"]))
def test_a_longer_time_is_never_said_shorter(one: float, two: float, how: Rounding) -> None:
    low, high = sorted((one, two))
    assert minutes_said(low, how) <= minutes_said(high, how)


@pytest.mark.parametrize(
    ("minutes", "up", "down"),
    [
        (2.85 * 1440, "2 days 21 h", "2 days 20 h"),
        (48 * 60 + 1, "2 days 1 h", "2 days"),
        (47 * 60 + 59.5, "2 days", "47 h 59"),
        (0.995, "1 min", "59 s"),
        (59.2, "1 h", "59 min"),
        (6.99 * 1440, "7 days", "6 days 23 h"),
        (8.2 * 1440, "9 days", "8 days"),
    ],
)
def test_every_unit_rounds_to_the_careful_side(minutes: float, up: str, down: str) -> None:
    assert (duration(minutes, "up"), duration(minutes, "down")) == (up, down)


def test_each_milestone_knows_its_side() -> None:
    down = {name for name in MILESTONES if rounding_of(name) == "down"}
    assert down == {"pot_life", "working_time", "recoat_closes"}


def test_a_range_says_a_common_unit_once() -> None:
    assert between(39.4, 66.2, "down") == "39 min to 1 h 06"
    assert between(26, 40) == "26 to 40 min"
    assert between(100, 130) == "1 h 40 to 2 h 10"
    assert ago(61.9) == "1 h 01 ago"


@given(YEARS, st.floats(0.1, 5000.0))
def test_countdown_and_clock_of_what_is_waited_for_never_say_too_early(
    start: datetime, after_min: float
) -> None:
    at = on_wall(start, after_min, "clamp_time")
    assert at == full_minute(at)
    assert timedelta() <= at - (start + timedelta(minutes=after_min)) < timedelta(minutes=1)
    exact = on_wall(start, after_min, "working_time")
    assert exact == start + timedelta(minutes=after_min)


def local(day: int, clock: str) -> datetime:
    """An instant of October 2026 in Berlin."""
    hour, minute = map(int, clock.split(":"))
    return datetime(2026, 10, day, hour, minute, tzinfo=BERLIN.zone).astimezone(UTC)


@pytest.mark.parametrize(
    ("now", "at", "words"),
    [
        ((14, "19:42"), (15, "00:12"), "tonight 00:12"),
        ((14, "08:00"), (15, "00:12"), "tonight 00:12"),
        ((14, "23:59"), (15, "03:59"), "tonight 03:59"),
        ((14, "23:59"), (15, "04:00"), "tomorrow 04:00"),
        ((14, "19:42"), (15, "07:10"), "tomorrow 07:10"),
        ((14, "19:42"), (16, "00:12"), "Fri 00:12"),
        ((15, "00:30"), (15, "02:00"), "02:00"),
        ((15, "00:30"), (15, "07:10"), "07:10"),
        ((15, "00:30"), (14, "23:50"), "yesterday 23:50"),
        ((15, "02:00"), (16, "01:00"), "Fri 01:00"),
        ((15, "02:00"), (16, "09:00"), "tomorrow 09:00"),
        ((24, "22:00"), (25, "02:30"), "tonight 02:30 CEST"),
    ],
)
def test_the_coming_night_is_tonight_until_the_evening_ends(
    now: tuple[int, str], at: tuple[int, str], words: str
) -> None:
    assert BERLIN.moment(local(*at), local(*now)) == words


def test_lengths_and_moments_are_said_in_one_place() -> None:
    """No other module turns minutes into hours or days for people, nor names a day."""
    by_hand = re.compile(
        r":\.\d+f\} (s|min|h|days)\b|/ (60|1440|3600)\b.*\} (min|h|days)|tomorrow \{"
    )
    named = {"curewatch/durations.py", "curewatch/formats.py"}
    typed = {"curewatch/units.py"}
    offending = []
    for package in ("curewatch", "dashboard", "sensors"):
        for file in sorted((TOP / package).rglob("*.py")):
            name = file.relative_to(TOP).as_posix()
            texts = (
                ast.unparse(node)
                for node in ast.walk(ast.parse(file.read_text(encoding="utf-8")))
                if isinstance(node, ast.JoinedStr)
            )
            if name not in named | typed:
                offending += [f"{name}: {text}" for text in texts if by_hand.search(text)]
    assert not offending
