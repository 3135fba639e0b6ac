"""Mixed now, with one touch: the instant is kept at once, what it was can be said later."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import TYPE_CHECKING

from curewatch.errors import StepError
from curewatch.frozen import frozen

if TYPE_CHECKING:
    from curewatch.store.ledger import Ledger

SUBJECT = "mixed"
KEPT = timedelta(hours=24)


@frozen
class UnnamedMix:
    """A mix of which only the moment is known; act: the act that recorded it."""

    id: int
    at: datetime
    act: int


def _day(at: datetime) -> str:
    return f"{at:%Y-%m-%d}"


def touch(ledger: Ledger, now: datetime) -> UnnamedMix:
    """Keep the moment of a mix."""
    return find(ledger, ledger.add_entry(SUBJECT, _day(now), "touched", now, now, {}), now)


def waiting(ledger: Ledger, now: datetime) -> list[UnnamedMix]:
    """The touches of the last day that were not named, oldest first."""
    days = sorted({_day(now - KEPT), _day(now)})
    entries = [entry for day in days for entry in ledger.entries(SUBJECT, day)]
    settled = {entry.body.get("touch") for entry in entries if entry.kind != "touched"}
    return [
        UnnamedMix(entry.id, entry.at, entry.act)
        for entry in entries
        if entry.kind == "touched" and entry.id not in settled and now - entry.at < KEPT
    ]


def find(ledger: Ledger, number: int, now: datetime) -> UnnamedMix:
    """A touch that waits for its name. Raises StepError where there is none."""
    for mix in waiting(ledger, now):
        if mix.id == number:
            return mix
    raise StepError("that touch was named already", fix="look at the bench")


def name(ledger: Ledger, touched: UnnamedMix, step: int, now: datetime) -> None:
    """Say which step a touch became."""
    body = {"touch": touched.id, "step": step}
    ledger.add_entry(SUBJECT, _day(touched.at), "named", now, now, body)
