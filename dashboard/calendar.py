"""A calendar file of what is coming, to import."""

from __future__ import annotations

from flask import Flask, Response, request

from curewatch.exchange.ics import LATELY, calendar
from curewatch.wording import words
from dashboard.hall import Hall


def register(app: Flask, hall: Hall) -> None:
    """Put the calendar on the app."""

    @app.get("/bench.ics")
    def bench_ics() -> Response:
        from curewatch.week.calendar import reminder_events
        from curewatch.week.taken import lately_reminded

        now = hall.clock()
        gone = hall.bench.closed_since(now - LATELY)
        say = hall.manner(request)
        shown = lately_reminded(hall.store, now - LATELY)
        planned = reminder_events(hall.reminders.now(now, hall.zone), shown, now, say)
        raw = calendar(hall.bench.view(now), gone, words.calendar(say), planned)
        answer = Response(raw, content_type="text/calendar; charset=utf-8")
        answer.headers["Content-Disposition"] = 'attachment; filename="curewatch.exchange.ics"'
        return answer
