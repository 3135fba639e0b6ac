"""How what Dash brings is sent: under our policy, compressed, and kept by the browser."""

from __future__ import annotations

import gzip
from collections.abc import Callable, Collection
from functools import cache, lru_cache
from importlib import resources
from typing import Any

import plotly
from dash.exceptions import PreventUpdate
from flask import Flask, Response, abort, request
from werkzeug.exceptions import HTTPException

from dashboard.access import guard

PREFIX = "/dash/"
PLOTLY = f"/dash/plotly-{plotly.__version__}.js"
_LASTING = "public, max-age=31536000, immutable"
_WORTH_BYTES = 1000
_SUITES = "_dash-component-suites/<string:package_name>/<path:fingerprinted_path>"
_ASKED = ("_dash-update-component", _SUITES)
# The style elements that Dash and plotly put into a page: they belong to these versions.
_STYLES = (
    "47DEQpj8HBSa+/TImW+5JCeuQeRkm5NMpJWZG3hSuFU=",
    "+QoPrsxO0auPnxSulD3bAr9CoDGgzv7YRfYE0vfxeQI=",
    "0IJGrxhCP5NUIafylLkj5118xkZH1kp5FmNio7NOckI=",
    "Aq43X0SlmB69maWGob4rp/UuSHhwePalkRRExtsxOJ8=",
    "Do5Z9ZqsPvCQTUBQS9BnDm/2+on7omuzuLYk5sbA+2s=",
    "ITR5T9OwskhdqdsliUJRmgp9ltOFAHgXe1F7eRvGnmQ=",
    "MJs2ke1SA6Cy3tTCZu2QH0rj0r//iNqU0idy9bM4leg=",
    "SkhFDxgIcEjMhRh19uSHWrkdnAlZ9rlskgr9yLsipa8=",
    "VUA+tqvhK3niMn7AdszqidMFPRh9FLqxB2iINUrsiTw=",
    "X2TqJwnIiE/ceDVeAdr7v7BOWBU6CEzE6qxlNzBzvBk=",
    "Z8VokGxeiKThZOEmkdUgfW+jxbvItBwAXC8M1c4wqAM=",
    "ji27qzEtxXZW+7dun6UwjHXJ18e6WAin1VvNtkzIE/o=",
    "uDiOZWps1U7E8/0BTaQrclYMhVhRVE4dT0vb5X6nXOw=",
)


def policy() -> str:
    """The guard's policy with the styles of Dash and plotly, each by its hash."""
    hashes = " ".join(f"'sha256-{name}'" for name in _STYLES)
    return guard.POLICY.replace("style-src 'self'", f"style-src 'self' {hashes}")


def answer_only_what_is_understood(server: Flask) -> None:
    """A callback's request that Dash cannot read is a bad request, not a fault inside."""
    for name in _ASKED:
        dispatch = server.view_functions[PREFIX + name]

        def understood(dispatch: Callable[..., Any] = dispatch, **path: str) -> Any:
            try:
                return dispatch(**path)
            except (HTTPException, PreventUpdate):
                raise
            except Exception:
                abort(400)

        server.view_functions[PREFIX + name] = understood


def take_no_other_address(server: Flask) -> None:
    """Dash's own address for any path is none of ours."""

    @server.before_request
    def none_but_ours() -> None:
        if request.endpoint in (PREFIX, f"{PREFIX}<path:path>"):
            abort(404)


@lru_cache(maxsize=64)
def _kept(data: bytes) -> bytes:
    return gzip.compress(data, 9)


def squeeze(server: Flask, endpoints: Collection[str]) -> None:
    """Send what is Dash's compressed, and its scripts so that a browser asks again but seldom."""

    @server.after_request
    def squeezed(answer: Response) -> Response:
        script = request.path.startswith(f"{PREFIX}_dash-component-suites/")
        if not script and not request.path.startswith(PREFIX) and request.endpoint not in endpoints:
            return answer
        if script:
            answer.headers.setdefault("Cache-Control", "no-cache")
        taken = "gzip" in request.headers.get("Accept-Encoding", "")
        data = b"" if not taken or "Content-Encoding" in answer.headers else answer.get_data()
        if len(data) >= _WORTH_BYTES:
            answer.set_data(_kept(data) if script else gzip.compress(data, 5))
            answer.headers["Content-Encoding"] = "gzip"
            answer.headers["Vary"] = "Accept-Encoding"
        return answer


@cache
def _bundle() -> bytes:
    path = resources.files("plotly") / "package_data" / "plotly.min.js"
    return gzip.compress(path.read_bytes(), 9)


def serve_plotly(server: Flask) -> None:
    """Put plotly's script on the server, at an address that lasts."""

    @server.get(PLOTLY)
    def bundle() -> Response:
        answer = Response(_bundle(), mimetype="text/javascript")
        answer.headers["Content-Encoding"] = "gzip"
        answer.headers["Cache-Control"] = _LASTING
        return answer
