"""From the bench's readings, steps and shelf to what the gate asks."""

from __future__ import annotations

import math
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import replace
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from curewatch.bench.bench import Bench, Details
from curewatch.bench.views import StepView
from curewatch.climate import psychrometrics
from curewatch.climate.conditions import Conditions
from curewatch.climate.outlook import USUAL_H
from curewatch.climate.reading import AIR_PLACE, Quantity, Reading
from curewatch.climate.sources import LeadingSource, leading_source
from curewatch.cure.belief import learned
from curewatch.errors import StepError
from curewatch.garage import cans, parts
from curewatch.garage.cans import Can
from curewatch.garage.evening import stop_of
from curewatch.garage.joint import NO_TIME, name_of
from curewatch.garage.part_history import Part, lying
from curewatch.garage.shelf import find_sheet
from curewatch.garage.step import DamagedStep, Step
from curewatch.garage.steps import steps
from curewatch.garage.storage import StoredCan, storage_of
from curewatch.gate import rehearsal
from curewatch.gate.alternatives import jobs, others, too_cold
from curewatch.gate.proposal import Here, Proposal
from curewatch.notice_words import sentence
from curewatch.products.sheet import Sheet
from curewatch.products.shelf_life import local_day
from curewatch.products.solvents import volatile
from curewatch.protection.wearing import to_discard
from curewatch.units import minutes
from curewatch.vocabulary import in_words

FRESH = timedelta(hours=3)
MOST_STEPS = 500
NEVER = 0
SHELF = "shelf"
HOUR, TWO_HOURS = timedelta(hours=1), timedelta(hours=2)
UNTOLD_ZONE = ZoneInfo("UTC")


def _last(readings: Sequence[Reading], quantity: Quantity, places: Sequence[str]) -> Reading | None:
    for place in places:
        candidates = [
            reading
            for reading in readings
            if reading.place == place and reading.quantity == quantity
        ]
        if candidates:
            return max(candidates, key=lambda reading: reading.at)
    return None


def _fresh(led: LeadingSource | None, quantity: Quantity, value: float) -> float | None:
    """The value now, where what leads it was read of late and is a reading of it. [C or %]"""
    if led is None or led.source.quantity != quantity or led.age_min > minutes(FRESH):
        return None
    return value


def here(conditions: Conditions, old_after_min: float) -> Here:
    """The place at the end of what it felt, as the model takes it; air and humidity only while
    they are fresh. old_after_min [min]"""
    led, end_s = conditions.leading_source, conditions.length_s
    room, damp = (
        leading_source(shares, -1, end_s) for shares in (conditions.air_by, conditions.humidity_by)
    )
    return Here(
        surface_c=None if led is None else float(conditions.surface_c[-1]),
        air_c=_fresh(room, "air_temperature", float(conditions.air_c[-1])),
        humidity_pct=_fresh(damp, "relative_humidity", float(conditions.humidity_pct[-1])),
        from_air=conditions.source == "air",
        age_min=None if led is None else led.age_min,
        old=led is not None and led.age_min > old_after_min,
        led=led,
    )


def _under(
    bench: Bench, part: str, job: str, now: datetime
) -> tuple[StepView | None, StepView | None]:
    """The last step on the same part, in the same job where one is named, and one abandoned over
    it."""
    name = part.casefold()
    beneath = [
        step
        for step in reversed(steps(bench.store, most=MOST_STEPS) if name else [])
        if step.part.casefold() == name and (not job or step.job.casefold() == job.casefold())
    ]
    top, failed = lying(beneath, [step.state == "abandoned" for step in beneath])
    return _view(bench, top, now), _view(bench, failed, now)


def _view(bench: Bench, step: Step | None, now: datetime) -> StepView | None:
    """A step as of now; None where it is damaged."""
    with suppress(DamagedStep):
        return None if step is None else bench.reader.step_view(step, now)
    return None


def _stored_c(readings: Sequence[Reading], now: datetime, can: StoredCan | None) -> float | None:
    """Temperature of the product as stored, by a fresh reading at its place or the shelf. [C]"""
    places = [can.can.stored.casefold(), SHELF] if can and can.can.stored else [SHELF]
    reading = _last(readings, "air_temperature", places)
    return reading.value if reading is not None and now - reading.at <= FRESH else None


def would_be(sheet: Sheet, now: datetime, details: Details) -> Step:
    """The step as it would be if it were mixed now; it has no number yet."""
    return Step(
        id=NEVER,
        sheet=sheet,
        mixed_at=now,
        recorded_at=now,
        recorded={name: value for name, value in details.recorded.items() if value != ""},
    )


def _spread_per_h(bench: Bench, readings: Sequence[Reading], place: str, now: datetime) -> float:
    """How fast the panel's distance from the dew point grew over the last hour. [K/h]"""
    conditions = bench.reader.at(readings, place, now - HOUR, now, 0.0)
    spread = psychrometrics.dew_point_spread_c(
        conditions.surface_c, conditions.air_c, conditions.humidity_pct
    )
    return float(spread[-1] - spread[0])


def _trend(bench: Bench, readings: Sequence[Reading], place: str, now: datetime) -> float | None:
    """The same, None where metal and humidity were not both measured an hour ago and lately."""
    for quantity, places in (
        ("surface_temperature", (place,)),
        ("relative_humidity", (place, AIR_PLACE)),
    ):
        instants = [
            reading.at
            for reading in readings
            if reading.quantity == quantity and reading.place in places
        ]
        early = [at for at in instants if now - TWO_HOURS <= at <= now - HOUR / 2]
        if not early or now - max(instants) > HOUR / 2:
            return None
    return _spread_per_h(bench, readings, place, now)


def can_of(bench: Bench, sheet: Sheet, details: Details) -> Can | None:
    """The can a mix comes from: by the batch that is entered, else the one in use."""
    if not bench.store.entries(cans.SUBJECT):
        return None
    text = (details.batch or "").strip().casefold()
    if text:
        named = [
            can
            for can in cans.cans(bench.store, sheet.id)
            if text in {batch.casefold() for batch in (can.batch, can.batches) if batch}
        ]
        return named[-1] if named else None
    return cans.in_use(bench.store, sheet.id)


def _metal(bench: Bench, step: Step, now: datetime) -> Part | None:
    """The part with its bare clock, where it was ever told to be bare."""
    entries = bench.store.entries(parts.SUBJECT, name_of(step.part)) if step.part else []
    if not any(entry.kind == "bared" for entry in entries):
        return None
    return parts.part(bench.reader, step.part, step.job, now)


def bare_limit_min(bench: Bench) -> float | None:
    """The user's own limit for bare metal, as entered last. [min]"""
    entries = bench.store.entries("limit", "bare")
    return float(entries[-1].body["limit_min"]) if entries else None


def set_bare_limit(bench: Bench, limit_min: float, *, now: datetime) -> None:
    """Keep the user's own limit for bare metal. limit_min [min]"""
    if not 0 < limit_min <= 43_200:
        raise StepError("that is not a limit for bare metal", fix="write it like '4 h'")
    bench.store.add_entry("limit", "bare", "told", now, now, {"limit_min": limit_min})


def ask(
    bench: Bench,
    sheet_id: str,
    now: datetime,
    details: Details,
    *,
    zone: ZoneInfo = UNTOLD_ZONE,
    stop_at: datetime | None = None,
    wanted_min: float | None = None,
    hours: float = USUAL_H,
) -> Proposal:
    """A mix as it would be if it were mixed now. wanted_min: from the pot [min]; hours: how far to
    look ahead [h]

    The product's temperature, where it is not told, is that of the air where its can stands, else
    at the place `shelf`. The evening's own stopping time counts where none is entered.
    """
    sheet, store = find_sheet(bench.store, sheet_id), bench.store
    snapshot = bench.reader.snapshot(now, now)
    can = can_of(bench, sheet, details)
    kept = None if can is None else storage_of(bench.reader, can, sheet, snapshot, zone)
    if details.product_c is None:
        details = details.but(product_c=_stored_c(snapshot.readings, now, kept))
    step = would_be(sheet, now, details)
    how = bench.reader.place(step.place)
    conditions = bench.reader.conditions(snapshot.readings, step, now)
    under, failed = _under(bench, step.part, step.job, now)
    done = rehearsal.last(store, sheet.id, step.part, now)
    proposal = Proposal(
        sheet=sheet,
        now=now,
        here=replace(
            here(conditions, how.old_after_min),
            spread_per_h=_trend(bench, snapshot.readings, step.place, now),
        ),
        ahead=bench.reader.ahead(snapshot, step.place, sheet.reference.temperature_c, hours),
        forecast=bench.reader.forecast(step, snapshot),
        learned=learned(sheet, bench.reader.observed_steps(sheet)),
        amount_g=details.amount_g,
        hardener_pct=details.hardener_pct,
        product_c=details.product_c,
        part=step.part,
        job=step.job,
        stop_at=stop_at or stop_of(store, now, zone),
        wanted_min=wanted_min,
        under=under,
        failed_under=failed,
        can=kept,
        expiry=details.expiry or "",
        today=local_day(now, zone),
        metal=_metal(bench, step, now),
        bare_limit_min=bare_limit_min(bench),
        mark=bench.reader.mark(step.part, step.job),
        rehearsed_min=done.took_min if done else None,
        worn_out=_worn_out(bench, sheet, now, zone),
        applied=details.applied or "",
    )
    if not too_cold(proposal):
        return proposal
    return replace(
        proposal, others=others(bench, snapshot, proposal, step), jobs=jobs(bench, now, step.job)
    )


def ask_ahead(
    bench: Bench,
    sheet_id: str,
    now: datetime,
    details: Details,
    *,
    until: datetime,
    milestone: str,
    zone: ZoneInfo,
) -> tuple[Proposal, str]:
    """A mix as it would be, with an outlook that reaches an instant, and the milestone asked for:
    the one that the evening waits for where it is ''.

    Raises StepError where nobody can say: a structural joint, a label that does not give it.
    """
    hours = math.ceil((until - now).total_seconds() / 3600) + 1
    proposal = ask(bench, sheet_id, now, details, zone=zone, hours=hours)
    if proposal.structural:
        raise StepError(sentence(NO_TIME[proposal.joint]))
    name = milestone or (proposal.matters.name if proposal.matters else "")
    if name not in proposal.sheet.reference.minutes or math.isinf(proposal.forecast.ratio):
        raise StepError(
            f"the label of {proposal.sheet.name} gives no time for {in_words(name)}",
            fix="ask for another milestone, or add that time to the product",
        )
    return proposal, name


def _worn_out(bench: Bench, sheet: Sheet, now: datetime, zone: ZoneInfo) -> tuple[str, ...]:
    if not volatile(sheet) or sheet.hazards.isocyanate:
        return ()
    states = to_discard(bench, now, zone)
    return tuple(f"{state.cartridge.name}: {state.words}" for state in states)
