"""When a message came, and whether it may have waited at the broker before."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from datetime import UTC, datetime, timedelta
from time import monotonic

TICK, SET_BACK, ENOUGH_AHEAD, MOST_AHEAD = (
    timedelta(seconds=seconds) for seconds in (0.001, 1, 5, 60)
)
SETTLE_S, QUIET_S, MOST_TOPICS = (2.0, 60.0), 0.25, 1000


class Arrivals:
    """Times of arrival, at least 1 ms apart within a topic: the store tells no closer ones apart.

    In a burst they run ahead of the clock, by a few seconds at most; `last`, by topic, is where an
    earlier run had come to. A clock that was set back counts anew.
    """

    def __init__(
        self, clock: Callable[[], datetime], last: Mapping[str, datetime] | None = None
    ) -> None:
        self._clock = clock
        self._newest = datetime.min.replace(tzinfo=UTC) + SET_BACK
        most = clock() + ENOUGH_AHEAD + TICK
        self._last = {topic: at for topic, at in (last or {}).items() if at <= most}

    def full(self, topic: str) -> bool:
        """Whether a topic has run so far ahead of the clock that its next message has to wait."""
        now, last = self._now(), self._last.get(topic)
        return last is not None and MOST_AHEAD > last - now > ENOUGH_AHEAD

    def stamp(self, topic: str) -> datetime:
        """Now, or just after the topic's last message."""
        now = self._now()
        if len(self._last) > MOST_TOPICS:
            self._last.clear()
        after = self._last.get(topic, now - TICK) + TICK
        self._last[topic] = at = now if after > now + MOST_AHEAD else max(now, after)
        return at

    def _now(self) -> datetime:
        """The clock's time to the millisecond; what was given before it was set back is dropped."""
        now = self._clock()
        now = now.replace(microsecond=now.microsecond // 1000 * 1000)
        if now < self._newest - SET_BACK:
            self._last.clear()
        self._newest = now
        return now


class Backlog:
    """Whether a message may have waited at the broker while this process was away.

    So it may be after a persistent session was met again, until a first quiet moment; after
    less than a minute away it does not matter.
    """

    def __init__(self, monotonic_s: Callable[[], float] = monotonic) -> None:
        self._monotonic_s = monotonic_s
        self._session_met_at = self._lost_at = self._last_message = -math.inf

    def parted(self) -> None:
        """The connection was lost."""
        self._lost_at = self._monotonic_s()

    def met(self) -> None:
        """The broker still knew the session."""
        now = self._monotonic_s()
        if now - self._lost_at > SETTLE_S[1]:
            self._session_met_at = now

    def late(self) -> bool:
        """Whether the message that has just come may be one of the backlog."""
        now, (least, most), last_message = self._monotonic_s(), SETTLE_S, self._last_message
        self._last_message = now
        if now > self._session_met_at + most or (
            now > self._session_met_at + least and now > last_message + QUIET_S
        ):
            self._session_met_at = -math.inf
        return self._session_met_at > -math.inf
