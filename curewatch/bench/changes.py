"""What moved, said steadily: a line stays as it was said while noise alone would change it."""

from __future__ import annotations

import threading
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta

from curewatch.bench.due import open_milestones
from curewatch.bench.views import BenchView, Change, StepView

HOLDS = timedelta(minutes=3)
LEAST_MIN, LEAST_SHARE = 5.0, 0.25
Key = tuple[int, str]


@dataclass(frozen=True)
class Line:
    """A change as it was said, since when, and when it was last found."""

    change: Change
    said_at: datetime
    found_at: datetime


def _fresh(since: datetime, now: datetime) -> bool:
    return timedelta(0) <= now - since < HOLDS


def _alike(one: Change, other: Change) -> bool:
    """Whether two lengths [min] are one to a reader, both later or both sooner."""
    apart = abs(one.later_min - other.later_min)
    room = max(LEAST_MIN, LEAST_SHARE * abs(one.later_min))
    return (one.later_min > 0) == (other.later_min > 0) and apart <= room


def steady(last: Line | None, change: Change | None, now: datetime) -> Line | None:
    """What is said now, after what was said last and what is found now.

    Said anew at once where something was told, or the snapshot it is compared with is another; else
    at most once in three minutes, and only where it differs by 5 min and a quarter. A line that
    is not found any more stays for three minutes.
    """
    if change is None:
        return last if last and _fresh(last.found_at, now) else None
    anew = Line(change, now, now)
    if last is None or (last.change.told, last.change.since) != (change.told, change.since):
        return anew
    kept = _alike(last.change, change) or _fresh(last.said_at, now)
    return replace(last, found_at=now) if kept else anew


def _open(step: StepView) -> set[Key]:
    return {(step.id, milestone.name) for milestone in open_milestones(step) if not milestone.due}


@dataclass
class Moved:
    """What the bench said last of each milestone that moved, the same for every device."""

    held: dict[Key, Line] = field(default_factory=dict)
    lock: threading.Lock = field(default_factory=threading.Lock)

    def said(self, view: BenchView) -> BenchView:
        """The view with its changes as they are said now."""
        changes = {
            (step.id, change.milestone): change for step in view.steps for change in step.changes
        }
        wanted = set[Key]().union(*map(_open, view.steps))
        with self.lock:
            lines = {
                key: line
                for key in dict.fromkeys((*self.held, *changes))
                if key in wanted
                and (line := steady(self.held.get(key), changes.get(key), view.now))
            }
            self.held = lines
        steps = (
            replace(step, changes=tuple(lines[key].change for key in lines if key[0] == step.id))
            for step in view.steps
        )
        return replace(view, steps=tuple(steps))
