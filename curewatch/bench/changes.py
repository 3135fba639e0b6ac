"""Changes shown steadily: one stays as it was shown while only noise would alter it."""

from __future__ import annotations

import threading
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta

from curewatch.bench.due import open_milestones, shown_times
from curewatch.bench.views import BenchView, Change, StepView
from curewatch.frozen import frozen

SHOWN_FOR = timedelta(minutes=3)
LEAST_MIN, LEAST_SHARE = 5.0, 0.25
Key = tuple[int, str]


@frozen
class SteadyChange:
    """A change as it was shown, since when, and when it was last worked out."""

    change: Change
    shown_at: datetime
    worked_out_at: datetime


def _fresh(since: datetime, now: datetime) -> bool:
    return timedelta(0) <= now - since < SHOWN_FOR


def _alike(one: Change, other: Change) -> bool:
    """Whether two lengths [min] are one to a reader, both later or both sooner."""
    apart = abs(one.later_min - other.later_min)
    room = max(LEAST_MIN, LEAST_SHARE * abs(one.later_min))
    return (one.later_min > 0) == (other.later_min > 0) and apart <= room


def steady(last: SteadyChange | None, change: Change | None, now: datetime) -> SteadyChange | None:
    """The change to show now, from the one shown last and the one worked out now.

    Shown anew at once where something was entered, or it is compared with another snapshot; else
    at most once in three minutes, and only where it differs by 5 min and a quarter. One that
    is over stays for three minutes.
    """
    if change is None:
        return last if last and _fresh(last.worked_out_at, now) else None
    anew = SteadyChange(change, now, now)
    if last is None or (last.change.entered, last.change.since) != (change.entered, change.since):
        return anew
    kept = _alike(last.change, change) or _fresh(last.shown_at, now)
    return replace(last, worked_out_at=now) if kept else anew


def _open(step: StepView) -> set[Key]:
    return {(step.id, milestone.name) for milestone in open_milestones(step) if not milestone.due}


def _with_changes(step: StepView, lines: Mapping[Key, SteadyChange]) -> StepView:
    """A step with the changes shown of it, each with its times as they are now."""
    changes = []
    for (number, name), line in lines.items():
        times = shown_times(step.by_name[name]) if number == step.id else None
        if times:
            changes.append(replace(line.change, times=times))
    return replace(step, changes=tuple(changes))


@dataclass
class SteadyChanges:
    """The change the bench showed last of each milestone that moved, the same for every device."""

    shown: dict[Key, SteadyChange] = field(default_factory=dict)
    lock: threading.Lock = field(default_factory=threading.Lock)

    def steadied(self, view: BenchView) -> BenchView:
        """The view with its changes as they are shown now."""
        changes = {
            (step.id, change.milestone): change for step in view.steps for change in step.changes
        }
        keys = set[Key]().union(*map(_open, view.steps))
        with self.lock:
            lines = {
                key: line
                for key in dict.fromkeys((*self.shown, *changes))
                if key in keys and (line := steady(self.shown.get(key), changes.get(key), view.now))
            }
            self.shown = lines
        return replace(view, steps=tuple(_with_changes(step, lines) for step in view.steps))
