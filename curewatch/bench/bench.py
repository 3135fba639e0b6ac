"""What a person does at the bench, recorded as events; and the bench as it stands now."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta
from functools import cached_property
from typing import TYPE_CHECKING, Any

from curewatch.errors import StepError, UnlikelyError
from curewatch.events.details import Details as Details
from curewatch.events.fields import FIELDS
from curewatch.garage.step import CLOSED, UNDONE, Step, fold, folded
from curewatch.text import LONGEST_TEXT
from curewatch.vocabulary import STATES, answers_to, in_words, is_not_yet, is_reached
from curewatch.walltime import check_time

if TYPE_CHECKING:
    from curewatch.bench.reader import BenchReader
    from curewatch.bench.views import BenchView, StepView
    from curewatch.climate.reading import PlaceSettings
    from curewatch.products.sheet import Sheet
    from curewatch.store.store import Store

SAMPLES = ("smear", "cup", "work")
PUT_OFF = timedelta(minutes=10)
STILL_IN_USE = timedelta(minutes=15)


def _by(who: str) -> dict[str, str]:
    return {"by": who.strip()[:LONGEST_TEXT]} if who.strip() else {}


def _check_choices(details: Details) -> None:
    for field in FIELDS:
        value = details.recorded.get(field.name)
        if value is not None and field.choices and value not in field.choices:
            what = f"{str(value)[:40]!r} is not a possible value of {field.words!r}"
            raise StepError(what, fix=f"choose {', '.join(field.choices)}")


def check_mix(sheet: Sheet, details: Details) -> None:
    """What a mix says of itself, against its sheet. Raises StepError."""
    _check_choices(details)
    amount, hardener = details.amount_g, details.hardener_pct
    if amount is not None and not (math.isfinite(amount) and amount > 0):
        raise StepError(f"an amount of {amount:g} g cannot be mixed", fix="write it like '60 g'")
    if hardener is None:
        return
    span = sheet.limits.hardener_pct
    if span is None:
        from curewatch.products.hardener import refused

        what, fix = refused(sheet)
        raise StepError(what, where=sheet.id, fix=fix)
    if not span[0] <= hardener <= span[2]:
        raise StepError(
            f"hardener {hardener:g} % is outside the label's {span[0]:g}..{span[2]:g} %",
            where=sheet.id,
            fix="mix it inside the label's range; more does not help",
        )


class Bench:
    """The use cases over one store; `reader` works out what is shown, made when first asked."""

    def __init__(self, store: Store, places: Mapping[str, PlaceSettings] | None = None) -> None:
        self.store = store
        self._places = places

    @cached_property
    def reader(self) -> BenchReader:
        """What works out the times."""
        from curewatch.bench import reader

        return reader.BenchReader(self.store, self._places)

    def start(
        self,
        sheet_id: str,
        *,
        now: datetime,
        mixed_at: datetime | None = None,
        details: Details | None = None,
        acknowledged: Sequence[str] = (),
    ) -> int:
        """Record a mix; returns the step's number once it is on disk.

        Where no batch is entered, it is that of the can in use.
        """
        from curewatch.bench import reminders
        from curewatch.garage import cans
        from curewatch.garage.shelf import find_sheet

        details = details or Details()
        sheet = find_sheet(self.store, sheet_id)
        check_mix(sheet, details)
        at = check_time(mixed_at or now, now, "the mixing")
        texts = [caution.key for caution in reminders.cautions(sheet, details.applied or "")]
        picked = cans.picked(self.store, sheet.id) if details.batch is None else {}
        body = (
            picked
            | details.as_body()
            | {
                "sheet_id": sheet.id,
                "sheet_text": sheet.text,
                "acknowledged": [key for key in texts if key in acknowledged],
            }
        )
        return self.store.add_step(sheet.id, at, now, body)

    def step(self, number: int) -> Step:
        """One step with all its events. Raises StepError where there is none."""
        events = self.store.events([number])[number]
        if not events:
            raise StepError(f"there is no step {number}", fix="list them with: curewatch bench")
        return fold(events)

    def mixed(self, number: int) -> Step:
        """One step that more can be entered of. Raises StepError where its mix was undone."""
        step = self.step(number)
        if step.state == UNDONE:
            raise StepError(
                f"step {number} was never mixed: its mix was undone",
                fix="undo that undo to bring it back",
            )
        return step

    def _open_step(self, number: int) -> Step:
        step = self.mixed(number)
        if step.state in CLOSED:
            state = in_words(step.state)
            raise StepError(f"step {number} is already {state}", fix="see: curewatch log")
        return step

    def witness(
        self,
        number: int,
        state: str,
        *,
        now: datetime,
        seen_at: datetime | None = None,
        sample: str = "smear",
        turned_min: float | None = None,
        by: str = "",
    ) -> int:
        """Record what the dab was seen to do, and by whom; returns the event's number.

        turned_min: how long before it turned, None where only that it had. [min]
        """
        from curewatch.bench.plausible import check_turn

        step = self.mixed(number)
        if state not in STATES:
            raise StepError(
                f"{state[:40]!r} is not a state of a dab", fix=f"use {', '.join(STATES)}"
            )
        if sample not in SAMPLES:
            raise StepError(f"{sample[:40]!r} is not a sample", fix=f"use {', '.join(SAMPLES)}")
        at = check_time(seen_at or now, now, "the sighting")
        if at < step.mixed_at:
            raise StepError("the dab check is before the mixing", fix="check how long ago it was")
        check_turn(state, turned_min, step.after_min(at))
        turned = {} if turned_min is None else {"turned_min": turned_min}
        body = {"state": state, "sample": sample, **turned, **_by(by)}
        return self.store.add_event(number, "witnessed", at, now, body)

    def test(
        self,
        number: int,
        result: str,
        *,
        now: datetime,
        milestone: str | None = None,
        by: str = "",
        sure: bool = False,
    ) -> str:
        """Record what a test on the work found, or that it is put off; returns the milestone.

        Raises UnlikelyError for what can hardly be, unless it is sure.
        """
        from curewatch.bench.due import asked_name
        from curewatch.bench.plausible import too_soon

        step = self._open_step(number)
        view = self.reader.step_view(step, now)
        name = milestone or asked_name(view) or ""
        if name not in step.sheet.reference.minutes:
            what = f"as {name[:40]!r}" if name else "now"
            allowed = ", ".join(step.sheet.reference.minutes)
            raise StepError(
                f"step {number} has nothing to test {what}", fix=f"name one of {allowed}"
            )
        if result not in answers_to(name):
            what = f"{result[:40]!r} is not an answer to a test for {in_words(name)}"
            raise StepError(what, fix=f"use {', '.join(answers_to(name))}")
        odd = too_soon(view, name, step.after_min(now)) if is_reached(result) else ""
        if odd and not sure:
            raise UnlikelyError(odd, fix="test once more")
        body = {"milestone": name, "result": result, **_by(by)}
        if not is_reached(result):
            wait = max(PUT_OFF, (now - step.mixed_at) / 20) if is_not_yet(result) else PUT_OFF
            body["until"] = (now + wait).isoformat()
        self.store.add_event(number, "tested", now, now, body)
        return name

    def acknowledge(self, number: int, key: str, *, now: datetime) -> None:
        """Record that a reminder was answered."""
        from curewatch.bench import reminders

        step = self.mixed(number)
        cautions = (
            *reminders.cautions(step.sheet, step.applied),
            *reminders.occasions(step.sheet, step.applied),
        )
        texts = [caution.key for caution in cautions]
        if key not in texts:
            raise StepError(f"{key[:40]!r} is not a reminder here", fix=f"use {', '.join(texts)}")
        if key not in step.acknowledged:
            self.store.add_event(number, "acknowledged", now, now, {"key": key})

    def emptied(self, number: int, *, now: datetime, by: str = "") -> None:
        """Record that cup or gun are used up and the tools clean."""
        if self._open_step(number).emptied_at is None:
            self.store.add_event(number, "emptied", now, now, _by(by))

    def in_use(self, number: int, *, now: datetime) -> None:
        """Record that cup or gun are in use still: the bench asks again in a while."""
        self._open_step(number)
        until = (now + STILL_IN_USE).isoformat()
        self.store.add_event(number, "in_use", now, now, {"until": until})

    def fan(self, number: int, on: bool, *, now: datetime) -> None:
        """Record that the fan runs for a step, or does not after all."""
        from curewatch.bench import reminders

        step, key = self.mixed(number), reminders.STILL_WET.key
        if (step.fan_on is not None) != on:
            self.store.add_event(number, "fan", now, now, {"on": on})
        if on and key in [caution.key for caution in reminders.occasions(step.sheet)]:
            self.acknowledge(number, key, now=now)

    def amend(
        self,
        number: int,
        details: Details,
        *,
        now: datetime,
        mixed_at: datetime | None = None,
        sheet_id: str | None = None,
        why: str = "",
        by: str = "",
    ) -> None:
        """Add or correct what is known of a step, its product too, with the reason and the person;
        what stood before stays in its events."""
        from curewatch.garage import product
        from curewatch.garage.shelf import find_sheet

        step = self.mixed(number)
        sheet = find_sheet(self.store, sheet_id) if sheet_id else step.sheet
        check_mix(sheet, details)
        body = details.as_body()
        if sheet_id:
            body = product.corrected(self.store, step, sheet) | body
        if mixed_at is not None:
            body["mixed_at"] = check_time(mixed_at, now, "the mixing").isoformat()
        if not body:
            raise StepError("nothing was entered", fix="name what to add, like --part or --amount")
        if details.cleaned_at is not None:
            check_time(details.cleaned_at, now, "the cleaning")
        reason = {"why": why.strip()[:LONGEST_TEXT], "by": by.strip()[:LONGEST_TEXT]}
        body |= {key: value for key, value in reason.items() if value}
        self.store.add_event(number, "amended", now, now, body)

    def note(self, number: int, text: str, *, now: datetime) -> None:
        """Add a note to a step."""
        self.mixed(number)
        if not text.strip():
            raise StepError("the note is empty", fix="write a few words")
        self.store.add_event(number, "noted", now, now, {"text": text.strip()[:LONGEST_TEXT]})

    def finish(self, number: int, *, now: datetime) -> None:
        """Take a step off the bench: it did what it should."""
        self._open_step(number)
        self.store.add_event(number, "finished", now, now, {})

    def abandon(self, number: int, why: str, *, now: datetime) -> None:
        """Take a step off the bench: it failed, and why."""
        self._open_step(number)
        if not why.strip():
            raise StepError("a failed step needs a reason", fix="give the reason in a few words")
        body: Mapping[str, Any] = {"why": why.strip()[:LONGEST_TEXT]}
        self.store.add_event(number, "abandoned", now, now, body)

    def closed_since(self, at: datetime) -> list[Step]:
        """The steps that left the bench since an instant, also those whose mix was undone."""
        return folded(self.store.events(self.store.closed_since(at)).values())

    def view(self, now: datetime) -> BenchView:
        """Everything hardening as of now."""
        return self.reader.view(now)

    def step_view(self, number: int, now: datetime) -> StepView:
        """One step as of now, also a closed one."""
        return self.reader.step_view(self.step(number), now)
