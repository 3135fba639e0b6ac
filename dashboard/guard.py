"""Who may ask and who may send: host and origin checks, and strict headers on every answer."""

from __future__ import annotations

import ipaddress
import socket
from urllib.parse import urlsplit

from flask import Flask, Request, Response, abort, request

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


def host_is_ours(host: str) -> bool:
    """Whether a Host header names this machine: an address, localhost or its own name."""
    name = (urlsplit(f"//{host}").hostname or "").lower()
    own = socket.gethostname().lower()
    if name in ("localhost", own, f"{own}.local"):
        return True
    try:
        ipaddress.ip_address(name)
    except ValueError:
        return False
    return True


def sender_is_ours(asked: Request) -> bool:
    """Whether a form came from our own pages."""
    origin = asked.headers.get("Origin") or asked.headers.get("Referer") or ""
    return bool(origin) and urlsplit(origin).netloc.lower() == asked.host.lower()


def _check() -> None:
    if not host_is_ours(request.host):
        abort(400)
    if request.method not in ("GET", "HEAD", "OPTIONS") and not sender_is_ours(request):
        abort(403)


def _headers(response: Response) -> Response:
    for name, value in HEADERS.items():
        response.headers.setdefault(name, value)
    response.headers.setdefault("Cache-Control", "no-store")
    return response


def watch(app: Flask) -> None:
    """Put the checks before every request and the headers after it."""
    app.before_request(_check)
    app.after_request(_headers)
