"""The salt check: how it is done, and what the hygrometer shows in the box."""

from __future__ import annotations

from typing import Any

from dash import html
from flask import request

from curewatch.quality.overview import sensors
from curewatch.quality.salt_check import SOURCE, TAPE, WALK
from dashboard.context.page_context import PageContext
from dashboard.pages.components import links
from dashboard.pages.routes import Address, DashPage
from dashboard.pages.sensors import checks
from dashboard.pages.sensors.page import sources_of

_NEARBY = (("Sensors", "/air/sensors"), ("Air", "/air"))
_LEAD = (
    "Over wet table salt in a closed box the air settles at about 75 %. What a hygrometer shows "
    "there tells how far it is off."
)

_DOUBT = (
    f"Humidity over the salt after {SOURCE}; for kitchen salt in a box at home, give or take 1 %."
)


def content(context: PageContext, _address: Address, _first: bool) -> list[Any]:
    """The page of the salt check."""
    say = context.manner(request)
    listed = sensors(context.store, context.clock(), context.settings.place)
    humid = [sensor for sensor in sources_of(listed) if sensor.what == "humidity"]
    return [
        html.Div([html.H1("Salt check"), links(_NEARBY)], className="head"),
        html.P(_LEAD, className="lead"),
        html.Ol([html.Li(name) for name in WALK], className="walk"),
        html.H2("What it shows"),
        *checks.salt(humid, say),
        html.P(_DOUBT, className="hint"),
        html.Section([html.H2("Infrared thermometers"), html.P(TAPE)]),
    ]


PAGE = DashPage("Salt check", content)
