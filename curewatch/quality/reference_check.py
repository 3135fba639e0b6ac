"""Checking a sensor, as the command and the page do it: texts to a check in the ledger."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta

from curewatch.climate.reading import Quantity, Reading, make_reading
from curewatch.errors import ReadingError
from curewatch.quality.availability import Place
from curewatch.quality.calibration import (
    Check,
    Move,
    Offsets,
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
    heard = sorted({each.quantity for each in latest if each.source == source})
    if not heard or not is_sensor(source):
        known = sorted({each.source for each in latest if is_sensor(each.source)})
        raise ReadingError(
            f"nothing was heard from a sensor {source[:100]!r}",
            fix=f"name one of {', '.join(known[:8])}" if known else "let it send first",
        )
    damp = text.rstrip().endswith("%")
    fitting = [each for each in heard if (each == "relative_humidity") == damp]
    if len(fitting) == 1:
        return fitting[0]
    told = (
        "several of that kind"
        if fitting
        else " and ".join(each.replace("_", " ") for each in heard)
    )
    raise ReadingError(
        f"{source[:100]} sends {told}", fix="give the reference like '14.0 C' or '75 %'"
    )


def _seen(
    store: Store, place: Place, source: str, quantity: Quantity, read: str, now: datetime
) -> Reading:
    """What the sensor itself gives: as typed, or its last reading without its correction.

    Raises ReadingError where that reading is too old.
    """
    last = max(
        (e for e in store.latest(now) if (e.source, e.quantity) == (source, quantity)),
        key=lambda each: each.at,
    )
    if read.strip():
        return make_reading(last.place, quantity, _value(quantity, read), now, source)
    if now - last.at > timedelta(minutes=place(last.place).old_after_min):
        raise ReadingError(
            "its last reading is too old to check",
            where=source,
            fix="let it send beside the reference, or give what it shows",
        )
    offset, _ = Offsets(checks(store)).at(source, quantity, last.at.timestamp())
    return Reading(last.place, quantity, round(last.value - offset, 6), last.at, source)


def check_sensor(
    store: Store, place: Place, source: str, reference: str, read: str, who: str, now: datetime
) -> Check:
    """Hold a sensor against a reference, like '14.0 C'; `read` is what the sensor itself shows,
    empty for its last reading. Raises QuantityError or ReadingError in the user's words."""
    quantity = quantity_of(store.latest(now), source, reference)
    seen = _seen(store, place, source, quantity, read, now)
    true = _value(quantity, reference)
    return add_check(
        store, source, quantity, reference=true, read=seen.value, read_at=seen.at, now=now, who=who
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
    found = [
        Move(source, quantity, before.place, after.place, after.at, both=False)
        for quantity in sorted(alike)
        if (before := ends[former][quantity]).place != (after := ends[source][quantity]).place
    ]
    for each in found:
        add_move(store, each, now)
    return found


def _ends(store: Store, source: str, now: datetime) -> dict[Quantity, Reading]:
    """The last reading of each quantity of a sensor."""
    own = [each for each in store.latest(now) if each.source == source and is_sensor(source)]
    return {each.quantity: each for each in sorted(own, key=lambda each: each.at)}


def salt_check_sensor(
    store: Store, place: Place, source: str, temperature: str, read: str, who: str, now: datetime
) -> tuple[Check, str]:
    """Hold a hygrometer against wet table salt at a temperature, like '20 C'; with what is said
    where it has not settled yet, else empty."""
    true = humidity_over_salt(parse_temperature(temperature))
    quantity = quantity_of(store.latest(now), source, "%")
    seen = _seen(store, place, source, quantity, read, now)
    found = add_check(
        store,
        source,
        quantity,
        reference=true,
        read=seen.value,
        read_at=seen.at,
        now=now,
        uncertainty=UNCERTAINTY_PCT,
        who=who,
        how="salt",
    )
    heard = [] if read.strip() else store.readings(now - SETTLING, now)
    return found, unsettled(heard, source, now)
