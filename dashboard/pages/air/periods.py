"""Which stretch of time a page shows, by its address: so that it can be kept, sent and gone back
to."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import datetime, timedelta
from urllib.parse import parse_qsl, urlencode

from curewatch.errors import QuantityError
from curewatch.frozen import frozen
from curewatch.units import parse_temperature, with_unit
from curewatch.walltime import from_ms, to_ms
from dashboard.request.numbers import MOST_MS, number_of

LENGTHS = {
    "24h": timedelta(hours=24),
    "7d": timedelta(days=7),
    "30d": timedelta(days=30),
    "year": timedelta(days=365),
}
FORECAST = {"24h": timedelta(hours=12), "7d": timedelta(hours=24), "30d": timedelta(hours=72)}
USUAL = "24h"
_LEAST, _MOST = timedelta(minutes=20), timedelta(days=40_000)
_AHEAD = timedelta(days=3)


@frozen
class Period:
    """From start to end, by name or, zoomed, by its own instants; limit: as it was typed, in C or
    F, '' where it was not; limit_c [C]; wrong: why what was typed is no limit."""

    start: datetime
    end: datetime
    name: str
    limit: str
    limit_c: float
    wrong: str = ""

    def address(self, path: str, name: str = "") -> str:
        """The address of a stretch of that name with the same limit; without one, of this one."""
        span = {"span": name or self.name} if name or self.name else self._instants()
        return f"{path}?{urlencode(span | self._limits())}"

    def _instants(self) -> dict[str, str]:
        return {"from": str(to_ms(self.start)), "to": str(to_ms(self.end))}

    def _limits(self) -> dict[str, str]:
        return {"limit": self.limit} if self.limit else {}

    def moved(self, path: str, by: float, scale: float = 1.0) -> str:
        """The address of a stretch further by a share of this one, as long as `scale` of it [-]."""
        length = self.end - self.start
        middle = self.start + length / 2 + length * by
        half = min(max(length * scale, _LEAST), _MOST) / 2
        return replace(self, start=middle - half, end=middle + half, name="").address(path)


def fields_of(search: str) -> Mapping[str, str]:
    """The fields of an address's query, with or without its question mark."""
    return dict(parse_qsl(search.removeprefix("?")))


def _own(query: Mapping[str, str], now: datetime) -> tuple[datetime, datetime] | None:
    """The instants of a query, where they are a stretch that can be shown."""
    numbers = [number_of(query.get(name)) for name in ("from", "to")]
    if None in numbers or max(n for n in numbers if n is not None) > MOST_MS:
        return None
    start, end = (from_ms(number) for number in numbers if number is not None)
    end = min(end, now + _AHEAD)
    return (start, end) if end - start >= _LEAST else None


def _limit(text: str, usual_c: float, unit: str) -> tuple[str, float, str]:
    """The limit as typed and in [C], or why it is none."""
    if not text.strip():
        return "", usual_c, ""
    try:
        return text.strip()[:20], parse_temperature(with_unit(text[:20], unit)), ""
    except QuantityError:
        return "", usual_c, f"“{text[:20]}” isn't a temperature. Type a number, e.g. 10"


def period(search: str, now: datetime, begins: datetime, usual_c: float, unit: str = "C") -> Period:
    """The stretch of an address. begins: of what was measured; usual_c: the limit where none was
    typed [C]; unit: of a bare number."""
    query = fields_of(search)
    limit = _limit(query.get("limit", ""), usual_c, unit)
    own = _own(query, now)
    if own and "span" not in query:
        return Period(own[0], own[1], "", *limit)
    name = query.get("span", USUAL)
    if name == "all":
        return Period(min(begins, now - timedelta(hours=1)), now, name, *limit)
    name = name if name in LENGTHS else USUAL
    return Period(now - LENGTHS[name], now + FORECAST.get(name, timedelta()), name, *limit)


def with_limit(search: str, limit: str) -> str:
    """The query of an address with another limit."""
    return "?" + urlencode({**fields_of(search), "limit": limit[:20]})
