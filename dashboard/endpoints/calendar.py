"""A calendar file of what is coming, to import."""

from __future__ import annotations

from flask import Flask, Response, request

from curewatch.wording import words
from dashboard.context.page_context import PageContext


def register(app: Flask, context: PageContext) -> None:
    """Put the calendar on the app."""

    @app.get("/bench.ics")
    def bench_ics() -> Response:
        from curewatch.week.calendar import bench_calendar

        now, say = context.clock(), context.manner(request)
        reminders = context.reminders.now(now, context.zone)
        file = bench_calendar(context.bench, reminders, now, say, words.calendar(say))
        answer = Response(file, content_type="text/calendar; charset=utf-8")
        answer.headers["Content-Disposition"] = 'attachment; filename="curewatch.ics"'
        return answer
