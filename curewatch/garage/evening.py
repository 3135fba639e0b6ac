"""An evening at the bench: until when, and whether any metal is left bare at its end.

An evening is a local day from four in the morning to four the next; what is entered about it is an
entry of the ledger under that day.
"""

from __future__ import annotations

from datetime import datetime, time, timedelta
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from curewatch.errors import StepError
from curewatch.walltime import evening_of, instant_of

if TYPE_CHECKING:
    from curewatch.store.store import Store

SUBJECT = "evening"
FROM = time(17, 0)
ANSWERS = ("none", "as listed")


def is_evening(now: datetime, zone: ZoneInfo) -> bool:
    """Whether it is after five, or not yet four the next morning."""
    return now >= instant_of(evening_of(now, zone), FROM, zone)


def set_stop(store: Store, stop: datetime, *, now: datetime, zone: ZoneInfo, who: str = "") -> None:
    """Keep until when this evening's work may go on."""
    if not now < stop <= now + timedelta(hours=24):
        raise StepError("the stopping time is not within a day", fix="write it like '22:30'")
    name = evening_of(now, zone).isoformat()
    store.add_entry(SUBJECT, name, "stopping", now, now, {"at": stop.isoformat(), "who": who})


def stop_of(store: Store, now: datetime, zone: ZoneInfo) -> datetime | None:
    """Until when this evening's work may go on, where it was told."""
    entries = store.entries(SUBJECT, evening_of(now, zone).isoformat())
    stops = [entry for entry in entries if entry.kind == "stopping"]
    return datetime.fromisoformat(stops[-1].body["at"]) if stops else None


def answer_bare(store: Store, answer: str, *, now: datetime, zone: ZoneInfo, who: str = "") -> None:
    """Record the answer to: is any metal bare?"""
    if answer not in ANSWERS:
        raise StepError(f"{answer[:40]!r} is not an answer", fix=f"use {' or '.join(ANSWERS)}")
    name = evening_of(now, zone).isoformat()
    store.add_entry(SUBJECT, name, "bare asked", now, now, {"answer": answer, "who": who})


def answered(store: Store, now: datetime, zone: ZoneInfo) -> bool:
    """Whether the question was answered this evening."""
    entries = store.entries(SUBJECT, evening_of(now, zone).isoformat())
    return any(entry.kind == "bare asked" for entry in entries)
