"""One touch silences every screen; what comes next will sound."""

from __future__ import annotations

from flask import Flask
from werkzeug.wrappers import Response as AnyResponse

from curewatch.exchange import buttons
from dashboard.context.page_context import PageContext
from dashboard.endpoints.undo import answered


def register(app: Flask, context: PageContext) -> None:
    """Put the silence on the app."""

    @app.post("/silence")
    def silence() -> AnyResponse:
        now = context.clock()
        planned = context.reminders.alarms(now, context.zone)
        buttons.silence(context.bench, context.presses, planned, now)
        return answered("Silence until the next event.")
