"""Mixing against a stop of the gate: what was stopped, why it was mixed all the same."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from zoneinfo import ZoneInfo

from curewatch.bench import LONGEST_TEXT, Bench, Details
from curewatch.errors import StepError
from curewatch.gate import gate
from curewatch.gate_desk import ask
from curewatch.verdict import Manner


def stops(
    bench: Bench, sheet_id: str, now: datetime, details: Details, say: Manner, zone: ZoneInfo
) -> tuple[str, ...]:
    """What the gate stops of a mix, in words; empty where it stops nothing."""
    found = gate(ask(bench, sheet_id, now, details, zone=zone), say)
    return tuple(each.words for each in found.checks if each.verdict == "stop")


def refusal(stopped: Sequence[str]) -> StepError:
    """The sentence of a mix that needs a reason."""
    return StepError(
        f"Stop: {'; '.join(stopped)}",
        fix='say why it is mixed all the same: --because "..."; if it is in the cup already, say '
        "how long: --ago '0 min'",
    )


def record(bench: Bench, number: int, stopped: Sequence[str], why: str, *, now: datetime) -> None:
    """Keep what a step was mixed against; why: '' where it is still to be told."""
    body = {"stops": list(stopped), "why": " ".join(why.split())[:LONGEST_TEXT]}
    bench.store.add_event(number, "overridden", now, now, body)


def explain(bench: Bench, number: int, why: str, *, now: datetime) -> tuple[str, ...]:
    """Tell afterwards why a step was mixed against its stops; returns them."""
    step = bench.step(number)
    if not why.strip():
        raise StepError("the reason is empty", fix="say why in a few words")
    stopped = step.unexplained
    if not stopped:
        raise StepError(
            f"step {number} has no stop that waits for a reason", fix="see: curewatch log"
        )
    for each in step.overrides:
        if not each.why:
            record(bench, number, each.stops, why, now=now)
    return stopped
