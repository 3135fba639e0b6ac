"""The air page: every sensor as it stands, typing a reading, and checking a sensor."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from flask import Flask, redirect, render_template, request
from werkzeug.wrappers import Response as AnyResponse

from curewatch.bench import check_time
from curewatch.checking import check_sensor, moved_sensor, salt_check_sensor
from curewatch.errors import CurewatchError
from curewatch.heard import Ends
from curewatch.intake import Intake
from curewatch.quantities import with_unit
from curewatch.salt import SOURCE, TAPE, WALK
from curewatch.sensor_log import is_sensor
from curewatch.sensor_view import sensors
from dashboard import sensor_words
from dashboard.band import ms
from dashboard.bench import ago_of, once
from dashboard.hall import Hall
from sensors.manual import typed

Answer = AnyResponse | tuple[str, int]


def _page(hall: Hall, template: str, error: str = "", **more: Any) -> str:
    now, place = hall.clock(), hall.settings.place
    found = sensors(hall.store, now, place)
    ends = Ends(hall.store.latest(), hall.store.usable(), place)
    named = [each.last for each in found.all if is_sensor(each.last.source)]
    return render_template(
        template,
        sensors=found,
        lost=ends.lost(now, {}),
        sources=sorted({each.source for each in named}),
        humid=sorted({each.source for each in named if each.quantity == "relative_humidity"}),
        refusals=hall.store.refusals()[:30],
        error=error,
        filled=request.form if error else {},
        say=sensor_words,
        ms=ms,
        mqtt=hall.settings.mqtt,
        broker=hall.broker(request),
        link=hall.link(),
        **more,
    )


def _typed(hall: Hall, form: Mapping[str, str]) -> None:
    """Store the readings of the form. Raises errors in the user's words."""
    unit, now = hall.manner(request).unit, hall.clock()
    at = check_time(now - ago_of(form.get("ago")), now, "the reading")
    readings = typed(
        form.get("place", "").strip() or "panel",
        at,
        surface=with_unit(form.get("surface", ""), unit),
        air=with_unit(form.get("air", ""), unit),
        humidity=with_unit(form.get("humidity", ""), "%"),
    )
    Intake(hall.store, hall.settings.places).take(readings)


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
    """Put the air page and the salt check on the app."""

    @app.get("/air")
    def air_page() -> str:
        return _page(hall, "air.html")

    @app.post("/air")
    def air_typed() -> Answer:
        try:
            if hall.tokens.first(once()):
                _typed(hall, request.form)
        except CurewatchError as error:
            return _page(hall, "air.html", str(error)), 400
        return redirect("/air", 303)

    @app.post("/air/check")
    def air_checked() -> Answer:
        try:
            if hall.tokens.first(once()):
                return _page(hall, "air.html", said=_checked(hall, request.form)), 200
        except CurewatchError as error:
            return _page(hall, "air.html", str(error)), 400
        return redirect("/air", 303)

    @app.post("/air/moved")
    def air_moved() -> Answer:
        try:
            if hall.tokens.first(once()):
                moved_sensor(hall.store, *_named(request.form), hall.clock())
        except CurewatchError as error:
            return _page(hall, "air.html", str(error)), 400
        return redirect("/air", 303)

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
