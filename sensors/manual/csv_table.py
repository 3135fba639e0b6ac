"""A data logger's file as a table: its names, its lines, and the columns of the time. Pure."""

from __future__ import annotations

import csv
import re
from collections import Counter

from curewatch.errors import ReadingError
from curewatch.frozen import frozen
from sensors.manual.csv_dates import joined, seems_time, seems_unix

_TIME_NAME = re.compile(
    r"date|time|datum|zeit|stamp|uhr|heure|fecha|hora|utc|gmt|^(ts|dt)$", re.IGNORECASE
)


@frozen
class CsvRow:
    """One line of a file with its number, counted from 1."""

    line: int
    cells: list[str]

    def cell(self, number: int) -> str:
        """The text of a cell; empty where the line is too short."""
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


@frozen
class CsvTable:
    """A file's names, its lines, and the numbers of the columns that hold the time."""

    header: list[str]
    rows: list[CsvRow]
    timed: tuple[int, ...]

    @property
    def time_at(self) -> int:
        """The number of the column where the time begins."""
        return self.timed[0]


def decoded(content: bytes) -> str:
    """A logger's file as text: UTF-8, UTF-16 with its mark, else as Windows wrote it."""
    if content[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return content.decode("utf-16", errors="replace")
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError:
        return content.decode("cp1252", errors="replace")


def read_table(text: str, name: str) -> CsvTable:
    """The line of names, which stands before the first line with a time, and the lines below.

    Raises ReadingError where there is no such line, or where it does not fit the lines below.
    """
    rows = _rows(text, name)
    timed = [n for n, row in enumerate(rows) if row.time_at() is not None]
    dated = (n for n in timed if not seems_unix(rows[n].cell(rows[n].time_at() or 0)))
    first = next(dated, timed[0] if timed else None)
    if first is None:
        raise ReadingError(
            "no column has times like 2025-10-20 18:00:00",
            where=name,
            fix="let the logger write date and time like this",
        )
    if first == 0:
        raise ReadingError(
            "no line names the columns", where=name, fix="add one, like 'time,temperature (°C)'"
        )
    row = rows[first]
    at = row.time_at() or 0
    times = (at, at + 1) if row.when(at) != row.cell(at) else (at,)
    header = _fitted([cell.strip() for cell in rows[first - 1].cells], rows[first:], times, name)
    return CsvTable([*header, *[""] * len(row.cells)], rows[first:], times)


def _rows(text: str, name: str) -> list[CsvRow]:
    lines = text.lstrip("\ufeff").splitlines()
    delimiter = max(";\t,", key=lambda mark: sum(line.count(mark) for line in lines[:50]))
    reader = csv.reader(lines, delimiter=delimiter)
    try:
        return [CsvRow(reader.line_num, cells) for cells in reader if any(map(str.strip, cells))]
    except csv.Error as error:
        raise ReadingError(
            f"it is not a CSV file ({error})",
            where=f"{name} line {reader.line_num}",
            fix="check it",
        ) from None


def _fitted(header: list[str], rows: list[CsvRow], times: tuple[int, ...], name: str) -> list[str]:
    """The names above their columns, also where the lines begin with a cell that has no name.

    Statistics programs write the names of rows so. Whether the names are to be moved shows in which
    of them then stand above the times.
    """
    width, count = Counter(len(row.cells) for row in rows).most_common(1)[0]
    full = sum(len(row.cells) == width and bool(row.cell(width - 1)) for row in rows)
    if width != len(header) + 1 or 2 * full < count:
        return header
    moved = ["", *header]
    above, above_moved = (_time_names(texts, times) for texts in (header, moved))
    if above >= above_moved > 0 or above > 0 == above_moved:
        return header
    if above_moved or times[0] == 0:
        return moved
    raise ReadingError(
        f"the first line names {len(header)} columns, the lines below have {width}",
        where=name,
        fix="add the missing name to the first line",
    )


def _time_names(header: list[str], times: tuple[int, ...]) -> int:
    return sum(bool(_TIME_NAME.search(header[n])) for n in times if n < len(header))
