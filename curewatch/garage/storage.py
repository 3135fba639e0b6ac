"""How each can keeps: its last day, how cold and hot it was stored, what tonight brings.

Where its place has no sensor, nothing is said of its temperature.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime, time, timedelta
from typing import TYPE_CHECKING, Any, Literal
from zoneinfo import ZoneInfo

from curewatch.days import day_words
from curewatch.frozen import frozen
from curewatch.garage import cans
from curewatch.garage.shelf import sheets_of
from curewatch.products.shelf_life import days_left, local_day
from curewatch.walltime import evening_of, instant_of, stamp

if TYPE_CHECKING:
    from curewatch.climate.reading import PlaceSettings
    from curewatch.climate.snapshot import Snapshot
    from curewatch.formats import ReaderFormat
    from curewatch.garage.cans import Can, UseBy
    from curewatch.garage.place_air import PlaceAir
    from curewatch.products.sheet import Sheet
    from curewatch.store.rollup import MeasuredSpan

SOON_DAYS = 30
MORNING = time(10, 0)
TEMPERATURES = ("air_temperature", "surface_temperature")
Whose = Literal["storage", "application"]
USE_BY = {
    "printed": "printed on it",
    "bought": "by its shelf life from the day it was bought",
    "opened": "by its life once opened",
}


@frozen
class Stored:
    """Lowest and highest temperature [C] of a can's place since it stands there, and the hours."""

    low_c: float
    low_at: datetime
    high_c: float
    high_at: datetime


@frozen
class Tonight:
    """When its place may fall under a least temperature [C]: the label's for storage, or where it
    tells none, for application. likely: by the likely outlook, else by the cool one."""

    at: datetime
    lowest_c: float
    least_c: float
    whose: Whose
    likely: bool


@frozen
class StoredCan:
    """A can with all that is known of how it keeps; days: left until its last day, below 0 when
    it is past [days]; in_use: a mix comes from it."""

    can: Can
    sheet: Sheet
    use_by: UseBy | None
    days: int | None
    stored: Stored | None
    tonight: Tonight | None
    in_use: bool = False

    @property
    def too_cold(self) -> bool:
        """Whether it was stored colder than the sheet allows."""
        span = self.sheet.storage.temperature_c
        return span is not None and self.stored is not None and self.stored.low_c < span[0]

    @property
    def too_hot(self) -> bool:
        """Whether it was stored hotter than the sheet allows."""
        span = self.sheet.storage.temperature_c
        return span is not None and self.stored is not None and self.stored.high_c > span[1]


def extremes(rows: Sequence[MeasuredSpan]) -> Stored | None:
    """The coldest and the warmest of these hours."""
    temperatures = [row for row in rows if row.quantity in TEMPERATURES]
    if not temperatures:
        return None
    low = min(temperatures, key=lambda row: row.minimum)
    high = max(temperatures, key=lambda row: row.maximum)
    return Stored(low.minimum, low.start, high.maximum, high.start)


def _since(can: Can, zone: ZoneInfo) -> datetime | None:
    """From when its place's temperature is its own."""
    if can.stored_since is None or not can.stored:
        return None
    if can.moved or can.bought is None:
        return can.stored_since
    return min(can.stored_since, instant_of(can.bought, time(0), zone))


def _stored(air: PlaceAir, can: Can, now: datetime, zone: ZoneInfo) -> Stored | None:
    since = _since(can, zone)
    if since is None:
        return None
    return extremes(air.store.measured_spans(since, now, place=can.stored.casefold()))


def _least(sheet: Sheet) -> tuple[float, Whose] | None:
    if sheet.storage.temperature_c is not None:
        return sheet.storage.temperature_c[0], "storage"
    if sheet.limits.temperature_c is not None:
        return sheet.limits.temperature_c[0], "application"
    return None


def _until(now: datetime, zone: ZoneInfo) -> datetime:
    """Ten tomorrow morning, or this morning before four."""
    return instant_of(evening_of(now, zone) + timedelta(days=1), MORNING, zone)


def tonight(
    snapshot: Snapshot, place: str, how: PlaceSettings, sheet: Sheet, until: datetime
) -> Tonight | None:
    """Whether that place may get too cold for the product until then.

    By the likely outlook; for the storage a label tells, by the cool one too.
    """
    least = _least(sheet)
    if least is None:
        return None
    measured = [reading for reading in snapshot.readings if reading.place == place]
    if not any(reading.quantity in TEMPERATURES for reading in measured):
        return None
    ahead = snapshot.ahead(place, sheet.reference.temperature_c, how)
    count = int((until - ahead.start).total_seconds() / ahead.step_s) + 1
    paths = [(ahead.likely_c[:count], True)]
    if least[1] == "storage":
        paths.append((ahead.cool_c[:count], False))
    for path, likely in paths:
        under = (path < least[0]).nonzero()[0]
        if under.size:
            at = ahead.start + timedelta(seconds=ahead.step_s * int(under[0]))
            return Tonight(at, float(path.min()), *least, likely)
    return None


def storage_of(
    air: PlaceAir, can: Can, sheet: Sheet, snapshot: Snapshot, zone: ZoneInfo
) -> StoredCan:
    """How a can keeps, as of the snapshot's instant."""
    now = snapshot.now
    last = cans.use_by(can, sheet)
    left = None if last is None else days_left(last.day, local_day(now, zone))
    if can.used_up:
        return StoredCan(can, sheet, last, left, None, None)
    place = can.stored.casefold()
    how = air.place(place)
    cold = tonight(snapshot, place, how, sheet, _until(now, zone)) if place else None
    return StoredCan(can, sheet, last, left, _stored(air, can, now, zone), cold)


def stored_cans(
    air: PlaceAir, now: datetime, zone: ZoneInfo, sheet_id: str | None = None
) -> list[StoredCan]:
    """Every can, or those of one product: what needs a hand tonight first, used up ones last."""
    own_cans, snapshot = cans.cans(air.store, sheet_id), air.snapshot(now, now)
    sheets = sheets_of(air.store, {can.sheet_id for can in own_cans})
    stored = [can for can in own_cans if can.sheet_id in sheets]
    products = {can.sheet_id for can in stored}
    used = [cans.used_from(can for can in stored if can.sheet_id == id) for id in products]
    listed = [
        replace(storage_of(air, can, sheets[can.sheet_id], snapshot, zone), in_use=can in used)
        for can in stored
    ]
    return sorted(
        listed,
        key=lambda stored_can: (
            stored_can.can.used_up,
            stored_can.days is None,
            stored_can.days or 0,
            stored_can.can.id,
        ),
    )


def use_by_words(stored_can: StoredCan) -> str:
    """Its last day in words; '' where none is known."""
    if stored_can.use_by is None or stored_can.days is None:
        return ""
    day, why = day_words(stored_can.use_by.day), USE_BY[stored_can.use_by.why]
    if stored_can.days < 0:
        return f"past its last day, {day} ({why})"
    if stored_can.days == 0:
        return f"today is its last day ({why})"
    words = f"until {day} ({why})"
    return f"{words}: {stored_can.days} days left" if stored_can.days <= SOON_DAYS else words


def stored_words(stored_can: StoredCan, now: datetime, say: ReaderFormat) -> str:
    """How cold and hot its place was in words; '' where nothing was measured."""
    stored = stored_can.stored
    if stored is None:
        return ""
    low = f"coldest {say.temperature(stored.low_c, 0)} ({say.moment(stored.low_at, now)})"
    high = f"warmest {say.temperature(stored.high_c, 0)} ({say.moment(stored.high_at, now)})"
    words = f"{stored_can.can.stored}: {low}, {high}"
    span = stored_can.sheet.storage.temperature_c
    if span is None or not (stored_can.too_cold or stored_can.too_hot):
        return words
    low_c, high_c = (say.temperature(value, 0) for value in span)
    return f"{words}; its label says {low_c} to {high_c}"


def tonight_words(stored_can: StoredCan, now: datetime, say: ReaderFormat) -> str:
    """What to do with it tonight; '' where nothing need be done."""
    cold = stored_can.tonight
    if cold is None:
        return ""
    how = "falls" if cold.likely else "may fall"
    least = say.temperature(cold.least_c, 0)
    when = "is below" if cold.at <= now else f"{how} below"
    at = "now" if cold.at <= now else say.moment(cold.at, now)
    whose = "storage" if cold.whose == "storage" else "use"
    return (
        f"bring it indoors tonight: {stored_can.can.stored} {when} the {least} it needs for "
        f"{whose}, {at}; lowest {say.temperature(cold.lowest_c, 0)}"
    )


def as_json(stored_can: StoredCan) -> dict[str, Any]:
    """A can as plain data; temperatures in C, dates as entered."""
    can, stored, cold = stored_can.can, stored_can.stored, stored_can.tonight
    return {
        "can": can.id,
        "sheet": can.sheet_id,
        "batch": can.batch or None,
        "hardener_batch": can.hardener_batch or None,
        "bought": can.bought.isoformat() if can.bought else None,
        "opened": can.opened.isoformat() if can.opened else None,
        "expiry": can.expiry.isoformat() if can.expiry else None,
        "stored": can.stored or None,
        "used_up": can.used_up,
        "in_use": stored_can.in_use,
        "last_used": stamp(can.last_used),
        "use_by": stored_can.use_by.day.isoformat() if stored_can.use_by else None,
        "use_by_from": stored_can.use_by.why if stored_can.use_by else None,
        "days_left": stored_can.days,
        "lowest_c": None if stored is None else round(stored.low_c, 1),
        "lowest_at": None if stored is None else stamp(stored.low_at),
        "highest_c": None if stored is None else round(stored.high_c, 1),
        "highest_at": None if stored is None else stamp(stored.high_at),
        "indoors_tonight": cold is not None,
        "under_at": None if cold is None else stamp(cold.at),
        "least_c": None if cold is None else cold.least_c,
    }
