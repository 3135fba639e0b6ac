"""What a browser sends to a Dash page: that it arrived, a touch, a form; and what comes back."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any

from flask.testing import FlaskClient
from werkzeug.test import TestResponse

ORIGIN = {"Origin": "http://localhost"}
ASK = "/dash/_dash-update-component"


def _named(id: Mapping[str, str]) -> str:
    """An id as Dash writes it."""
    return json.dumps(id, separators=(",", ":"), sort_keys=True)


def prop(id: Any, name: str, value: Any = None) -> dict[str, Any]:
    """A property of a component as Dash sends it."""
    return {"id": id, "property": name, "value": value}


def send(browser: FlaskClient, body: Any, **headers: str) -> TestResponse:
    """Post a callback's request."""
    return browser.post(ASK, json=body, headers=ORIGIN | headers)


def arriving(path: str, search: str = "", shown: Any = None) -> dict[str, Any]:
    """The request that asks for the page at an address, coming from another one."""
    return {
        "output": "..page.children...shown.data..",
        "outputs": [{"id": "page", "property": "children"}, {"id": "shown", "property": "data"}],
        "inputs": [
            prop("url", "pathname", path),
            prop("url", "search", search),
            prop("redraw", "data", 0),
        ],
        "state": [prop("shown", "data", shown)],
        "changedPropIds": ["url.pathname"],
    }


def touched(browser: FlaskClient, do: str, key: str = "", once: str = "") -> dict[str, Any]:
    """What a touch on a button changes on the page, beside the button."""
    own = {"do": do, "key": key}
    body = {
        "output": '{"do":["MATCH"],"key":["MATCH"]}.disabled',
        "outputs": {"id": own, "property": "disabled"},
        "inputs": [prop(own, "n_clicks", 1)],
        "state": [prop("once", "data", once)],
        "changedPropIds": [f"{_named(own)}.n_clicks"],
    }
    return _side(send(browser, body))


def sent(
    browser: FlaskClient,
    form: str,
    values: Mapping[str, Any],
    *,
    key: str = "",
    once: str = "",
    value: str = "",
) -> tuple[dict[str, str], dict[str, Any]]:
    """Send a form: what is said to be wrong by field ('' for the form), and what else changes."""
    name = json.dumps([form, key])
    places = [{"form": name, "wrong": each} for each in ("", *values)]
    fields = [{"form": name, "field": each} for each in values]
    button = {"form": name, "send": value}
    wrongs, boxes = '{"form":["MATCH"],"wrong":["ALL"]}', '{"field":["ALL"],"form":["MATCH"]}'
    body = {
        "output": f"..{wrongs}.children...{boxes}.value..",
        "outputs": [
            [{"id": each, "property": "children"} for each in places],
            [{"id": each, "property": "value"} for each in fields],
        ],
        "inputs": [
            [prop(button, "n_clicks", 1)],
            [prop(each, "n_submit") for each in fields],
        ],
        "state": [
            [prop(each, "value", values[each["field"]]) for each in fields],
            prop("once", "data", once),
        ],
        "changedPropIds": [f"{json.dumps(button, separators=(',', ':'), sort_keys=True)}.n_clicks"],
    }
    answer = send(browser, body)
    assert answer.status_code == 200, answer.text
    found = answer.json or {}
    said = found.get("response", {})
    wrong = {each["wrong"]: said.get(_named(each), {}).get("children", "") for each in places}
    return wrong, found.get("sideUpdate", {})


def _side(answer: TestResponse) -> dict[str, Any]:
    assert answer.status_code == 200, answer.text
    found: dict[str, Any] = (answer.json or {}).get("sideUpdate", {})
    return found
