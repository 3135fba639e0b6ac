"""Mixing against a stop of the gate: what was stopped, why it was mixed all the same."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

from curewatch.bench.bench import Bench, Details
from curewatch.errors import StepError
from curewatch.formats import ReaderFormat
from curewatch.garage.step import CAUTION, STOP
from curewatch.gate.check import Check
from curewatch.gate.gate import gate
from curewatch.gate.gather import ask
from curewatch.text import LONGEST_TEXT


@dataclass(frozen=True)
class Against:
    """What the gate says against a mix, in words: its stops and its cautions."""

    stops: tuple[str, ...]
    cautions: tuple[str, ...]


def against(checks: Iterable[Check]) -> Against:
    """What these answers of the gate say against a mix."""
    held = tuple(checks)
    return Against(
        tuple(check.words for check in held if check.verdict == "stop" and not check.asks),
        tuple(check.words for check in held if check.verdict == "caution"),
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
            fix='say why it is mixed all the same: --why "..."; if it is in the cup already, '
            "say how long: --ago '0 min'",
        )
        self.stops = tuple(stops)


def record(
    bench: Bench, number: int, texts: Sequence[str], why: str, *, now: datetime, verdict: str = STOP
) -> None:
    """Keep what a step was mixed against; why: '' where it is still to be told."""
    body = {"stops": list(texts), "why": " ".join(why.split())[:LONGEST_TEXT]}
    caution = {} if verdict == STOP else {"verdict": verdict}
    bench.store.add_event(number, "overridden", now, now, body | caution)


def keep(bench: Bench, number: int, found: Against, why: str, *, now: datetime) -> None:
    """Keep why a step was mixed all the same; a reason that nothing asked for is a note."""
    if found.stops:
        record(bench, number, found.stops, why, now=now)
    elif why.strip() and found.cautions:
        record(bench, number, found.cautions, why, now=now, verdict=CAUTION)
    elif why.strip():
        bench.note(number, why, now=now)


def explain(bench: Bench, number: int, why: str, *, now: datetime) -> tuple[str, ...]:
    """Tell afterwards why a step was mixed against its stops; returns them."""
    step = bench.mixed(number)
    if not why.strip():
        raise StepError("the reason is empty", fix="say why in a few words")
    stopped = step.unexplained
    if not stopped:
        raise StepError(
            f"step {number} has no stop that waits for a reason", fix="see: curewatch log"
        )
    for override in step.overrides:
        if not override.why:
            record(bench, number, override.stops, why, now=now)
    return stopped
