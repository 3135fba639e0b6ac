"""One touch says that this computer's clock is right, although it went back."""

from __future__ import annotations

from flask import Flask, request
from werkzeug.wrappers import Response as AnyResponse

from curewatch.quality import clock
from curewatch.wording import clock_words
from dashboard.context.page_context import PageContext
from dashboard.endpoints.undo import answered


def register(app: Flask, context: PageContext) -> None:
    """Put the confirmation on the app."""

    @app.post("/clock")
    def confirm() -> AnyResponse:
        context.clock()
        setback = context.went_back()
        if setback is None or not context.tokens.first(request.form.get("once", "")):
            return answered("Saved.")
        aside = clock.confirm(context.store, setback)
        return answered(clock_words.confirmed(context.clock(), aside, context.manner(request)))
