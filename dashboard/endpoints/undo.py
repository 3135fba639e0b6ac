"""What a touch did, said on the page after it with one touch to undo it; what was entered last."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING
from urllib.parse import urlsplit

from flask import Flask, Response, current_app, jsonify, redirect, request
from werkzeug.wrappers import Response as AnyResponse

from curewatch.errors import StepError
from curewatch.events.events import acting, going_on
from curewatch.frozen import frozen
from curewatch.garage.shelf import shelf
from curewatch.logbook import undo as undoing
from curewatch.logbook.undo import PastAct
from curewatch.wording.act_words import act_words
from dashboard.context.page_context import PageContext
from dashboard.request.forms import once
from dashboard.request.numbers import number_of

if TYPE_CHECKING:
    from _typeshed.wsgi import StartResponse, WSGIEnvironment

COOKIE = "did"
SHOWN_S = 30
LISTED = 40


@frozen
class Did:
    """An act in words; label: what the button beside it says."""

    act: int
    words: str
    undone: bool
    label: str


def did_of(context: PageContext, act: PastAct) -> Did:
    """An act in words, and what its button says."""
    words = act_words(context.store, act, context.field_formatter(request))
    return Did(act.number, words, act.undone, "Bring it back" if act.is_undo else "Undo")


def standing(context: PageContext, number: int | None) -> Did | None:
    """The act of that number in words, where a person did it and it stands."""
    if number is None:
        return None
    try:
        act = undoing.past_act(context.store, number)
    except StepError:
        return None
    return None if act.undone else did_of(context, act)


def lately(context: PageContext) -> Did | None:
    """What this device did last, for as long as that is offered to be undone."""
    kept = request.cookies.get(COOKIE, "")
    number = number_of(kept)
    return None if number is None else standing(context, number)


def answered(text: str = "", home: str = "/") -> AnyResponse:
    """What a recorded touch gets back: a word for the script, with what can be undone; a page for
    plain forms. Without a sentence of its own it says what was done."""
    if request.headers.get("X-Live") != "1":
        return redirect(home, 303)
    did = standing(current_app.extensions["curewatch"], going_on().number)
    if did is None:
        return jsonify(said=text)
    return jsonify(said=text or did.words, act=did.act, label=did.label)


def _own_path(context: PageContext, text: str) -> str:
    """Where to go after undoing: a page of ours that is still there."""
    try:
        parts = urlsplit(text)
    except ValueError:
        return "/"
    if parts.scheme or parts.netloc or not text.startswith("/") or "\\" in text:
        return "/"
    id = parts.path.removeprefix("/shelf/")
    gone = id != parts.path and id.partition("/")[0] not in shelf(context.store)
    return "/shelf" if gone else parts.path


def _offer(app: Flask) -> None:
    """What one request records is one act; the next page says what it was."""
    inner = app.wsgi_app

    def one_act(environ: WSGIEnvironment, begin: StartResponse) -> Iterable[bytes]:
        with acting():
            return inner(environ, begin)

    app.wsgi_app = one_act  # type: ignore[method-assign, assignment]

    @app.after_request
    def offer(response: Response) -> Response:
        number, live = going_on().number, request.headers.get("X-Live") == "1"
        if number is not None and response.status_code < 400 and not live:
            response.set_cookie(COOKIE, str(number), SHOWN_S, samesite="Strict", httponly=True)
        return response


def register(app: Flask, context: PageContext) -> None:
    """Put undoing on the app."""
    app.extensions["curewatch"] = context
    _offer(app)

    @app.post("/undo")
    def undo() -> AnyResponse:
        act = undoing.past_act(context.store, number_of(request.form.get("act", "")) or 0)
        if context.tokens.first(once()):
            undoing.undo(context.bench, act, now=context.clock())
        return answered("", _own_path(context, request.form.get("back", "/")))
