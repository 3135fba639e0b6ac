"""Readings stored and read back; and which of a source are withdrawn: corrected since, or taken
back. The rows stay.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime
from pathlib import Path
from typing import Any

from curewatch.climate.flag import Flag, flag_of, text_of
from curewatch.climate.reading import QUANTITIES, Quantity, Reading
from curewatch.store import rollup
from curewatch.store.database import Logbook
from curewatch.store.rollup import MeasuredSpan
from curewatch.walltime import from_ms, to_ms

Key = tuple[str, Quantity, int]


def key_of(reading: Reading) -> Key:
    """What tells a reading of one source from the others: place, quantity, when [ms]."""
    return reading.place, reading.quantity, to_ms(reading.at)


def _as_readings(rows: Iterable[tuple[Any, ...]], of: str | None) -> list[Reading]:
    return [
        Reading(place, QUANTITIES[quantity], value, from_ms(round(ms)), source)
        for source, place, quantity, ms, value in rows
        if of in (None, place)
    ]


class Measured(Logbook):
    """The part of the logbook's file that holds the readings."""

    def __init__(self, path: Path) -> None:
        super().__init__(path)
        self._series: dict[tuple[str, str, str], int] = {}

    def _undo(self, connection: sqlite3.Connection) -> None:
        self._series.clear()
        super()._undo(connection)

    def _series_id(self, connection: sqlite3.Connection, reading: Reading) -> int:
        row = (reading.source, reading.place, QUANTITIES.index(reading.quantity))
        connection.execute(
            "INSERT OR IGNORE INTO series (source, place, quantity) VALUES (?, ?, ?)", row
        )
        sql = "SELECT id FROM series WHERE source = ? AND place = ? AND quantity = ?"
        number = int(connection.execute(sql, row).fetchone()[0])
        self._series[reading.source, reading.place, reading.quantity] = number
        return number

    def add_readings(self, readings: Sequence[Reading]) -> int:
        """Store readings in one transaction; storing one twice is storing it once.

        Returns how many were new.
        """
        first = min((to_ms(reading.at) for reading in readings), default=None)
        with self._write(first, entered=False) as connection:
            series_id = self._series.get
            rows: list[rollup.Row] = [
                (
                    series_id((r.source, r.place, r.quantity)) or self._series_id(connection, r),
                    round(r.at.timestamp() * 1000),
                    r.value,
                    text_of(r.flag) if r.flag else None,
                )
                for r in readings
            ]
            before = connection.total_changes
            connection.executemany(
                "INSERT INTO reading VALUES (?, ?, ?, ?) ON CONFLICT (series, at_ms) DO NOTHING",
                rows,
            )
            new = connection.total_changes - before
            (rollup.add if new == len(rows) else rollup.work_out)(connection, rows)
            return new

    def readings(
        self, start: datetime, end: datetime, *, bucket_s: float = 0.001, place: str | None = None
    ) -> list[Reading]:
        """The usable readings from start to end, in order of time. Of all places, or one.

        Each bucket [s] that holds several of one series gives their mean at their mean time;
        buckets of whole hours come from the roll-ups.
        """
        hours, rest = divmod(bucket_s, 3600)
        if hours and not rest:
            values = rollup.whole_hours(to_ms(start), to_ms(end), round(hours))
            return _as_readings(self._rows(rollup.BUCKETS, values), place)
        sql = f"""
            SELECT series.source, place, quantity, avg(at_ms), avg(value)
            FROM series CROSS JOIN reading ON series = series.id
            WHERE at_ms BETWEEN ? AND ? AND flag IS NULL AND {rollup.SOUND}
            GROUP BY series.id, at_ms / ? ORDER BY at_ms"""
        span = (to_ms(start), to_ms(end), max(1, round(bucket_s * 1000)))
        return _as_readings(self._rows(sql, span), place)

    def measured_spans(
        self, start: datetime, end: datetime, *, hours: int = 1, place: str | None = None
    ) -> list[MeasuredSpan]:
        """Least, mean and most of every `hours` hours, from start's hour to end's, both whole;
        where these are whole days, from start's day to end's.

        Of all places, or one.
        """
        sql, values = rollup.spans(to_ms(start), to_ms(end), hours, place)
        return [
            MeasuredSpan(where, QUANTITIES[quantity], from_ms(ms), low, mean, high, count)
            for where, quantity, ms, low, mean, high, count in self._rows(sql, values)
        ]

    def mark(self, source: str, marks: Mapping[Key, Flag | None]) -> None:
        """Flag readings of a source, or let them stand again (None).

        The roll-ups of their hours are worked out again.
        """
        first = min((at_ms for _, _, at_ms in marks), default=None)
        with self._write(first, entered=False) as connection:
            changed: list[rollup.Row] = []
            for (place, quantity, at_ms), flag in marks.items():
                sql = """
                    UPDATE reading SET flag = ? WHERE at_ms = ? AND series = (
                        SELECT id FROM series WHERE source = ? AND place = ? AND quantity = ?)
                    RETURNING series, at_ms, value, flag"""
                which = (source, place, QUANTITIES.index(quantity))
                changed += connection.execute(
                    sql, (flag and text_of(flag), at_ms, *which)
                ).fetchall()
            rollup.work_out(connection, changed)

    def of_source(self, source: str, start: datetime, end: datetime) -> list[Reading]:
        """The readings of a source from start to end, withdrawn ones too, the latest first."""
        sql = f"""
            SELECT place, quantity, at_ms, value, flag FROM series CROSS JOIN reading
            ON series = series.id WHERE source = ? AND at_ms BETWEEN ? AND ? AND {rollup.SOUND}
            ORDER BY at_ms DESC, place, quantity"""
        return [
            Reading(place, QUANTITIES[quantity], value, from_ms(ms), source, flag and flag_of(flag))
            for place, quantity, ms, value, flag in self._rows(
                sql, (source, to_ms(start), to_ms(end))
            )
        ]
