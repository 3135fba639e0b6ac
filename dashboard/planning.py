"""The plans of what is wished, worked out one at a time and kept until something was entered or ten
minutes are over: a page shows what is known at once, and asks for the rest."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING

from curewatch.errors import StepError
from curewatch.ways import entered
from dashboard.lane import Lane

if TYPE_CHECKING:
    from curewatch.formats import ReaderFormat
    from curewatch.ways.gather import PartPlan
    from dashboard.hall import Hall

KEPT_MIN = 10
_LANE = Lane("The plan is being worked out for someone else. Load the page again.", waiting=4)


@dataclass(frozen=True)
class Unplanned:
    """A part with a wish for which there is no plan, and why."""

    part: str
    job: str
    why: str


@dataclass(frozen=True, eq=False)
class WishedPlans:
    """The plans of all that is wished; as_of: of what was entered, and when."""

    as_of: tuple[object, datetime]
    plans: tuple[PartPlan, ...]
    unplanned: tuple[Unplanned, ...]


def _as_of(hall: Hall) -> tuple[object, datetime]:
    now = hall.clock()
    kept = now.replace(minute=now.minute // KEPT_MIN * KEPT_MIN, second=0, microsecond=0)
    return hall.store.entered(), kept


def asked_for(hall: Hall) -> bool:
    """Whether anything is wished, and it is known when somebody is there."""
    return entered.hours(hall.store) is not None and bool(entered.wished(hall.store))


def known(hall: Hall) -> WishedPlans | None:
    """What was worked out, where it still holds."""
    plans = hall.plans
    return plans if plans is not None and plans.as_of == _as_of(hall) else None


def work_out(hall: Hall) -> WishedPlans:
    """The plans as of now, worked out where they are not known. Raises Busy."""
    with _LANE.turn():
        plans = known(hall)
        if plans is None:
            plans = hall.plans = _worked_out(hall)
        return plans


def _worked_out(hall: Hall) -> WishedPlans:
    from curewatch.ways.gather import part_plan

    as_of, now = _as_of(hall), hall.clock()
    plans, unplanned = list["PartPlan"](), list[Unplanned]()
    for part, job in entered.wished(hall.store):
        try:
            plans.append(part_plan(hall.bench, part, job, None, now, hall.zone))
        except StepError as error:
            unplanned.append(Unplanned(part, job, str(error)))
    return WishedPlans(as_of, tuple(plans), tuple(unplanned))


def tonight(hall: Hall, say: ReaderFormat) -> str:
    """What can be begun this evening by the plan that is known, the soonest first; '' where
    nothing is wished, or nothing is known."""
    from curewatch.ways.words import tonight_words

    if hall.plans is None or not asked_for(hall):
        return ""
    wished, now = entered.wished(hall.store), hall.clock()
    plans = [plan for plan in hall.plans.plans if (plan.part, plan.job) in wished]
    plans.sort(key=lambda plan: plan.plan.next_begin.end if plan.plan.next_begin else now)
    return next((said for plan in plans if (said := tonight_words(plan, now, say))), "")
