"""The plan as it was last shown: kept in the log, so that it stays put and can be held to."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING, Any

from curewatch.formats import tenths
from curewatch.garage.part_history import key_of
from curewatch.store.ledger import Ledger
from curewatch.walltime import stamp

if TYPE_CHECKING:
    from curewatch.week.plan import PlannedPart, PlannedStep, WeekPlan

PLAN, MINE, SHOWN = "plan", "mine", "shown"


@dataclass(frozen=True)
class ShownStep:
    """A step as it was shown: of which part, its number in the way, and when it begins."""

    part: str
    job: str
    number: int
    start: datetime

    @property
    def key(self) -> tuple[tuple[str, str], int]:
        """What it is, whenever it is."""
        return key_of(self.part, self.job), self.number


def _step(row: Mapping[str, Any]) -> ShownStep:
    return ShownStep(row["name"], row["job"], row["number"], datetime.fromisoformat(row["from"]))


def shown(store: Ledger) -> tuple[ShownStep, ...]:
    """The steps of the plan shown last, none where there is none."""
    entries = store.entries(PLAN, MINE)
    rows: Any = entries[-1].body["steps"] if entries else []
    return tuple(map(_step, rows))


def _step_body(step: PlannedStep) -> dict[str, Any]:
    return {
        "name": step.part,
        "job": step.job,
        "number": step.number,
        "from": stamp(step.start),
    }


def _promises(parts: Sequence[PlannedPart]) -> list[dict[str, Any]]:
    return [
        {
            "name": part.part,
            "job": part.job,
            "end": part.end,
            "by": stamp(part.by),
            "tenths": tenths(part.chance),
        }
        for part in parts
        if part.chance is not None
    ]


def keep(store: Ledger, plan: WeekPlan) -> None:
    """Keep a plan that is shown, where it or what it promises is not kept yet."""
    body = {"steps": [_step_body(step) for step in plan.steps], "promises": _promises(plan.parts)}
    entries = store.entries(PLAN, MINE)
    if not entries or any(entries[-1].body[name] != body[name] for name in body):
        store.add_entry(PLAN, MINE, SHOWN, plan.now, plan.now, body)
