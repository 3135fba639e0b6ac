"""A dry rehearsal: the bond gone through with a stopwatch before the nozzle is cut.

What was rehearsed is held against the working time here, its early and late bound. A quarter of
the early bound is kept in hand: wet hands are slower than dry ones (our choice, no source).
"""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

from curewatch.durations import between, duration
from curewatch.errors import StepError
from curewatch.frozen import frozen
from curewatch.gate.check import Verdict
from curewatch.store.ledger import Ledger
from curewatch.units import minutes

SUBJECT = "rehearsal"
IN_HAND = 0.75
KEPT = timedelta(days=14)
LONGEST_MIN = 720.0


@frozen
class Rehearsal:
    """One rehearsal: of which sheet and part, when it ended, how long it took. [min]"""

    sheet_id: str
    part: str
    at: datetime
    took_min: float


@frozen
class Outcome:
    """A rehearsal against the working time here: early_min, late_min [min], None where no time
    can be given."""

    verdict: Verdict
    words: str
    took_min: float
    early_min: float | None
    late_min: float | None


def _span(early_min: float, late_min: float | None) -> str:
    if late_min is None:
        return f"{duration(early_min, 'down')} or more here"
    return f"{between(early_min, late_min, 'down')} here"


def hold(
    took_min: float, early_min: float | None, late_min: float | None, how: str = "rehearsed"
) -> Outcome:
    """A rehearsed or wanted length against the bounds of the working time. All [min].

    >>> hold(24, 26, 40).words
    '24 min rehearsed, 26 to 40 min here: too close'
    """
    head = f"{duration(took_min, 'up')} {how}"
    if early_min is None:
        words = f"{head}, and no working time can be given here"
        return Outcome("caution", words, took_min, None, late_min)
    verdict: Verdict
    if took_min >= early_min:
        verdict, end = "stop", "too long"
    elif took_min > IN_HAND * early_min:
        verdict, end = "caution", "too close"
    else:
        verdict, end = "go", "it fits, with a quarter to spare"
    words = f"{head}, {_span(early_min, late_min)}: {end}"
    return Outcome(verdict, words, took_min, early_min, late_min)


def _took(took_min: float) -> float:
    if not 0 < took_min <= LONGEST_MIN:
        raise StepError(
            f"a rehearsal of {took_min:g} min cannot be",
            fix="write how long it took, like '24 min'",
        )
    return took_min


def begin(store: Ledger, sheet_id: str, *, now: datetime, part: str = "") -> None:
    """Start the stopwatch; starting again starts it anew."""
    store.add_entry(SUBJECT, sheet_id, "begun", now, now, {"part": part.strip()[:200]})


def running(store: Ledger, sheet_id: str, now: datetime) -> datetime | None:
    """Since when the stopwatch runs for a sheet, None where it does not."""
    entries = store.entries(SUBJECT, sheet_id)
    last = entries[-1] if entries else None
    if last is None or last.kind != "begun" or minutes(now - last.at) > LONGEST_MIN:
        return None
    return last.at


def record(
    store: Ledger, sheet_id: str, took_min: float, *, now: datetime, part: str = ""
) -> Rehearsal:
    """Keep how long a rehearsal took. took_min [min]"""
    part = part.strip()[:200]
    body = {"took_min": _took(took_min), "part": part}
    store.add_entry(SUBJECT, sheet_id, "took", now, now, body)
    return Rehearsal(sheet_id, part, now, took_min)


def stop(store: Ledger, sheet_id: str, *, now: datetime) -> Rehearsal:
    """Stop the watch and keep what it shows. Raises StepError where it does not run."""
    since = running(store, sheet_id, now)
    if since is None:
        raise StepError("no rehearsal is running", fix="start it first")
    begun: Any = store.entries(SUBJECT, sheet_id)[-1].body
    return record(store, sheet_id, minutes(now - since), now=now, part=begun.get("part", ""))


def last(store: Ledger, sheet_id: str, part: str, now: datetime) -> Rehearsal | None:
    """The last rehearsal of a product, of this part where one is named, not older than two weeks.

    A rehearsal told without a part counts for any.
    """
    part_key = part.strip().casefold()
    for entry in reversed(store.entries(SUBJECT, sheet_id)):
        text = str(entry.body.get("part", ""))
        same = not part_key or text.casefold() in ("", part_key)
        if entry.kind == "took" and same and now - entry.at <= KEPT:
            return Rehearsal(sheet_id, text, entry.at, float(entry.body["took_min"]))
    return None
