"""Signing in with the passcode, and what needs no session."""

from __future__ import annotations

import logging
import threading
from dataclasses import dataclass, field
from math import ceil
from urllib.parse import urlencode, urlsplit

from flask import (
    Flask,
    Request,
    Response,
    jsonify,
    make_response,
    redirect,
    render_template,
    request,
)
from werkzeug.sansio.http import parse_cookie
from werkzeug.wrappers import Response as AnyResponse

from curewatch.durations import duration
from curewatch.errors import StoreError
from curewatch.settings.credentials import Credentials, LiveCredentials
from dashboard.access.rate_limit import LoginRateLimit
from dashboard.access.sessions import WHOLE, Sessions

PATH, OUT = "/login", "/login/out"
COOKIE = "curewatch_session"
OPEN_ASSETS = ("curewatch.css", "icon.svg")
_FORM_BYTES, _LONGEST_WAY = 4_000, 500
_LOG = logging.getLogger(__name__)
_SAID = {
    "wrong": "That is not the passcode.",
    "lost": "You are signed out, and what you sent was not recorded. Sign in and send it again.",
    "gone": "There is no passcode any more: make one with curewatch access renew.",
}


@dataclass
class AccessCheck:
    """Who may come in: the secrets as they are now, who is signed in, who tried how often."""

    live: LiveCredentials
    sessions: Sessions
    rate_limit: LoginRateLimit
    one_at_a_time: threading.Lock = field(default_factory=threading.Lock)

    def credentials(self) -> Credentials | None:
        """The secrets as they are now; None where there are none to be read."""
        try:
            return self.live.now()
        except StoreError as error:
            _LOG.warning("%s", error)
            return None

    def mark(self) -> str | None:
        """The mark of the secrets as they are now."""
        credentials = self.credentials()
        return credentials.mark if credentials else None

    def knows(self, token: str) -> bool:
        """Whether this token is one of a device that is signed in now."""
        mark = self.mark() if token else None
        return mark is not None and self.sessions.holds(token, mark)

    def knows_cookie(self, header: str) -> bool:
        """Whether a Cookie header, as it came, is one of a device that is signed in now."""
        return self.knows(parse_cookie(header).get(COOKIE, ""))

    def passcode_is(self, text: str) -> bool:
        """Whether this is the passcode; one check at a time, for each costs memory."""
        with self.one_at_a_time:
            credentials = self.credentials()
            return credentials is not None and credentials.passcode_is(text)

    def user_is(self, user: str, password: str) -> bool:
        """Whether these let a sensor of the home network in; checked in turn with the passcode."""
        with self.one_at_a_time:
            credentials = self.credentials()
            return credentials is not None and credentials.user_is(user, password)


def is_open(incoming: Request) -> bool:
    """Whether a request needs no passcode: the login itself, its style and its icon."""
    if incoming.endpoint == "asset":
        return (incoming.view_args or {}).get("name") in OPEN_ASSETS
    return incoming.endpoint in ("login_page", "login_try")


def way_back(text: str) -> str:
    """A path on this page to go on to after signing in, else the bench."""
    parts = urlsplit(text) if text.startswith("/") else None
    odd = any(letter <= " " or letter in "\\\x7f" for letter in text)
    if parts is None or parts.netloc or odd or len(text) > _LONGEST_WAY or text.startswith("//"):
        return "/"
    return "/" if parts.path.startswith(PATH) else text


def _wait_words(seconds: float) -> str:
    return f"Too many tries. Wait {duration(seconds / 60, 'up')}, then try again."


def _form(code: int, text: str, back: str) -> Response:
    answer = make_response(render_template("login.html", said=text, back=back), code)
    answer.headers["Cache-Control"] = "no-store"
    return answer


def turned_away() -> AnyResponse:
    """What a request without a session gets: the way to the login, or a plain 401."""
    wants_page = "text/html" in request.headers.get("Accept", "")
    if not wants_page or request.headers.get("X-Live"):
        answer = jsonify(said="You are signed out. Open the page again.")
        answer.status_code = 401
        return answer
    if request.method in ("GET", "HEAD"):
        query = request.query_string.decode("ascii", "replace")
        back = way_back(f"{request.path}?{query}" if query else request.path)
        return redirect(PATH if back == "/" else f"{PATH}?{urlencode({'next': back})}", 303)
    return _form(401, _SAID["lost"], "/")


def _welcome(access: AccessCheck, mark: str, back: str) -> AnyResponse:
    access.rate_limit.forget(request.remote_addr or "")
    answer = redirect(back, 303)
    answer.set_cookie(
        COOKIE,
        access.sessions.begin(mark),
        max_age=round(WHOLE.total_seconds()),
        httponly=True,
        secure=request.is_secure,
        samesite="Strict",
        path="/",
    )
    return answer


def _tried(access: AccessCheck, text: str, back: str) -> AnyResponse:
    wait_s = access.rate_limit.wait_s(request.remote_addr or "")
    if wait_s > 0:
        answer = _form(429, _wait_words(wait_s), back)
        answer.headers["Retry-After"] = str(ceil(wait_s))
        return answer
    mark = access.mark()
    if mark is None:
        return _form(503, _SAID["gone"], back)
    if not access.passcode_is(text):
        _LOG.warning("a wrong passcode from %s", request.remote_addr)
        return _form(401, _SAID["wrong"], back)
    return _welcome(access, mark, back)


def register(app: Flask, access: AccessCheck) -> None:
    """Put the login on the app."""

    @app.get(PATH, endpoint="login_page")
    def login_page() -> AnyResponse:
        back = way_back(request.args.get("next", "/"))
        if access.knows(request.cookies.get(COOKIE, "")):
            return redirect(back, 303)
        return _form(200, _SAID["lost"] if "lost" in request.args else "", back)

    @app.post(PATH, endpoint="login_try")
    def login_try() -> AnyResponse:
        request.max_content_length = _FORM_BYTES
        back = way_back(request.form.get("next", "/"))
        return _tried(access, request.form.get("passcode", ""), back)

    @app.post(OUT, endpoint="login_out")
    def login_out() -> AnyResponse:
        access.sessions.end(request.cookies.get(COOKIE, ""))
        answer = redirect(PATH, 303)
        answer.delete_cookie(COOKIE, path="/", httponly=True, samesite="Strict")
        return answer
