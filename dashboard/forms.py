"""What the forms of several pages say: who sends which form, how long ago, the details of a mix."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

from flask import request

from curewatch.errors import StepError
from curewatch.events.details import Details
from curewatch.events.fields import FIELDS, MOMENT, PLACE, Field
from curewatch.logbook.paper import FieldFormatter
from curewatch.quality.places import known_places, place_named
from curewatch.units import parse_mass, with_unit
from dashboard.hall import Hall


def once() -> str:
    """The form's token."""
    return request.form.get("once", "")


def ago_of(text: str | None) -> timedelta:
    """How long ago, as a form says it in minutes."""
    try:
        minutes = float((text or "0").replace(",", "."))
    except ValueError:
        shown = (text or "")[:20]
        raise StepError(f"{shown!r} is not a number of minutes", fix="write it like 3") from None
    if not 0 <= minutes <= 10_080:
        raise StepError("that was not within the last week", fix="say how many minutes ago")
    return timedelta(minutes=minutes)


def paper(hall: Hall) -> FieldFormatter:
    """How the log says values to this reader."""
    return FieldFormatter(hall.zone, hall.manner(request))


def typed(name: str) -> str:
    """A field of the form, trimmed."""
    return request.form.get(name, "").strip()


def mass(text: str) -> float | None:
    """Amount as typed; a bare number is grams. [g]"""
    return parse_mass(with_unit(text, "g")) if text else None


def _value(hall: Hall, field: Field, text: str, now: datetime) -> Any:
    if field.kind is MOMENT:
        return now - ago_of(text)
    if field.kind is PLACE:
        return place_named(text, known_places(hall.store, hall.settings))
    return field.kind.parse(with_unit(text, field.kind.unit) if field.kind.unit else text)


def details(hall: Hall, now: datetime) -> Details:
    """Everything the form tells of a step. Raises errors in the user's words."""
    recorded = {
        field.name: _value(hall, field, text, now)
        for field in FIELDS
        if (text := typed(field.input_name))
    }
    return Details(**recorded)
