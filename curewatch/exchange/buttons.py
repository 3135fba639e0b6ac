"""A press of a button, done: the use cases of the page, and what it did in words."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from datetime import datetime
from zoneinfo import ZoneInfo

from curewatch.bench.alarms import Alarm
from curewatch.bench.bench import Bench, Details
from curewatch.bench.spraying import NEVER
from curewatch.bench.views import BenchView, StepView
from curewatch.errors import CurewatchError, StepError
from curewatch.events.events import acting
from curewatch.exchange.announcements import next_due, sounding, where
from curewatch.exchange.presses import Presses
from curewatch.formats import ReaderFormat
from curewatch.gate import starting
from curewatch.logbook.paper import RESULTS
from curewatch.settings.buttons import Button
from curewatch.vocabulary import in_words


class ButtonActions:
    """Does what the buttons say at one bench, by its clock; `say` is how figures are said to its
    reader, on the wall's clock in `zone`. `count` counts a press that did nothing, with its topic
    and why."""

    def __init__(
        self,
        bench: Bench,
        presses: Presses,
        buttons: Mapping[str, Button],
        clock: Callable[[], datetime],
        say: ReaderFormat,
        zone: ZoneInfo,
        count: Callable[[datetime, str, str], None],
        planned: Callable[[datetime, ZoneInfo], Iterable[Alarm]] = lambda _now, _zone: (),
    ) -> None:
        self.bench, self.presses, self.buttons, self.clock = bench, presses, buttons, clock
        self.say, self.zone, self._count, self.planned = say, zone, count, planned

    def press(self, name: str) -> str:
        """Do what a button does and show it on every page; returns the sentence shown.

        Raises an error of ours where nothing was done.
        """
        button = self.buttons[name]
        do = {
            "mix": self._mix,
            "witness": self._witness,
            "silence": self._silence,
            "emptied": self._emptied,
            "answer": self._answer,
        }[button.does]
        with acting() as act:
            sentence = f"Button {name}: {do(button, f'button {name}', self.clock())}"
        self.presses.tell(sentence, act.number)
        return sentence

    def refuse(self, topic: str, error: CurewatchError) -> None:
        """Count a press that did nothing, and tell every page why."""
        self._count(self.clock(), topic, str(error))
        self.presses.tell(f"A button did nothing: {error}")

    def _mix(self, button: Button, who: str, now: datetime) -> str:
        details = Details(
            part=button.part,
            job=button.job,
            place=button.place,
            who=who,
            amount_g=button.amount_g,
            hardener_pct=button.hardener_pct,
        )
        number = starting.start(
            self.bench, button.sheet, details,
            now=now, say=self.say, zone=self.zone, in_cup=True, why_later=True,
        )  # fmt: skip
        view = self.bench.step_view(number, now)
        against = " Despite a stop: give the reason on its page." if view.unexplained else ""
        unmasked = f" {NEVER}: answer on the bench." if view.unmasked else ""
        return f"{where(view.part, view.sheet.name)} is mixed.{against}{unmasked}"

    def _witness(self, button: Button, who: str, now: datetime) -> str:
        step = chosen(self.bench.view(now), button.step)
        self.bench.witness(step.id, button.state, now=now, sample=button.sample, by=who)
        return f"{where(step.part, step.sheet.name)}: {button.state}."

    def _silence(self, button: Button, who: str, now: datetime) -> str:
        silence(self.bench, self.presses, self.planned(now, self.zone), now, who)
        return "silenced until the next alarm."

    def _emptied(self, button: Button, who: str, now: datetime) -> str:
        step = chosen(self.bench.view(now), button.step)
        self.bench.emptied(step.id, now=now, by=who)
        return f"{where(step.part, step.sheet.name)}: cup empty, tools cleaned."

    def _answer(self, button: Button, who: str, now: datetime) -> str:
        due = next_due(self.bench.view(now))
        if due is None or not due.milestone.due:
            raise StepError("no test is due", fix="press it when a test is due")
        step, name = due.step, due.milestone.name
        self.bench.test(step.id, button.result, now=now, milestone=name, by=who)
        words = RESULTS[button.result]
        return f"{where(step.part, step.sheet.name)}, {in_words(name)}: {words}."


def silence(
    bench: Bench, presses: Presses, planned: Iterable[Alarm], now: datetime, who: str = ""
) -> None:
    """Silence everything that sounds now, on every page and lamp; kept with the steps it was
    about. planned: the beginnings that a plan reminds of."""
    ringing = sounding(bench.view(now), planned)
    silenced = presses.last.silenced
    fresh = {alarm.step for alarm in ringing if alarm.key not in silenced}
    for step in sorted(step for step in fresh if step is not None):
        bench.store.add_event(step, "silenced", now, now, {"by": who} if who else {})
    presses.silence(alarm.key for alarm in ringing)


def chosen(view: BenchView, which: str) -> StepView:
    """The step that a button speaks of: `next`, what is asked first, or `last`, mixed last."""
    if not view.steps:
        raise StepError("nothing is on the bench", fix="mix first")
    due = next_due(view) if which == "next" else None
    return due.step if due else max(view.steps, key=lambda step: (step.mixed_at, step.id))
