"""The pages as one Flask app; everything it needs is passed in."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime

from flask import Flask, Response

import dashboard.endpoints.alarms
import dashboard.endpoints.calendar
import dashboard.endpoints.choices
import dashboard.endpoints.clock
import dashboard.endpoints.damaged
import dashboard.endpoints.mixed
import dashboard.endpoints.silence
import dashboard.endpoints.state
import dashboard.endpoints.undo
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
from curewatch.bench.bench import Bench
from curewatch.exchange.presses import Presses
from curewatch.quality.clock import ClockSetback
from curewatch.settings.settings import Settings
from curewatch.store.store import Store
from curewatch.walltime import local_zone
from curewatch.wording.guide import Topic
from dashboard import error_pages
from dashboard.access import guard, login
from dashboard.access.login import AccessCheck
from dashboard.context.listener import BrokerListener
from dashboard.context.page_context import PageContext
from dashboard.pages import frame
from dashboard.pages.routes import DashPage
from dashboard.request.numbers import PlainInteger
from dashboard.static_files import serve_assets, serve_manifest
from dashboard.template_values import template_values

_PAGES = (
    dashboard.endpoints.state.register,
    dashboard.endpoints.alarms.register,
    dashboard.endpoints.calendar.register,
    dashboard.endpoints.silence.register,
    dashboard.endpoints.mixed.register,
    dashboard.pages.step.pictures.register,
    dashboard.pages.log.files.register,
    dashboard.pages.air.data.register,
    dashboard.endpoints.choices.register,
    dashboard.endpoints.clock.register,
    dashboard.endpoints.undo.register,
    dashboard.endpoints.damaged.register,
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


def _settle(app: Flask, context: PageContext) -> None:
    @app.after_request
    def settled(response: Response) -> Response:
        context.tokens.settle(done=response.status_code < 400)
        return response


def make_app(
    bench: Bench,
    store: Store,
    clock: Callable[[], datetime],
    settings: Settings,
    speed: float = 1.0,
    link: Callable[[], str] = str,
    *,
    copies: Callable[[], str] = str,
    access: AccessCheck | None = None,
    presses: Presses | None = None,
    listener: BrokerListener | None = None,
    went_back: Callable[[], ClockSetback | None] = lambda: None,
    commands: Callable[[], list[Topic]] = list,
) -> Flask:
    """The pages over one bench and one clock; speed: how fast that clock runs (dimensionless).

    `link` says in words how the listening to sensors is, `copies` what is wrong with the daily
    copies, `went_back` by how much the computer's clock did; with `access` the pages open only to
    those who know the passcode; `presses` holds what the buttons did, `listener` hears the broker;
    `commands` gives the guide's pages about commands.
    """
    app = Flask("dashboard", static_folder=None)
    app.url_map.converters["int"] = PlainInteger
    app.jinja_env.trim_blocks = app.jinja_env.lstrip_blocks = True
    context = PageContext(bench, store, clock, settings, speed, local_zone(settings.zone), link)
    context.copies, context.needs_passcode = copies, access is not None
    context.went_back, context.commands = went_back, commands
    context.presses, context.listener = presses or context.presses, listener or context.listener
    guard.watch(app, settings.names, access)
    _settle(app, context)
    asset = serve_assets(app)
    app.context_processor(lambda: template_values(context, asset))
    serve_manifest(app, asset)
    for register in _PAGES:
        register(app, context)
    frame.install(app, context, _DASH)
    if access is not None:
        login.register(app, access)
    error_pages.register(app)
    return app
