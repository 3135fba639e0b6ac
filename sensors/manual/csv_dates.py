"""The dates of a data logger's file: which number is the day, by the user or the file. Pure."""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import UTC, datetime, timedelta, timezone
from typing import Literal

from curewatch.errors import ReadingError
from sensors.manual.csv_options import Unclear

Order = Literal["ymd", "dmy", "mdy"]
ORDERS = ("dmy", "mdy")
_YEARS = range(1971, 2200)
SAID = {"ymd": "year, month, day", "dmy": "day, month, year", "mdy": "month, day, year"}
_YEAR_FIRST = re.compile(r"\d{4}-\d\d-\d\d[ T]\d\d:\d\d|\d{8}T\d{4}", re.ASCII)
_NAMED_ZONE = re.compile(
    r"\b(?:GMT|UTC)\b(?:\s*(?P<sign>[+−-])(?P<hours>\d{1,2})(?!\d)(?::?(?P<minutes>[0-5]\d))?)?",
    re.ASCII | re.IGNORECASE,
)
_UNIX = re.compile(r"1\d{9}(\d{3}|[.,]\d{1,6})?", re.ASCII)
_YEAR_LAST = re.compile(
    r"(?P<first>\d{1,2})(?P<mark>[./-])(?P<second>\d{1,2})(?P=mark)(?P<year>\d{4}|\d\d)"
    r"(?:,? +|T)(?P<hour>\d{1,2}):(?P<minute>\d\d)(?::(?P<s>\d\d)(?:[.,]\d{1,6})?)?"
    r"(?: ?(?P<half>[ap])\.?m\.?)?(?P<zone>z|[+-]\d\d:\d\d)?",
    re.ASCII | re.IGNORECASE,
)
_DATE = re.compile(r"\d{1,4}([./-])\d{1,2}\1\d{2,4}", re.ASCII)
_TIME = re.compile(r"\d{1,2}:\d\d(:\d\d([.,]\d{1,6})?)?( ?[ap]\.?m\.?)?", re.ASCII | re.IGNORECASE)


def joined(cell: str, following: str) -> str:
    """A cell with a date and a time; where it has only a date, with the time from the next one."""
    date, time = cell.strip(), following.strip()
    return f"{date} {time}" if _DATE.fullmatch(date) and _TIME.fullmatch(time) else date


def seems_time(cell: str) -> bool:
    """Whether a cell holds a date and a time in any order."""
    orders = ("ymd", "dmy", "mdy")
    return not seems_unix(cell) and any(read_time(cell, order) is not None for order in orders)


def seems_unix(cell: str) -> bool:
    """Whether a cell may be a Unix time of this century, in seconds or milliseconds."""
    return _UNIX.fullmatch(cell.strip()) is not None


def read_time(cell: str, order: str) -> datetime | None:
    """The date and time of a cell, without a zone where it names none; None where it is none."""
    if seems_unix(cell):
        return _from_unix(cell.strip())
    try:
        instant = _read(cell.strip(), order)
    except ValueError:
        return None
    return instant if instant and instant.year in _YEARS else None


def named_zone(title: str) -> timezone | None:
    """The zone that a column's name tells, like "Date Time, GMT+02:00", or None."""
    match = _NAMED_ZONE.search(title)
    if match is None:
        return None
    ahead = timedelta(hours=int(match["hours"] or 0), minutes=int(match["minutes"] or 0))
    return timezone(-ahead if match["sign"] in ("-", "−") else ahead)


def _from_unix(text: str) -> datetime:
    seconds = float(text.replace(",", "."))
    return datetime.fromtimestamp(seconds / 1000 if seconds > 1e11 else seconds, UTC)


def _read(text: str, order: str) -> datetime | None:
    if order == "ymd":
        plain = text.replace("/", "-").upper()
        return datetime.fromisoformat(plain) if _YEAR_FIRST.match(plain) else None
    match = _YEAR_LAST.fullmatch(text)
    return _year_last(match, order) if match else None


def _year_last(match: re.Match[str], order: str) -> datetime:
    first, second, year = (int(match[part]) for part in ("first", "second", "year"))
    day, month = (first, second) if order == "dmy" else (second, first)
    zone = (match["zone"] or "").upper().replace("Z", "+00:00")
    hour = int(match["hour"])
    if match["half"]:
        if not 1 <= hour <= 12:
            raise ValueError(hour)
        hour = hour % 12 + (12 if match["half"].lower() == "p" else 0)
    century = 2000 if len(match["year"]) == 2 else 0
    whole = f"{century + year:04}-{month:02}-{day:02}T{hour:02}:{match['minute']}"
    return datetime.fromisoformat(f"{whole}:{match['s'] or '00'}{zone}")


def order_of(cells: Sequence[str], name: str, text: str | None = None) -> Order:
    """The order of the dates of a file's lines: as the user says, or as only one order allows.

    Dates with dots have the day first. Raises ReadingError where both orders would do, or
    neither does for all.
    """
    matches = [match for cell in cells if (match := _YEAR_LAST.fullmatch(cell.strip()))]
    if not matches or read_time(cells[0], "ymd") is not None:
        return "ymd"
    day_first = next((match for match in matches if int(match["first"]) > 12), None)
    month_first = next((match for match in matches if int(match["second"]) > 12), None)
    if day_first and month_first:
        raise ReadingError(
            f"{_date(day_first)!r} has the day first, {_date(month_first)!r} the month",
            where=name,
            fix="let the logger write all dates alike",
        )
    against = {"dmy": month_first, "mdy": day_first}.get(text or "")
    if against:
        raise ReadingError(
            f"{_date(against)!r} is not a date of {SAID[text or '']}",
            where=name,
            fix="leave out --dates",
        )
    if text in ORDERS:
        return "dmy" if text == "dmy" else "mdy"
    return _plain_order(matches, bool(day_first), bool(month_first), name)


def _plain_order(
    matches: list[re.Match[str]], day_first: bool, month_first: bool, name: str
) -> Order:
    if month_first:
        return "mdy"
    same = all(int(match["first"]) == int(match["second"]) for match in matches)
    if day_first or same or all(match["mark"] == "." for match in matches):
        return "dmy"
    example = next(match for match in matches if int(match["first"]) != int(match["second"]))
    raise Unclear(
        f"{_date(example)!r} can be read with the day or the month first, and no line shows which",
        where=name,
        fix="add --dates dmy or --dates mdy",
        option="dates",
        choices=ORDERS,
    )


def _date(match: re.Match[str]) -> str:
    return match[0][: match.end("year") - match.start()]
