"""What the commands print with --json: plain data, stable names, times in RFC 3339 UTC."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from math import isfinite
from typing import TYPE_CHECKING, Any

from curewatch.climate.flag import plain_of
from curewatch.climate.reading import UNITS, Reading
from curewatch.vocabulary import answers_to
from curewatch.walltime import stamp

if TYPE_CHECKING:
    from curewatch.bench.views import BenchView, MilestoneView, StepView, Stretch
    from curewatch.climate.reading import Source
    from curewatch.climate.sources import LeadingSource
    from curewatch.climate.summary import Span
    from curewatch.garage.step import WitnessView
    from curewatch.logbook.logbook import Sensor as SensorOf
    from curewatch.logbook.moments import Moment
    from curewatch.products.sheet import Sheet
    from curewatch.quality.availability import Outage
    from curewatch.quality.clock import ClockSetback
    from curewatch.quality.overview import Sensor, Sensors
    from curewatch.store.turned_away import Refusal, TurnedAway


def clock(found: ClockSetback | None) -> dict[str, Any]:
    """By how many minutes the computer's clock is behind what is known; null where it is not."""
    return {"clock_back_min": None if found is None else round(found.by.total_seconds() / 60, 1)}


def milestone(found: MilestoneView) -> dict[str, Any]:
    """A milestone with its instants; label_min in minutes."""
    return {
        "milestone": found.name,
        "early": stamp(found.early),
        "likely": stamp(found.likely),
        "late": stamp(found.late),
        "shown": stamp(found.shown),
        "label_min": found.label_min,
        "test_now": found.due,
        "answered": found.answered,
        "answered_at": stamp(found.answered_at),
        "reopened": stamp(found.reopened),
        "warnings": list(found.warnings),
    }


def witness(seen: WitnessView) -> dict[str, Any]:
    """What was seen, when, and when it was told."""
    return {
        "witness": seen.id,
        "at": stamp(seen.at),
        "told": stamp(seen.told_at),
        "state": seen.state,
        "sample": seen.sample,
    }


def _lost(found: Outage) -> dict[str, Any]:
    return {
        "place": found.place,
        "quantity": found.quantity,
        "since": stamp(found.since),
        "flag": found.flag and plain_of(found.flag),
        "steps": list(found.steps),
    }


def _source(found: Source) -> dict[str, Any]:
    return {"quantity": found.quantity, "place": found.place, "kind": found.kind}


def _charge(found: LeadingSource | None) -> dict[str, Any] | None:
    if found is None:
        return None
    return {
        **_source(found.source),
        "age_min": round(found.age_min, 1),
        "share": round(found.share, 3),
        "instead_of": found.instead_of and _source(found.instead_of),
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
        "told": stamp(view.told_at),
        "state": view.state,
        "joint": view.joint,
        "emptied": stamp(view.emptied_at),
        "reason": view.forecast.reason,
        "ratio": round(view.forecast.ratio, 4) if isfinite(view.forecast.ratio) else None,
        "stalled": view.forecast.stalled_now,
        "surface_from": _charge(view.forecast.led),
        "warnings": list(view.warnings),
        "lost": [_lost(each) for each in view.lost],
        "milestones": [milestone(each) for each in view.milestones],
        "witnesses": [witness(each) for each in view.witnesses],
        "reminders": {each.key: stamp(each.answered_at) for each in view.reminders},
        "notes": list(view.notes),
    }


def bench(view: BenchView) -> dict[str, Any]:
    """The bench as of now."""
    return {
        "now": stamp(view.now),
        "notes": list(view.notes),
        "air": [
            {
                "place": each.place,
                "quantity": each.quantity,
                "value": None if each.value is None else round(each.value, 2),
                "unit": each.unit,
                "at": stamp(each.at),
                "old": each.old,
                "flag": each.flag and plain_of(each.flag),
            }
            for each in view.air
        ],
        "lost": [_lost(each) for each in view.lost],
        "next": [
            {
                "step": each.step_id,
                "milestone": each.milestone,
                "shown": stamp(each.shown),
                "answers": list(answers_to(each.milestone)),
            }
            for each in view.due
        ],
        "steps": [step(each) for each in view.steps],
    }


def _span(found: Span) -> dict[str, Any]:
    return {
        "min": round(found.minimum, 2),
        "mean": round(found.mean, 2),
        "max": round(found.maximum, 2),
        "source": found.source and _source(found.source),
        "age_min": round(found.away_min, 1),
        "gap": found.gap,
    }


def stretch(found: Stretch) -> dict[str, Any]:
    """The conditions from mixing to an instant [C, %, K], each with source and age [min]."""
    spans = {name: _span(span) for name, span in found.spans.items()}
    return {
        "until": found.until,
        "start": stamp(found.start),
        "end": stamp(found.end),
        **spans,
    }


def moment(found: Moment) -> dict[str, Any]:
    """What was measured at an instant [C, %, K]; what was not is absent."""
    values = {name: round(value, 2) for name, value in found.values.items()}
    return {"when": found.name, "at": stamp(found.at), **values}


def measured_by(found: SensorOf) -> dict[str, Any]:
    """What measured a quantity during a step, and its last check before the step's end."""
    return {
        "source": found.source,
        "place": found.place,
        "quantity": found.quantity,
        "checked": stamp(found.checked),
        "checked_by": found.checked_by,
    }


def sheet(found: Sheet) -> dict[str, Any]:
    """A sheet's head, its times in minutes, what it contains and what of that is only assumed."""
    return {
        "sheet": found.id,
        "name": found.name,
        "kind": found.kind,
        "chemistry": found.chemistry,
        "times": [{"temperature_c": row.temperature_c, **row.minutes} for row in found.times],
        "contains": list(found.hazards.contained),
        "assumed": list(found.hazards.assumed),
        "source": found.source_note,
    }


def _sensor(found: Sensor, now: datetime) -> dict[str, Any]:
    last, held, move = found.last, found.check, found.move
    return {
        "place": last.place,
        "quantity": last.quantity,
        "value": last.value,
        "at": stamp(last.at),
        "age_s": round((now - last.at).total_seconds()),
        "old": found.old,
        "source": last.source,
        "flag": last.flag and plain_of(last.flag),
        "last_used": stamp(found.usable.at if found.usable else None if last.flag else last.at),
        "check": held
        and {
            "offset": held.offset,
            "reference": held.reference,
            "read": held.read,
            "told": stamp(held.recorded_at),
            "who": held.who or None,
            "how": held.how,
        },
        "moved": move
        and {"from": move.before, "to": move.after, "at": stamp(move.at), "both": move.both},
    }


def typed(found: Reading) -> dict[str, Any]:
    """A typed reading; its flag says whether it was replaced or taken back."""
    return {
        "place": found.place,
        "quantity": found.quantity,
        "value": found.value,
        "unit": UNITS[found.quantity],
        "at": stamp(found.at),
        "flag": found.flag and plain_of(found.flag),
    }


def sensors(
    found: Sensors, refused: Sequence[Refusal], away: Sequence[TurnedAway], now: datetime
) -> dict[str, Any]:
    """What is heard, how old [s], flagged, checked and moved; and who and what was turned away."""
    return {
        "now": stamp(now),
        "heard": [_sensor(each, now) for each in found.all],
        "disagree": [
            {"place": each.place, "quantity": each.quantity, "sources": list(each.sources)}
            for each in found.splits
        ],
        "ahead": [
            {
                "source": each.source,
                "place": each.place,
                "quantity": each.quantity,
                "count": each.count,
                "last": stamp(each.last),
            }
            for each in found.ahead
        ],
        "refused": [
            {
                "source": each.source,
                "why": each.sentence,
                "count": each.count,
                "last": stamp(each.last),
            }
            for each in refused
        ],
        "turned_away": [
            {
                "why": each.who.why,
                "address": each.who.address,
                "client": each.who.client,
                "user": each.who.user,
                "number": each.who.number,
                "count": each.count,
                "last": stamp(each.last),
            }
            for each in away
        ],
    }
