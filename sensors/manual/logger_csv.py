"""A data logger's CSV file to readings: columns guessed, times read, the same checks. Pure."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime, tzinfo
from functools import partial

from curewatch.climate.reading import AHEAD, Reading, make_reading
from curewatch.errors import ReadingError
from curewatch.frozen import frozen
from curewatch.text import plain
from sensors.manual.csv_columns import NUMBER, Column, columns_of
from sensors.manual.csv_dates import Order, named_zone, order_of, read_time
from sensors.manual.csv_options import FileOptions, Unclear
from sensors.manual.csv_table import CsvRow, CsvTable, read_table
from sensors.payloads.decode import convert, with_its_unit

MOST_REFUSED, MOST_SENSORS = 20, 50
SEVERAL = 0.02
_EMPTY = frozenset(("", "nan", "na", "n/a", "#n/a", "null", "none", "nil", "-", "--"))


@frozen
class LoggerFile:
    """What a file holds: to be shown before anything is stored.

    `others` are the columns that are not taken. `refused` are the sentences for lines that cannot
    be taken, at most MOST_REFUSED of them; `refused_count` counts all, `empty` the cells without a
    value, and `repeated` the lines whose time came before with another value (dimensionless).
    """

    time_column: str
    dates: Order
    columns: tuple[Column, ...]
    others: tuple[str, ...]
    readings: tuple[Reading, ...]
    refused: tuple[str, ...]
    refused_count: int
    empty: int
    repeated: int


@dataclass
class _Collected:
    """What has been taken of a file so far."""

    values: dict[tuple[datetime, str], Reading] = field(default_factory=dict)
    refused: list[str] = field(default_factory=list)
    empty: int = 0
    repeated: int = 0

    def add(self, reading: Reading) -> None:
        """Take a reading, unless its time was there already."""
        before = self.values.setdefault((reading.at, reading.quantity), reading)
        self.repeated += before.value != reading.value


def read_logger(
    text: str, name: str, place: str, options: FileOptions | None = None, *, now: datetime
) -> LoggerFile:
    """The readings of a logger's CSV text at a place.

    Raises ReadingError where no times or no temperature or humidity can be found, and Unclear where
    the file can be read in several ways and `options` do not say which. Lines more than five
    minutes ahead of `now` are refused. Reading the same file twice gives equal readings.
    """
    options = options or FileOptions()
    table = read_table(text, name)
    order = order_of([row.when(table.time_at) for row in table.rows], name, options.dates)
    title = table.header[table.time_at]
    instants = _Instants(order, named_zone(title) or options.zone, now, name)
    instants.read(table.rows[0].when(table.time_at), None)
    columns = columns_of(table, options, name)
    rows, source = _rows_of_one_sensor(table, options, name)
    collected = _collected(rows, table, columns, instants, partial(_reading, place, source))
    if options.rows is None and collected.repeated > SEVERAL * len(rows):
        _ask_which_sensor(table, columns, name)
    used = {*table.timed, *(column.number for column in columns)}
    return LoggerFile(
        time_column=title,
        dates=order,
        columns=columns,
        others=tuple(plain(e) for n, e in enumerate(table.header) if e and n not in used),
        readings=tuple(collected.values.values()),
        refused=tuple(collected.refused[:MOST_REFUSED]),
        refused_count=len(collected.refused),
        empty=collected.empty,
        repeated=collected.repeated,
    )


@frozen
class _Instants:
    """How the times of a file are read."""

    order: Order
    zone: tzinfo | None
    now: datetime
    name: str

    def read(self, cell: str, last: datetime | None) -> datetime:
        """The instant of a line; in the hour that comes twice, the one after the line before."""
        instant = read_time(cell, self.order)
        if instant is None:
            raise ReadingError(
                f"{cell[:40]!r} is not a time", fix="write it like 2025-10-20 18:00:00"
            )
        if instant.tzinfo is None:
            if self.zone is None:
                raise Unclear(
                    f"the time {cell.strip()!r} has no zone",
                    where=self.name,
                    fix="give the logger's time zone, like --zone Europe/Vienna",
                    option="zone",
                )
            first, second = (instant.replace(tzinfo=self.zone, fold=fold) for fold in (0, 1))
            again = last is not None and first.astimezone(UTC) <= last < second.astimezone(UTC)
            instant = second if again else first
        return instant.astimezone(UTC)

    def past(self, at: datetime, cell: str) -> datetime:
        """An instant that is not more than five minutes ahead. Raises ReadingError."""
        if at > self.now + AHEAD:
            raise ReadingError(
                f"{cell[:40]!r} is in the future",
                fix="check the logger's clock, its zone, and which number is the day",
            )
        return at


def _rows_of_one_sensor(
    table: CsvTable, options: FileOptions, name: str
) -> tuple[list[CsvRow], str]:
    """The lines to read, and by which name they are told apart from those of other sensors."""
    if options.rows is None:
        return table.rows, f"file {plain(name)}"
    title, _, value = options.rows.partition("=")
    if title not in table.header or not title:
        raise ReadingError(
            f"there is no column {title!r}", where=name, fix="write --rows like 'sensor=B'"
        )
    number = table.header.index(title)
    rows = [row for row in table.rows if row.cell(number) == value]
    if not rows:
        some = ", ".join(sorted({row.cell(number) for row in table.rows})[:10])
        raise ReadingError(
            f"no line has {value!r} in the column {title!r}", where=name, fix=f"it has {some}"
        )
    return rows, f"file {plain(name)} {plain(value)}"


def _collected(
    rows: Sequence[CsvRow],
    table: CsvTable,
    columns: Sequence[Column],
    instants: _Instants,
    reading: Callable[[str, Column, datetime], Reading],
) -> _Collected:
    collected, last = _Collected(), None
    for row in rows:
        cell = row.when(table.time_at)
        try:
            last = instants.read(cell, last)
            at = instants.past(last, cell)
        except ReadingError as error:
            collected.refused.append(f"line {row.line}: {error}")
            continue
        for column in columns:
            text = row.cell(column.number)
            if text.lower() in _EMPTY:
                collected.empty += 1
                continue
            try:
                collected.add(reading(text, column, at))
            except ReadingError as error:
                collected.refused.append(f"line {row.line}: {error}")
    return collected


def _reading(place: str, source: str, cell: str, column: Column, at: datetime) -> Reading:
    value = with_its_unit(cell, column.quantity)
    if value is None:
        if not NUMBER.fullmatch(cell):
            raise ReadingError(
                f"{cell[:40]!r} is not a number", where=column.name, fix="check the line"
            )
        value = convert(float(cell.replace(",", ".")), column.unit)
    return make_reading(place, column.quantity, value, at, source)


def _ask_which_sensor(table: CsvTable, columns: Sequence[Column], name: str) -> None:
    """Raises Unclear where a column tells apart several sensors with one time."""
    used = {*table.timed, *(column.number for column in columns)}
    free = (n for n, title in enumerate(table.header) if title and n not in used)
    sensors_by_column = {number: _sensors(table, columns, number) for number in free}
    separating = {number: values for number, values in sensors_by_column.items() if values}
    if not separating:
        return
    number = min(separating, key=lambda candidate: len(separating[candidate]))
    title = table.header[number]
    raise Unclear(
        f"several lines have one time, and the column {title!r} tells them apart",
        where=name,
        fix=f"choose the one at this place, like --rows '{title}={separating[number][0]}'",
        option="rows",
        choices=tuple(f"{title}={value}" for value in separating[number]),
    )


def _sensors(table: CsvTable, columns: Sequence[Column], number: int) -> tuple[str, ...]:
    """The sensors that a column names; none where it does not tell the lines apart."""
    values = tuple(sorted({row.cell(number) for row in table.rows}))
    if not 2 <= len(values) <= min(MOST_SENSORS, len(table.rows) // 2):
        return ()
    cells_by_key: dict[tuple[str, str], list[str]] = {}
    contradictions = 0
    for row in table.rows:
        cells = [row.cell(column.number) for column in columns]
        contradictions += (
            cells_by_key.setdefault((row.when(table.time_at), row.cell(number)), cells) != cells
        )
    return values if contradictions <= SEVERAL * len(table.rows) else ()
