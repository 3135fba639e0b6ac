"""How long something keeps, in calendar days: 12 months from 31 January is 31 January."""

from __future__ import annotations

import calendar
import re
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

from curewatch.days import parse_expiry
from curewatch.errors import QuantityError
from curewatch.frozen import frozen

_UNITS = {
    "day": (0, 1),
    "d": (0, 1),
    "week": (0, 7),
    "month": (1, 0),
    "year": (12, 0),
}
_TEXT = re.compile(r"^\s*(\d{1,4})\s*([a-z]+?)s?\s*$", re.IGNORECASE)
MOST_MONTHS = 1200


@frozen
class Life:
    """A length of calendar time: whole months, then whole days."""

    months: int = 0
    days: int = 0

    def after(self, day: date) -> date:
        """The day that it leads to; a month without that day ends earlier.

        >>> Life(months=1).after(date(2027, 1, 31))
        datetime.date(2027, 2, 28)
        """
        years, month = divmod(day.year * 12 + day.month - 1 + self.months, 12)
        last = calendar.monthrange(years, month + 1)[1]
        return date(years, month + 1, min(day.day, last)) + timedelta(days=self.days)

    def __str__(self) -> str:
        count, name = (self.months, "month") if self.months else (self.days, "day")
        return f"{count} {name}{'' if count == 1 else 's'}"


def parse_life(text: str) -> Life:
    """A length of calendar time with its unit.

    >>> parse_life("12 months"), parse_life("2 weeks")
    (Life(months=12, days=0), Life(months=0, days=14))
    """
    match = _TEXT.match(text) if isinstance(text, str) else None
    unit = _UNITS.get(match[2].lower()) if match else None
    if match is None or unit is None:
        raise QuantityError(f"{text!r} is not a shelf life", fix="write it like '12 months'")
    count = int(match[1])
    life = Life(count * unit[0], count * unit[1])
    if not 0 < life.months * 31 + life.days <= MOST_MONTHS * 31:
        raise QuantityError(f"{text!r} cannot be how long it keeps", fix="check the number")
    return life


def last_day(text: str) -> date | None:
    """The day that ends what is printed as 2027-03 or 15.3.2027; None where it is no date, or may
    be one of two.

    >>> last_day("2027-02"), last_day("see lid")
    (datetime.date(2027, 2, 28), None)
    """
    try:
        return parse_expiry(text)
    except QuantityError:
        return None


def local_day(at: datetime, zone: ZoneInfo) -> date:
    """The day that the calendar on the wall shows at an instant."""
    return at.astimezone(zone).date()


def days_left(day: date, today: date) -> int:
    """Whole days from today to a day; below nothing when it is past. [days]"""
    return (day - today).days
