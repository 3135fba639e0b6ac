"""The air page: what is heard, how old it is, what was refused, and typing a reading."""

from __future__ import annotations

from flask import Flask, redirect, render_template, request
from werkzeug.wrappers import Response as AnyResponse

from curewatch.errors import ReadingError
from curewatch.quantities import parse_humidity, parse_temperature
from curewatch.reading import Reading, make_reading
from dashboard.band import ms
from dashboard.bench import ago_of
from dashboard.hall import Hall

FIELDS = {
    "surface": "surface_temperature",
    "air": "air_temperature",
    "humidity": "relative_humidity",
}


def _value(field: str, text: str, unit: str) -> float:
    """A typed value; a bare number takes the reader's unit. [C] or [%]"""
    bare = text.replace(",", ".").lstrip("+-−").replace(".", "", 1).isdigit()
    plain = text.replace("−", "-")
    if field == "humidity":
        return parse_humidity(f"{plain} %" if bare else plain)
    return parse_temperature(f"{plain} {unit}" if bare else plain)


def typed(hall: Hall) -> list[Reading]:
    """The readings of the form. Raises QuantityError or ReadingError in the user's words."""
    at = hall.clock() - ago_of(request.form.get("ago"))
    place, unit = request.form.get("place", "panel").strip() or "panel", hall.manner(request).unit
    found = []
    for field, quantity in FIELDS.items():
        text = request.form.get(field, "").strip()
        if text:
            found.append(make_reading(place, quantity, _value(field, text, unit), at, "typed"))
    if not found:
        raise ReadingError("no reading was typed", fix="fill at least one of the three")
    return found


def _page(hall: Hall, error: str = "", filled: object = None) -> str:
    latest = hall.store.latest()
    limits = {each.place: hall.settings.place(each.place).old_after_min for each in latest}
    return render_template(
        "air.html",
        latest=latest,
        limits=limits,
        refusals=hall.store.refusals()[:30],
        error=error,
        filled=filled or {},
        ms=ms,
        mqtt=hall.settings.mqtt,
        link=hall.link(),
    )


def register(app: Flask, hall: Hall) -> None:
    """Put the air page on the app."""

    @app.get("/air")
    def air_page() -> str:
        return _page(hall)

    @app.post("/air")
    def air_typed() -> AnyResponse | tuple[str, int]:
        try:
            hall.store.add_readings(typed(hall))
        except (ValueError, LookupError) as error:
            return _page(hall, str(error), request.form), 400
        return redirect("/air", 303)
