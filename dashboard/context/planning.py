"""The plans of what is wished, worked out one at a time and kept until something was entered or ten
minutes are over: a page shows what is known at once, and asks for the rest."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import suppress
from dataclasses import replace
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

from curewatch.errors import StepError
from curewatch.walltime import evening_of
from curewatch.ways import entered
from curewatch.ways.words import TonightStep
from dashboard.context.page_context import PageContext, WishedPlans
from dashboard.context.turns import OneAtATime

if TYPE_CHECKING:
    from curewatch.week.taken import PlanReminder

BEGUN, APART = "plan begun", "\n"
KEPT_MIN, KEPT_ANEW = 10, timedelta(hours=1)
_TURNS = OneAtATime(
    "The plan is being worked out for someone else. Load the page again.", waiting=4
)


def form_key(part: str, job: str) -> str:
    """A part and its job as the key of a form or button."""
    return f"{part}{APART}{job}"


def _as_of(context: PageContext) -> tuple[object, datetime]:
    now = context.clock()
    kept = now.replace(minute=now.minute // KEPT_MIN * KEPT_MIN, second=0, microsecond=0)
    return context.store.entered(), kept


def asked_for(context: PageContext) -> bool:
    """Whether anything is wished, and it is known when somebody is there."""
    return entered.hours(context.store) is not None and bool(entered.wished(context.store))


def current(context: PageContext) -> WishedPlans | None:
    """What was worked out, where it still holds."""
    plans = context.plans
    return plans if plans is not None and plans.as_of == _as_of(context) else None


def work_out(context: PageContext) -> WishedPlans:
    """The plans as of now, worked out where they are not known. Raises Busy."""
    with _TURNS.turn():
        plans = current(context)
        if plans is None:
            plans = context.plans = _worked_out(context)
        return plans


def keep_shown(context: PageContext, plans: WishedPlans) -> None:
    """Keep in the log what a page shows, so that it stays put and can be held to: at most once an
    hour, or where other steps are planned, or another chance is said, than was shown."""
    from curewatch.week import kept

    store, now = context.store, context.clock()
    entries = store.entries(kept.PLAN, kept.MINE)
    shown = {step.key for step in kept.shown(store)}
    planned = {step.key for step in plans.week.steps}
    promised = kept.promises_of(plans.week.parts)
    same = entries and shown == planned and entries[-1].body["promises"] == promised
    if same and entries[-1].at > now - KEPT_ANEW:
        return
    kept.keep(store, plans.week)
    _still_known(context, plans)


def _still_known(context: PageContext, plans: WishedPlans) -> None:
    """What was kept of a plan changes nothing of what it was worked out from."""
    if context.plans is not None and context.plans.week is plans.week:
        context.plans = replace(plans, as_of=(context.store.entered(), plans.as_of[1]))


def follow(context: PageContext, plans: WishedPlans) -> None:
    """Where a plan reminds: keep the plan as it is now if it moved, so that the reminders do."""
    from curewatch.week import taken

    taken.follow(context.store, plans.week)
    _still_known(context, plans)


def take_over(context: PageContext) -> None:
    """Let the plan remind of its steps. Raises StepError where nothing is planned, and Busy."""
    from curewatch.week import taken

    plans = work_out(context)
    taken.take_over(context.store, plans.week, now=context.clock())
    _still_known(context, plans)


def _worked_out(context: PageContext) -> WishedPlans:
    from curewatch.ways.gather import part_plan
    from curewatch.week.gather import week_plan
    from curewatch.week.promises import tallies

    as_of, now = _as_of(context), context.clock()
    week, alone = week_plan(context.bench, now, context.zone), None
    if len(week.parts) == 1:
        part = week.parts[0]
        with suppress(StepError):  # its wish is further ahead than a chance is said of
            alone = part_plan(context.bench, part.part, part.job, None, now, context.zone)
    return WishedPlans(as_of, week, alone, tallies(context.store, now))


def _begins(plans: WishedPlans) -> Iterator[TonightStep]:
    """What can be begun, the first first."""
    for step in plans.week.steps:
        yield TonightStep(step.part, step.job, step.does, step.start, step.latest)


def begins(context: PageContext) -> PlanReminder | None:
    """What the plan that was taken over reminds of at present; None where nothing."""
    from curewatch.week.taken import at_hand

    now = context.clock()
    return at_hand(context.reminders.now(now, context.zone), now, context.zone)


def _is_body(context: PageContext, step: TonightStep) -> bool:
    """Whether times are given for a part: it may be marked structural since it was planned."""
    return context.bench.reader.joint(step.part, step.job) == "body"


def tonight(context: PageContext) -> TonightStep | None:
    """What can still be begun this evening by the plan that is known; None where nothing is
    wished, nothing is known, or the plan reminds of it anyway."""
    if context.plans is None or not asked_for(context) or begins(context):
        return None
    wished, now = entered.wished(context.store), context.clock()
    evening = evening_of(now, context.zone)
    for step in _begins(context.plans):
        here = evening_of(step.start, context.zone) == evening and step.latest >= now
        if here and (step.part, step.job) in wished and _is_body(context, step):
            return step
    return None
