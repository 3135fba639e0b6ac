"""One touch says that this computer's clock is right, although it went back."""

from __future__ import annotations

from flask import Flask, request
from werkzeug.wrappers import Response as AnyResponse

from curewatch.quality import clock
from curewatch.wording import clock_words
from dashboard.context.page_context import Hall
from dashboard.endpoints.undo import answered


def register(app: Flask, hall: Hall) -> None:
    """Put the confirmation on the app."""

    @app.post("/clock")
    def confirm() -> AnyResponse:
        hall.clock()
        setback = hall.went_back()
        if setback is None or not hall.tokens.first(request.form.get("once", "")):
            return answered("Saved.")
        aside = clock.confirm(hall.store, setback)
        return answered(clock_words.confirmed(hall.clock(), aside, hall.manner(request)))
