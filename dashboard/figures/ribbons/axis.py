"""The shared time axis: how long it is, where it starts, where its ticks stand."""

from __future__ import annotations

from datetime import datetime, timedelta

from curewatch.bench.views import BenchView, StepView
from curewatch.frozen import frozen
from curewatch.wording.words import ReaderFormat

SPANS_MIN = (30, 60, 120, 180, 240, 360, 480, 720, 1080, 1440, 2160, 2880, 4320, 10080)
CHOICES_MIN = (60, 360, 1440, 4320)
_STEPS_MIN = (5, 10, 15, 30, 60, 120, 180, 360, 720, 1440)
_AHEAD = timedelta(hours=16)
_SOON, _SOON_TIMES = timedelta(hours=4), 4
_PAST_SHARE = 0.28


@frozen
class Axis:
    """Instants to pixels: `start` at `left`, `end` at `right`. [px]"""

    start: datetime
    end: datetime
    left: float
    right: float

    @property
    def span_s(self) -> float:
        """How long the axis is. [s]"""
        return (self.end - self.start).total_seconds()

    def x(self, at: datetime) -> float:
        """Where an instant stands, held to the axis. [px]"""
        share = (at - self.start).total_seconds() / self.span_s
        return self.left + min(max(share, 0.0), 1.0) * (self.right - self.left)

    def shows(self, at: datetime) -> bool:
        """Whether an instant lies on the axis."""
        return self.start <= at <= self.end


def _ahead(step: StepView, now: datetime) -> list[datetime]:
    """What is next on a step, and what follows soon after, the doubt of each included."""
    if step.forecast.stalled_now:
        return [now + timedelta(hours=12)]
    open_ones = [
        milestone
        for milestone in step.milestones
        if milestone.name != "pot_life" and not milestone.reached
    ]
    moments = [milestone.late or milestone.shown for milestone in open_ones]
    ahead = sorted(at for at in moments if at is not None and at > now)
    if not ahead:
        return []
    soon = now + max((ahead[0] - now) * _SOON_TIMES, _SOON)
    return [at for at in ahead if at <= soon]


def needed_min(view: BenchView) -> float:
    """How far ahead the axis must reach: to the last of the next hours, else to what is next. [min]

    With nothing on the bench it shows the next 6 h of the outlook.
    """
    if not view.steps:
        return 360.0
    ahead = [at for step in view.steps for at in _ahead(step, view.now)]
    near = [at for at in ahead if at <= view.now + _AHEAD]
    last = max(near, default=min(ahead, default=view.now + timedelta(minutes=20)))
    return (last - view.now).total_seconds() / 60


def _floor(at: datetime, step_s: float) -> datetime:
    seconds = at.timestamp()
    return at - timedelta(seconds=seconds % step_s)


def choose(view: BenchView, wanted_min: float | None = None) -> tuple[datetime, datetime]:
    """Start and end of the axis: as long as wanted [min], else as the bench needs.

    It moves on in twelfths of its length, so that it stays put while someone looks.
    """
    begun = min((step.mixed_at for step in view.steps), default=view.now)
    past_min = max((view.now - begun).total_seconds() / 60, 1.0)
    fitting = (
        span
        for span in SPANS_MIN
        if span * 0.9 - min(past_min, span * _PAST_SHARE) >= needed_min(view)
    )
    span = wanted_min or next(fitting, SPANS_MIN[-1])
    past = min(past_min, span * _PAST_SHARE)
    start = _floor(view.now - timedelta(minutes=past), span * 60 / 12)
    return start, start + timedelta(minutes=span)


Stretch = tuple[datetime, datetime]


def kept(now: datetime, shown: Stretch | None, wanted: Stretch) -> Stretch:
    """The axis a device looks at, while now is still well on it; else the one wanted."""
    if shown is None:
        return wanted
    start, end = shown
    return shown if start <= now <= end - (end - start) / 10 else wanted


def ticks(axis: Axis, manner: ReaderFormat, room_px: float) -> list[tuple[datetime, str]]:
    """Instants on the reader's wall clock with their labels, at least room_px [px] apart."""
    most = max((axis.right - axis.left) / room_px, 1)
    fitting = (step for step in _STEPS_MIN if axis.span_s / 60 / step <= most)
    step = timedelta(minutes=next(fitting, _STEPS_MIN[-1]))
    at = manner.local(axis.start).replace(hour=0, minute=0, second=0, microsecond=0)
    at = at.astimezone(axis.start.tzinfo)
    marks = []
    while at <= axis.end:
        if at >= axis.start:
            local = manner.local(at)
            midnight = local.hour == 0 and local.minute == 0
            marks.append((at, f"{local:%a} {local.day}" if midnight else manner.hour(at)))
        at += step
    return marks
