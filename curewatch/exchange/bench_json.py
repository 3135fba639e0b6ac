"""What the commands print with --json: plain data, stable names, times in RFC 3339 UTC."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from math import isfinite
from typing import TYPE_CHECKING, Any

from curewatch.climate.flag import plain_of
from curewatch.climate.reading import UNITS, Reading
from curewatch.notice_words import sentence, sentences, warnings_json
from curewatch.vocabulary import answers_to
from curewatch.walltime import stamp

if TYPE_CHECKING:
    from curewatch.bench.views import AskedLook, BenchView, MilestoneView, StepStretch, StepView
    from curewatch.climate.reading import Source
    from curewatch.climate.sources import LeadingSource
    from curewatch.climate.summary import Span
    from curewatch.garage.step import WitnessView
    from curewatch.logbook.logbook import SensorUsed as SensorOf
    from curewatch.logbook.moments import Moment
    from curewatch.products.sheet import Sheet
    from curewatch.quality.availability import Outage
    from curewatch.quality.clock import ClockSetback
    from curewatch.quality.overview import Sensor, Sensors
    from curewatch.store.readings import Ahead
    from curewatch.store.turned_away import Refusal, TurnedAway


def clock(setback: ClockSetback | None) -> dict[str, Any]:
    """By how many minutes the computer's clock is behind what is known; null where it is not."""
    return {
        "clock_back_min": None if setback is None else round(setback.by.total_seconds() / 60, 1)
    }


def milestone(view: MilestoneView) -> dict[str, Any]:
    """A milestone with its instants; label_min in minutes."""
    return {
        "milestone": view.name,
        "early": stamp(view.early),
        "likely": stamp(view.likely),
        "late": stamp(view.late),
        "shown": stamp(view.shown),
        "label_min": view.label_min,
        "test_now": view.due,
        "answered": view.answered,
        "answered_at": stamp(view.answered_at),
        "reopened": stamp(view.reopened),
        **warnings_json(view.warnings),
    }


def witness(view: WitnessView) -> dict[str, Any]:
    """What was seen, when, and when it was told."""
    return {
        "witness": view.id,
        "at": stamp(view.at),
        "told": stamp(view.recorded_at),
        "state": view.state,
        "sample": view.sample,
        "turned_min": view.turned_min,
    }


def _asked_look(look: AskedLook) -> dict[str, Any]:
    return {
        "milestone": look.milestone,
        "state": look.state,
        "waited": look.waited,
        "worth": round(look.worth, 3),
        "until": stamp(look.until),
    }


def _lost(outage: Outage) -> dict[str, Any]:
    return {
        "place": outage.place,
        "quantity": outage.quantity,
        "since": stamp(outage.since),
        "flag": outage.flag and plain_of(outage.flag),
        "steps": list(outage.steps),
    }


def _source(source: Source) -> dict[str, Any]:
    return {"quantity": source.quantity, "place": source.place, "kind": source.kind}


def _charge(charge: LeadingSource | None) -> dict[str, Any] | None:
    if charge is None:
        return None
    return {
        **_source(charge.source),
        "age_min": round(charge.age_min, 1),
        "share": round(charge.share, 3),
        "instead_of": charge.instead_of and _source(charge.instead_of),
    }


def step(view: StepView) -> dict[str, Any]:
    """A step with everything known of it; amounts in grams, hardener in percent."""
    return {
        "step": view.id,
        "sheet": view.sheet.id,
        "product": view.sheet.name,
        "part": view.part,
        "job": view.job,
        "place": view.place,
        "amount_g": view.amount_g,
        "hardener_pct": view.hardener_pct,
        "batch": view.batch,
        "mixed": stamp(view.mixed_at),
        "told": stamp(view.recorded_at),
        "state": view.state,
        "joint": view.joint,
        "emptied": stamp(view.emptied_at),
        "reason": sentences(view.forecast.reason),
        "ratio": round(view.forecast.ratio, 4) if isfinite(view.forecast.ratio) else None,
        "stalled": view.forecast.stalled_now,
        "surface_from": _charge(view.forecast.led),
        **warnings_json(view.warnings),
        "lost": [_lost(outage) for outage in view.lost],
        "milestones": [milestone(one_milestone) for one_milestone in view.milestones],
        "witnesses": [witness(one_witness) for one_witness in view.witnesses],
        "asked_look": view.asked_look and _asked_look(view.asked_look),
        "reminders": {reminder.key: stamp(reminder.answered_at) for reminder in view.reminders},
        "notes": list(view.notes),
    }


def bench(view: BenchView) -> dict[str, Any]:
    """The bench as of now."""
    return {
        "now": stamp(view.now),
        "notes": [sentence(note) for note in view.notes],
        "air": [
            {
                "place": tile.place,
                "quantity": tile.quantity,
                "value": None if tile.value is None else round(tile.value, 2),
                "unit": tile.unit,
                "at": stamp(tile.at),
                "old": tile.old,
                "flag": tile.flag and plain_of(tile.flag),
            }
            for tile in view.air
        ],
        "lost": [_lost(outage) for outage in view.lost],
        "next": [
            {
                "step": due.step.id,
                "milestone": due.milestone.name,
                "shown": stamp(due.milestone.shown),
                "answers": list(answers_to(due.milestone.name)),
            }
            for due in view.due
        ],
        "steps": [step(step_view) for step_view in view.steps],
    }


def _span(span: Span) -> dict[str, Any]:
    return {
        "min": round(span.minimum, 2),
        "mean": round(span.mean, 2),
        "max": round(span.maximum, 2),
        "source": span.source and _source(span.source),
        "age_min": round(span.away_min, 1),
        "gap": span.gap,
    }


def stretch(stretch: StepStretch) -> dict[str, Any]:
    """The conditions from mixing to an instant [C, %, K], each with source and age [min]."""
    spans = {name: _span(span) for name, span in stretch.spans.items()}
    return {
        "until": stretch.until,
        "start": stamp(stretch.start),
        "end": stamp(stretch.end),
        **spans,
    }


def moment(moment: Moment) -> dict[str, Any]:
    """What was measured at an instant [C, %, K]; what was not is absent."""
    values = {name: round(value, 2) for name, value in moment.values.items()}
    return {"when": moment.name, "at": stamp(moment.at), **values}


def measured_by(sensor: SensorOf) -> dict[str, Any]:
    """What measured a quantity during a step, and its last check before the step's end."""
    return {
        "source": sensor.source,
        "place": sensor.place,
        "quantity": sensor.quantity,
        "checked": stamp(sensor.checked),
        "checked_by": sensor.checked_by,
    }


def sheet(sheet: Sheet) -> dict[str, Any]:
    """A sheet's head, its times in minutes, what it contains and what of that is only assumed."""
    return {
        "sheet": sheet.id,
        "name": sheet.name,
        "kind": sheet.kind,
        "chemistry": sheet.chemistry,
        "times": [{"temperature_c": row.temperature_c, **row.minutes} for row in sheet.times],
        "contains": list(sheet.hazards.contained),
        "assumed": list(sheet.hazards.assumed),
        "source": sheet.source_note,
    }


def _sensor(sensor: Sensor, now: datetime) -> dict[str, Any]:
    last, check, move = sensor.last, sensor.check, sensor.move
    return {
        "place": last.place,
        "quantity": last.quantity,
        "value": last.value,
        "at": stamp(last.at),
        "age_s": round((now - last.at).total_seconds()),
        "old": sensor.old,
        "source": last.source,
        "flag": last.flag and plain_of(last.flag),
        "last_used": stamp(sensor.usable.at if sensor.usable else None if last.flag else last.at),
        "check": check
        and {
            "offset": check.offset,
            "reference": check.reference,
            "read": check.read,
            "told": stamp(check.recorded_at),
            "who": check.who or None,
            "how": check.how,
        },
        "moved": move
        and {"from": move.before, "to": move.after, "at": stamp(move.at), "both": move.both},
    }


def typed(reading: Reading) -> dict[str, Any]:
    """A typed reading; its flag says whether it was replaced or taken back."""
    return {
        "place": reading.place,
        "quantity": reading.quantity,
        "value": reading.value,
        "unit": UNITS[reading.quantity],
        "at": stamp(reading.at),
        "flag": reading.flag and plain_of(reading.flag),
    }


def sensors(
    overview: Sensors, refused: Sequence[Refusal], away: Sequence[TurnedAway], now: datetime
) -> dict[str, Any]:
    """What is heard, how old [s], flagged, checked and moved; and who and what was turned away."""
    return {
        "now": stamp(now),
        "heard": [_sensor(sensor, now) for sensor in overview.all],
        "disagree": [
            {"place": split.place, "quantity": split.quantity, "sources": list(split.sources)}
            for split in overview.splits
        ],
        "ahead": [_dated_ahead(ahead) for ahead in overview.ahead],
        "refused": [_refusal(refusal) for refusal in refused],
        "turned_away": [_turned_away(client) for client in away],
    }


def _dated_ahead(ahead: Ahead) -> dict[str, Any]:
    series = {"source": ahead.source, "place": ahead.place, "quantity": ahead.quantity}
    return series | {"count": ahead.count, "last": stamp(ahead.last)}


def _refusal(refusal: Refusal) -> dict[str, Any]:
    return {
        "source": refusal.source,
        "why": refusal.sentence,
        "count": refusal.count,
        "last": stamp(refusal.last),
    }


def _turned_away(client: TurnedAway) -> dict[str, Any]:
    return {
        "why": client.who.why,
        "address": client.who.address,
        "client": client.who.client,
        "user": client.who.user,
        "number": client.who.number,
        "count": client.count,
        "last": stamp(client.last),
    }
