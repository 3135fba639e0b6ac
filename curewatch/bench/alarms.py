"""What should sound on the bench and from when: pure, from the bench as of now."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Literal

from curewatch.frozen import frozen

if TYPE_CHECKING:
    from curewatch.bench.views import BenchView, MilestoneView, StepView

Kind = Literal["due", "ending", "stop", "lost", "window", "tools", "look", "begin"]

NEARLY_OVER = timedelta(minutes=2)
WINDOW_WARNINGS = (timedelta(hours=12), timedelta(hours=2))
ENDS = ("working_time", "pot_life")
ASK_BEFORE, ASK_SHARE = timedelta(minutes=5), 0.2
TOOLS_EVERY, TOOLS_MOST = timedelta(minutes=15), 8


@frozen
class Alarm:
    """One thing to be heard from an instant on, about a milestone of a step or a place, or that a
    planned step may be begun.

    A key stays the same until the matter is answered; step: None where it is not mixed yet, and
    part: on what it is to be done; once: heard a single time, not repeated; left: how long before
    the milestone it is heard, where that is to be said.
    """

    key: str
    kind: Kind
    at: datetime
    step: int | None
    name: str
    part: str = ""
    once: bool = False
    left: timedelta | None = None


def use_by(step: StepView) -> datetime:
    """When cup and gun had better be empty: the first early bound, else the label's own time."""
    wet = [milestone for milestone in step.milestones if milestone.name in ENDS]
    bounds = [
        milestone.early or step.mixed_at + timedelta(minutes=milestone.label_min)
        for milestone in wet
    ]
    return min(bounds, default=step.mixed_at + timedelta(minutes=30))


def asks_for_tools(step: StepView, now: datetime) -> bool:
    """Whether it is time to ask if cup and gun are used up and the tools clean."""
    if step.emptied_at is not None or step.state != "hardening":
        return False
    if step.in_use_until is not None and now < step.in_use_until:
        return False
    by = use_by(step)
    return now >= by - min(ASK_BEFORE, (by - step.mixed_at) * ASK_SHARE)


def _tools(step: StepView, now: datetime) -> Iterator[Alarm]:
    """Heard once every quarter of an hour, and no longer than two hours."""
    if not asks_for_tools(step, now):
        return
    begun = max(use_by(step), step.in_use_until or step.mixed_at)
    turn = max((now - begun) // TOOLS_EVERY, 0)
    if turn < TOOLS_MOST:
        key = f"tools.{step.id}.{begun:%d%H%M}.{turn}"
        yield Alarm(key, "tools", begun + turn * TOOLS_EVERY, step.id, "tools", once=True)


def closing(step: StepView) -> MilestoneView | None:
    """The end of a step's recoat window while nobody has answered it."""
    milestone = step.by_name.get("recoat_closes")
    return None if milestone is None or milestone.reached else milestone


def _window(step: StepView, now: datetime) -> Iterator[Alarm]:
    """12 h and 2 h before a recoat window closes, once each; not before it was mixed."""
    milestone = closing(step)
    if milestone is None or milestone.shown is None or milestone.shown <= now:
        return
    ahead = [warning for warning in WINDOW_WARNINGS if milestone.shown - warning > step.mixed_at]
    past = [length for length in ahead if milestone.shown - length <= now]
    for before in ahead:
        if before not in past[:-1]:
            key = f"window.{step.id}.{before // timedelta(hours=1)}"
            at = milestone.shown - before
            yield Alarm(key, "window", at, step.id, milestone.name, once=True, left=before)


def _asked(view: BenchView) -> Iterator[Alarm]:
    """What each step asks, from its instant; what ends, a little before too."""
    for due in view.due:
        milestone, number = due.milestone, due.step.id
        if milestone.shown is None or milestone.timeless:
            continue
        key = f"{number}.{milestone.name}.{milestone.answers}"
        yield Alarm(f"due.{key}", "due", milestone.shown, number, milestone.name)
        if milestone.name in ENDS and not milestone.due:
            before = milestone.shown - NEARLY_OVER
            yield Alarm(f"ending.{key}", "ending", before, number, milestone.name)


def _stalled(step: StepView, now: datetime) -> Iterator[Alarm]:
    if step.forecast.stalled_now:
        since = step.mixed_at + timedelta(minutes=step.forecast.stalled_from_min or 0.0)
        yield Alarm(f"stop.{step.id}", "stop", min(since, now), step.id, "stalled")


def _lost(view: BenchView) -> Iterator[Alarm]:
    """Sensors that a step leans on, once for each place; others are only shown."""
    leaned = [outage for outage in view.lost if outage.steps]
    for place in dict.fromkeys(outage.place for outage in leaned):
        first = next(outage for outage in leaned if outage.place == place)
        key = f"lost.{place}.{first.quantity}.{first.since:%d%H%M}"
        yield Alarm(key, "lost", first.since, first.steps[-1], place)


def looks(view: BenchView) -> Iterator[Alarm]:
    """The looks at a dab that tell most now, once each, for who wants to hear them."""
    for step in view.steps:
        if look := step.asked_look:
            key = f"look.{step.id}.{look.start:%d%H%M}"
            yield Alarm(key, "look", look.start, step.id, look.waited, once=True)


def alarms(view: BenchView) -> list[Alarm]:
    """Everything to be heard."""
    ringing = [*_asked(view)]
    for step in view.steps:
        ringing += [*_stalled(step, view.now), *_window(step, view.now), *_tools(step, view.now)]
    return [*ringing, *_lost(view)]
