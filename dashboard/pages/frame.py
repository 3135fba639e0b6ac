"""The Dash app on the present server: behind its guard, under its policy, inside its own page.

What stands around a page (rail, toast, sound, what is said when the server is silent) is that of
the other pages, so that nothing of it is made twice; Dash draws what stands inside `main`. Nothing
is registered anywhere but on this app, and only the addresses of its pages are taken.
"""

from __future__ import annotations

import gzip
import re
from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass
from functools import cache, lru_cache, partial
from importlib import resources
from typing import Any

import dash
import plotly
from dash import ClientsideFunction, Input, Output, State, dcc, html
from dash.exceptions import PreventUpdate
from flask import Flask, Response, abort, make_response, render_template, request
from markupsafe import Markup
from werkzeug.exceptions import HTTPException

from curewatch.errors import CurewatchError
from dashboard import guard
from dashboard.hall import Hall
from dashboard.pages.first_page import to_html

PREFIX = "/dash/"
_PLOTLY = f"/dash/plotly-{plotly.__version__}.js"
_LASTING = "public, max-age=31536000, immutable"
_UNUSED = re.compile(r"<script[^>]*dash_table[^>]*></script>")
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


@dataclass(frozen=True)
class DashPage:
    """A page of Dash's: its title; its components at an address' query, the second argument
    telling whether the server draws them first; its callbacks."""

    title: str
    content: Callable[[Hall, str, bool], list[Any]]
    callbacks: Callable[[dash.Dash, Hall], None]


def policy() -> str:
    """The guard's policy with the styles of Dash and plotly, each by its hash."""
    hashes = " ".join(f"'sha256-{each}'" for each in _STYLES)
    return guard.POLICY.replace("style-src 'self'", f"style-src 'self' {hashes}")


class DashApp(dash.Dash):
    """The Dash app; its page is the present one's frame with a first drawing by the server."""

    hall: Hall
    pages: Mapping[str, DashPage]

    def interpolate_index(self, **parts: Any) -> str:  # type: ignore[override]
        """The whole page as it is first sent."""
        page = self.pages[request.path]
        return render_template(
            "dash.html",
            title=page.title,
            first=to_html(
                page.content(self.hall, request.query_string.decode(errors="replace"), True)
            ),
            config=re.sub(r"</?script[^>]*>", "", parts["config"]),
            scripts=Markup(_UNUSED.sub("", parts["scripts"])),
            plotly=_PLOTLY,
        )


def _shell() -> html.Div:
    return html.Div(
        [
            dcc.Location(id="url", refresh="callback-nav"),
            dcc.Store(id="again", data=0),
            dcc.Store(id="did"),
            dcc.Store(id="heard"),
            html.Div(id="page"),
        ]
    )


def _answer_only_what_is_understood(server: Flask) -> None:
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


def _take_no_other_address(server: Flask) -> None:
    @server.before_request
    def none_but_ours() -> None:
        if request.endpoint in (PREFIX, f"{PREFIX}<path:path>"):
            abort(404)


@lru_cache(maxsize=64)
def _kept(data: bytes) -> bytes:
    return gzip.compress(data, 9)


def _squeeze(server: Flask, endpoints: Collection[str]) -> None:
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


def _serve_plotly(server: Flask) -> None:
    @server.get(_PLOTLY)
    def bundle() -> Response:
        answer = Response(_bundle(), mimetype="text/javascript")
        answer.headers["Content-Encoding"] = "gzip"
        answer.headers["Cache-Control"] = _LASTING
        return answer


def _said_where_it_failed(server: Flask, error: Exception) -> None:
    """A callback that failed says so where a touch is answered; what went wrong inside is noted."""
    ours = isinstance(error, CurewatchError)
    if not ours:
        server.logger.error("a page failed: %s", error, exc_info=error)
    said = str(error) if ours else "Something went wrong inside; what was stored before is kept."
    dash.set_props("did", {"data": {"said": said}})


def _route(app: DashApp, hall: Hall) -> None:
    @app.callback(Output("page", "children"), Input("url", "pathname"), State("url", "search"))
    def arrived(path: str | None, search: str | None) -> list[Any]:
        page = app.pages.get(path or "")
        if page is None:
            raise PreventUpdate
        return page.content(hall, search or "", False)


def _said(app: DashApp) -> None:
    """The toast speaks what a touch did; the script is in the assets, as the policy wants."""
    app.clientside_callback(  # type: ignore[no-untyped-call]
        ClientsideFunction("curewatch", "did"), Output("heard", "data"), Input("did", "data")
    )


def install(server: Flask, hall: Hall, pages: Mapping[str, DashPage]) -> DashApp:
    """Put the Dash pages on the server, each at its address."""
    app = DashApp(
        __name__,
        server=server,  # type: ignore[arg-type]
        routes_pathname_prefix=PREFIX,
        requests_pathname_prefix=PREFIX,
        include_assets_files=False,
        suppress_callback_exceptions=True,
        compress=False,
        update_title="",
        title="curewatch",
        add_log_handler=False,
        enable_mcp=False,
        on_error=partial(_said_where_it_failed, server),
    )
    app.hall, app.pages, app.layout = hall, pages, _shell
    _route(app, hall)
    _said(app)
    endpoints = {path: f"dash:{path}" for path in pages}
    for path, page in pages.items():
        page.callbacks(app, hall)
        server.add_url_rule(path, endpoints[path], _whole(app))
    _answer_only_what_is_understood(server)
    _take_no_other_address(server)
    _serve_plotly(server)
    _squeeze(server, set(endpoints.values()))
    return app


def _whole(app: DashApp) -> Callable[[], Response]:
    """The view of a page: Dash's, under our policy."""

    def view() -> Response:
        answer = make_response(app.index())  # type: ignore[no-untyped-call]
        answer.headers["Content-Security-Policy"] = policy()
        return answer

    return view
