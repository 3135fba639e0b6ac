"""Whether to ask now if any metal is bare, and which parts are known to be."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, time, timedelta
from zoneinfo import ZoneInfo

from curewatch.bench.bench import Bench
from curewatch.bench.views import MilestoneView, StepView
from curewatch.frozen import frozen
from curewatch.garage import cans, evening, parts, storage
from curewatch.garage.evening import is_evening
from curewatch.garage.part_history import Part
from curewatch.garage.storage import StoredCan
from curewatch.walltime import evening_of, instant_of

ASKED_FROM = time(21, 0)
BEFORE_STOP = timedelta(minutes=30)


@frozen
class EveningQuestion:
    """Whether it is asked now; which parts are bare; until when this evening's work may go on."""

    asks: bool
    bare: tuple[Part, ...]
    stop: datetime | None


def _done(bench: Bench) -> list[datetime]:
    """When anything was entered of parts and cans, or a step was mixed."""
    instants = [
        entry.recorded_at
        for about in (parts.SUBJECT, cans.SUBJECT)
        for entry in bench.store.entries(about)
    ]
    return instants + [row.mixed_at for row in bench.store.steps()[-20:]]


def indoors(bench: Bench, now: datetime, zone: ZoneInfo) -> list[StoredCan]:
    """In the evening, the cans to bring indoors tonight."""
    if not evening.is_evening(now, zone):
        return []
    return [
        stored_can
        for stored_can in storage.stored_cans(bench.reader, now, zone)
        if stored_can.tonight is not None
    ]


def question(bench: Bench, now: datetime, zone: ZoneInfo) -> EveningQuestion:
    """The evening's question as of now."""
    stop = evening.stop_of(bench.store, now, zone)
    bare = tuple(parts.bare(parts.parts(bench.reader, now)))
    work = worked(bench.view(now).steps, _done(bench), now, zone)
    due = asks_now(work, now, zone, stop)
    return EveningQuestion(due and not evening.answered(bench.store, now, zone), bare, stop)


def answer(bench: Bench, text: str, *, now: datetime, zone: ZoneInfo, who: str = "") -> None:
    """Record the answer; where none is bare, the clocks that still ran are stopped."""
    evening.answer_bare(bench.store, text, now=now, zone=zone, who=who)
    if text != "none":
        return
    for part in parts.bare(parts.parts(bench.reader, now)):
        parts.covered(bench.store, part.name, part.job, now=now, who=who)


@frozen
class EveningWork:
    """What this evening saw: whether anything was done, and whether the last mix is settled."""

    anything: bool
    settled: bool


def _workable(step: StepView) -> MilestoneView | None:
    return step.by_name.get("working_time") or step.by_name.get("pot_life")


def _settled(step: StepView, now: datetime) -> bool:
    milestone = _workable(step)
    if step.state != "hardening" or milestone is None or milestone.reached:
        return True
    return milestone.late is not None and milestone.late <= now


def worked(
    steps: Sequence[StepView], others: Sequence[datetime], now: datetime, zone: ZoneInfo
) -> EveningWork:
    """What this evening saw; others: instants at which something else was done."""
    today = evening_of(now, zone)
    mixed = [step for step in steps if evening_of(step.mixed_at, zone) == today]
    done = any(evening_of(at, zone) == today for at in others)
    return EveningWork(
        bool(mixed) or done, bool(mixed) and all(_settled(view, now) for view in mixed)
    )


def asks_now(work: EveningWork, now: datetime, zone: ZoneInfo, stop: datetime | None) -> bool:
    """Whether it is time to ask if any metal is bare: the evening's work is settled, its end is
    near, or it is late."""
    if not work.anything:
        return False
    day = evening_of(now, zone)
    if stop is not None and now >= stop - BEFORE_STOP:
        return True
    if now >= instant_of(day, ASKED_FROM, zone):
        return True
    return work.settled and is_evening(now, zone)
