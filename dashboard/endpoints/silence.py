"""One touch silences every screen; what comes next will sound."""

from __future__ import annotations

from flask import Flask
from werkzeug.wrappers import Response as AnyResponse

from curewatch.exchange import buttons
from dashboard.context.page_context import Hall
from dashboard.endpoints.undo import answered


def register(app: Flask, hall: Hall) -> None:
    """Put the silence on the app."""

    @app.post("/silence")
    def silence() -> AnyResponse:
        buttons.silence(hall.bench, hall.presses, hall.clock())
        return answered("Silence until the next event.")
