"""The sensors page: every sensor as it stands, readings typed in full, checking a sensor."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta
from typing import Any

from flask import Flask, redirect, render_template, request
from werkzeug.wrappers import Response as AnyResponse

from curewatch.climate.reading import Quantity, Reading
from curewatch.errors import CurewatchError, ReadingError
from curewatch.quality import typed
from curewatch.quality.availability import LastReadings
from curewatch.quality.calibration import is_sensor
from curewatch.quality.intake import Intake
from curewatch.quality.overview import sensors
from curewatch.quality.places import known_places, place_named
from curewatch.quality.reference_check import check_sensor, moved_sensor, salt_check_sensor
from curewatch.quality.salt_check import SOURCE, TAPE, WALK
from curewatch.quality.slips import Slip
from curewatch.units import with_unit
from curewatch.walltime import check_time, from_ms, to_ms
from curewatch.wording import sensor_words
from dashboard.band import ms
from dashboard.forms import ago_of, once
from dashboard.hall import Hall
from dashboard.numbers import MOST_MS, number_of
from sensors.manual import typed_readings

Answer = AnyResponse | tuple[str, int]
LISTED, MOST_LISTED = timedelta(days=8), 20
_FIELDS: dict[str, Quantity] = {
    "surface": "surface_temperature",
    "air": "air_temperature",
    "humidity": "relative_humidity",
}


def _page(hall: Hall, template: str, error: str = "", **more: Any) -> str:
    now, place = hall.clock(), hall.settings.place
    found = sensors(hall.store, now, place)
    ends = LastReadings(hall.store.latest(now), hall.store.usable(now), place)
    named = [each.last for each in found.all if is_sensor(each.last.source)]
    more = {"filled": request.form if error else {}} | more
    return render_template(
        template,
        sensors=found,
        lost=ends.lost(now, {}),
        sources=sorted({each.source for each in named}),
        humid=sorted({each.source for each in named if each.quantity == "relative_humidity"}),
        refusals=hall.store.refusals()[:30],
        away=hall.store.turned_away()[:30],
        typed=typed.history(hall.store, now, now - LISTED)[:MOST_LISTED],
        error=error,
        say=sensor_words,
        ms=ms,
        mqtt=hall.settings.mqtt,
        broker=hall.broker(request),
        link=hall.link(),
        **more,
    )


def _texts(hall: Hall, form: Mapping[str, str]) -> dict[Quantity, str]:
    """What was typed of each quantity, with its unit."""
    unit = hall.manner(request).unit
    return {
        "surface_temperature": with_unit(form.get("surface", ""), unit),
        "air_temperature": with_unit(form.get("air", ""), unit),
        "relative_humidity": with_unit(form.get("humidity", ""), "%"),
    }


def _typed(hall: Hall, form: Mapping[str, str]) -> dict[str, Any]:
    """Store the readings of the form, or what is to be asked first. Raises errors in the user's
    words."""
    now, store, texts = hall.clock(), hall.store, _texts(hall, form)
    read_at = _instant(form["at"]) if form.get("at") else now - ago_of(form.get("ago"))
    known = known_places(store, hall.settings)
    place = place_named(form.get("place", "").strip() or "panel", known)
    readings = typed_readings.typed(place, check_time(read_at, now, "the reading"), texts)
    slips = [] if form.get("sure") else typed.suspects(store, readings, texts)
    if slips:
        return _question(readings[0], texts, slips)
    typed.enter(store, Intake(store, hall.settings.places), readings, now)
    return {}


def _question(
    first: Reading, texts: Mapping[Quantity, str], slips: Sequence[Slip]
) -> dict[str, Any]:
    """A value that may be a slip: the form as it was typed, and with the other unit."""
    meant = {each.reading.quantity: each.meant for each in slips if each.meant}

    def form(held: Mapping[Quantity, str]) -> dict[str, str]:
        values = {name: held[quantity] for name, quantity in _FIELDS.items()}
        new = {"place": f"new {first.place}", "at": str(to_ms(first.at))}
        return new | values

    other = form({**texts, **meant}) if meant else None
    return {"slips": slips, "as_typed": form(texts), "as_meant": other}


def _instant(text: str) -> datetime:
    """The instant of a form's milliseconds [ms]. Raises ReadingError where it is none."""
    number = number_of(text)
    if number is None or number > MOST_MS:
        raise ReadingError("that is not an instant", fix="load the page again")
    return from_ms(number)


def _withdrawn(hall: Hall, form: Mapping[str, str]) -> str:
    """Take the reading of the form back, or use it again; what is said of it."""
    now, at = hall.clock(), _instant(form.get("at", ""))
    found = typed.at_instant(hall.store, form.get("place", ""), form.get("quantity", ""), at)
    said = sensor_words.typed(found, hall.manner(request), now)
    if form.get("again"):
        typed.use_again(hall.store, [found], now)
        return f"Used again: {said}."
    back = typed.take_back(hall.store, [found], now)
    more = "".join(
        f" Used again: {sensor_words.typed(each, hall.manner(request), now)}." for each in back
    )
    return f"Taken back: {said}.{more}"


def _checked(hall: Hall, form: Mapping[str, str]) -> str:
    """Keep the check of the form; what is said of it."""
    manner, now = hall.manner(request), hall.clock()
    unit = "%" if form.get("what") == "humidity" else manner.unit
    found = check_sensor(
        hall.store,
        hall.settings.place,
        form.get("source", ""),
        with_unit(form.get("reference", ""), unit),
        with_unit(form.get("read", ""), unit),
        form.get("who", ""),
        now,
    )
    return f"{found.source}: {sensor_words.check(found, manner)}."


def _salted(hall: Hall, form: Mapping[str, str]) -> str:
    """Keep the salt check of the form; what is said of it."""
    manner, now = hall.manner(request), hall.clock()
    found, moving = salt_check_sensor(
        hall.store,
        hall.settings.place,
        form.get("source", ""),
        with_unit(form.get("temperature", ""), manner.unit),
        with_unit(form.get("read", ""), "%"),
        form.get("who", ""),
        now,
    )
    said = f"{found.source}: {sensor_words.check(found, manner)}."
    return f"{said} But {moving}." if moving else said


def _named(form: Mapping[str, str]) -> tuple[str, str]:
    return form.get("former", ""), form.get("source", "")


def register(app: Flask, hall: Hall) -> None:
    """Put the sensors page and the salt check on the app."""

    @app.get("/air/sensors")
    def sensors_page() -> str:
        return _page(hall, "sensors.html")

    @app.post("/air")
    def air_typed() -> Answer:
        try:
            asked = _typed(hall, request.form) if hall.tokens.first(once()) else {}
        except CurewatchError as error:
            return _page(hall, "sensors.html", str(error)), 400
        if asked:
            return _page(hall, "sensors.html", asked=asked, filled=request.form), 409
        return redirect("/air/sensors", 303)

    @app.post("/air/typed")
    def air_withdrawn() -> Answer:
        try:
            if hall.tokens.first(once()):
                return _page(hall, "sensors.html", done=_withdrawn(hall, request.form)), 200
        except CurewatchError as error:
            return _page(hall, "sensors.html", str(error)), 400
        return redirect("/air/sensors", 303)

    @app.post("/air/set-aside")
    def air_set_aside() -> Answer:
        if hall.tokens.first(once()):
            hall.store.set_aside(hall.clock())
        return redirect("/air/sensors", 303)

    @app.post("/air/check")
    def air_checked() -> Answer:
        try:
            if hall.tokens.first(once()):
                return _page(hall, "sensors.html", said=_checked(hall, request.form)), 200
        except CurewatchError as error:
            return _page(hall, "sensors.html", str(error)), 400
        return redirect("/air/sensors", 303)

    @app.post("/air/moved")
    def air_moved() -> Answer:
        try:
            if hall.tokens.first(once()):
                moved_sensor(hall.store, *_named(request.form), hall.clock())
        except CurewatchError as error:
            return _page(hall, "sensors.html", str(error)), 400
        return redirect("/air/sensors", 303)

    @app.get("/air/salt")
    def salt_page() -> str:
        return _page(hall, "salt.html", walk=WALK, table=SOURCE, tape=TAPE)

    @app.post("/air/salt")
    def salt_checked() -> Answer:
        more: dict[str, Any] = {"walk": WALK, "table": SOURCE, "tape": TAPE}
        try:
            said = _salted(hall, request.form) if hall.tokens.first(once()) else ""
        except CurewatchError as error:
            return _page(hall, "salt.html", str(error), **more), 400
        return _page(hall, "salt.html", said=said, **more), 200
