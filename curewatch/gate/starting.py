"""Starting a step, the same on every way: page, one touch, command and button.

What was not acknowledged is asked on the bench afterwards, and so is the reason for a mix against a
stop that is in the cup already.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from zoneinfo import ZoneInfo

from curewatch.bench import spraying
from curewatch.bench.bench import Bench, Details, check_mix
from curewatch.events.events import acting
from curewatch.formats import ReaderFormat
from curewatch.garage.shelf import find_sheet
from curewatch.gate import overrides
from curewatch.vocabulary import SPRAY


def start(
    bench: Bench,
    sheet_id: str,
    details: Details,
    *,
    now: datetime,
    say: ReaderFormat,
    zone: ZoneInfo,
    at: datetime | None = None,
    acknowledged: Sequence[str] = (),
    why: str = "",
    in_cup: bool = False,
    why_later: bool = False,
) -> int:
    """Record a mix and what the gate says against it; returns the step's number.

    in_cup: it is mixed already, as it is with an earlier `at`; else it begins now, and is held back
    where it would be sprayed without air-fed protection. why_later: its stops may wait for their
    reason. Raises StepError, and Unreasoned where a stop needs its reason first.
    """
    sheet = find_sheet(bench.store, sheet_id)
    check_mix(sheet, details)
    if not in_cup and (at is None or at >= now):
        spraying.check_start(sheet, details.applied or "", acknowledged)
    against = overrides.weighed(bench, sheet.id, now, details, say, zone)
    if against.stops and not why_later and not why.strip():
        raise overrides.Unreasoned(against.stops)
    with acting():
        number = bench.start(
            sheet.id, now=now, mixed_at=at, details=details, acknowledged=acknowledged
        )
        overrides.keep(bench, number, against, why, now=now)
    return number


def answer_applied(bench: Bench, number: int, applied: str, *, now: datetime) -> None:
    """Record how a mix is applied; where it is sprayed, also that air-fed protection is on."""
    with acting():
        if bench.step(number).applied != applied:
            bench.amend(number, Details(applied=applied), now=now)
        if applied == SPRAY:
            bench.acknowledge(number, spraying.AIR_FED_KEY, now=now)
