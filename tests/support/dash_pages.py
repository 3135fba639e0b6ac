"""What a browser sends to a Dash page: that it arrived, a touch, a form; and what comes back."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
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
    places = [{"form": name, "wrong": field} for field in ("", *values)]
    fields = [{"form": name, "field": field} for field in values]
    button = {"form": name, "send": value}
    wrongs, boxes = '{"form":["MATCH"],"wrong":["ALL"]}', '{"field":["ALL"],"form":["MATCH"]}'
    body = {
        "output": f"..{wrongs}.children...{boxes}.value..",
        "outputs": [
            [{"id": own, "property": "children"} for own in places],
            [{"id": own, "property": "value"} for own in fields],
        ],
        "inputs": [
            [prop(button, "n_clicks", 1)],
            [prop(own, "n_submit") for own in fields],
        ],
        "state": [
            [prop(own, "value", values[own["field"]]) for own in fields],
            prop("once", "data", once),
        ],
        "changedPropIds": [f"{json.dumps(button, separators=(',', ':'), sort_keys=True)}.n_clicks"],
    }
    answer = send(browser, body)
    assert answer.status_code == 200, answer.text
    found = answer.json or {}
    said = found.get("response", {})
    wrong = {own["wrong"]: said.get(_named(own), {}).get("children", "") for own in places}
    return wrong, found.get("sideUpdate", {})


def _ids(tree: Any) -> Iterator[Mapping[str, str]]:
    """The ids in a page's components that say of which form they are."""
    if isinstance(tree, list):
        for node in tree:
            yield from _ids(node)
    elif isinstance(tree, dict):
        if isinstance(tree.get("id"), dict) and "form" in tree["id"]:
            yield tree["id"]
        for node in tree.values():
            yield from _ids(node)


def _props(tree: Any) -> Iterator[Mapping[str, Any]]:
    """The properties of all of a page's components, in the order drawn."""
    if isinstance(tree, list):
        for node in tree:
            yield from _props(node)
    elif isinstance(tree, dict):
        if "props" in tree:
            yield tree["props"]
        for node in tree.values():
            yield from _props(node)


def filling(tree: Any) -> list[dict[str, str]]:
    """What each button writes into the boxes of its form, by their fields, in the order drawn."""
    written = (json.loads(props["data-fills"]) for props in _props(tree) if "data-fills" in props)
    return [{json.loads(box)["field"]: text for box, text in each.items()} for each in written]


def drawn(browser: FlaskClient, path: str) -> Any:
    """The components of a page."""
    answer = send(browser, arriving(path))
    assert answer.status_code == 200, answer.text
    return (answer.json or {})["response"]["page"]["children"]


def typed(tree: Any) -> dict[str, Any]:
    """What stands in the boxes of a page, by their fields."""
    named = (props for props in _props(tree) if isinstance(props.get("id"), dict))
    return {props["id"]["field"]: props.get("value") for props in named if "field" in props["id"]}


def buttons(browser: FlaskClient, path: str = "/") -> list[tuple[str, str]]:
    """The touches that a page offers, each an act and its key, in the order drawn."""
    answer = send(browser, arriving(path))
    assert answer.status_code == 200, answer.text
    drawn = (answer.json or {})["response"]["page"]["children"]
    held = [props["id"] for props in _props(drawn) if isinstance(props.get("id"), dict)]
    return [(id["do"], id["key"]) for id in held if "do" in id]


def forms(browser: FlaskClient, path: str, search: str = "") -> dict[str, tuple[set[str], str]]:
    """The forms of a Dash page by name: what can be typed into each, and a value it is sent with;
    none where no such page is."""
    answer = send(browser, arriving(path, search))
    found: dict[str, tuple[set[str], str]] = {}
    for id in _ids(answer.json) if answer.status_code == 200 else ():
        fields, value = found.get(id["form"], (set[str](), ""))
        fields |= {id["field"]} if "field" in id else set()
        found[id["form"]] = (fields, id.get("send", value))
    return {name: held for name, held in found.items() if held[0]}


def _side(answer: TestResponse) -> dict[str, Any]:
    assert answer.status_code == 200, answer.text
    data: dict[str, Any] = (answer.json or {}).get("sideUpdate", {})
    return data


MIX_BOXES = ("part", "job", "amount", "hardener", "place", "batch", "applied", "why", "ago")
MIX_LIVE = (
    *("amount", "hardener", "heat", "heat_for", "part", "job", "place", "batch", "applied"),
    *("wait", "by"),
)
MIX_FOLLOWS = (
    *("mix-answer.children", "mix-when.children", "mix-gate.children"),
    *("mix-why.open", "mix-why.hidden"),
)


def mixing(
    browser: FlaskClient, sheet: str, *, once: str = "", send: str = "now", **fields: Any
) -> tuple[dict[str, str], Any]:
    """Touch Mixed now on a product's mix page: what is wrong by box, and what the toast says."""
    values = dict.fromkeys(MIX_BOXES, "") | {"ago": "0"} | fields
    wrong, side = sent(browser, "mix", values, key=sheet, once=once, value=send)
    return {name: text for name, text in wrong.items() if text}, side.get("did", {}).get("data")


def _mix_boxes(sheet: str, fields: Mapping[str, str]) -> list[Any]:
    """The boxes of a product's mix page as they are sent, each a group."""
    form = json.dumps(["mix", sheet])
    return [
        [prop({"form": form, "field": name}, "value", fields.get(name, ""))] for name in MIX_LIVE
    ]


def proposing(browser: FlaskClient, sheet: str, **fields: str) -> dict[str, Any]:
    """What the mix page answers to what stands in its boxes; under "wrong" what it says at each."""
    outputs = [output.rsplit(".", 1) for output in MIX_FOLLOWS]
    body = {
        "output": f"..{'...'.join(MIX_FOLLOWS)}..",
        "outputs": [{"id": id, "property": name} for id, name in outputs],
        "inputs": [*_mix_boxes(sheet, fields), prop("again", "data", 0)],
        "state": [prop("url", "pathname", f"/mix/{sheet}")],
        "changedPropIds": ["again.data"],
    }
    answer = send(browser, body)
    assert answer.status_code == 200, answer.text
    found: dict[str, Any] = answer.json or {}
    said = {json.loads(id)["wrong"]: each for id, each in found["sideUpdate"].items()}
    wrong = {field: each["children"] for field, each in said.items() if each["children"]}
    return {**found["response"], "wrong": wrong}


def warming(browser: FlaskClient, sheet: str, **fields: str) -> Any:
    """What the fold about heat shows when it is opened."""
    body = {
        "output": "mix-warmth.children",
        "outputs": {"id": "mix-warmth", "property": "children"},
        "inputs": [prop("mix-warmth-fold", "n_clicks", 1), *_mix_boxes(sheet, fields)],
        "state": [prop("url", "pathname", f"/mix/{sheet}")],
        "changedPropIds": ["mix-warmth-fold.n_clicks"],
    }
    answer = send(browser, body)
    assert answer.status_code == 200, answer.text
    return (answer.json or {})["response"]["mix-warmth"]["children"]
