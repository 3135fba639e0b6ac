"""Starting a step, the same on every way: page, one touch, command and button; also despite a stop.

What was not acknowledged is asked on the bench afterwards, and so is the reason for a mix against a
stop that is in the cup already.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime
from zoneinfo import ZoneInfo

from curewatch.bench import spraying
from curewatch.bench.bench import Bench, Details, check_mix
from curewatch.errors import StepError
from curewatch.events.events import acting
from curewatch.formats import ReaderFormat
from curewatch.frozen import frozen
from curewatch.garage.shelf import find_sheet
from curewatch.garage.step import CAUTION, STOP
from curewatch.gate.check import Check
from curewatch.gate.gate import gate
from curewatch.gate.gather import ask
from curewatch.text import LONGEST_TEXT
from curewatch.vocabulary import SPRAY


@frozen
class Against:
    """What the gate says against a mix, in words: its stops and its cautions."""

    stops: tuple[str, ...]
    cautions: tuple[str, ...]


def against(checks: Iterable[Check]) -> Against:
    """What these answers of the gate say against a mix."""
    all_checks = tuple(checks)
    return Against(
        tuple(check.words for check in all_checks if check.verdict == "stop" and not check.asks),
        tuple(check.words for check in all_checks if check.verdict == "caution"),
    )


def weighed(
    bench: Bench, sheet_id: str, now: datetime, details: Details, say: ReaderFormat, zone: ZoneInfo
) -> Against:
    """What the gate says against a mix now."""
    return against(gate(ask(bench, sheet_id, now, details, zone=zone), say).checks)


class Unreasoned(StepError):
    """A mix against these stops that needs a reason first."""

    def __init__(self, stops: Sequence[str]) -> None:
        super().__init__(
            f"Stop: {'; '.join(stops)}",
            fix='to mix anyway, give the reason: --why "..."; if it is in the cup already, '
            "say how long: --ago '0 min'",
        )
        self.stops = tuple(stops)


def record_override(
    bench: Bench, number: int, texts: Sequence[str], why: str, *, now: datetime, verdict: str = STOP
) -> None:
    """Keep what a step was mixed against; why: '' where it is still to be told."""
    body = {"stops": list(texts), "why": " ".join(why.split())[:LONGEST_TEXT]}
    caution = {} if verdict == STOP else {"verdict": verdict}
    bench.store.add_event(number, "overridden", now, now, body | caution)


def keep(bench: Bench, number: int, against: Against, why: str, *, now: datetime) -> None:
    """Keep why a step was mixed all the same; a reason that nothing asked for is a note."""
    if against.stops:
        record_override(bench, number, against.stops, why, now=now)
    elif why.strip() and against.cautions:
        record_override(bench, number, against.cautions, why, now=now, verdict=CAUTION)
    elif why.strip():
        bench.note(number, why, now=now)


def explain(bench: Bench, number: int, why: str, *, now: datetime) -> tuple[str, ...]:
    """Tell afterwards why a step was mixed against its stops; returns them."""
    step = bench.mixed(number)
    if not why.strip():
        raise StepError("the reason is empty", fix="give the reason in a few words")
    stopped = step.unexplained
    if not stopped:
        raise StepError(
            f"step {number} has no stop that waits for a reason", fix="see: curewatch log"
        )
    for override in step.overrides:
        if not override.why:
            record_override(bench, number, override.stops, why, now=now)
    return stopped


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
    against = weighed(bench, sheet.id, now, details, say, zone)
    if against.stops and not why_later and not why.strip():
        raise Unreasoned(against.stops)
    with acting():
        number = bench.start(
            sheet.id, now=now, mixed_at=at, details=details, acknowledged=acknowledged
        )
        keep(bench, number, against, why, now=now)
    return number


def answer_applied(bench: Bench, number: int, applied: str, *, now: datetime) -> None:
    """Record how a mix is applied; where it is sprayed, also that air-fed protection is on."""
    with acting():
        if bench.step(number).applied != applied:
            bench.amend(number, Details(applied=applied), now=now)
        if applied == SPRAY:
            bench.acknowledge(number, spraying.AIR_FED_KEY, now=now)
