"""How this reader likes figures, and lengths of time as people say them."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import datetime
from typing import Literal
from zoneinfo import ZoneInfo

Rounding = Literal["up", "down"]


@dataclass(frozen=True)
class Manner:
    """How this reader likes figures: zone, C or F, 24 or 12 hours, point or comma."""

    zone: ZoneInfo
    unit: Literal["C", "F"] = "C"
    hours: int = 24
    decimal: str = "."

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
        return f"{self.number(self.degrees(value_c), digits)} °{self.unit}"

    def difference(self, value_k: float, digits: int = 1) -> str:
        """A temperature difference [K] said in the reader's unit."""
        scaled = value_k if self.unit == "C" else value_k * 9 / 5
        return f"{self.number(scaled, digits)} °{self.unit}"

    def local(self, at: datetime) -> datetime:
        """The instant on the reader's wall clock."""
        return at.astimezone(self.zone)

    def clock(self, at: datetime) -> str:
        """Time of day: 19:42 or 7:42 pm."""
        local = self.local(at)
        if self.hours == 24:
            return f"{local:%H:%M}"
        return f"{local.hour % 12 or 12}:{local:%M} {'am' if local.hour < 12 else 'pm'}"

    def hour(self, at: datetime) -> str:
        """Time of day for an axis: 19:00, or 7 pm on the full hour."""
        local = self.local(at)
        if self.hours == 12 and local.minute == 0:
            return f"{local.hour % 12 or 12} {'am' if local.hour < 12 else 'pm'}"
        return self.clock(at)

    def moment(self, at: datetime, now: datetime) -> str:
        """Clock time with its day where it is not today's: tomorrow 07:10."""
        days = (self.local(at).date() - self.local(now).date()).days
        if days == 0:
            return self.clock(at)
        if days in (1, -1):
            return f"{'tomorrow' if days == 1 else 'yesterday'} {self.clock(at)}"
        if 1 < days < 7:
            return f"{self.local(at):%a} {self.clock(at)}"
        return f"{self.day(at)} {self.clock(at)}"

    def day(self, at: datetime) -> str:
        """A date as people write it: 5 Nov."""
        local = self.local(at)
        return f"{local.day} {local:%b}"


def parts(minutes: float, rounding: Rounding = "down") -> tuple[tuple[str, str], ...]:
    """A length [min] in figures and units for the big digits: (("3", "h"), ("20", "")).

    Under a minute in seconds, from 48 h in days; rounded up where waiting too long does no harm.
    """
    seconds = max(minutes, 0.0) * 60
    turn = math.ceil if rounding == "up" else math.floor
    if seconds < 60:
        return ((str(min(59, turn(seconds))), "s"),)
    whole = turn(round(seconds / 60, 6))
    if whole < 60:
        return ((str(whole), "min"),)
    if whole < 48 * 60:
        hours, left = divmod(whole, 60)
        return ((str(hours), "h"),) if not left else ((str(hours), "h"), (f"{left:02d}", ""))
    return ((str(turn(round(whole / 1440, 6))), "days"),)


def span(minutes: float, rounding: Rounding = "down") -> str:
    """A length [min] as people say it.

    >>> span(14.4), span(200), span(0.5), span(3 * 1440)
    ('14 min', '3 h 20', '30 s', '3 days')
    """
    return " ".join(f"{figure} {unit}".strip() for figure, unit in parts(minutes, rounding))


def ago(minutes: float) -> str:
    """How long ago [min], in words."""
    return f"{span(minutes)} ago"
