"""What each series gave last, for whoever judges the next reading or says what is lost."""

from __future__ import annotations

from datetime import datetime, timedelta

from curewatch.climate.flag import SET_ASIDE, WITHDRAWN, Flag, flag_of, text_of
from curewatch.climate.reading import AHEAD, QUANTITIES, Quantity, Reading
from curewatch.frozen import frozen
from curewatch.store import rollup
from curewatch.store.database import Logbook
from curewatch.walltime import from_ms, to_ms

DAY_MS = 86_400_000
STANDS = f"coalesce(flag, '') NOT IN ({', '.join(repr(text_of(flag)) for flag in WITHDRAWN)})"
LAST_MS = f"""(
    SELECT at_ms FROM reading AS last WHERE last.series = series.id AND at_ms <= :until AND {STANDS}
    AND {rollup.SOUND} ORDER BY at_ms DESC LIMIT 1)"""


@frozen
class Ahead:
    """Readings of one series whose time lies in the future: how many, and until when."""

    source: str
    place: str
    quantity: Quantity
    count: int
    last: datetime


@frozen
class FlaggedSpan:
    """Readings of one series that are not used for one reason, from `first` to `last`; value: of
    the first one. [C or %]"""

    source: str
    place: str
    quantity: Quantity
    value: float
    first: datetime
    last: datetime
    count: int
    flag: Flag


@frozen
class Unsound:
    """Rows of one series that are no readings: no number as value, or an impossible time."""

    source: str
    place: str
    quantity: Quantity
    count: int


def until_ms(now: datetime | None) -> int:
    """Up to when a reading may count at an instant: a sensor's clock may be a little ahead."""
    return rollup.LAST_MS if now is None else to_ms(now + AHEAD)


class LatestReadings(Logbook):
    """The part of the logbook's file that tells the ends of its series."""

    def latest(self, now: datetime | None = None) -> list[Reading]:
        """The last reading of every series, flagged ones too but none that was withdrawn; of the
        future of an instant none, where one is given."""
        sql = f"""
            SELECT source, place, quantity, at_ms, value, flag FROM series CROSS JOIN reading
            ON series = series.id AND at_ms = {LAST_MS}
            ORDER BY place, quantity, source"""
        return [
            Reading(place, QUANTITIES[quantity], value, from_ms(ms), source, flag and flag_of(flag))
            for source, place, quantity, ms, value, flag in self._rows(
                sql, {"until": until_ms(now)}
            )
        ]

    def ahead(self, now: datetime) -> list[Ahead]:
        """The readings of the future, which a clock that was ahead left behind."""
        sql = f"""
            SELECT source, place, quantity, count(*), max(at_ms) FROM series CROSS JOIN reading
            ON series = series.id AND at_ms > ? WHERE {STANDS} AND {rollup.SOUND} GROUP BY series.id
            ORDER BY place, quantity, source"""
        return [
            Ahead(source, place, QUANTITIES[quantity], count, from_ms(last))
            for source, place, quantity, count, last in self._rows(sql, (until_ms(now),))
        ]

    def set_aside(self, now: datetime) -> int:
        """Use no reading of the future, also when its time has come; returns how many there were.

        The rows stay, and the roll-ups of their hours are worked out again.
        """
        sql = f"""
            UPDATE reading SET flag = ? WHERE at_ms > ? AND {STANDS} AND {rollup.SOUND}
            RETURNING series, at_ms, value, flag"""
        with self._write(until_ms(now), entered=False) as connection:
            rows = connection.execute(sql, (text_of(SET_ASIDE), until_ms(now))).fetchall()
            rollup.work_out(connection, rows)
        return len(rows)

    def usable(self, now: datetime | None = None) -> list[Reading]:
        """The last reading of every series that the model may use, of the day before its last."""
        sql = f"""
            WITH ends AS (SELECT id, source, place, quantity, {LAST_MS} AS last FROM series)
            SELECT source, place, quantity, at_ms, value FROM ends CROSS JOIN reading
            ON series = id AND at_ms = (
                SELECT at_ms FROM reading WHERE series = id AND at_ms > last - :day
                AND at_ms <= :until AND flag IS NULL AND {rollup.SOUND} ORDER BY at_ms DESC LIMIT 1)
            ORDER BY place, quantity, source"""
        return [
            Reading(place, QUANTITIES[quantity], value, from_ms(ms), source)
            for source, place, quantity, ms, value in self._rows(
                sql, {"day": DAY_MS, "until": until_ms(now)}
            )
        ]

    def tail(self, most: int) -> list[Reading]:
        """The last readings of every series, at most so many of each, in order of time."""
        sql = f"""
            SELECT source, place, quantity, at_ms, value, flag FROM series CROSS JOIN reading
            ON series = id AND {rollup.SOUND} AND at_ms >= coalesce((
                SELECT at_ms FROM reading WHERE series = id AND {rollup.SOUND}
                ORDER BY at_ms DESC LIMIT 1 OFFSET ?), 0)
            ORDER BY at_ms"""
        return [
            Reading(place, QUANTITIES[quantity], value, from_ms(ms), source, flag and flag_of(flag))
            for source, place, quantity, ms, value, flag in self._rows(sql, (most - 1,))
        ]

    def same_since_s(self, last: Reading) -> float:
        """Since when a series has given its last reading's value, at most a day back. [s]"""
        series = f"""{rollup.SOUND} AND series = (
            SELECT id FROM series WHERE source = ? AND place = ? AND quantity = ?)"""
        sql = f"""
            SELECT min(at_ms) FROM reading WHERE {series} AND at_ms > coalesce((
                SELECT at_ms FROM reading WHERE {series} AND at_ms > ? AND value <> ?
                ORDER BY at_ms DESC LIMIT 1), ?)"""
        which, back = (
            (last.source, last.place, QUANTITIES.index(last.quantity)),
            to_ms(last.at) - DAY_MS,
        )
        (since_ms,) = self._rows(sql, (*which, *which, back, last.value, back))[0]
        return last.at.timestamp() if since_ms is None else float(since_ms) / 1000

    def flagged(
        self, start: datetime, end: datetime, bucket: timedelta, most: int
    ) -> list[FlaggedSpan]:
        """The readings that are not used from start to end, but for withdrawn ones; those of one
        series in one bucket together, at most so many, the latest."""
        sql = f"""
            SELECT source, place, quantity, value, min(at_ms), max(at_ms), count(*), flag
            FROM reading INDEXED BY reading_flagged CROSS JOIN series ON id = series
            WHERE at_ms BETWEEN ? AND ? AND flag IS NOT NULL AND {STANDS} AND {rollup.SOUND}
            GROUP BY series, at_ms / ? ORDER BY 5 DESC LIMIT ?"""
        step_ms = max(1, round(bucket.total_seconds() * 1000))
        return [
            FlaggedSpan(
                source, place, QUANTITIES[quantity], value, from_ms(first), from_ms(last), count,
                flag_of(flag),
            )
            for source, place, quantity, value, first, last, count, flag in self._rows(
                sql, (to_ms(start), to_ms(end), step_ms, most)
            )
        ]  # fmt: skip

    def first_hour(self) -> int | None:
        """The first hour since 1970 that anything was measured in; None where nothing was. [h]"""
        first_hour: int | None = self._rows("SELECT min(hour) FROM hour")[0][0]
        return first_hour

    def unsound(self) -> list[Unsound]:
        """What of each series was changed by hand into no reading; looks at every row."""
        sql = f"""
            SELECT source, place, quantity, count(*) FROM series CROSS JOIN reading
            ON series = series.id WHERE NOT ({rollup.SOUND}) GROUP BY series.id
            ORDER BY place, quantity, source"""
        return [
            Unsound(source, place, QUANTITIES[quantity], count)
            for source, place, quantity, count in self._rows(sql)
        ]

    def newest_entry(self) -> int:
        """The number of the last thing told in the ledger; 0 where there is none."""
        return int(self._rows("SELECT coalesce(max(id), 0) FROM ledger")[0][0])
