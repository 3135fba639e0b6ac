"""Mixed now, with one touch; what it was and why against a stop can be said afterwards."""

from __future__ import annotations

from datetime import datetime

from flask import Flask, Response, after_this_request, request
from werkzeug.wrappers import Response as AnyResponse

from curewatch.bench import alarms
from curewatch.bench.bench import Details
from curewatch.bench.marks import record_alarm
from curewatch.garage import unnamed_mix
from curewatch.garage.shelf import shelf
from curewatch.gate import starting
from dashboard.alarms import spoken
from dashboard.forms import details, once
from dashboard.hall import Hall
from dashboard.numbers import number_of
from dashboard.recent import again
from dashboard.undo import answered

OPENED = "mixing"
OPEN_S = 30 * 60


def opened(hall: Hall) -> str | None:
    """The product whose mix page this device opened last, while that is fresh."""
    id = request.cookies.get(OPENED, "")
    return id if id in shelf(hall.store) else None


def begin(hall: Hall, sheet: str, told: Details, at: datetime, now: datetime) -> int:
    """Start a step that nothing may hold back: its clock runs already."""
    return starting.start(
        hall.bench, sheet, told,
        now=now, say=hall.manner(request), zone=hall.zone, at=at, in_cup=True, why_later=True,
    )  # fmt: skip


def name_touch(hall: Hall, sheet: str, number: int | None, told: Details, now: datetime) -> None:
    """Start a product: at the instant of that touch where there is one, else now."""
    held = None if number is None else unnamed_mix.find(hall.store, number, now)
    step = begin(hall, sheet, told, held.at if held else now, now)
    if held:
        unnamed_mix.name(hall.store, held, step, now)


def _named(hall: Hall, sheet: str, now: datetime) -> None:
    """Start what was touched as the form says."""
    told = again(hall.bench, sheet) if request.form.get("again") else details(hall, now)
    name_touch(hall, sheet, number_of(request.form.get("touch")), told, now)


def _mixed(hall: Hall) -> str:
    now = hall.clock()
    sheet = request.form.get("sheet", "")
    if not sheet and not request.form.get("touch"):
        likely = opened(hall)
        if likely is None:
            unnamed_mix.touch(hall.store, now)
            return f"Mixed at {hall.manner(request).clock(now)}. What was it?"
        sheet = likely
        begin(hall, sheet, again(hall.bench, sheet), now, now)
    else:
        _named(hall, sheet, now)
    return ""


def remember(id: str) -> None:
    """The device keeps for half an hour which product's mix page it opened."""

    @after_this_request
    def kept(answer: Response) -> Response:
        answer.set_cookie(OPENED, id, max_age=OPEN_S, samesite="Strict", httponly=True)
        return answer


def forget() -> None:
    """The mix that the device opened a page for is started."""

    @after_this_request
    def forgotten(answer: Response) -> Response:
        answer.delete_cookie(OPENED)
        return answer


def _afterwards(app: Flask, hall: Hall) -> None:
    @app.post("/step/<int:number>/why")
    def why(number: int) -> AnyResponse:
        starting.explain(hall.bench, number, request.form.get("why", ""), now=hall.clock())
        return answered("Kept in the log.")

    @app.post("/step/<int:number>/applied")
    def applied(number: int) -> AnyResponse:
        starting.answer_applied(
            hall.bench, number, request.form.get("applied", ""), now=hall.clock()
        )
        return answered("Saved in the log.")

    @app.post("/step/<int:number>/emptied")
    def emptied(number: int) -> AnyResponse:
        if request.form.get("still") == "in use":
            hall.bench.in_use(number, now=hall.clock())
            return answered("Asked again in a quarter of an hour.")
        hall.bench.emptied(number, now=hall.clock())
        return answered("", "/")

    @app.post("/step/<int:number>/sounded")
    def sounded(number: int) -> AnyResponse:
        now, key = hall.clock(), request.form.get("key", "")
        view = hall.bench.view(now)
        for each in alarms.alarms(view):
            if (each.key, each.step) == (key, number) and each.at <= now:
                said = spoken(each, view, hall.manner(request))
                record_alarm(hall.bench, number, key, each.kind, said, now=now)
        return answered("")


def register(app: Flask, hall: Hall) -> None:
    """Put the one touch, its names and what is entered afterwards on the app."""

    @app.post("/mixed")
    def mixed_now() -> AnyResponse:
        forget()
        return answered(_mixed(hall) if hall.tokens.first(once()) else "Mixed.")

    _afterwards(app, hall)
