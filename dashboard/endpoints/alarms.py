"""What the browser should sound and say: the bench's alarms in this reader's words; what sounded is
logged."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import TYPE_CHECKING, Any

from flask import Flask, request
from werkzeug.wrappers import Response as AnyResponse

from curewatch.bench.alarms import Alarm, alarms, looks
from curewatch.bench.marks import record_alarm
from curewatch.bench.views import BenchView
from curewatch.wording import words
from curewatch.wording.words import ReaderFormat
from dashboard.context.page_context import PageContext
from dashboard.endpoints.undo import answered
from dashboard.request.numbers import ms

if TYPE_CHECKING:
    from curewatch.week.taken import PlanReminder

SOUNDS = {"window": "ending", "tools": "ending", "look": "ending", "begin": "ending"}
LOOKS = ("", "sound")


def spoken(alarm: Alarm, view: BenchView, manner: ReaderFormat) -> str:
    """An alarm as a sentence to be said aloud."""
    step = next(step for step in view.steps if step.id == alarm.step)
    part = words.part_of(step.part, step.sheet.name)
    when = ""
    if alarm.left is not None:
        when = words.when(alarm.at + alarm.left, view.now, manner)
    name = alarm.name if alarm.kind == "lost" else words.in_words(alarm.name)
    return words.ALARM[alarm.kind].format(part=part, name=name, when=when)


def _heard(alarm: Alarm, text: str) -> dict[str, Any]:
    return {
        "key": alarm.key,
        "kind": alarm.kind,
        "sound": SOUNDS.get(alarm.kind, alarm.kind),
        "at": ms(alarm.at),
        "say": text,
        "step": alarm.step,
        "once": alarm.once,
    }


def as_data(
    view: BenchView, manner: ReaderFormat, looks_heard: bool = False
) -> list[dict[str, Any]]:
    """The alarms as plain data for the page; looks_heard: also the looks that tell most."""
    heard = [*alarms(view), *(looks(view) if looks_heard else ())]
    return [_heard(alarm, spoken(alarm, view, manner)) for alarm in heard]


def of_plan(
    reminders: Sequence[PlanReminder], now: datetime, manner: ReaderFormat
) -> list[dict[str, Any]]:
    """The beginnings of a plan that was taken over, each heard once; no step is there yet, so none
    is logged."""
    from curewatch.week.taken_words import sentence

    return [
        _heard(step.alarm, sentence(step, max(now, step.start), manner))
        for step in reminders
        if step.state(now) != "past"
    ]


def register(app: Flask, context: PageContext) -> None:
    """Put what a page says it sounded on the app."""

    @app.post("/step/<int:number>/sounded")
    def sounded(number: int) -> AnyResponse:
        now, key = context.clock(), request.form.get("key", "")
        view = context.bench.view(now)
        for alarm in (*alarms(view), *looks(view)):
            if (alarm.key, alarm.step) == (key, number) and alarm.at <= now:
                text = spoken(alarm, view, context.manner(request))
                record_alarm(context.bench, number, key, alarm.kind, text, now=now)
        return answered("")
