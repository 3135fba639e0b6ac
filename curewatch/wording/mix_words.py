"""The answer before a mix: until when it can be worked, and when what is waited for comes."""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING

from curewatch.garage.joint import NO_TIME
from curewatch.notice_words import sentence
from curewatch.vocabulary import in_words

if TYPE_CHECKING:
    from curewatch.bench.views import MilestoneView, StepView
    from curewatch.formats import ReaderFormat

MATTERS = ("clamp_time", "sand_ready", "recoat_opens", "full_cure")


def _workable(view: StepView, say: ReaderFormat) -> str:
    wet = view.by_name.get("working_time") or view.by_name.get("pot_life")
    if wet is None or wet.early is None:
        return ""
    return f"workable until {say.moment(wet.early, view.mixed_at)}"


def _between(milestone: MilestoneView, now: datetime, say: ReaderFormat) -> str:
    words = in_words(milestone.name)
    if milestone.early is None:
        return ""
    if milestone.late is None:
        return f"{words} not before {say.moment(milestone.early, now)}"
    early, late = say.moment(milestone.early, now), say.moment(milestone.late, now)
    return f"{words} between {early} and {late}"


def waited_for(view: StepView) -> MilestoneView | None:
    """What the next work waits for: clamps off, else sanding, recoating or the full cure."""
    return next((view.by_name[name] for name in MATTERS if name in view.by_name), None)


def answer(view: StepView, say: ReaderFormat) -> str:
    """What happens if it is mixed now, in one sentence."""
    if view.joint != "body":
        return sentence(NO_TIME[view.joint], say)
    waited = waited_for(view)
    parts = [_workable(view, say), _between(waited, view.mixed_at, say) if waited else ""]
    text = ", ".join(part for part in parts if part)
    return f"Mixed now: {text}." if text else "No time can be given for a mix now."
