"""Times of arrival: never the same twice in a topic, never far from the clock."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from hypothesis import given
from hypothesis import strategies as st

from sensors.mqtt.arrival import Arrivals, Backlog

NOW = datetime(2025, 10, 20, 18, 0, 0, 500, tzinfo=UTC)


def stamps(steps_ms: list[float]) -> list[datetime]:
    """The stamps of one topic's messages, the clock moving so far before each. [ms]"""
    shown = [NOW]
    arrivals = Arrivals(lambda: shown[0])
    moments = []
    for step in steps_ms:
        shown[0] += timedelta(milliseconds=step)
        moments.append(arrivals.stamp("a"))
    return moments


@given(st.lists(st.floats(0, 3), max_size=200))
def test_no_two_messages_of_a_topic_share_a_millisecond(steps_ms: list[float]) -> None:
    stamps_ms = [round(at.timestamp() * 1000) for at in stamps(steps_ms)]
    assert len(set(stamps_ms)) == len(stamps_ms)


def test_topics_do_not_push_each_other() -> None:
    arrivals = Arrivals(lambda: NOW)
    assert arrivals.stamp("a") == arrivals.stamp("b") == NOW.replace(microsecond=0)


def test_a_clock_set_back_by_an_hour_is_believed_at_once() -> None:
    first, second = stamps([0, -3_600_000])
    assert first - second == timedelta(hours=1)


@given(st.integers(2, 4000), st.booleans())
def test_a_clock_corrected_backwards_makes_no_sensor_wait(seconds: int, restarted: bool) -> None:
    shown = [NOW]
    arrivals = Arrivals(lambda: shown[0])
    before = arrivals.stamp("a")
    shown[0] -= timedelta(seconds=seconds)
    if restarted and seconds > 6:
        arrivals = Arrivals(lambda: shown[0], {"a": before})
    assert not arrivals.full("a")
    assert arrivals.stamp("a") - shown[0] <= timedelta(seconds=5)


def test_no_flood_carries_a_stamp_more_than_a_minute_ahead() -> None:
    assert max(stamps([0] * 70_000)) - NOW <= timedelta(minutes=1)


@given(st.integers(0, 4000), st.integers(0, 3000))
def test_a_run_that_begins_after_a_burst_gives_none_of_its_stamps_again(
    burst: int, pause_ms: int
) -> None:
    shown = [NOW]
    before = Arrivals(lambda: shown[0])
    given = {before.stamp("a") for _ in range(burst)}
    shown[0] += timedelta(milliseconds=pause_ms)
    after = Arrivals(lambda: shown[0], {"a": max(given)} if given else {})
    assert given.isdisjoint(after.stamp("a") for _ in range(100))


def test_a_topic_that_runs_ahead_waits_for_the_clock() -> None:
    shown = [NOW]
    arrivals = Arrivals(lambda: shown[0])
    sent = 0
    while not arrivals.full("a"):
        arrivals.stamp("a")
        sent += 1
    assert 5000 <= sent <= 5002
    assert not arrivals.full("b")
    shown[0] += timedelta(milliseconds=2)
    assert not arrivals.full("a")


def late(*moments: tuple[str, float]) -> list[bool]:
    """Whether each message is late, given what happened at which second."""
    at_s = [0.0]
    backlog = Backlog(lambda: at_s[0])
    late = []
    for what, at_s[0] in moments:
        if what == "message":
            late.append(backlog.late())
        else:
            getattr(backlog, what)()
    return late


def test_without_a_session_kept_by_the_broker_nothing_is_late() -> None:
    assert late(("message", 0), ("message", 0.01)) == [False, False]


def test_what_comes_in_the_first_two_seconds_may_have_waited() -> None:
    assert late(("met", 0), ("message", 0.1), ("message", 1.9), ("message", 2.2)) == [
        True,
        True,
        False,
    ]


def test_a_long_backlog_lasts_until_it_pauses() -> None:
    moments = [("message", second / 10) for second in range(1, 40)]
    assert late(("met", 0), *moments, ("message", 4.3)) == [True] * 39 + [False]


def test_no_backlog_lasts_longer_than_a_minute() -> None:
    moments = [("message", second / 10) for second in range(1, 620)]
    assert late(("met", 0), *moments)[-1] is False


def test_a_short_cut_of_the_network_does_not_matter() -> None:
    assert late(("parted", 10), ("met", 40), ("message", 40.1)) == [False]
    assert late(("parted", 10), ("met", 80), ("message", 80.1)) == [True]
