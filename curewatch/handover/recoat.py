"""May something go over a part as of a date? Always a test or a scuff, never a promise."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime

from curewatch.bench.views import MilestoneView, StepView
from curewatch.garage.joint import NO_TIME
from curewatch.garage.part_history import ALL_OF_IT
from curewatch.notice_words import sentence
from curewatch.vocabulary import STEP_STATES, in_words

TEST = "test a hidden spot first"
NO_WINDOW = "the label gives no recoat window: scuff before topcoat, as the topcoat's label says"
SHUT = "scuff before topcoat"
OPENS = ("recoat_opens", "sand_ready", "clamp_time", "working_time")


def _waiting(opens: MilestoneView, at: datetime, stamp: Callable[[datetime], str]) -> str:
    """Why nothing may go over it yet; '' once its late bound or a test has passed."""
    if opens.reached:
        return ""
    if opens.not_yet:
        return f"tested for {in_words(opens.name)}: not yet; {TEST} and wait"
    if opens.late is None:
        return f"no time can be given for {in_words(opens.name)}: {TEST}"
    if opens.late > at:
        return f"not before {stamp(opens.late)} ({in_words(opens.name)} at the latest), then {TEST}"
    return ""


def recoat_state(step: StepView, at: datetime, stamp: Callable[[datetime], str]) -> str:
    """What lies on top as of an instant, and what it wants before the next coat."""
    if step.joint != "body":
        return sentence(NO_TIME[step.joint])
    if step.state == "abandoned":
        return f"{STEP_STATES[step.state]}: {ALL_OF_IT}"
    opens = next((step.by_name[name] for name in OPENS if name in step.by_name), None)
    waiting = _waiting(opens, at, stamp) if opens else ""
    closes = step.by_name.get("recoat_closes")
    if closes is None:
        return waiting or NO_WINDOW
    if closes.shown is None:
        return waiting or f"no time can be given for the window's end: {SHUT}"
    if closes.shown <= at:
        return f"{SHUT}: its recoat window closed {stamp(closes.shown)}"
    return waiting or f"window open until {stamp(closes.shown)}; after that {SHUT}; {TEST}"
