"""What is said of a computer's clock that went back, on the page and on a terminal."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import TYPE_CHECKING

from curewatch.durations import duration
from curewatch.quality.clock import SLACK, ClockSetback

if TYPE_CHECKING:
    from curewatch.bench.views import BenchView, StepView
    from curewatch.formats import ReaderFormat


def went_back(setback: ClockSetback) -> str:
    """By how much, and what that means."""
    length = duration(setback.by / timedelta(minutes=1))
    return f"This computer's clock went back {length}: do not trust these times."


def instead(setback: ClockSetback, say: ReaderFormat) -> str:
    """What it shows, and the time that is counted by."""
    shown, text = say.moment(setback.wall, setback.counted), say.clock(setback.counted)
    return f"It shows {shown}; these times count on as if it were {text}."


def right(setback: ClockSetback, say: ReaderFormat) -> str:
    """What the button says: the time shown is right."""
    return f"{say.moment(setback.wall, setback.counted)} is right"


def on_page(setback: ClockSetback | None, say: ReaderFormat) -> dict[str, str]:
    """What the page says, by the part of it; empty where the clock did not go back."""
    if setback is None:
        return {}
    return {
        "said": went_back(setback),
        "more": f"{instead(setback, say)} Set this computer's clock.",
        "right": right(setback, say),
    }


def not_yet(view: BenchView) -> list[StepView]:
    """The steps that are recorded as mixed at a time that has not come yet."""
    return [step for step in view.steps if step.mixed_at > view.now + SLACK]


def mixed_later(step: StepView, now: datetime, say: ReaderFormat, how: str = "") -> str:
    """That a step's mix lies in the future, and what to do; how: the command that does it."""
    name, at = step.part or step.sheet.name, say.moment(step.mixed_at, now)
    correct = f"Correct when it was mixed: {how}" if how else "Correct when it was mixed."
    return f"{name}: recorded as mixed at {at}, which has not come yet. {correct}"


def confirmed(now: datetime, aside: int, say: ReaderFormat) -> str:
    """What confirming did; aside: how many readings were set aside."""
    many = {0: "", 1: " 1 reading with a later time is set aside."}
    more = many.get(aside, f" {aside} readings with a later time are set aside.")
    return f"Saved: {say.clock(now)} is right.{more}"
