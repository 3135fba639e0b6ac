"""One step: why its times are what they are, its conditions, its witnesses, its end."""

from __future__ import annotations

from flask import Flask, render_template, request
from werkzeug.wrappers import Response as AnyResponse

from curewatch import logbook, protection
from dashboard.band import minutes_to, ms
from dashboard.bench import ago_of, answered
from dashboard.hall import Hall
from dashboard.mix import details


def _page(hall: Hall, number: int, error: str = "", filled: object = None) -> str:
    now = hall.clock()
    found = logbook.entry(hall.bench, hall.bench.step(number), now)
    sources = {each.key: each.source for each in protection.cautions(found.step.sheet)}
    return render_template(
        "step.html",
        entry=found,
        step=found.view,
        told=found.step,
        sources=sources,
        error=error,
        filled=filled or {},
        minutes_to=minutes_to,
        ms=ms,
        asked=hall.bench.desk.asked(found.view),
    )


def register(app: Flask, hall: Hall) -> None:
    """Put the step page on the app."""

    @app.get("/step/<int:number>")
    def step(number: int) -> str:
        return _page(hall, number)

    @app.post("/step/<int:number>/amend")
    def amend(number: int) -> AnyResponse | tuple[str, int]:
        now, ago = hall.clock(), request.form.get("ago", "").strip()
        try:
            at = now - ago_of(ago) if ago else None
            hall.bench.amend(number, details(), now=now, mixed_at=at)
        except (ValueError, LookupError) as error:
            return _page(hall, number, str(error), request.form), 400
        return answered("Added.", f"/step/{number}")

    @app.post("/step/<int:number>/note")
    def note(number: int) -> AnyResponse:
        hall.bench.note(number, request.form.get("text", ""), now=hall.clock())
        return answered("Noted.", f"/step/{number}")

    @app.post("/step/<int:number>/forget")
    def forget(number: int) -> AnyResponse:
        event = int(request.form.get("event", "0") or 0)
        hall.bench.forget(number, event, now=hall.clock())
        return answered("Taken back.", f"/step/{number}")

    @app.post("/step/<int:number>/abandon")
    def abandon(number: int) -> AnyResponse:
        hall.bench.abandon(number, request.form.get("why", ""), now=hall.clock())
        return answered("Off the bench; the reason is in the log.", "/")
