"""How sensors are spoken of: their checks, moves, flags, and two that do not agree."""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING

from curewatch.climate.reading import AIR_PLACE, Quantity, Reading
from curewatch.quality.single_sensor import FAILED_C
from curewatch.wording import words

if TYPE_CHECKING:
    from curewatch.climate.flag import Code, Flag
    from curewatch.quality.availability import Disagreement, Outage
    from curewatch.quality.calibration import Move, SensorCheck
    from curewatch.quality.slips import Slip
    from curewatch.quality.typed import BesideSensor
    from curewatch.store.readings import Ahead
    from curewatch.store.turned_away import Stranger, Why
    from curewatch.wording.words import ReaderFormat

_SOURCE = 100
_FLAGS: dict[Code, str] = {
    "jump": "jumped by {gap} in {long}",
    "spike": "jumped, and came back",
    "failed": "{failed} is what a thermometer sends when it cannot measure",
    "end": "at {value} since {since}: wet or broken",
    "stuck": "stuck at {value} since {since} while others move",
    "zone": "its clock is {hours} h behind: set its time zone",
    "clock": "its clock is {long} behind",
    "outvoted": "{gap} {way} the {others} others at this place since {since}",
    "apart": "{gap} {way} {source} since {since}, which was checked {other_checked}, {own}",
    "waited": "it may have waited at the broker while curewatch was not running, and carries no "
    "time",
    "unjudged": "curewatch failed while it checked this reading; the rejected messages say why",
    "replaced": "replaced by a later value",
    "taken_back": "taken back",
    "ahead": "set aside: its time was in the future",
    "other": "{text}",
}
_NOT_LET_IN: dict[Why, str] = {
    "no_password": "It sent no user or no password. Enter both in its MQTT settings: the user "
    "and password for sensors that curewatch access showed.",
    "wrong_password": "Its user or password is wrong. Enter the user and password for sensors "
    "that curewatch access showed; the passcode of the pages is another one.",
    "must_wait": "Too many wrong passwords came from this address, so it has to wait. Correct "
    "the password in its MQTT settings; it can connect again after 5 min at the "
    "latest.",
    "version": "It speaks MQTT {number}. Set the MQTT version in its settings to 5 or 3.1.1.",
    "encrypted": "It tries an encrypted connection (TLS), and curewatch's broker has none. Turn "
    "TLS off in its MQTT settings.",
    "own_method": "It wants a sign-in method of its own. Set it to user and password.",
    "crowded": "This address has {number} connections already. Give each sensor one connection, "
    "and restart those that open new ones without end.",
    "full": "{number} clients are connected already, and there is no room for more. Disconnect "
    "some.",
    "will_topic": "Its last will is on a topic where it may not publish. Put the last will under "
    "curewatch/ and a place, or turn it off.",
    "no_name": "It gives no client name (client ID) and wants to be remembered. Give it a name, "
    "or turn on clean session.",
}


def _value(quantity: Quantity, value: float, say: ReaderFormat) -> str:
    if quantity == "relative_humidity":
        return f"{say.number(value, 0 if value == round(value) else 1)} %"
    return say.temperature(value)


def flag(reason: Flag, quantity: Quantity, say: ReaderFormat, now: datetime) -> str:
    """Why a reading of a quantity is not used, its instants and values in the reader's manner."""
    gap, seconds = reason.gap or 0.0, reason.seconds or 0.0
    since = say.moment(reason.since, now) if reason.since else "some time"
    own = f"this one {say.day(reason.checked)}" if reason.checked else "this one never"
    return _FLAGS[reason.code].format(
        gap=_by(say, quantity, abs(gap)).lstrip("+"),
        way="above" if gap > 0 else "below",
        failed=say.temperature(FAILED_C, 0),
        value=_value(quantity, reason.value or 0.0, say),
        since=since,
        long=words.duration(seconds / 60),
        hours=words.figure(seconds / 3600, say),
        others=reason.others,
        source=reason.source[:_SOURCE],
        own=own,
        other_checked=say.day(reason.other_checked) if reason.other_checked else "earlier",
        text=reason.text,
    )


def _name(outage: Outage) -> str:
    """What a sensor is called: Panel sensor, Air humidity sensor."""
    kind = ""
    if outage.quantity == "relative_humidity":
        kind = " humidity"
    elif outage.quantity == "air_temperature" and outage.place not in (AIR_PLACE, "outdoors"):
        kind = " air"
    return f"{outage.place[:1].upper()}{outage.place[1:]}{kind} sensor"


def lost(outage: Outage, say: ReaderFormat, now: datetime) -> str:
    """A sensor that is silent or flagged, as a sentence."""
    if outage.flag:
        return f"{_name(outage)} flagged: {flag(outage.flag, outage.quantity, say, now)}."
    return f"{_name(outage)} silent since {say.moment(outage.since, now)}."


def _by(say: ReaderFormat, quantity: str, amount: float) -> str:
    """A difference [K or %] with its sign and unit."""
    sign = "+" if amount > 0 else ""
    if quantity == "relative_humidity":
        return f"{sign}{say.number(amount)} %"
    return f"{sign}{say.difference(amount)}"


def check(check: SensorCheck, say: ReaderFormat) -> str:
    """What a check made of a sensor: −0.4 °C since 3 Nov, checked by Ann."""
    by = f" by {check.who}" if check.who else ""
    how = "in the salt check, at" if check.how == "salt" else "checked against"
    reference = (
        f"{say.number(check.reference)} %"
        if check.quantity == "relative_humidity"
        else say.temperature(check.reference)
    )
    offset = _by(say, check.quantity, check.offset)
    return f"corrected by {offset} since {say.day(check.recorded_at)} ({how} {reference}{by})"


def move(move: Move, say: ReaderFormat, now: datetime) -> str:
    """Where a sensor was before, or that it reports at two places at once."""
    at = say.moment(move.at, now)
    if move.both:
        return f"reports at {move.before} and {move.after} at once since {at}"
    return f"moved from {move.before} to {move.after} {at}"


def split(split: Disagreement, say: ReaderFormat) -> str:
    """Two sensors that do not agree, and what to do about it."""
    one, other = split.sources
    gap = _by(say, split.quantity, split.gap).lstrip("+")
    return (
        f"Two sensors at {split.place} differ by {gap}: {one} and {other}. Nothing shows which "
        f"is right, so both are used and the times are less certain: check one against a reference."
    )


def ahead(ahead: Ahead, say: ReaderFormat, now: datetime) -> str:
    """Readings of the future, and that they are not used."""
    many = "1 reading" if ahead.count == 1 else f"{ahead.count} readings"
    what = f"{ahead.place}, {words.QUANTITY[ahead.quantity]}, from {ahead.source[:_SOURCE]}"
    return (
        f"{many} of {what}: "
        f"the time is in the future, the last at {say.moment(ahead.last, now)}. Not used now."
    )


def typed(reading: Reading, say: ReaderFormat, now: datetime) -> str:
    """A typed reading, short: panel surface 8.0 °C (19:30)."""
    value = words.value(say, reading.quantity, reading.value)
    what = f"{reading.place} {words.QUANTITY[reading.quantity]}"
    return f"{what} {value} ({say.moment(reading.at, now)})"


def beside_sensor(pair: BesideSensor, say: ReaderFormat, now: datetime) -> str:
    """What becomes of a typed reading where a sensor shows something else."""
    sensor = pair.sensor
    value = words.value(say, sensor.quantity, sensor.value)
    return (
        f"The sensor there shows {value} ({say.moment(sensor.at, now)}). While it reports, its "
        "readings count; yours is only kept beside them."
    )


def slip(slip: Slip, say: ReaderFormat, now: datetime) -> str:
    """Why a typed value is asked about."""
    one, last = slip.reading, slip.last
    value = words.value(say, one.quantity, one.value)
    if last is None:
        return f"{value} is unusual for a garage"
    way = "above" if one.value > last.value else "below"
    gap = _by(say, one.quantity, abs(one.value - last.value)).lstrip("+")
    before = words.value(say, last.quantity, last.value)
    return f"{value} is {gap} {way} the {before} of {say.moment(last.at, now)}"


def meant(slip: Slip, say: ReaderFormat) -> str:
    """What was meant if the unit was mistaken: °F: 14.4 °C. Empty where that does not fit."""
    if slip.meant_c is None:
        return ""
    return f"°{slip.meant[-1]}: {say.temperature(slip.meant_c)}"


def stranger(client: Stranger) -> str:
    """Who was not let in: its address and the names it gave."""
    named = f'"{client.client}" at ' if client.client else ""
    user = f', user "{client.user}"' if client.user else ""
    return f"{named}{client.address or 'other addresses'}{user}"


def not_let_in(client: Stranger) -> str:
    """Why a client was not let in, and what to set."""
    return _NOT_LET_IN[client.why].format(number=client.number)
