"""The pages as one Flask app; everything it needs is passed in."""

from __future__ import annotations

import gzip
import hashlib
import uuid
from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from typing import Any

from flask import Flask, Response, abort, make_response, render_template, request
from werkzeug.exceptions import HTTPException

import dashboard.alarms
import dashboard.calendar
import dashboard.choices
import dashboard.clock
import dashboard.damaged
import dashboard.mixed
import dashboard.pages.air.data
import dashboard.pages.air.page
import dashboard.pages.bench.page
import dashboard.pages.garage.airing
import dashboard.pages.garage.entered
import dashboard.pages.garage.guide
import dashboard.pages.garage.heaters
import dashboard.pages.garage.masks
import dashboard.pages.garage.night
import dashboard.pages.garage.parts
import dashboard.pages.garage.settings
import dashboard.pages.log.compare_page
import dashboard.pages.log.damaged_page
import dashboard.pages.log.files
import dashboard.pages.log.page
import dashboard.pages.log.product_page
import dashboard.pages.mix.named
import dashboard.pages.mix.page
import dashboard.pages.mix.product_page
import dashboard.pages.mix.rehearse
import dashboard.pages.plan.page
import dashboard.pages.sensors.listen
import dashboard.pages.sensors.page
import dashboard.pages.sensors.salt
import dashboard.pages.shelf.label_page
import dashboard.pages.shelf.page
import dashboard.pages.shelf.product
import dashboard.pages.step.history_page
import dashboard.pages.step.page
import dashboard.pages.step.pictures
import dashboard.silence
import dashboard.state
import dashboard.undo
from curewatch.bench.bench import Bench
from curewatch.errors import CurewatchError
from curewatch.exchange.presses import Presses
from curewatch.quality.clock import ClockSetback
from curewatch.settings.settings import Settings
from curewatch.store.store import Store
from curewatch.walltime import local_zone
from curewatch.wording import clock_words, words
from curewatch.wording.guide import Topic
from dashboard.access import guard, login
from dashboard.access.login import Keeper
from dashboard.ears import Ears
from dashboard.hall import Hall
from dashboard.lane import AGAIN_S, Busy
from dashboard.pages import frame
from dashboard.pages.routes import DashPage
from dashboard.request.device import LAYOUTS, THEMES, chosen
from dashboard.request.numbers import PlainInteger, ms

_ASSETS = Path(__file__).with_name("assets")
_SHEET = "curewatch.css"
_TYPES = {
    ".css": "text/css",
    ".js": "text/javascript",
    ".svg": "image/svg+xml",
    ".png": "image/png",
}
_PAGES = (
    dashboard.state.register,
    dashboard.alarms.register,
    dashboard.calendar.register,
    dashboard.silence.register,
    dashboard.mixed.register,
    dashboard.pages.step.pictures.register,
    dashboard.pages.log.files.register,
    dashboard.pages.air.data.register,
    dashboard.choices.register,
    dashboard.clock.register,
    dashboard.undo.register,
    dashboard.damaged.register,
)
_DASH: dict[str, DashPage] = {
    "/": dashboard.pages.bench.page.PAGE,
    "/air": dashboard.pages.air.page.PAGE,
    "/damaged": dashboard.pages.log.damaged_page.PAGE,
    "/log/compare": dashboard.pages.log.compare_page.PAGE,
    "/log/product/<id>": dashboard.pages.log.product_page.PAGE,
    "/logbook": dashboard.pages.log.page.PAGE,
    "/air/masks": dashboard.pages.garage.masks.PAGE,
    "/air/listen": dashboard.pages.sensors.listen.PAGE,
    "/air/salt": dashboard.pages.sensors.salt.PAGE,
    "/air/sensors": dashboard.pages.sensors.page.PAGE,
    "/air/out": dashboard.pages.garage.airing.PAGE,
    "/choices": dashboard.pages.garage.settings.PAGE,
    "/guide": dashboard.pages.garage.guide.CONTENTS,
    "/guide/<name>": dashboard.pages.garage.guide.TOPIC,
    "/heaters": dashboard.pages.garage.heaters.PAGE,
    "/morning": dashboard.pages.garage.night.PAGE,
    "/parts": dashboard.pages.garage.parts.PAGE,
    "/plan": dashboard.pages.plan.page.PAGE,
    "/undo": dashboard.pages.garage.entered.PAGE,
    "/mix": dashboard.pages.mix.page.PAGE,
    "/mix/<id>": dashboard.pages.mix.product_page.PAGE,
    "/mixed/<int:number>": dashboard.pages.mix.named.PAGE,
    "/mix/<id>/rehearse": dashboard.pages.mix.rehearse.PAGE,
    "/shelf": dashboard.pages.shelf.page.PAGE,
    "/shelf/new": dashboard.pages.shelf.label_page.NEW,
    "/shelf/<id>": dashboard.pages.shelf.product.PAGE,
    "/shelf/<id>/edit": dashboard.pages.shelf.label_page.EDIT,
    "/step/<int:number>": dashboard.pages.step.page.PAGE,
    "/step/<int:number>/history": dashboard.pages.step.history_page.PAGE,
}
_SAID = {
    400: "The page did not understand that.",
    403: "That form did not come from this page; open it again and send it from here.",
    404: "There is no such page here.",
    405: "That cannot be done here.",
    413: "That is too much to send at once.",
}


def _contents() -> dict[str, bytes]:
    """The assets by name; the style sheet of all pages with those of single pages behind it."""
    chunks = {p.name: p.read_bytes() for p in sorted(_ASSETS.iterdir()) if p.suffix in _TYPES}
    sheets = [raw for name, raw in chunks.items() if name.endswith(".css") and name != _SHEET]
    return {**chunks, _SHEET: b"\n".join([chunks[_SHEET], *sheets])}


def _serve_assets(app: Flask) -> Callable[[str], str]:
    chunks = _contents()
    small = {name: gzip.compress(data, 9) for name, data in chunks.items() if name.endswith("s")}
    digests = {name: hashlib.sha256(data).hexdigest()[:12] for name, data in chunks.items()}

    @app.get("/assets/<mark>/<name>")
    def asset(mark: str, name: str) -> Response:
        if name not in digests:
            abort(404)
        answer = Response(chunks[name], mimetype=_TYPES[Path(name).suffix])
        if name in small and "gzip" in request.headers.get("Accept-Encoding", ""):
            answer.set_data(small[name])
            answer.headers["Content-Encoding"] = "gzip"
        answer.headers["Vary"] = "Accept-Encoding"
        lasting = "public, max-age=31536000, immutable"
        answer.headers["Cache-Control"] = lasting if mark == digests[name] else "no-cache"
        return answer

    return lambda name: f"/assets/{digests[name]}/{name}"


def _context(hall: Hall, asset: Callable[[str], str]) -> dict[str, Any]:
    now = hall.clock()
    manner = hall.manner(request)
    return {
        "asset": asset,
        "caution": words.CAUTION,
        "clock": manner.clock(now),
        "clock_back": clock_words.on_page(hall.went_back(), manner),
        "did": lambda: dashboard.undo.lately(hall),
        "here": request.path,
        "layout": chosen(request, "layout", LAYOUTS),
        "now_ms": ms(now),
        "once": uuid.uuid4().hex,
        "speed": hall.speed,
        "theme": chosen(request, "theme", THEMES),
    }


def _plain_errors(app: Flask) -> None:
    def page(code: int, sentence: str) -> tuple[str, int]:
        return render_template("error.html", code=code, sentence=sentence), code

    @app.errorhandler(CurewatchError)
    def ours(error: CurewatchError) -> tuple[str, int]:
        return page(404 if isinstance(error, LookupError) else 400, str(error))

    @app.errorhandler(Busy)
    def busy(error: Busy) -> tuple[str, int, dict[str, str]]:
        return *page(503, error.said), {"Retry-After": str(AGAIN_S)}

    @app.errorhandler(HTTPException)
    def known(error: HTTPException) -> tuple[str, int]:
        code = error.code or 500
        return page(code, _SAID.get(code, "That did not work."))

    @app.errorhandler(Exception)
    def unknown(error: Exception) -> tuple[str, int]:
        app.logger.error("a page failed: %s", error, exc_info=error)
        return page(500, "Something went wrong inside; what was stored before is kept.")


def _settle(app: Flask, hall: Hall) -> None:
    @app.after_request
    def settled(response: Response) -> Response:
        hall.tokens.settle(done=response.status_code < 400)
        return response


def _manifest(app: Flask, asset: Callable[[str], str]) -> None:
    @app.get("/manifest.webmanifest")
    def manifest() -> Response:
        held = {
            "name": "curewatch",
            "short_name": "curewatch",
            "start_url": "/",
            "display": "standalone",
            "background_color": "#12161a",
            "theme_color": "#12161a",
            "icons": [
                {"src": asset("icon.svg"), "sizes": "any", "type": "image/svg+xml"},
                {"src": asset("icon-192.png"), "sizes": "192x192", "type": "image/png"},
                {"src": asset("icon-512.png"), "sizes": "512x512", "type": "image/png"},
            ],
        }
        answer = make_response(held)
        answer.headers["Content-Type"] = "application/manifest+json"
        return answer

    @app.get("/favicon.ico")
    def favicon() -> Response:
        return Response((_ASSETS / "icon-192.png").read_bytes(), mimetype="image/png")


def make_app(
    bench: Bench,
    store: Store,
    clock: Callable[[], datetime],
    settings: Settings,
    speed: float = 1.0,
    link: Callable[[], str] = str,
    *,
    copies: Callable[[], str] = str,
    keeper: Keeper | None = None,
    presses: Presses | None = None,
    ears: Ears | None = None,
    went_back: Callable[[], ClockSetback | None] = lambda: None,
    commands: Callable[[], list[Topic]] = list,
) -> Flask:
    """The pages over one bench and one clock; speed: how fast that clock runs (dimensionless).

    `link` says in words how the listening to sensors is, `copies` what is wrong with the daily
    copies, `went_back` by how much the computer's clock did; with a `keeper` the pages open only to
    those who know the passcode; `presses` holds what the buttons did, `ears` hear the broker;
    `commands` gives the guide's pages about commands.
    """
    app = Flask("dashboard", static_folder=None)
    app.url_map.converters["int"] = PlainInteger
    app.jinja_env.trim_blocks = app.jinja_env.lstrip_blocks = True
    hall = Hall(bench, store, clock, settings, speed, local_zone(settings.zone), link)
    hall.copies, hall.has_door = copies, keeper is not None
    hall.went_back, hall.commands = went_back, commands
    hall.presses, hall.ears = presses or hall.presses, ears or hall.ears
    guard.watch(app, settings.names, keeper)
    _settle(app, hall)
    asset = _serve_assets(app)
    app.context_processor(lambda: _context(hall, asset))
    _manifest(app, asset)
    for register in _PAGES:
        register(app, hall)
    frame.install(app, hall, _DASH)
    if keeper is not None:
        login.register(app, keeper)
    _plain_errors(app)
    return app
