"""How this reader likes figures and instants said."""

from __future__ import annotations

import math
from datetime import datetime
from typing import Literal
from zoneinfo import ZoneInfo

from curewatch.frozen import frozen
from curewatch.walltime import comes_twice, evening_of

MOST_TENTHS = 9


@frozen
class ReaderFormat:
    """How this reader likes figures: zone, C or F, 24 or 12 hours, point or comma."""

    zone: ZoneInfo
    unit: Literal["C", "F"] = "C"
    hours: int = 24
    decimal: str = "."
    gap: str = " "
    """Between a figure and its unit."""

    def number(self, value: float, digits: int = 1) -> str:
        """A number [-] with the reader's decimal mark and a true minus."""
        text = f"{value:.{digits}f}"
        if not text.strip("-0."):
            text = text.lstrip("-")
        return text.replace(".", self.decimal).replace("-", "−")

    def degrees(self, value_c: float) -> float:
        """A temperature [C] in the reader's unit. [C or F]"""
        return value_c if self.unit == "C" else value_c * 9 / 5 + 32

    def temperature(self, value_c: float, digits: int = 1) -> str:
        """A temperature [C] said in the reader's unit."""
        return f"{self.number(self.degrees(value_c), digits)}{self.gap}°{self.unit}"

    def degree_steps(self, value_k: float) -> float:
        """A temperature difference [K] in the reader's unit. [K or F]"""
        return value_k if self.unit == "C" else value_k * 9 / 5

    def difference(self, value_k: float, digits: int = 1) -> str:
        """A temperature difference [K] said in the reader's unit."""
        return f"{self.number(self.degree_steps(value_k), digits)}{self.gap}°{self.unit}"

    def figure(self, value: float, spec: str = "g") -> str:
        """A bare figure [-] with the reader's decimal mark; spec: as Python formats numbers."""
        return format(value, spec).replace(".", self.decimal)

    def times(self, ratio: float, spec: str = ".2f") -> str:
        """A ratio [-] as how many times."""
        return f"×{self.figure(ratio, spec)}"

    def film(self, film_um: float) -> str:
        """A film thickness [um], from a millimetre on in mm."""
        if film_um >= 1000:
            return f"{self.figure(film_um / 1000)} mm"
        return f"{self.figure(film_um)} µm"

    def local(self, at: datetime) -> datetime:
        """The instant on the reader's wall clock."""
        return at.astimezone(self.zone)

    def time_of_day(self, at: datetime) -> str:
        """Time of day as it is typed: 19:42 or 7:42 pm."""
        local = self.local(at)
        if self.hours == 24:
            return f"{local:%H:%M}"
        return f"{local.hour % 12 or 12}:{local:%M} {'am' if local.hour < 12 else 'pm'}"

    def clock(self, at: datetime) -> str:
        """Time of day: 19:42 or 7:42 pm; in the hour that comes twice in autumn, with its zone."""
        local = self.local(at)
        return f"{self.time_of_day(at)}{f' {local:%Z}' if comes_twice(local) else ''}"

    def hour(self, at: datetime) -> str:
        """Time of day for an axis: 19:00, or 7 pm on the full hour."""
        local = self.local(at)
        if self.hours == 12 and local.minute == 0:
            return f"{local.hour % 12 or 12} {'am' if local.hour < 12 else 'pm'}"
        return self.clock(at)

    def moment(self, at: datetime, now: datetime) -> str:
        """Clock time with its day where that is not plain: tonight 00:12, tomorrow 07:10.

        What comes after midnight is tonight's until the evening ends (`wall.evening_of`, at four).
        """
        return f"{self._day_near(at, now)} {self.clock(at)}".strip()

    def from_moment(self, at: datetime, now: datetime) -> str:
        """From an instant on: from 18:10, tonight from 00:12."""
        return f"{self._day_near(at, now)} from {self.clock(at)}".strip()

    def _day_near(self, at: datetime, now: datetime) -> str:
        """A day seen from now: tonight, tomorrow, Fri; '' for today."""
        there, here = self.local(at), self.local(now)
        days = (there.date() - here.date()).days
        if days == 0:
            return ""
        if days == -1:
            return "yesterday"
        past_midnight = evening_of(at, self.zone) < there.date()
        if days == 1 and past_midnight and evening_of(now, self.zone) == here.date():
            return "tonight"
        if days == 1 and not past_midnight:
            return "tomorrow"
        return f"{there:%a}" if 1 <= days < 7 else self.day(at)

    def date_and_time(self, at: datetime) -> str:
        """Clock time with its date, for what is read on another day: 2026-11-05 19:42."""
        return f"{self.local(at):%Y-%m-%d} {self.clock(at)}"

    def day(self, at: datetime) -> str:
        """A date as people write it: 5 Nov."""
        local = self.local(at)
        return f"{local.day} {local:%b}"


class ScriptFormat(ReaderFormat):
    """As sentences stand in JSON: in C and with a point, whoever reads them."""

    def temperature(self, value_c: float, digits: int = 1) -> str:
        """A temperature [C]."""
        return f"{value_c:.{digits}f} C"

    def difference(self, value_k: float, digits: int = 1) -> str:
        """A temperature difference [K]."""
        return f"{value_k:.{digits}f} K"

    def times(self, ratio: float, spec: str = ".2f") -> str:
        """A ratio [-] as how many times."""
        return f"x{self.figure(ratio, spec)}"


SCRIPTS = ScriptFormat(ZoneInfo("UTC"))


def when(at: datetime, now: datetime, say: ReaderFormat) -> str:
    """An instant inside a sentence: at 22:05; tomorrow 03:15."""
    moment = say.moment(at, now)
    return f"at {moment}" if moment[0].isdigit() else moment


def tenths(chance: float) -> int:
    """A chance in tenths, rounded down and never ten. [-]; chance [-]

    It is worked out from a few hundred drawn courses, and nothing is certain of a garage.

    >>> tenths(0.899), tenths(1.0), tenths(0.04)
    (8, 9, 0)
    """
    return min(MOST_TENTHS, math.floor(10 * chance + 1e-9))


def chance_words(chance: float) -> str:
    """A chance [-] as it is said.

    >>> chance_words(0.93), chance_words(0.02)
    ('9 in 10', 'less than 1 in 10')
    """
    whole = tenths(chance)
    return f"{whole} in 10" if whole else "less than 1 in 10"
