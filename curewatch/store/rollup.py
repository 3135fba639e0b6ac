"""What each hour and day of each series held: least, mean, most and how many, as readings come.

Flagged readings are left out. Sums are whole numbers (of 1e-9 C or %, and of ms after the full
hour), so that they are the same in whatever order the readings came. Days (of 24 h, UTC) are worked
out from their hours by triggers in the file, so that they follow whatever changes an hour.
"""

from __future__ import annotations

import sqlite3
from collections import defaultdict
from collections.abc import Iterable, Sequence
from datetime import datetime
from typing import NamedTuple

from curewatch.climate.reading import Quantity

HOUR_MS = 3_600_000
PER_UNIT = 1_000_000_000
LAST_MS = 7_258_118_399_999
SOUND = f"+at_ms BETWEEN 0 AND {LAST_MS} AND value BETWEEN -1000 AND 1000"
"""What a row may hold, as a file may be changed by hand: a time until 2199 [ms], a number. The plus
leaves the index to the times that are asked for."""
Row = tuple[int, int, float, str | None]

_HELD = f"""
    SELECT at_ms / {HOUR_MS}, series, min(value), max(value), count(*),
        sum(CAST(round(value * {PER_UNIT}) AS INTEGER)), sum(at_ms % {HOUR_MS})
    FROM reading WHERE {SOUND} AND"""
TABLE = f"""
CREATE TABLE hour (
    hour INTEGER NOT NULL, series INTEGER NOT NULL, low REAL NOT NULL,
    high REAL NOT NULL, count INTEGER NOT NULL, sum INTEGER NOT NULL, ms INTEGER NOT NULL,
    PRIMARY KEY (hour, series)) WITHOUT ROWID;
INSERT INTO hour {_HELD} doubt IS NULL GROUP BY series, at_ms / {HOUR_MS}
"""
_ADD = """
    INSERT INTO hour VALUES (?, ?, ?, ?, ?, ?, ?) ON CONFLICT DO UPDATE SET
        low = min(low, excluded.low), high = max(high, excluded.high),
        count = count + excluded.count, sum = sum + excluded.sum, ms = ms + excluded.ms"""
_AGAIN = f"""
    INSERT INTO hour {_HELD} flag IS NULL AND series = ? AND at_ms BETWEEN ? AND ?
    GROUP BY series"""

BUCKETS = f"""
    SELECT source, place, quantity, total(ms) / sum(count), total(value) / sum(count) FROM (
        SELECT series AS id, hour / :hours AS bucket, count,
            hour * {HOUR_MS}.0 * count + ms AS ms, sum / {PER_UNIT}.0 AS value
        FROM hour WHERE hour BETWEEN :first AND :last
        UNION ALL
        SELECT id, at_ms / (:hours * {HOUR_MS}), 1, at_ms, value FROM series CROSS JOIN reading
        ON series = id WHERE at_ms BETWEEN :start AND :before AND flag IS NULL AND {SOUND}
        UNION ALL
        SELECT id, at_ms / (:hours * {HOUR_MS}), 1, at_ms, value FROM series CROSS JOIN reading
        ON series = id WHERE at_ms BETWEEN :after AND :end AND flag IS NULL AND {SOUND})
    JOIN series USING (id) GROUP BY id, bucket ORDER BY 4"""
SPANS = """
    SELECT place, quantity, bucket * :hours * {hour_ms}, min(low), total(sum) / sum(count),
        max(high), sum(count)
    FROM (
        SELECT series AS id, {unit} / :units AS bucket, min(low) AS low, max(high) AS high,
            total(sum) / {per_unit} AS sum, sum(count) AS count
        FROM {unit} WHERE {unit} BETWEEN :first AND :last
        AND series IN (SELECT id FROM series WHERE place = coalesce(:place, place))
        GROUP BY series, bucket)
    JOIN series USING (id) GROUP BY place, quantity, bucket ORDER BY bucket"""
DAY_H = 24
_DAY_OF = """
    DELETE FROM day WHERE day = {row}.hour / 24 AND series = {row}.series;
    INSERT INTO day SELECT hour / 24, series, min(low), max(high), sum(count), sum(sum) FROM hour
        WHERE hour BETWEEN {row}.hour / 24 * 24 AND {row}.hour / 24 * 24 + 23
        AND series = {row}.series GROUP BY series;"""


class MeasuredSpan(NamedTuple):
    """What a stretch of whole hours from `start` held at a place. Values in [C] or [%]."""

    place: str
    quantity: Quantity
    start: datetime
    minimum: float
    mean: float
    maximum: float
    readings: int


def whole_hours(start_ms: int, end_ms: int, hours: int) -> dict[str, int]:
    """The parameters of BUCKETS: whole hours from their roll-up, the edges from readings. [ms]"""
    first, last = -(-start_ms // HOUR_MS), (end_ms + 1) // HOUR_MS - 1
    if last < first:
        first, last = first, first - 1
    return {
        "hours": hours,
        "first": first,
        "last": last,
        "start": start_ms,
        "before": min(first * HOUR_MS - 1, end_ms),
        "after": (last + 1) * HOUR_MS,
        "end": end_ms,
    }


def spans(
    start_ms: int, end_ms: int, hours: int, place: str | None
) -> tuple[str, dict[str, int | str | None]]:
    """What SPANS asks, and its parameters: of days where the buckets are whole ones. [ms], [h]"""
    size = DAY_H if hours % DAY_H == 0 else 1
    unit = "day" if size == DAY_H else "hour"
    first, last = (at_ms // (size * HOUR_MS) for at_ms in (start_ms, end_ms))
    values = {"hours": hours, "units": hours // size, "first": first, "last": last, "place": place}
    return SPANS.format(unit=unit, hour_ms=HOUR_MS, per_unit=PER_UNIT), values


def build_days(connection: sqlite3.Connection) -> None:
    """Make the table of days out of the hours, and what keeps it so; again where it is there."""
    connection.execute(
        """CREATE TABLE IF NOT EXISTS day (
            day INTEGER NOT NULL, series INTEGER NOT NULL, low REAL NOT NULL,
            high REAL NOT NULL, count INTEGER NOT NULL, sum INTEGER NOT NULL,
            PRIMARY KEY (day, series)) WITHOUT ROWID"""
    )
    connection.execute(
        """INSERT OR REPLACE INTO day
            SELECT hour / 24, series, min(low), max(high), sum(count), sum(sum)
            FROM hour GROUP BY hour / 24, series"""
    )
    for act, row in (("INSERT", "NEW"), ("UPDATE", "NEW"), ("DELETE", "OLD")):
        body = _DAY_OF.format(row=row)
        made = f"CREATE TRIGGER IF NOT EXISTS day_{act} AFTER {act} ON hour"
        connection.execute(f"{made} BEGIN {body} END")


def add(connection: sqlite3.Connection, rows: Iterable[Row]) -> None:
    """Add readings that were all new: series, at [ms], value [C or %], flag."""
    by_hour: dict[tuple[int, int], list[tuple[int, float]]] = defaultdict(list)
    for series, at_ms, value, flag in rows:
        if flag is None:
            by_hour[at_ms // HOUR_MS, series].append((at_ms, value))
    connection.executemany(_ADD, [_summed(*key, values) for key, values in by_hour.items()])


def _summed(
    hour: int, series: int, readings: Sequence[tuple[int, float]]
) -> tuple[int, int, float, float, int, int, int]:
    times, values = zip(*readings, strict=True)
    total = sum([round(value * PER_UNIT) for value in values])
    after = sum(times) - len(times) * hour * HOUR_MS
    return hour, series, min(values), max(values), len(values), total, after


def work_out(connection: sqlite3.Connection, rows: Iterable[Row]) -> None:
    """Work the hours of these rows out again from the readings, as some were there before or are
    used no more."""
    hours = {(series, at_ms // HOUR_MS * HOUR_MS) for series, at_ms, _, _ in rows}
    spans = [(series, start, start + HOUR_MS - 1) for series, start in sorted(hours)]
    keys = [(start // HOUR_MS, series) for series, start in sorted(hours)]
    connection.executemany("DELETE FROM hour WHERE hour = ? AND series = ?", keys)
    connection.executemany(_AGAIN, spans)
