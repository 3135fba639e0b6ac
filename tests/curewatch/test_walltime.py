"""Times of day as people type them."""

from __future__ import annotations

from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import pytest

from curewatch.errors import ConfigError
from curewatch.walltime import next_time

NOW = datetime(2026, 11, 14, 17, 0, tzinfo=UTC)
BERLIN = ZoneInfo("Europe/Berlin")


@pytest.mark.parametrize("text", ["22:30", "10:30 PM", "10:30pm", "10:30 p.m.", " 10:30 pm "])
def test_a_time_of_day_is_taken_by_either_clock(text: str) -> None:
    assert next_time(text, NOW, BERLIN) == datetime(2026, 11, 14, 21, 30, tzinfo=UTC)


@pytest.mark.parametrize(
    ("text", "hour"), [("9 pm", 20), ("9pm", 20), ("12 am", 23), ("11 PM", 22), ("21", 20)]
)
def test_a_full_hour_needs_no_minutes(text: str, hour: int) -> None:
    assert next_time(text, NOW, BERLIN) == datetime(2026, 11, 14, hour, 0, tzinfo=UTC)


@pytest.mark.parametrize("text", ["13 pm", "9 p", "0 am", "10:75 pm", "late"])
def test_what_is_no_time_of_day_is_refused(text: str) -> None:
    with pytest.raises(ConfigError, match="no time of day"):
        next_time(text, NOW, BERLIN)
