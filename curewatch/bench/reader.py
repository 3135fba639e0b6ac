"""From events, readings and sheets to the bench as of now; nothing here is stored."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from contextlib import suppress
from dataclasses import replace
from datetime import datetime, timedelta
from itertools import islice
from typing import Any, TypeVar

from curewatch.bench import reminders, spraying
from curewatch.bench.air_now import notes, tiles
from curewatch.bench.asking import asked_look
from curewatch.bench.due import due_of, moved_since, on_clock, refreshed, standing_warnings
from curewatch.bench.track import assumed_c, track
from curewatch.bench.views import BenchView, MilestoneView, StepView
from curewatch.climate.conditions import Conditions
from curewatch.climate.heat import unreported, warmed, warmed_ahead
from curewatch.climate.reading import PlaceSettings, Reading
from curewatch.climate.series import indexed
from curewatch.climate.snapshot import Snapshot
from curewatch.cure.forecast import Forecast, PastStep, forecast
from curewatch.events.events import UNDO
from curewatch.garage.damaged import Damaged, Failures, failed_step, of_bench
from curewatch.garage.joint import NO_TIME, Joint, joint, mark_of, name_of
from curewatch.garage.place_air import FINE, PlaceAir, hour_of
from curewatch.garage.step import DamagedStep, Step, fold, folded
from curewatch.garage.steps import looked_at, mix_of, sightings
from curewatch.products.sheet import Sheet
from curewatch.quality.availability import Outage
from curewatch.quality.overview import believed
from curewatch.store.store import Event, Store
from curewatch.units import minutes

Found = TypeVar("Found")
LOOK_BACK = timedelta(minutes=20)
MOST_LEARNED_FROM = 24
ENTERED = ("started", "amended", "witnessed", "turned", UNDO, "tested", "heated")


class BenchReader(PlaceAir):
    """Works out views from a store; remembers what still stands, so that it answers at any time as
    one opened just now would."""

    def __init__(self, store: Store, places: Mapping[str, PlaceSettings] | None = None) -> None:
        super().__init__(store, places)
        self.failures = Failures()

    def conditions(self, readings: Sequence[Reading], step: Step, end: datetime) -> Conditions:
        """What the step's place felt from mixing to `end`."""
        assumed = step.sheet.reference.temperature_c
        end = max(end, step.mixed_at)
        conditions = self.at(readings, step.place, step.mixed_at, end, assumed)
        return warmed(conditions, step.heated, self.place(step.place).old_after_min, step.place)

    def conditions_of(self, step: Step, end: datetime) -> Conditions:
        """The same, as known at `end`. Raises DamagedStep where that cannot be worked out."""
        with self.failures.of(step):
            return self.conditions(self.snapshot(step.mixed_at, end).readings, step, end)

    def _missing(self, step: Step, now: datetime) -> tuple[Outage, ...]:
        """What a hardening step leans on that is silent or flagged."""
        if step.closed_at is not None:
            return ()
        return tuple(
            outage
            for outage in self.last_readings(now).lost(now, {step.id: step.place})
            if outage.steps
        )

    def damaged(self, now: datetime) -> list[Damaged]:
        """What is damaged of the steps on the bench, and of what is no step."""
        damaged = self._memory.get("damaged", self.store.entered(), lambda: of_bench(self.store))
        return [*damaged, *self.view(now).failed]

    def mark(self, part: str, job: str) -> str:
        """How a part is marked: body, structural or ''."""
        return mark_of(self.store.entries("part", name_of(part)), job) if part else ""

    def joint(self, part: str, job: str) -> Joint:
        """What kind of joint it is, by the part's mark and by its words."""
        return joint(self.mark(part, job), part, job)

    def structural(self, part: str, job: str) -> bool:
        """Whether it is a joint that no time is given for."""
        return self.joint(part, job) != "body"

    def observed_steps(self, sheet: Sheet, but: int | None = None) -> list[PastStep]:
        """The steps of this product that were looked at, the latest last, but for one."""
        steps = self._memory.get(
            ("looked at", sheet.id), self.store.entered(), lambda: self._looked_at(sheet.id)
        )
        return self.past_steps(step for step in steps if step.id != but)[-MOST_LEARNED_FROM:]

    def _looked_at(self, sheet: str) -> list[Step]:
        return list(islice(looked_at(self.store, sheet), MOST_LEARNED_FROM + 1))[::-1]

    def past_steps(self, steps: Iterable[Step]) -> list[PastStep]:
        """Steps that were looked at, as the belief takes them; none that cannot be worked out."""
        past_steps = []
        for step in steps:
            with suppress(DamagedStep), self.failures.of(step):
                past_steps.append(self.past_step(step))
        return past_steps

    def past_step(self, step: Step) -> PastStep:
        """A step that was looked at, as the belief takes it."""
        observed = sightings(step)
        end = step.mixed_at + timedelta(
            minutes=max(sighting.after_min for sighting in observed) + 1
        )

        def work_out() -> PastStep:
            readings = believed(self.store, step.mixed_at - FINE, end, bucket_s=60)
            return PastStep(step.id, mix_of(step), self.conditions(readings, step, end), observed)

        mark = (step.last_event, self.store.measured(end))
        return self._memory.get(("past", step.id), mark, work_out)

    def _standing(self, step: Step, then: datetime) -> tuple[Any, ...]:
        """The mark of a forecast of a step at an instant: what it is worked out from."""
        past_steps = tuple(self.observed_steps(step.sheet, step.id))
        kind = self.joint(step.part, step.job)
        return (step.last_event, then, kind, past_steps, self.store.measured(then))

    def kept(self, name: str, step: Step, then: datetime, work_out: Callable[[], Found]) -> Found:
        """What was worked out of a step as of an instant, once for as long as that stands."""
        return self._memory.get((name, step.id, then), self._standing(step, then), work_out)

    def forecast(self, step: Step, snapshot: Snapshot) -> Forecast:
        """The step's milestones as known at the snapshot's instant; none on a structural joint."""
        kind = self.joint(step.part, step.job)
        if kind != "body":
            return Forecast((), (), math.inf, (NO_TIME[kind],))
        return forecast(*self.model_inputs(step, snapshot))

    def model_inputs(self, step: Step, snapshot: Snapshot) -> tuple[Any, ...]:
        """What the model works with: sheet, mix, past, outlook, looks at it and at others."""
        conditions = self.conditions(snapshot.readings, step, snapshot.now)
        ahead = self.ahead(snapshot, step.place, step.sheet.reference.temperature_c)
        still = unreported(conditions, step.heated, self.place(step.place).old_after_min)
        others = self.observed_steps(step.sheet, step.id)
        ahead = warmed_ahead(ahead, still)
        return step.sheet, mix_of(step), conditions, ahead, sightings(step), others

    def _as_of(
        self, step: Step, events: Sequence[Event], then: datetime, snapshot: Snapshot
    ) -> dict[str, MilestoneView]:
        """The milestones as they stood at an earlier instant, with what was entered by then."""
        known_events = [event for event in events if event.recorded_at <= then]
        mark = (*self._standing(step, then), snapshot.start, hour_of(snapshot.now))
        return self._memory.get(
            ("as of", step.id),
            mark,
            lambda: self._on_clock(fold(known_events), snapshot.as_of(then)),
        )

    def _on_clock(self, step: Step, snapshot: Snapshot) -> dict[str, MilestoneView]:
        milestones = self.forecast(step, snapshot).milestones
        return {milestone.name: on_clock(step, milestone, snapshot.now) for milestone in milestones}

    def _as_closed(self, step: Step, then: datetime) -> Forecast:
        """The forecast of a step that left the bench, as of an instant until then."""
        mark = self._standing(step, then)
        return self._memory.get(
            ("closed", step.id),
            mark,
            lambda: self.forecast(step, self.snapshot(step.mixed_at, then)),
        )

    def step_view(self, step: Step, now: datetime, snapshot: Snapshot | None = None) -> StepView:
        """One step on the clock as of now, or as of its end. Raises DamagedStep where its times
        cannot be worked out."""
        with self.failures.of(step):
            return self._view_of(step, now, snapshot)

    def _view_of(self, step: Step, now: datetime, snapshot: Snapshot | None) -> StepView:
        then = min(now, step.closed_at) if step.closed_at else now
        if step.closed_at and snapshot is None:
            forecast = self._as_closed(step, then)
        else:
            forecast = self.forecast(step, snapshot or self.snapshot(step.mixed_at, then))
        milestones = tuple(on_clock(step, milestone, now) for milestone in forecast.milestones)
        return StepView(
            id=step.id,
            sheet=step.sheet,
            part=step.part,
            job=step.job,
            place=step.place,
            amount_g=step.amount_g,
            hardener_pct=step.hardener_pct,
            batch=step.batch,
            mixed_at=step.mixed_at,
            recorded_at=step.recorded_at,
            joint=self.joint(step.part, step.job),
            forecast=forecast,
            milestones=milestones,
            witnesses=step.witnesses,
            reminders=reminders.reminders(
                step.sheet,
                milestones,
                step.mixed_at,
                step.acknowledged,
                then,
                step.emptied_at,
                step.heated,
                step.applied,
            ),
            notes=step.notes,
            changes=(),
            warnings=standing_warnings(forecast, step.state),
            lost=self._missing(step, now),
            state=step.state,
            emptied_at=step.emptied_at,
            in_use_until=step.in_use_until,
            unexplained=step.unexplained,
            fan_on=step.fan_on,
            unmasked=step.closed_at is None
            and spraying.unanswered(step.sheet, step.applied, step.acknowledged),
        )

    def view(self, now: datetime) -> BenchView:
        """The bench as of now; asking again when nothing changed costs a look-up."""
        mark = (self.store.revision(), now.replace(second=now.second // 20 * 20, microsecond=0))
        name = f"{mark[0]}@{mark[1]:%H%M%S}"
        return refreshed(self._memory.get("view", mark, lambda: self._assemble(now, name)), now)

    def _assemble(self, now: datetime, revision: str) -> BenchView:
        rows = self.store.steps(only_open=True)
        events = self.store.events(row.id for row in rows)
        steps = folded(events.values())
        start = min((step.mixed_at for step in steps), default=now)
        snapshot = self.snapshot(start, now)
        views, failed = self._views(steps, events, snapshot)
        place = views[-1].place if views else "panel"
        start = min((view.mixed_at for view in views), default=now)
        how = self.place(place)
        ahead = self.ahead(snapshot, place, assumed_c(views))
        missing = self.last_readings(now).lost(now, {step.id: step.place for step in steps})
        usable = indexed(self.last_readings(now).usable)

        def here(place: str) -> Conditions:
            return self.at(usable, place, now, now, assumed_c(views))

        return BenchView(
            now=now,
            air=tiles(self.last_readings(now).usable, now, self.place, missing, here),
            steps=tuple(views),
            due=tuple(due_of(views, now)),
            track=track(snapshot.readings, ahead, start, place, how, views),
            notes=notes(snapshot.readings, views),
            revision=revision,
            lost=missing,
            failed=tuple(failed),
        )

    def _views(
        self, steps: Sequence[Step], events: Mapping[int, Sequence[Event]], snapshot: Snapshot
    ) -> tuple[list[StepView], list[Damaged]]:
        """Each step as of the snapshot's instant, or as damaged where it cannot be worked out."""
        views, failed = [], []
        for step in steps:
            step_events = events[step.id]
            try:
                view = self.step_view(step, snapshot.now, snapshot)
                with self.failures.of(step):
                    look = asked_look(self, step, step_events, view, snapshot)
                    view = replace(view, asked_look=look)
                    views.append(self._with_changes(step, step_events, view, snapshot))
            except DamagedStep as error:
                failed.append(failed_step(step_events, error))
        return views, failed

    def _with_changes(
        self, step: Step, events: Sequence[Event], view: StepView, snapshot: Snapshot
    ) -> StepView:
        now = snapshot.now
        tens = now.replace(minute=now.minute // 10 * 10, second=0, microsecond=0)
        since = max(step.recorded_at, step.mixed_at, tens - LOOK_BACK)
        if (now - since) < timedelta(minutes=2):
            return view
        then = self._as_of(step, events, since, snapshot)
        entered = any(event.recorded_at > since and event.kind in ENTERED for event in events)
        panel = self._panel(step, since, snapshot)
        return replace(view, changes=moved_since(view, then, since, panel, entered))

    def _panel(self, step: Step, since: datetime, snapshot: Snapshot) -> tuple[float, float]:
        conditions = self.conditions(snapshot.readings, step, snapshot.now)
        then = round(minutes(since - conditions.start) * 60 / conditions.step_s)
        last = len(conditions.surface_c) - 1
        return float(conditions.surface_c[min(then, last)]), float(conditions.surface_c[last])
