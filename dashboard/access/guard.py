"""Who may ask and who may send: host, origin and session; and strict headers on every answer.

A page elsewhere whose name was turned to this machine's address (DNS rebinding) still sends its
own name as Host, so it is turned away; an address typed as such has no name to be turned. The
browser tells a form or script of another page apart by its Origin and by Sec-Fetch-Site.
"""

from __future__ import annotations

import ipaddress
import socket
from collections.abc import Collection
from urllib.parse import urlsplit

from flask import Flask, Request, Response, abort, request
from werkzeug.wrappers import Response as AnyResponse

from dashboard.access import login
from dashboard.access.login import AccessCheck

POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data: blob:; "
    "connect-src 'self'; font-src 'self'; manifest-src 'self'; form-action 'self'; "
    "base-uri 'none'; frame-ancestors 'none'"
)
HEADERS = {
    "Content-Security-Policy": POLICY,
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(), microphone=(), geolocation=()",
    "X-Frame-Options": "DENY",
}
BODY_BYTES, UPLOAD_BYTES = 256_000, 62_000_000
_READING = ("GET", "HEAD", "OPTIONS")


def host_is_ours(host: str, names: Collection[str] = ()) -> bool:
    """Whether a Host header names this machine: an address, localhost, its own name or a given."""
    try:
        name = (urlsplit(f"//{host}").hostname or "").rstrip(".")
    except ValueError:
        return False
    own = socket.gethostname().lower()
    if name in ("localhost", own, f"{own}.local", *names):
        return True
    try:
        ipaddress.ip_address(name)
    except ValueError:
        return False
    return True


def sender_is_ours(incoming: Request) -> bool:
    """Whether a form came from our own pages; a proxy in front may have encrypted them."""
    origin = incoming.headers.get("Origin") or incoming.headers.get("Referer") or ""
    try:
        url = urlsplit(origin)
    except ValueError:
        return False
    schemes = (incoming.scheme, "https")
    return url.scheme in schemes and url.netloc.lower() == incoming.host.lower()


def asked_elsewhere(incoming: Request) -> bool:
    """Whether another site's page fetches a piece of ours, rather than a reader opening it."""
    site = incoming.headers.get("Sec-Fetch-Site", "none")
    return site in ("cross-site", "same-site") and (
        incoming.headers.get("Sec-Fetch-Mode") != "navigate" or incoming.method not in _READING
    )


def _is_text(raw: bytes) -> bool:
    try:
        raw.decode()
    except UnicodeDecodeError:
        return False
    return True


def _headers(response: Response) -> Response:
    for name, value in HEADERS.items():
        response.headers.setdefault(name, value)
    response.headers.setdefault("Cache-Control", "no-store")
    return response


def watch(app: Flask, names: Collection[str] = (), access: AccessCheck | None = None) -> None:
    """Put the checks before every request and the headers after it.

    Where access is checked, every request but those of the login needs a session, also from this
    machine.
    A view that takes more than BODY_BYTES sets `request.max_content_length` itself.
    """
    app.config["MAX_CONTENT_LENGTH"] = BODY_BYTES

    @app.before_request
    def check() -> AnyResponse | None:
        if not _is_text(request.query_string):
            return Response("The page did not understand that.", 400, mimetype="text/plain")
        if not host_is_ours(request.host, names):
            abort(400)
        if asked_elsewhere(request):
            abort(403)
        if request.method not in _READING and not sender_is_ours(request):
            abort(403)
        signed_in = access is None or access.knows(request.cookies.get(login.COOKIE, ""))
        return None if signed_in or login.is_open(request) else login.turned_away()

    app.after_request(_headers)
