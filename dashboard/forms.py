"""What the forms of several pages say: who sends which form, how long ago, the details of a mix."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any

from flask import request

from curewatch.bench.bench import Details
from curewatch.errors import StepError
from curewatch.logbook.fields import Paper
from curewatch.quality.places import known_places, place_named
from curewatch.units import (
    parse_duration,
    parse_film,
    parse_mass,
    parse_percent,
    parse_temperature,
    with_unit,
)
from dashboard.hall import Hall

_TEXTS = ("who", "hardener_batch", "expiry", "ratio", "grit", "cleaner", "deviations", "signed")


def once() -> str:
    """The form's token."""
    return request.form.get("once", "")


def ago_of(text: str | None) -> timedelta:
    """How long ago, as a form says it in minutes."""
    try:
        minutes = float((text or "0").replace(",", "."))
    except ValueError:
        shown = (text or "")[:20]
        raise StepError(f"{shown!r} is no number of minutes", fix="write it like 3") from None
    if not 0 <= minutes <= 10_080:
        raise StepError("that was not within the last week", fix="say how many minutes ago")
    return timedelta(minutes=minutes)


def paper(hall: Hall) -> Paper:
    """How the log says values to this reader."""
    return Paper(hall.zone, hall.manner(request))


def typed(name: str) -> str:
    """A field of the form, trimmed."""
    return request.form.get(name, "").strip()


def mass(text: str) -> float | None:
    """Amount as typed; a bare number is grams. [g]"""
    return parse_mass(with_unit(text, "g")) if text else None


def details(hall: Hall) -> Details:
    """What the form tells of a mix. Raises QuantityError or ReadingError in the user's words."""
    told = {key: text.strip() for key, text in request.form.items()}
    hardener, stored, place = told.get("hardener"), told.get("product"), told.get("place")
    return Details(
        part=told.get("part") or None,
        job=told.get("job") or None,
        place=place_named(place, known_places(hall.store, hall.settings)) if place else None,
        batch=told.get("batch") or None,
        applied=told.get("applied") or None,
        amount_g=mass(told.get("amount", "")),
        hardener_pct=parse_percent(with_unit(hardener, "%")) if hardener else None,
        product_c=parse_temperature(stored) if stored else None,
    )


def told(hall: Hall, now: datetime) -> Details:
    """Everything the form of a step tells. Raises errors in the user's words."""
    texts: dict[str, Any] = {key: typed(key) or None for key in _TEXTS}
    found = replace(details(hall), **texts)
    films: dict[str, Any] = {
        name: parse_film(with_unit(typed(name), "um"))
        for name in ("film_wet_um", "film_dry_um")
        if typed(name)
    }
    waited, cleaned = typed("induction"), typed("cleaned")
    return replace(
        found,
        **films,
        induction_min=parse_duration(with_unit(waited, "min")) if waited else None,
        cleaned_at=now - ago_of(cleaned) if cleaned else None,
    )
