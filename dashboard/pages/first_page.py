"""A page's components as HTML, so that it can be read before any script has run."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from typing import Any

from dash import dcc, html
from dash.development.base_component import Component
from markupsafe import Markup, escape

_NAMES = {"className": "class", "htmlFor": "for", "colSpan": "colspan", "tabIndex": "tabindex"}
_LEFT_OUT = {"children", "id", "style", "n_clicks"}
_FREE = ("aria-", "data-")
_EMPTY = {"Br", "Hr", "Img", "Wbr"}
_OF_BOX = {
    "type": "type", "value": "value", "placeholder": "placeholder", "maxLength": "maxlength",
    "inputMode": "inputmode", "autoComplete": "autocomplete", "min": "min", "max": "max",
}  # fmt: skip


def to_html(tree: Any) -> Markup:
    """The tree as HTML, without its ids, which come with the script; a button, a letter box and a
    list to pick from name theirs, so that a touch, and what is typed or picked, is taken over.
    Another control of Dash's own, and a figure, is a box that keeps its room."""
    return Markup(_html(tree))


def _html(tree: Any) -> str:
    """The tree as HTML, every text escaped; plain strings, as a log's page has thousands."""
    if tree is None or isinstance(tree, dcc.Store):
        return ""
    if isinstance(tree, str | int | float):
        return str(escape(tree))
    if isinstance(tree, list | tuple):
        return "".join(map(_html, tree))
    if isinstance(tree, dcc.RadioItems | dcc.Checklist):
        return _picks(tree)
    if isinstance(tree, dcc.Input):
        return f'<div class="dash-input-container dash-input"><input{"".join(_box(tree))}></div>'
    if not isinstance(tree, Component) or tree._namespace != html.Div._namespace:
        return f'<div class="{escape(getattr(tree, "className", ""))}"></div>'
    name = tree._type.lower()
    start = f"<{name}{''.join(_attributes(tree))}>"
    if tree._type in _EMPTY:
        return start
    return f"{start}{_html(getattr(tree, 'children', None))}</{name}>"


def _box(tree: dcc.Input) -> Iterator[str]:
    """What a letter box has that can be typed in already."""
    properties = vars(tree)
    yield f' class="dash-input-element" data-own="{escape(_id(properties["id"]))}"'
    for key, name in _OF_BOX.items():
        if properties.get(key) not in (None, ""):
            yield f' {name}="{escape(properties[key])}"'


def _picks(tree: dcc.RadioItems | dcc.Checklist) -> str:
    """What can be picked of already, as Dash will draw it."""
    properties, many = vars(tree), isinstance(tree, dcc.Checklist)
    name, kind = escape(_id(properties["id"])), "checkbox" if many else "radio"
    options, value = properties["options"], properties.get("value")
    if isinstance(options, Mapping):
        options = [{"value": key, "label": label} for key, label in options.items()]
    picked = value or [] if many else [value]
    labels = "".join(
        _pick(option, kind, f"{name} first", option["value"] in picked) for option in options
    )
    style = f"dash-options-list dash-{'checklist' if many else 'radioitems'}"
    return (
        f'<div class="{style} {escape(properties["className"])}" data-picks="{name}">{labels}</div>'
    )


def _pick(option: Mapping[str, Any], kind: str, name: str, picked: bool) -> str:
    """One of them; `name` keeps those of a list apart from all others."""
    box = f'<input type="{kind}" name="{name}" value="{escape(option["value"])}"'
    return (
        f'<label class="dash-options-list-option">{box}{" checked" if picked else ""}>'
        f'<span class="dash-options-list-option-text"><span>{_html(option["label"])}</span></span>'
        "</label>"
    )


def _attributes(tree: Component) -> Iterator[str]:
    properties = vars(tree)
    if tree._type == "Button" and "id" in properties:
        yield f' data-own="{escape(_id(properties["id"]))}"'
    own = [key for key in tree._prop_names if key in properties and key not in _LEFT_OUT]
    for key in (*own, *sorted(key for key in properties if key.startswith(_FREE))):
        value = properties[key]
        if value is None or value is False:
            continue
        name = _NAMES.get(key, key.lower())
        yield f" {name}" if value is True else f' {name}="{escape(value)}"'


def _id(id: Any) -> str:
    """An id as Dash writes it into the document."""
    if isinstance(id, str):
        return id
    return json.dumps(id, sort_keys=True, separators=(",", ":"), ensure_ascii=False)
