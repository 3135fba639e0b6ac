"""What a step asks: its milestones on the clock, what is due, and what moved."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

from curewatch.bench.views import (
    BenchView,
    Change,
    DueView,
    MilestoneView,
    ShownTimes,
    StepView,
)
from curewatch.durations import full_minute, on_wall
from curewatch.events.outline import HARDENING
from curewatch.notice_words import AHEAD_ONLY
from curewatch.units import minutes
from curewatch.vocabulary import (
    EARLY_SHOWN,
    TESTED,
    is_not_yet,
    is_reached,
)

if TYPE_CHECKING:
    from curewatch.cure.forecast import Forecast, Milestone
    from curewatch.garage.step import Answer, Step
    from curewatch.notice import Notice

SOON = timedelta(minutes=1)
WORTH_SAYING_MIN, WORTH_SAYING_SHARE, WORTH_SAYING_FAR = 15.0, 0.1, 0.02


def _again(
    name: str, shown: datetime | None, likely: datetime | None, last: Answer, outlasted: bool
) -> datetime | None:
    """When a milestone is asked about once it was put off or not reached yet.

    What must not be missed keeps its bound where the answer came before it. Found still good after
    it, it is asked about by its likely end at the latest.
    """
    if last.until is None or (shown is None and not outlasted):
        return shown
    until = full_minute(last.until)
    if shown is None:
        return until
    if name not in EARLY_SHOWN:
        return max(shown, until)
    if last.at < shown:
        return max(shown, last.at + SOON)
    if likely is None or not is_not_yet(last.result):
        return until
    return max(last.at + SOON, min(until, likely))


def on_clock(step: Step, milestone: Milestone, now: datetime) -> MilestoneView:
    """A milestone's minutes [min] as instants, with how it was answered."""

    def at(after_min: float | None) -> datetime | None:
        return None if after_min is None else on_wall(step.mixed_at, after_min, milestone.name)

    shown = at(milestone.early_min if milestone.shown == "early" else milestone.late_min)
    answers = step.answers.get(milestone.name, ())
    last = answers[-1] if answers else None
    if last is not None:
        shown = _again(milestone.name, shown, at(milestone.likely_min), last, milestone.outlasted)
    standing, refuted = step.reached.get(milestone.name), step.reopened.get(milestone.name)
    answer = standing or (None if last is None or is_reached(last.result) else last)
    return MilestoneView(
        name=milestone.name,
        early=at(milestone.early_min),
        likely=at(milestone.likely_min),
        late=at(milestone.late_min),
        shown=shown,
        label_min=milestone.label_min,
        warnings=milestone.warnings,
        answered=answer.result if answer else None,
        due=standing is None and shown is not None and shown <= now,
        answers=len(answers),
        answered_at=answer.at if answer else None,
        reopened=refuted.at if refuted else None,
    )


def standing_warnings(forecast: Forecast, state: str) -> tuple[Notice, ...]:
    """What is said of a step's times: of a finished one, nothing that its panel must still do."""
    if state == HARDENING:
        return forecast.warnings
    return tuple(warning for warning in forecast.warnings if warning.code not in AHEAD_ONLY)


def open_milestones(step: StepView) -> list[MilestoneView]:
    """The milestones a step still asks about, in their order.

    One is settled when a test found it reached, or a later one, and none said otherwise since.
    """
    milestones = sorted(
        (milestone for milestone in step.milestones if milestone.name in TESTED),
        key=lambda milestone: TESTED.index(milestone.name),
    )
    return [
        milestone
        for place, milestone in enumerate(milestones)
        if not _settled(milestone, milestones[place + 1 :])
    ]


def _settled(milestone: MilestoneView, later: Sequence[MilestoneView]) -> bool:
    instant = milestone.answered_at
    since = [milestone.answered_at for milestone in later if milestone.reached]
    return milestone.reached or any(instant is None or at is None or at > instant for at in since)


def asked_of(step: StepView) -> MilestoneView | None:
    """The milestone a step asks about: the last one due and unanswered, else the next."""
    milestones = open_milestones(step)
    due = [milestone for milestone in milestones if milestone.due]
    return due[-1] if due else next(iter(milestones), None)


def asked_name(step: StepView) -> str | None:
    """The name of the milestone that a step asks about now."""
    milestone = asked_of(step)
    return milestone.name if milestone else None


def shown_times(view: MilestoneView) -> ShownTimes | None:
    """A milestone's likely time and the bound that counts; None where no bound is known."""
    bound = view.early if view.name in EARLY_SHOWN else view.late
    return None if bound is None else ShownTimes(view.likely, bound)


def moved_by(
    mixed_at: datetime, before: MilestoneView, after: MilestoneView
) -> tuple[float, ShownTimes, ShownTimes] | None:
    """How much later a milestone's bound is [min], its times and those before; only where someone
    acts on it: from a quarter of an hour on, or a tenth of its time since the mix; days ahead a
    fiftieth of that."""
    times, earlier = shown_times(after), shown_times(before)
    if times is None or earlier is None:
        return None
    later_min = minutes(times.bound - earlier.bound)
    whole_min = minutes(times.bound - mixed_at)
    near_min = min(WORTH_SAYING_MIN, WORTH_SAYING_SHARE * whole_min)
    least_min = max(near_min, WORTH_SAYING_FAR * whole_min)
    return None if abs(later_min) < least_min else (later_min, times, earlier)


def moved_since(
    view: StepView,
    then: Mapping[str, MilestoneView],
    since: datetime,
    panel: tuple[float, float],
    entered: bool,
) -> tuple[Change, ...]:
    """The changes of a step's coming milestones since an earlier instant; panel: then and now.
    [C]"""
    coming = [
        milestone
        for milestone in open_milestones(view)
        if not milestone.due and milestone.name in then
    ]
    moved = (
        (milestone.name, moved_by(view.mixed_at, then[milestone.name], milestone))
        for milestone in coming
    )
    return tuple(
        Change(name, by[0], since, panel[0], panel[1], entered, by[1], by[2])
        for name, by in moved
        if by is not None
    )


def due_of(views: Sequence[StepView], now: datetime) -> list[DueView]:
    """What each step asks next, what is due first, then by time."""
    questions = [
        DueView(view, milestone) for view in views if (milestone := asked_of(view)) is not None
    ]
    return sorted(
        questions, key=lambda due: (due.milestone.shown is None, due.milestone.shown or now)
    )


def refreshed(view: BenchView, now: datetime) -> BenchView:
    """The same view a little later: ages and what is due follow the clock."""
    if view.now == now:
        return view
    passed = minutes(now - view.now)
    aged = tuple(
        replace(tile, age_min=tile.age_min + passed) if tile.age_min is not None else tile
        for tile in view.air
    )
    due = tuple(replace(due, milestone=_refreshed(due.milestone, now)) for due in view.due)
    return replace(view, now=now, air=aged, due=due)


def _refreshed(milestone: MilestoneView, now: datetime) -> MilestoneView:
    return replace(milestone, due=milestone.shown is not None and milestone.shown <= now)
