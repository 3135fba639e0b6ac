"""What the forms of several pages say: their token, how long ago, a field."""

from __future__ import annotations

from datetime import timedelta

from flask import request

from curewatch.errors import StepError


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


def typed(name: str) -> str:
    """A field of the form, trimmed."""
    return request.form.get(name, "").strip()
