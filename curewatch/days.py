"""Dates as people write them, like 2025-12-24, 24.12.2025, 24 Dec 2025 or 12/24/2025.

Dates with points have the day first. Which of two small numbers between strokes is the day depends
on the reader's country; where that is not known, such a date is refused.
"""

from __future__ import annotations

import calendar
import re
from contextlib import suppress
from datetime import date

from curewatch.errors import QuantityError
from curewatch.vocabulary import Order as Order

YEARS = range(1970, 2200)
MONTH_FIRST = frozenset({"AS", "FM", "GU", "MH", "MP", "PH", "PR", "PW", "UM", "US", "VI"})
"""Countries that write the month first (from memory)."""
_MONTHS = {name.lower(): number for number, name in enumerate(calendar.month_name) if name}
_SHORT = {name[:3]: number for name, number in _MONTHS.items()} | {"sept": 9}
_FIX = "write it like '24 Dec 2025' or '2025-12-24'"
_YEAR_FIRST = re.compile(r"(\d{4})\s*([./-])\s*(\d{1,2})\s*\2\s*(\d{1,2})", re.ASCII)
_YEAR_LAST = re.compile(r"(\d{1,2})\s*([./-])\s*(\d{1,2})\s*\2\s*(\d{4}|(?<!-)\d\d)", re.ASCII)
_DAY_MONTH = re.compile(
    r"(\d{1,2})(?:st|nd|rd|th)?\.?[ -]?([a-z]+)\.?,?[ -]?(\d{4})", re.ASCII | re.IGNORECASE
)
_MONTH_DAY = re.compile(
    r"([a-z]+)\.? ?(\d{1,2})(?:st|nd|rd|th)?,? ?(\d{4})", re.ASCII | re.IGNORECASE
)
_MONTH = re.compile(r"(\d{4})-(\d\d)|(\d{1,2}|[a-z]+)\.?[ ./-]+(\d{4})", re.ASCII | re.IGNORECASE)


def usual_order(locale: str) -> Order | None:
    """Which comes first, day or month, where a locale is used; None where that is not known.

    >>> usual_order("de_AT.UTF-8"), usual_order("en-US"), usual_order("C.UTF-8"), usual_order("en")
    ('dmy', 'mdy', None, None)
    """
    language, _, country = locale.partition(".")[0].replace("-", "_").partition("_")
    if country.upper() in MONTH_FIRST:
        return "mdy"
    return "dmy" if country or language.lower() not in ("", "c", "posix", "en") else None


def parse_day(text: str, order: Order | None = None) -> date:
    """A date as it is typed; order: of 03/04/2026, None where it is not known.

    Raises QuantityError.

    >>> parse_day("24.12.2025"), parse_day("Dec 24, 2025"), parse_day("3/4/2026", "mdy")
    (datetime.date(2025, 12, 24), datetime.date(2025, 12, 24), datetime.date(2026, 3, 4))
    """
    plain = " ".join(text.split()) if isinstance(text, str) else ""
    day = _read(plain, order)
    if day is None:
        raise QuantityError(f"{str(text)[:40]!r} is not a date", fix=_FIX)
    if day.year not in YEARS:
        raise QuantityError(f"the year of {text!r} cannot be", fix=_FIX)
    return day


def _read(text: str, order: Order | None) -> date | None:
    if match := _YEAR_FIRST.fullmatch(text):
        return _day(match[1], match[3], match[4])
    if match := _YEAR_LAST.fullmatch(text):
        return _year_last(text, match, order)
    if match := _DAY_MONTH.fullmatch(text):
        return _day(match[3], match[2], match[1])
    if match := _MONTH_DAY.fullmatch(text):
        return _day(match[3], match[1], match[2])
    return None


def _year_last(text: str, match: re.Match[str], order: Order | None) -> date | None:
    first, mark, second, year = match.groups()
    century = "20" if len(year) == 2 else ""
    day_first = _day(century + year, second, first)
    month_first = _day(century + year, first, second)
    if day_first is None or month_first is None or day_first == month_first:
        return day_first or month_first
    if mark == "." or order == "dmy":
        return day_first
    if order is None:
        raise QuantityError(f"{text!r} can have the day or the month first", fix=_FIX)
    return month_first


def _day(year: str, month: str, day: str) -> date | None:
    """The date of these three, the month as a number or by its English name; None for none."""
    name = month.lower()
    number = int(month) if month.isdigit() else _MONTHS.get(name) or _SHORT.get(name)
    with suppress(ValueError, TypeError):
        return date(int(year), number or 0, int(day))
    return None


def parse_expiry(text: str, order: Order | None = None) -> date:
    """A date as printed on a can; a month alone means its last day. Raises QuantityError.

    >>> parse_expiry("2027-02"), parse_expiry("02/2028"), parse_expiry("3 Feb 2027")
    (datetime.date(2027, 2, 28), datetime.date(2028, 2, 29), datetime.date(2027, 2, 3))
    """
    plain = " ".join(text.split()) if isinstance(text, str) else ""
    match = _MONTH.fullmatch(plain)
    first = _day(match[1] or match[4], match[2] or match[3], "1") if match else None
    if first is None or first.year not in YEARS:
        return parse_day(text, order)
    return first.replace(day=calendar.monthrange(first.year, first.month)[1])


def expiry_words(text: str) -> str:
    """An expiry as it is said: a whole date as a day, anything else as it is printed.

    >>> expiry_words("2026-10-31"), expiry_words("2027-03"), expiry_words("best before March")
    ('31 Oct 2026', '2027-03', 'best before March')
    """
    match = _YEAR_FIRST.fullmatch(text)
    day = _day(match[1], match[3], match[4]) if match else None
    return day_words(day) if day else text


def day_words(day: date) -> str:
    """A day as it is said.

    >>> day_words(date(2027, 2, 3))
    '3 Feb 2027'
    """
    return f"{day.day} {day:%b} {day.year}"
