"""The Dash app on the present server: behind its guard, under its policy, inside its own page.

What stands around a page (rail, toast, sound, what is said when the server is silent) is that of
the other pages, so that nothing of it is made twice; Dash draws what stands inside `main`. From one
Dash page to another the document stays, and with it sound, full screen and the lock that keeps the
screen awake. Nothing is registered anywhere but on this app, and only the addresses of its pages
are taken.
"""

from __future__ import annotations

import json
import re
import uuid
from collections.abc import Callable, Iterable, Mapping
from functools import partial
from typing import Any

import dash
from dash import ClientsideFunction, Input, Output, State, dcc, html
from dash.exceptions import PreventUpdate
from flask import Flask, Response, make_response, render_template, request
from markupsafe import Markup

from curewatch.errors import CurewatchError
from dashboard.context.page_context import PageContext
from dashboard.pages import touches
from dashboard.pages.delivery import (
    PLOTLY,
    PREFIX,
    answer_only_what_is_understood,
    policy,
    serve_plotly,
    squeeze,
    take_no_other_address,
)
from dashboard.pages.first_page import to_html
from dashboard.pages.routes import Address, DashPage, Routes
from dashboard.pages.touches import Act

_LEAST_MS = 2000
_UNUSED = re.compile(r"<script[^>]*/(?:dash_table|polyfill@)[^>]*></script>")


class DashApp(dash.Dash):
    """The Dash app; its page is the present one's frame with a first drawing by the server."""

    context: PageContext
    routes: Routes

    def interpolate_index(self, **parts: Any) -> str:  # type: ignore[override]
        """The whole page as it is first sent."""
        query = request.query_string.decode(errors="replace")
        page, address = self.routes.at(request.path, query) or _no_page()
        return render_template(
            "dash.html",
            title=page.titled(self.context, address),
            kind=page.kind,
            under=page.under,
            first=to_html(page.content(self.context, address, True)),
            config=re.sub(r"</?script[^>]*>", "", parts["config"]),
            scripts=Markup(_UNUSED.sub("", parts["scripts"])),
            plotly=PLOTLY,
            ours=json.dumps(self.routes.expressions()),
        )

    def drawn(self, path: str, query: str, shown: Mapping[str, Any]) -> tuple[list[Any], Any]:
        """The page at an address, and what the frame must know of it; shown: of the one before."""
        page, address = self.routes.at(path, query) or _no_page()
        if page.keeps and shown.get("path") == path:
            raise PreventUpdate
        return page.content(self.context, address, False), _of_page(self.context, page, address)


def _no_page() -> tuple[DashPage, Address]:
    raise PreventUpdate


def _of_page(context: PageContext, page: DashPage, address: Address) -> dict[str, Any]:
    """What the script must know of the page that is shown."""
    return {
        "path": address.path,
        "title": page.titled(context, address),
        "kind": page.kind,
        "under": page.under,
        "keeps": page.keeps,
        "renews_ms": round(page.renews_s * 1000),
        "clock_ms": round(max(page.clock_s * 1000 / max(context.speed, 1.0), _LEAST_MS))
        if page.clock_s
        else 0,
    }


def _shell() -> html.Div:
    return html.Div(
        [
            dcc.Location(id="url", refresh="callback-nav"),
            *(dcc.Store(id=name) for name in ("shown", "did", "heard")),
            *(dcc.Store(id=name, data=0) for name in ("again", "redraw")),
            dcc.Store(id="once", data=uuid.uuid4().hex),
            html.Div(id="page"),
            html.Div(id="asked", className="asked", role="alert"),
        ]
    )


def _said_where_it_failed(server: Flask, error: Exception) -> None:
    """A callback that failed says so where a touch is answered; what went wrong inside is noted."""
    ours = isinstance(error, CurewatchError)
    if not ours:
        server.logger.error("a page failed: %s", error, exc_info=error)
    text = str(error) if ours else "Something went wrong inside; what was stored before is kept."
    dash.set_props("did", {"data": {"said": text}})


def _route(app: DashApp) -> None:
    @app.callback(
        Output("page", "children"),
        Output("shown", "data"),
        Input("url", "pathname"),
        Input("url", "search"),
        Input("redraw", "data"),
        State("shown", "data"),
    )
    def arrived(path: str | None, search: str | None, _redraw: int, shown: Any) -> Any:
        return app.drawn(path or "", search or "", shown or {})


def _scripted(app: DashApp) -> None:
    """What scripts do after a page came and after a touch; they are in the assets, as the policy
    wants."""
    for name in ("did", "shown"):
        app.clientside_callback(  # type: ignore[no-untyped-call]
            ClientsideFunction("curewatch", name),
            Output("heard", "data", allow_duplicate=True),
            Input(name, "data"),
            prevent_initial_call=True,
        )


def _acts(pages: Iterable[DashPage]) -> dict[str, Act]:
    """The acts of all pages; a name is one act's."""
    acts: dict[str, Act] = {}
    for page in pages:
        if twice := acts.keys() & page.acts.keys():
            raise ValueError(f"two pages name an act {sorted(twice)}")
        acts |= page.acts
    return acts


def install(server: Flask, context: PageContext, pages: Mapping[str, DashPage]) -> DashApp:
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
    app.context, app.routes, app.layout = context, Routes(pages), _shell
    _route(app)
    _scripted(app)
    touches.install(app, context, _acts(pages.values()))
    endpoints = {path: f"dash:{path}" for path in pages}
    for path, page in pages.items():
        if page.callbacks:
            page.callbacks(app, context)
        server.add_url_rule(path, endpoints[path], _whole(app))
    answer_only_what_is_understood(server)
    take_no_other_address(server)
    serve_plotly(server)
    squeeze(server, set(endpoints.values()))
    return app


def _whole(app: DashApp) -> Callable[..., Response]:
    """The view of a page: Dash's, under our policy."""

    def view(**_values: Any) -> Response:
        answer = make_response(app.index())  # type: ignore[no-untyped-call]
        answer.headers["Content-Security-Policy"] = policy()
        return answer

    return view
