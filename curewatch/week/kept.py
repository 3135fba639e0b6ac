"""The plans as they were shown: kept in the log, so that a plan stays put and can be held to."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import TYPE_CHECKING, Any

from curewatch.events.events import Entry
from curewatch.formats import tenths
from curewatch.frozen import frozen
from curewatch.garage.part_history import key_of
from curewatch.store.ledger import Ledger
from curewatch.walltime import stamp

if TYPE_CHECKING:
    from curewatch.week.plan import PlannedPart, PlannedStep, StepKey, WeekPlan

PLAN, MINE, SHOWN = "plan", "mine", "shown"
REMINDERS, TAKEN, LET_GO = "reminders", "taken over", "let go"


@frozen
class ShownStep:
    """A step as it was shown: of which part, its number in the way, and between when and when it is
    to be begun."""

    part: str
    job: str
    number: int
    start: datetime
    latest: datetime

    @property
    def key(self) -> StepKey:
        """What it is, whenever it is."""
        return key_of(self.part, self.job), self.number


@frozen
class ShownPlan:
    """A plan as it was shown at an instant; why: the code of why it had moved, and part: whose
    reason that is, '' where it had not."""

    at: datetime
    steps: tuple[ShownStep, ...]
    why: str
    part: str


def _step(row: Mapping[str, Any]) -> ShownStep:
    start = datetime.fromisoformat(row["from"])
    latest = datetime.fromisoformat(row.get("latest", row["from"]))
    return ShownStep(row["name"], row["job"], row["number"], start, latest)


def _plan(entry: Entry) -> ShownPlan:
    rows: Any = entry.body["steps"]
    moved: Any = entry.body.get("moved", {"why": "", "part": ""})
    return ShownPlan(entry.at, tuple(map(_step, rows)), moved["why"], moved["part"])


def shown_plans(store: Ledger) -> list[ShownPlan]:
    """Every plan that was shown, the first first."""
    return list(map(_plan, store.entries(PLAN, MINE)))


def shown(store: Ledger) -> tuple[ShownStep, ...]:
    """The steps of the plan shown last, none where there is none."""
    entries = store.entries(PLAN, MINE)
    return _plan(entries[-1]).steps if entries else ()


def shown_since(store: Ledger, at: datetime) -> tuple[ShownStep, ...]:
    """Every step of the plans that were shown since an instant, each as it was shown last."""
    steps = (step for plan in shown_plans(store) if plan.at >= at for step in plan.steps)
    return tuple({step.key: step for step in steps}.values())


def _step_body(step: PlannedStep) -> dict[str, Any]:
    return {
        "name": step.part,
        "job": step.job,
        "number": step.number,
        "from": stamp(step.start),
        "latest": stamp(step.latest),
    }


def promises_of(parts: Sequence[PlannedPart]) -> list[dict[str, Any]]:
    """What is promised of each part, as it is kept."""
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
    body = {"steps": [_step_body(step) for step in plan.steps], "promises": promises_of(plan.parts)}
    entries = store.entries(PLAN, MINE)
    if not entries or any(entries[-1].body[name] != body[name] for name in body):
        moved = plan.moved
        why = {"moved": {"why": moved.why, "part": moved.part}} if moved else {}
        store.add_entry(PLAN, MINE, SHOWN, plan.now, plan.now, body | why)


def taken_over(store: Ledger) -> Entry | None:
    """How the plan was taken over that reminds; None where none does."""
    entries = store.entries(PLAN, REMINDERS)
    return entries[-1] if entries and entries[-1].kind == TAKEN else None
