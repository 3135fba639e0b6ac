"""Checking a sensor, as the command and the page do it: texts to a check in the ledger."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta
from typing import Any

from curewatch.climate.reading import Quantity, Reading, make_reading
from curewatch.errors import ReadingError
from curewatch.quality.availability import Place
from curewatch.quality.calibration import (
    Move,
    Offsets,
    SensorCheck,
    add_check,
    add_move,
    add_rename,
    checks,
    is_sensor,
)
from curewatch.quality.salt_check import SETTLING, UNCERTAINTY_PCT, humidity_over_salt, unsettled
from curewatch.store.store import Store
from curewatch.units import parse_humidity, parse_temperature


def _value(quantity: Quantity, text: str) -> float:
    """A value with its unit, in [C] or [%]."""
    return (parse_humidity if quantity == "relative_humidity" else parse_temperature)(text)


def quantity_of(latest: Sequence[Reading], source: str, text: str) -> Quantity:
    """Which quantity of a sensor a text with a unit is about.

    Raises ReadingError where nothing was heard from it, or where it has no such quantity or two.
    """
    sent = sorted({reading.quantity for reading in latest if reading.source == source})
    if not sent or not is_sensor(source):
        sensors = sorted({reading.source for reading in latest if is_sensor(reading.source)})
        raise ReadingError(
            f"there is no reading from a sensor {source[:100]!r}",
            fix=f"name one of {', '.join(sensors[:8])}" if sensors else "let it send first",
        )
    damp = text.rstrip().endswith("%")
    fitting = [quantity for quantity in sent if (quantity == "relative_humidity") == damp]
    if len(fitting) == 1:
        return fitting[0]
    what = (
        "several of that kind"
        if fitting
        else " and ".join(quantity.replace("_", " ") for quantity in sent)
    )
    raise ReadingError(
        f"{source[:100]} sends {what}", fix="give the reference like '14.0 C' or '75 %'"
    )


def _seen(
    store: Store, place: Place, source: str, quantity: Quantity, read: str, now: datetime
) -> Reading:
    """What the sensor itself gives: as typed, or its last reading without its correction.

    Raises ReadingError where that reading is too old.
    """
    last = max(
        (e for e in store.latest(now) if (e.source, e.quantity) == (source, quantity)),
        key=lambda reading: reading.at,
    )
    if read.strip():
        return make_reading(last.place, quantity, _value(quantity, read), now, source)
    if now - last.at > timedelta(minutes=place(last.place).old_after_min):
        raise ReadingError(
            "its last reading is too old to check",
            where=source,
            fix="let it send beside the reference, or add --read with what it shows",
        )
    offset, _ = Offsets(checks(store)).at(source, quantity, last.at.timestamp())
    return Reading(last.place, quantity, round(last.value - offset, 6), last.at, source)


def check_sensor(
    store: Store, place: Place, source: str, reference: str, read: str, who: str, now: datetime
) -> SensorCheck:
    """Hold a sensor against a reference, like '14.0 C'; `read` is what the sensor itself shows,
    empty for its last reading. Raises QuantityError or ReadingError in the user's words."""
    quantity = quantity_of(store.latest(now), source, reference)
    reading = _seen(store, place, source, quantity, read, now)
    return _checked(store, reading, _value(quantity, reference), who, now)


def _checked(
    store: Store, reading: Reading, true: float, who: str, now: datetime, **how: Any
) -> SensorCheck:
    """Record what a sensor showed [C or %] beside what was true; how: as `add_check` takes it."""
    return add_check(
        store,
        reading.source,
        reading.quantity,
        reference=true,
        read=reading.value,
        read_at=reading.at,
        now=now,
        who=who,
        **how,
    )


def moved_sensor(store: Store, former: str, source: str, now: datetime) -> list[Move]:
    """A sensor that publishes on another topic now: its checks go with it, and where its place is
    another one too, that is a move. Raises ReadingError where they cannot be one sensor."""
    ends = {name: _ends(store, name, now) for name in (former, source)}
    alike = ends[former].keys() & ends[source].keys()
    if former == source or not alike:
        raise ReadingError(
            f"{former[:80]} and {source[:80]} cannot be one sensor",
            fix="name what it was called, then what it is called now; both send the same quantity",
        )
    add_rename(store, former, source, now)
    moves = [
        Move(source, quantity, before.place, after.place, after.at, both=False)
        for quantity in sorted(alike)
        if (before := ends[former][quantity]).place != (after := ends[source][quantity]).place
    ]
    for move in moves:
        add_move(store, move, now)
    return moves


def _ends(store: Store, source: str, now: datetime) -> dict[Quantity, Reading]:
    """The last reading of each quantity of a sensor."""
    own = [
        reading for reading in store.latest(now) if reading.source == source and is_sensor(source)
    ]
    return {reading.quantity: reading for reading in sorted(own, key=lambda reading: reading.at)}


def salt_check_sensor(
    store: Store, place: Place, source: str, temperature: str, read: str, who: str, now: datetime
) -> tuple[SensorCheck, str]:
    """Hold a hygrometer against wet table salt at a temperature, like '20 C'; with what is said
    where it has not settled yet, else empty."""
    true = humidity_over_salt(parse_temperature(temperature), temperature)
    quantity = quantity_of(store.latest(now), source, "%")
    reading = _seen(store, place, source, quantity, read, now)
    check = _checked(store, reading, true, who, now, uncertainty=UNCERTAINTY_PCT, how="salt")
    readings = [] if read.strip() else store.readings(now - SETTLING, now)
    return check, unsettled(readings, source, now)
