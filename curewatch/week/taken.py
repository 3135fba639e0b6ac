"""A plan that was taken over: the beginnings of its steps are reminders until each is begun.

The plan that was shown last is what reminds, of the parts that it had when it was taken over. A
step with a product is begun by its mix, another where that is entered. A structural part has none.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Any, Literal
from zoneinfo import ZoneInfo

from curewatch.bench.alarms import Alarm
from curewatch.bench.bench import Bench
from curewatch.errors import ConfigError, StepError
from curewatch.frozen import frozen
from curewatch.garage.memory import Memory
from curewatch.garage.part_history import key_of
from curewatch.starts.windows import LONGEST
from curewatch.store.ledger import Ledger
from curewatch.walltime import evening_of
from curewatch.ways.entered import dropped_since, way_of, wish_of
from curewatch.ways.left import progress
from curewatch.ways.way import Way, WayStep
from curewatch.week.kept import (
    LET_GO,
    PLAN,
    REMINDERS,
    TAKEN,
    ShownPlan,
    ShownStep,
    keep,
    shown,
    shown_plans,
    shown_since,
    taken_over,
)

if TYPE_CHECKING:
    from curewatch.week.plan import StepKey, WeekPlan

AT_HAND = timedelta(hours=12)
ReminderState = Literal["ahead", "begin", "past"]


@frozen
class ReminderMove:
    """A beginning that moved: from when, when that was shown, the code of its reason, and of which
    part that is."""

    was: datetime
    at: datetime
    why: str
    part: str


@frozen
class PlanReminder:
    """A step to be begun between start and latest; kind: of the product it takes, '' for none;
    number: of the step in its part's way; moved: None where it was planned so from the first."""

    part: str
    job: str
    does: str
    kind: str
    number: int
    start: datetime
    latest: datetime
    moved: ReminderMove | None

    @property
    def key(self) -> StepKey:
        """What it is, whenever it is."""
        return key_of(self.part, self.job), self.number

    @property
    def alarm(self) -> Alarm:
        """Its beginning as it sounds, once."""
        key = f"begin.{self.part}.{self.job}.{self.number}.{self.start:%d%H%M}"
        return Alarm(key, "begin", self.start, None, self.does, self.part, once=True)

    def state(self, now: datetime) -> ReminderState:
        """Whether it is ahead, to be begun now, or past."""
        if now > self.latest:
            return "past"
        return "begin" if now >= self.start else "ahead"


def take_over(store: Ledger, plan: WeekPlan, *, now: datetime) -> None:
    """Keep that a plan is to remind of its steps. Raises StepError where nothing is planned."""
    if not plan.steps:
        raise StepError("nothing is planned", fix="enter a wish first, and when you are there")
    keep(store, plan)
    parts = [{"name": part.part, "job": part.job, "end": part.end} for part in plan.parts]
    store.add_entry(PLAN, REMINDERS, TAKEN, now, now, {"parts": parts})


def let_go(store: Ledger, *, now: datetime) -> None:
    """Keep that the plan reminds no more. Raises StepError where it does not."""
    if taken_over(store) is None:
        raise StepError("no plan reminds you", fix="see the plan first: curewatch plan week")
    store.add_entry(PLAN, REMINDERS, LET_GO, now, now, {})


def reminded_parts(store: Ledger) -> dict[tuple[str, str], tuple[str, str]]:
    """The names and jobs of the parts that the plan reminds of, by how they are compared: those it
    had when it was taken over, as long as the same is wished of them."""
    taken = taken_over(store)
    rows: Any = taken.body["parts"] if taken else []
    return {
        key_of(row["name"], row["job"]): (row["name"], row["job"])
        for row in rows
        if taken and _is_wished(store, row, taken.id)
    }


def reminds_of_all(store: Ledger, plan: WeekPlan) -> bool:
    """Whether all parts of a plan are reminded of."""
    reminded = reminded_parts(store)
    return bool(plan.parts) and all(key_of(part.part, part.job) in reminded for part in plan.parts)


def _is_wished(store: Ledger, row: Any, taken: int) -> bool:
    wish = wish_of(store, row["name"], row["job"])
    if wish is None or wish.end.casefold() != row["end"].casefold():
        return False
    return not dropped_since(store, row["name"], row["job"], taken)


def lately_reminded(store: Ledger, since: datetime) -> tuple[ShownStep, ...]:
    """The steps that a calendar may hold as reminders since an instant."""
    entries = store.all_entries(PLAN, REMINDERS)
    if taken_over(store) is None and not any(entry.recorded_at >= since for entry in entries):
        return ()
    return shown_since(store, since)


def _elsewhere(was: ShownStep, start: datetime, zone: ZoneInfo) -> bool:
    """Whether a beginning is on another evening than was shown, or not when it may be by that."""
    other = evening_of(start, zone) != evening_of(was.start, zone)
    return other or not was.start <= start <= was.latest


def _strays(shown: Sequence[ShownStep], plan: WeekPlan) -> bool:
    """Whether a step is planned that was not shown, or was for another time."""
    spans = {step.key: step for step in shown}
    keyed = ((step, spans.get(step.key)) for step in plan.steps)
    return any(was is None or _elsewhere(was, step.start, plan.zone) for step, was in keyed)


def follow(store: Ledger, plan: WeekPlan) -> None:
    """Keep a plan that moved, where one reminds: so that the reminders move with it."""
    if _strays(shown(store), plan) and reminded_parts(store):
        keep(store, plan)


def _moves(
    plans: Sequence[ShownPlan], since: datetime, zone: ZoneInfo
) -> dict[StepKey, ReminderMove]:
    """How each step moved last since an instant, to another time than it was shown for."""
    moves: dict[StepKey, ReminderMove] = {}
    before: dict[StepKey, ShownStep] = {}
    for plan in plans:
        for step in plan.steps:
            was = before.get(step.key)
            if was and plan.at > since and _elsewhere(was, step.start, zone):
                moves[step.key] = ReminderMove(was.start, plan.at, plan.why, plan.part)
            before[step.key] = step
    return moves


def _wanted(way: Way, end: str) -> tuple[WayStep, ...]:
    try:
        return way.until(end)
    except ConfigError:  # the way was chosen anew since
        return ()


def _of_part(
    bench: Bench,
    part: str,
    job: str,
    plan: ShownPlan,
    moves: Mapping[StepKey, ReminderMove],
) -> Iterator[PlanReminder]:
    """The steps of a part that are planned and not begun."""
    way, wish = way_of(bench.store, part, job), wish_of(bench.store, part, job)
    if way is None or wish is None or bench.reader.joint(part, job) != "body":
        return
    wanted = _wanted(way, wish.end)
    behind = progress(bench, part, job, wanted).behind
    for shown_step in plan.steps:
        key, number = shown_step.key, shown_step.number
        if key[0] == key_of(part, job) and behind <= number < len(wanted):
            step, span = wanted[number], (shown_step.start, shown_step.latest)
            yield PlanReminder(part, job, step.does, step.kind, number, *span, moves.get(key))


def _reminders(bench: Bench, zone: ZoneInfo) -> tuple[PlanReminder, ...]:
    taken, plans = taken_over(bench.store), shown_plans(bench.store)
    if taken is None or not plans:
        return ()
    parts, moves = reminded_parts(bench.store).values(), _moves(plans, taken.at, zone)
    steps = [step for part, job in parts for step in _of_part(bench, part, job, plans[-1], moves)]
    return tuple(sorted(steps, key=lambda step: (step.start, step.part, step.number)))


def at_present(
    reminders: Sequence[PlanReminder], now: datetime, zone: ZoneInfo
) -> tuple[PlanReminder, ...]:
    """What is to be said now: of the coming seven days; what is past while its evening lasts, and
    then nothing of what follows it on its part."""
    broken, plan_reminders = set(), []
    for step in reminders:
        key = key_of(step.part, step.job)
        past = step.state(now) == "past"
        over = past and evening_of(step.latest, zone) < evening_of(now, zone)
        if key not in broken and not over and step.start <= now + LONGEST:
            plan_reminders.append(step)
        if past:
            broken.add(key)
    return tuple(plan_reminders)


def at_hand(
    reminders: Sequence[PlanReminder], now: datetime, zone: ZoneInfo
) -> PlanReminder | None:
    """The first that the bench is to say: of this evening, the coming half day, or moved today."""
    evening = evening_of(now, zone)
    for step in reminders:
        today = step.start - now <= AT_HAND or evening_of(step.start, zone) <= evening
        if today or (step.moved is not None and evening_of(step.moved.at, zone) == evening):
            return step
    return None


class PlanReminders:
    """What the plan that was taken over reminds of, read again when anything was entered."""

    def __init__(self, bench: Bench) -> None:
        self._bench, self._memory = bench, Memory()

    def now(self, now: datetime, zone: ZoneInfo) -> tuple[PlanReminder, ...]:
        """The reminders as of now, the first first."""
        mark = self._bench.store.entered(), zone
        plan_reminders = self._memory.get("plan", mark, lambda: _reminders(self._bench, zone))
        return at_present(plan_reminders, now, zone)

    def alarms(self, now: datetime, zone: ZoneInfo) -> list[Alarm]:
        """What is to be heard of them; no step is there yet."""
        return [step.alarm for step in self.now(now, zone) if step.state(now) != "past"]
