"""What this device prefers: theme, layout, time axis, who enters; kept in its cookies."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from flask import Flask, redirect, request
from werkzeug.wrappers import Request
from werkzeug.wrappers import Response as AnyResponse

from curewatch.events.events import named, telling
from dashboard.context.page_context import PageContext
from dashboard.endpoints.alarms import LOOKS
from dashboard.request.device import LAYOUTS, THEMES

if TYPE_CHECKING:
    from _typeshed.wsgi import StartResponse, WSGIEnvironment

NAME = "name"
ALLOWED = {
    "theme": ("", *THEMES),
    "layout": ("", *LAYOUTS),
    "span": ("", "60", "360", "1440", "4320"),
    "looks": LOOKS,
}
_YEAR_S = 365 * 24 * 3600


def _sign(app: Flask) -> None:
    """What a device with a name enters of a step is entered in that name."""
    inner = app.wsgi_app

    def named_wsgi(environ: WSGIEnvironment, begin: StartResponse) -> Iterable[bytes]:
        with telling(Request(environ).cookies.get(NAME, "")):
            return inner(environ, begin)

    app.wsgi_app = named_wsgi  # type: ignore[method-assign, assignment]


def register(app: Flask, _context: PageContext) -> None:
    """Put the device's choices on the app."""
    _sign(app)

    @app.post("/choices")
    def choose() -> AnyResponse:
        answer = redirect("/choices", 303)
        for name, allowed in ALLOWED.items():
            value = request.form.get(name)
            if value is not None and value in allowed:
                answer.set_cookie(name, value, max_age=_YEAR_S, samesite="Strict")
        if NAME in request.form:
            name = named(request.form[NAME])
            answer.set_cookie(NAME, name, max_age=_YEAR_S, samesite="Strict")
        return answer
