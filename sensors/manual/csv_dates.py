"""The dates of a data logger's file: which number is the day, told or plain from the file. Pure."""

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
        found = _read(cell.strip(), order)
    except ValueError:
        return None
    return found if found and found.year in _YEARS else None


def named_zone(title: str) -> timezone | None:
    """The zone that a column's name tells, like "Date Time, GMT+02:00", or None."""
    found = _NAMED_ZONE.search(title)
    if found is None:
        return None
    ahead = timedelta(hours=int(found["hours"] or 0), minutes=int(found["minutes"] or 0))
    return timezone(-ahead if found["sign"] in ("-", "−") else ahead)


def _from_unix(text: str) -> datetime:
    seconds = float(text.replace(",", "."))
    return datetime.fromtimestamp(seconds / 1000 if seconds > 1e11 else seconds, UTC)


def _read(text: str, order: str) -> datetime | None:
    if order == "ymd":
        plain = text.replace("/", "-").upper()
        return datetime.fromisoformat(plain) if _YEAR_FIRST.match(plain) else None
    found = _YEAR_LAST.fullmatch(text)
    return _year_last(found, order) if found else None


def _year_last(found: re.Match[str], order: str) -> datetime:
    first, second, year = (int(found[part]) for part in ("first", "second", "year"))
    day, month = (first, second) if order == "dmy" else (second, first)
    zone = (found["zone"] or "").upper().replace("Z", "+00:00")
    hour = int(found["hour"])
    if found["half"]:
        if not 1 <= hour <= 12:
            raise ValueError(hour)
        hour = hour % 12 + (12 if found["half"].lower() == "p" else 0)
    century = 2000 if len(found["year"]) == 2 else 0
    whole = f"{century + year:04}-{month:02}-{day:02}T{hour:02}:{found['minute']}"
    return datetime.fromisoformat(f"{whole}:{found['s'] or '00'}{zone}")


def order_of(cells: Sequence[str], name: str, told: str | None = None) -> Order:
    """The order of the dates of a file's lines: as told, or as only one order allows.

    Dates with dots have the day first. Raises ReadingError where both orders would do, or
    neither does for all.
    """
    found = [match for cell in cells if (match := _YEAR_LAST.fullmatch(cell.strip()))]
    if not found or read_time(cells[0], "ymd") is not None:
        return "ymd"
    day_first = next((each for each in found if int(each["first"]) > 12), None)
    month_first = next((each for each in found if int(each["second"]) > 12), None)
    if day_first and month_first:
        raise ReadingError(
            f"{_date(day_first)!r} has the day first, {_date(month_first)!r} the month",
            where=name,
            fix="let the logger write all dates alike",
        )
    against = {"dmy": month_first, "mdy": day_first}.get(told or "")
    if against:
        raise ReadingError(
            f"{_date(against)!r} is no date of {SAID[told or '']}",
            where=name,
            fix="leave out --dates",
        )
    if told in ORDERS:
        return "dmy" if told == "dmy" else "mdy"
    return _plain_order(found, bool(day_first), bool(month_first), name)


def _plain_order(
    found: list[re.Match[str]], day_first: bool, month_first: bool, name: str
) -> Order:
    if month_first:
        return "mdy"
    same = all(int(each["first"]) == int(each["second"]) for each in found)
    if day_first or same or all(each["mark"] == "." for each in found):
        return "dmy"
    example = next(each for each in found if int(each["first"]) != int(each["second"]))
    raise Unclear(
        f"{_date(example)!r} can be read with the day or the month first, and no line tells which",
        where=name,
        fix="say it: --dates dmy or --dates mdy",
        option="dates",
        choices=ORDERS,
    )


def _date(found: re.Match[str]) -> str:
    return found[0][: found.end("year") - found.start()]
