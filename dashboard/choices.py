"""What this device prefers: theme, layout, decimal mark, sound; kept in its cookies."""

from __future__ import annotations

from flask import Flask, redirect, render_template, request
from werkzeug.wrappers import Response as AnyResponse

from dashboard.hall import LAYOUTS, THEMES, Hall

ALLOWED = {
    "theme": ("", *THEMES),
    "layout": ("", *LAYOUTS),
    "decimal": ("point", "comma"),
    "span": ("", "60", "360", "1440", "4320"),
}
_YEAR_S = 365 * 24 * 3600


def register(app: Flask, hall: Hall) -> None:
    """Put the choices page on the app."""

    @app.get("/choices")
    def choices_page() -> str:
        kept = {name: request.cookies.get(name, "") for name in ALLOWED}
        return render_template(
            "choices.html", kept=kept, settings=hall.settings, zone=hall.zone.key
        )

    @app.post("/choices")
    def choose() -> AnyResponse:
        answer = redirect("/choices", 303)
        for name, allowed in ALLOWED.items():
            value = request.form.get(name)
            if value is not None and value in allowed:
                answer.set_cookie(name, value, max_age=_YEAR_S, samesite="Strict")
        return answer
