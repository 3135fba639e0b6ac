"""The fan of one step, switched by touch on the bench."""

from __future__ import annotations

from flask import Flask, request
from werkzeug.wrappers import Response as AnyResponse

from curewatch.protection.purge import FAN
from dashboard.hall import Hall
from dashboard.undo import answered


def register(app: Flask, hall: Hall) -> None:
    """Put the fan's touch on the app."""

    @app.post("/step/<int:number>/fan")
    def fan(number: int) -> AnyResponse:
        on = request.form.get("on") == "1"
        hall.bench.fan(number, on, now=hall.clock())
        return answered(f"Fan on, {FAN}: the least airing time is counted." if on else "Fan off.")
