"""How sensors are spoken of: their checks, moves, doubts, and two that do not agree."""

from __future__ import annotations

from datetime import datetime

from curewatch.heard import Lost, Split, timed
from curewatch.sensor_log import Check, Move
from dashboard import words
from dashboard.words import Manner


def doubt(text: str, manner: Manner, now: datetime) -> str:
    """Why a reading is doubted, its instants and values in the reader's manner."""
    return words.plain(timed(text, lambda at: manner.moment(at, now)), manner)


def lost(found: Lost, manner: Manner, now: datetime) -> str:
    """A sensor that is silent or doubted, as a sentence."""
    said = doubt(found.words, manner, now)
    return f"{said[:1].upper()}{said[1:]}."


def _by(manner: Manner, quantity: str, amount: float) -> str:
    """A difference [K or %] with its sign and unit."""
    sign = "+" if amount > 0 else ""
    if quantity == "relative_humidity":
        return f"{sign}{manner.number(amount)} %"
    return f"{sign}{manner.difference(amount)}"


def check(found: Check, manner: Manner) -> str:
    """What a check made of a sensor: −0.4 °C since 3 Nov, checked by Ann."""
    by = f" by {found.who}" if found.who else ""
    how = "by the salt" if found.how == "salt" else "against"
    reference = (
        f"{manner.number(found.reference)} %"
        if found.quantity == "relative_humidity"
        else manner.temperature(found.reference)
    )
    offset = _by(manner, found.quantity, found.offset)
    return f"{offset} since {manner.day(found.told)}, checked{by} {how} {reference}"


def move(found: Move, manner: Manner, now: datetime) -> str:
    """Where a sensor was before, or that it reports at two places at once."""
    at = manner.moment(found.at, now)
    if found.both:
        return f"reports at {found.before} and {found.after} at once since {at}"
    return f"moved from {found.before} to {found.after} {at}"


def split(found: Split, manner: Manner) -> str:
    """Two sensors that do not agree, and what to do about it."""
    one, other = found.sources
    gap = _by(manner, found.quantity, found.gap).lstrip("+")
    return (
        f"Two sensors at {found.place} differ by {gap}: {one} and {other}. Neither is known to be "
        "better, so both are used and the band is wider: check one against a reference."
    )
