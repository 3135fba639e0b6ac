"""Taking a step off the bench: asked about once while something is open that must be waited for."""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING

from curewatch.bench.due import open_milestones
from curewatch.errors import StillOpenError

if TYPE_CHECKING:
    from curewatch.bench.bench import Bench
    from curewatch.bench.views import MilestoneView
    from curewatch.formats import ReaderFormat

NOT_FOUND = {
    "clamp_time": "the clamps are not off yet",
    "sand_ready": "it was not found ready to sand yet",
    "recoat_opens": "it was not found ready for the next coat yet",
    "full_cure": "it is not fully cured yet",
}


def still_open(bench: Bench, number: int, now: datetime) -> MilestoneView | None:
    """The first milestone that must be waited for and was not found reached; None without one."""
    unclamped = bench.step(number).of("unclamped")
    return next(
        (
            milestone
            for milestone in open_milestones(bench.step_view(number, now))
            if milestone.name in NOT_FOUND and not (milestone.name == "clamp_time" and unclamped)
        ),
        None,
    )


def _words(milestone: MilestoneView, now: datetime, say: ReaderFormat) -> str:
    if milestone.late is None:
        return f"{NOT_FOUND[milestone.name]}, and no time can be given"
    if milestone.late <= now:
        return f"{NOT_FOUND[milestone.name]}: test now"
    return f"{NOT_FOUND[milestone.name]}: test from {say.moment(milestone.late, now)}"


def finish(
    bench: Bench, number: int, *, now: datetime, say: ReaderFormat, sure: bool = False
) -> None:
    """Take a step off the bench. Raises StillOpenError where it is too early, unless it is sure."""
    milestone = None if sure else still_open(bench, number, now)
    if milestone is not None:
        raise StillOpenError(_words(milestone, now, say), fix="wait and test")
    bench.finish(number, now=now)
