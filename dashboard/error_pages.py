"""What is shown where a request cannot be answered: one sentence, in words for the reader."""

from __future__ import annotations

from flask import Flask, render_template, request
from werkzeug.exceptions import HTTPException

from curewatch.errors import CurewatchError
from dashboard.context.turns import AGAIN_S, Busy
from dashboard.pages.components import first_up

_SAID = {
    400: "The page did not understand that.",
    403: "That form did not come from this page; open it again and send it from here.",
    404: "There is no such page here.",
    405: "That cannot be done here.",
    413: "That is too much to send at once.",
}


def register(app: Flask) -> None:
    """Put the plain pages of errors on the app."""

    def page(code: int, sentence: str) -> tuple[str, int]:
        return render_template("error.html", code=code, sentence=sentence), code

    @app.errorhandler(CurewatchError)
    def ours(error: CurewatchError) -> tuple[str, int]:
        if isinstance(error, LookupError) and request.method == "GET":
            return page(404, f"{first_up(error.what)}.")  # its remedy is a command's
        return page(404 if isinstance(error, LookupError) else 400, str(error))

    @app.errorhandler(Busy)
    def busy(error: Busy) -> tuple[str, int, dict[str, str]]:
        return *page(503, error.text), {"Retry-After": str(AGAIN_S)}

    @app.errorhandler(HTTPException)
    def refused(error: HTTPException) -> tuple[str, int]:
        code = error.code or 500
        return page(code, _SAID.get(code, "That did not work."))

    @app.errorhandler(Exception)
    def unknown(error: Exception) -> tuple[str, int]:
        app.logger.error("a page failed: %s", error, exc_info=error)
        return page(500, "Something went wrong inside; what was stored before is kept.")
