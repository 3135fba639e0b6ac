"""A data logger's CSV file to readings: columns guessed, times read, the same checks. Pure."""

from __future__ import annotations

import csv
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, tzinfo

from curewatch.errors import ReadingError
from curewatch.plain import plain
from curewatch.reading import QUANTITIES, Quantity, Reading, make_reading
from sensors.csvdates import (
    Order,
    joined,
    named_zone,
    order_of,
    read_time,
    seems_time,
    seems_unix,
)
from sensors.guess import guess
from sensors.payload import convert, with_its_unit

MOST_REFUSED, SEARCHED = 20, 50
_NUMBER = re.compile(r"[+-]?\d+([.,]\d*)?", re.ASCII)
_UNITS = ((r"°?\s*f\b|fahrenheit", "F"), (r"°?\s*c\b|celsius", "C"), (r"\bk\b|kelvin", "K"))


@dataclass(frozen=True)
class Column:
    """A column and what it is taken for."""

    number: int
    name: str
    quantity: Quantity
    unit: str


@dataclass(frozen=True)
class LoggerFile:
    """What a file holds: to be shown before anything is stored.

    `others` are the columns that are not taken. `refused` are the sentences for lines that cannot
    be taken, at most MOST_REFUSED of them;
    `refused_count` counts all (dimensionless).
    """

    time_column: str
    dates: Order
    columns: tuple[Column, ...]
    others: tuple[str, ...]
    readings: tuple[Reading, ...]
    refused: tuple[str, ...]
    refused_count: int


def decoded(held: bytes) -> str:
    """A logger's file as text: UTF-8, UTF-16 with its mark, else as Windows wrote it."""
    if held[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return held.decode("utf-16", errors="replace")
    try:
        return held.decode("utf-8-sig")
    except UnicodeDecodeError:
        return held.decode("cp1252", errors="replace")


def names_zone(text: str, name: str) -> bool:
    """Whether the file's first time names its zone. Raises ReadingError where there is none."""
    header, (row, *_) = _table(text, name)
    at = row.time_at() or 0
    cell = row.when(at)
    if named_zone(header[at]):
        return True
    times = (read_time(cell, order) for order in ("ymd", "dmy", "mdy"))
    return any(time is not None and time.tzinfo is not None for time in times)


def read_logger(
    text: str,
    name: str,
    place: str,
    zone: tzinfo | None = None,
    dates: str | None = None,
    only: Sequence[str] = (),
) -> LoggerFile:
    """The readings of a logger's CSV text at a place; `zone` for times that name none, `dates`
    (dmy or mdy) where the file does not show which number is the day, `only` the columns of these
    names.

    Raises ReadingError where no times or no temperature or humidity can be found, where two columns
    seem to be the same, or where zone or order of the dates is neither shown nor given. Reading
    the same file twice gives equal readings.
    """
    header, rows = _table(text, name)
    at = rows[0].time_at() or 0
    order = order_of([row.when(at) for row in rows], name, dates)
    zone = named_zone(header[at]) or zone
    columns = tuple(_chosen(list(_columns(header, rows, at)), only, name))
    if not columns:
        raise ReadingError(
            "no column seems to be a temperature or a humidity",
            where=name,
            fix="name it in the first line, like 'Temperature (°C)'",
        )
    _instant(rows[0].when(at), order, zone, None)
    readings: list[Reading] = []
    refused: list[str] = []
    last: datetime | None = None
    for row in rows:
        try:
            last = _instant(row.when(at), order, zone, last)
        except ReadingError as error:
            refused.append(f"line {row.line}: {error}")
            continue
        for column in columns:
            try:
                readings.append(_reading(row, column, last, place, name))
            except ReadingError as error:
                refused.append(f"line {row.line}: {error}")
    told = (at, at + 1) if rows[0].when(at) != rows[0].cell(at) else (at,)
    taken = {*told, *(each.number for each in columns)}
    others = tuple(plain(each) for n, each in enumerate(header) if each and n not in taken)
    kept = tuple(refused[:MOST_REFUSED])
    return LoggerFile(header[at], order, columns, others, tuple(readings), kept, len(refused))


@dataclass(frozen=True)
class _Row:
    line: int
    cells: list[str]

    def cell(self, number: int) -> str:
        return self.cells[number].strip() if number < len(self.cells) else ""

    def when(self, number: int) -> str:
        """A cell's date and time, the time from the next cell where it stands there."""
        return joined(self.cell(number), self.cell(number + 1))

    def time_at(self) -> int | None:
        """The number of the first cell that holds a time, else of the first with a Unix time."""
        numbers = range(len(self.cells))
        dated = (number for number in numbers if seems_time(self.when(number)))
        counted = (number for number in numbers if seems_unix(self.cell(number)))
        return next(dated, next(counted, None))


def _table(text: str, name: str) -> tuple[list[str], list[_Row]]:
    """The line of names, which stands before the first line with a time, and the lines below."""
    lines = text.lstrip("\ufeff").splitlines()
    delimiter = max(";\t,", key=lambda each: sum(line.count(each) for line in lines[:50]))
    reader = csv.reader(lines, delimiter=delimiter)
    try:
        rows = [_Row(reader.line_num, cells) for cells in reader if any(map(str.strip, cells))]
    except csv.Error as error:
        raise ReadingError(
            f"it is no CSV file ({error})", where=f"{name} line {reader.line_num}", fix="check it"
        ) from None
    timed = [n for n, row in enumerate(rows) if row.time_at() is not None]
    dated = (n for n in timed if not seems_unix(rows[n].cell(rows[n].time_at() or 0)))
    first = next(dated, timed[0] if timed else None)
    if first is None:
        raise ReadingError(
            "no column holds times like 2025-10-20 18:00:00",
            where=name,
            fix="let the logger write date and time like this",
        )
    if first == 0:
        raise ReadingError(
            "no line names the columns", where=name, fix="add one, like 'time,temperature (°C)'"
        )
    header = [cell.strip() for cell in rows[first - 1].cells]
    return [*header, *[""] * len(rows[first].cells)], rows[first:]


def _instant(cell: str, order: Order, zone: tzinfo | None, last: datetime | None) -> datetime:
    """The instant of a line; in the hour that comes twice, the one after the line before."""
    found = read_time(cell, order)
    if found is None:
        raise ReadingError(f"{cell[:40]!r} is no time", fix="write it like 2025-10-20 18:00:00")
    if found.tzinfo is None:
        if zone is None:
            raise ReadingError(
                f"the time {cell.strip()!r} has no zone",
                fix="say the logger's time zone, like --zone Europe/Vienna",
            )
        first, second = (found.replace(tzinfo=zone, fold=fold) for fold in (0, 1))
        again = last is not None and first.astimezone(UTC) <= last < second.astimezone(UTC)
        found = second if again else first
    return found.astimezone(UTC)


def _columns(header: Sequence[str], rows: Sequence[_Row], at: int) -> Iterator[Column]:
    for number, title in enumerate(header):
        some = (row.cell(number) for row in rows[:SEARCHED])
        cell = next((each for each in some if _NUMBER.match(each)), "")
        guessed = _guessed(title, cell) if number != at else None
        if guessed is not None:
            yield Column(number, title, *guessed)


def _guessed(title: str, cell: str) -> tuple[Quantity, str] | None:
    """What a column seems to be, and its unit, by its name and its first number."""
    number = _NUMBER.match(cell)
    if number is None or seems_time(cell):
        return None
    value = float(number[0].replace(",", "."))
    unit = _unit(title) or _unit(f"({cell[number.end() :]})")
    guessed = guess(f"file/{title}", value)
    if guessed is None:
        return (
            guess("file/temperature", value) if unit and guess(f"file/temp {title}", 20.0) else None
        )
    quantity, seems = guessed
    return quantity, seems if quantity == "relative_humidity" else unit or seems


def _chosen(found: list[Column], only: Sequence[str], name: str) -> Iterator[Column]:
    """The columns of the names that were told, or all. Raises ReadingError where one is not there,
    or two seem to be the same."""
    missing = set(only) - {each.name for each in found}
    if missing:
        raise ReadingError(
            f"no column {min(missing)!r} seems to be a temperature or a humidity",
            where=name,
            fix=f"it has {', '.join(repr(each.name) for each in found) or 'none'}",
        )
    wanted = [each for each in found if not only or each.name in only]
    for quantity in QUANTITIES:
        same = [repr(each.name) for each in wanted if each.quantity == quantity]
        if len(same) > 1:
            raise ReadingError(
                f"{' and '.join(same)} both seem to be the {quantity.replace('_', ' ')}",
                where=name,
                fix="say which sat at this place: --column NAME",
            )
    yield from wanted


def _unit(title: str) -> str | None:
    inside = re.search(r"[(\[]([^)\]]*)[)\]]|°\s*[cfk]", title.lower())
    if inside is None:
        return None
    return next((unit for rule, unit in _UNITS if re.search(rule, inside[0])), None)


def _reading(row: _Row, column: Column, at: datetime, place: str, name: str) -> Reading:
    cell = row.cell(column.number)
    value = with_its_unit(cell, column.quantity)
    if value is None:
        if not _NUMBER.fullmatch(cell):
            raise ReadingError(
                f"{cell[:40]!r} is no number", where=column.name, fix="check the line"
            )
        value = convert(float(cell.replace(",", ".")), column.unit)
    return make_reading(place, column.quantity, value, at, f"file {plain(name)}")
