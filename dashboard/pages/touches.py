"""What a touch on a Dash page does: recorded, said in the toast with its Undo, or said to be wrong
at its field.

A page names its acts (`DashPage.acts`), each a function from the page's context, the button's key
and the fields of its form to a TouchOutcome; what it raises as a CurewatchError is said at the
form, or at the field that `at_field` names, and else in the toast. A touch that arrives twice
counts once.
"""

from __future__ import annotations

import json
import uuid
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from typing import Any

from dash import ALL, MATCH, Dash, Input, Output, State, ctx, dcc, html, no_update, set_props
from dash.exceptions import PreventUpdate

from curewatch.errors import CurewatchError
from curewatch.events.events import going_on
from curewatch.frozen import frozen
from dashboard.context.page_context import PageContext
from dashboard.endpoints import undo

LEAVE = "leave it"
KEPT: Mapping[str, Any] = {"persistence": True, "persistence_type": "memory"}
"""A control keeps what was typed or picked in it while its page is drawn anew."""


@frozen
class TouchOutcome:
    """What a touch led to. text: a sentence instead of what was recorded; go: the address to go to;
    question: components that ask before anything is recorded; clear: the form is emptied."""

    text: str = ""
    go: str = ""
    question: Any = None
    clear: bool = False


Act = Callable[[PageContext, str, Mapping[str, Any]], TouchOutcome | None]


class WrongField(CurewatchError):
    """What is wrong in one field of a form."""

    def __init__(self, field: str, error: CurewatchError) -> None:
        super().__init__(error.what, where=error.where, fix=error.fix)
        self.field = field


class WrongFields(CurewatchError):
    """What is wrong in several fields of a form at once, by their names."""

    def __init__(self, wrong: Mapping[str, str]) -> None:
        super().__init__("; ".join(wrong.values()))
        self.wrong = dict(wrong)


@contextmanager
def at_field(name: str) -> Iterator[None]:
    """What is raised in here is said at that field."""
    try:
        yield
    except CurewatchError as error:
        raise WrongField(name, error) from error


def button(text: Any, do: str, key: str = "", kind: str | None = None, **more: Any) -> html.Button:
    """A button that does one of the page's acts at once."""
    own = {"do": do, "key": key}
    return html.Button(text, id=own, type="button", n_clicks=0, className=kind, **more)


@frozen
class Form:
    """The fields and buttons of an act, each with its place for what is wrong."""

    do: str
    key: str = ""

    @property
    def name(self) -> str:
        """The form's name on its page."""
        return json.dumps([self.do, self.key])

    def id(self, field: str) -> dict[str, str]:
        """The id of a field's control, for one that `box` does not make."""
        return {"form": self.name, "field": field}

    def target(self, field: str) -> str:
        """The same for a script that writes into the control, as Dash writes the id."""
        return json.dumps(self.id(field), sort_keys=True, separators=(",", ":"))

    def place(self, field: str) -> dict[str, str]:
        """The id of the place for what is wrong in a field."""
        return {"form": self.name, "wrong": field}

    def wrong(self, field: str = "") -> html.P:
        """The place for what is wrong in a field; without one, in the form as a whole."""
        return html.P(id=self.place(field), className="problem", role="alert")

    def box(self, field: str, label: str, value: str = "", **more: Any) -> html.Div:
        """A labelled box to type in, with its place for what is wrong under it."""
        attributes: dict[str, Any] = {
            "type": "text",
            "autoComplete": "off",
            "maxLength": 200,
            **more,
        }
        typed = dcc.Input(id=self.id(field), value=value, **KEPT, **attributes)
        return html.Div([html.Label([label, typed]), self.wrong(field)], className="field")

    def send(self, text: Any, value: str = "", kind: str | None = "go") -> html.Button:
        """A button that sends the form; its value is the field "send"."""
        own = {"form": self.name, "send": value}
        return html.Button(text, id=own, type="button", n_clicks=0, className=kind)


def did(context: PageContext, outcome: TouchOutcome | None = None) -> dict[str, Any] | None:
    """What the touch that is being answered did, as the toast takes it; None where nothing."""
    outcome = outcome or TouchOutcome()
    done = undo.standing(context, going_on().number)
    if done is None:
        return {"said": outcome.text, "go": outcome.go} if outcome.text or outcome.go else None
    text = outcome.text or done.words
    return {"said": text, "act": done.act, "label": done.label, "go": outcome.go}


def _settled(context: PageContext, outcome: TouchOutcome | None) -> None:
    """Say what was done; or ask what must be known before."""
    question = outcome.question if outcome else None
    set_props("asked", {"children": question})
    if question is None:
        set_props("did", {"data": did(context, outcome)})
        set_props("once", {"data": uuid.uuid4().hex})
    else:
        context.tokens.settle(done=False)


def do(
    context: PageContext,
    acts: Mapping[str, Act],
    what: tuple[str, str],
    values: Mapping[str, Any],
    once: str,
) -> TouchOutcome | None:
    """Do an act, named with its key, once. Raises CurewatchError."""
    name, key = what
    if name not in acts:
        raise PreventUpdate
    token = json.dumps([once, name, key, values], sort_keys=True, default=str)
    if not context.tokens.first(once and token):
        return TouchOutcome(text="Saved.")
    try:
        return acts[name](context, key, values)
    except BaseException:
        context.tokens.settle(done=False)
        raise


def _fields(listed: Sequence[Mapping[str, Any]]) -> dict[str, Any]:
    return {field["id"]["field"]: field.get("value") for field in listed}


def _wrong(error: CurewatchError | None) -> Mapping[str, str]:
    """What is wrong by field; '' is the form as a whole."""
    if isinstance(error, WrongFields):
        return error.wrong
    return {getattr(error, "field", ""): str(error)} if error else {}


def _in_places(error: CurewatchError | None) -> list[Any]:
    """What stands in the places of the form that is answered."""
    places, wrong = [place["id"]["wrong"] for place in ctx.outputs_list[0]], _wrong(error)
    if homeless := [text for field, text in wrong.items() if field not in places]:
        set_props("did", {"data": {"said": " ".join(homeless)}})
    return [wrong.get(place, "") for place in places]


def _cleared(outcome: TouchOutcome | None) -> list[Any]:
    return ["" if outcome and outcome.clear else no_update for _ in ctx.outputs_list[1]]


def _sent(context: PageContext, acts: Mapping[str, Act], once: str) -> tuple[list[Any], list[Any]]:
    own = ctx.triggered_id
    values = _fields(ctx.states_list[0]) | {"send": own.get("send", "")}
    name, key = json.loads(own["form"])
    try:
        outcome = do(context, acts, (name, key), values, once)
    except CurewatchError as error:
        return _in_places(error), _cleared(None)
    _settled(context, outcome)
    return _in_places(None), _cleared(outcome)


def install(app: Dash, context: PageContext, acts: Mapping[str, Act]) -> None:
    """Put what the buttons and forms of all pages do on the app."""
    by_name = {**acts, LEAVE: lambda _context, _key, _values: TouchOutcome()}

    @app.callback(
        Output({"do": MATCH, "key": MATCH}, "disabled"),
        Input({"do": MATCH, "key": MATCH}, "n_clicks"),
        State("once", "data"),
        prevent_initial_call=True,
    )
    def touched(clicks: int | None, once: str | None) -> bool:
        if not clicks:
            raise PreventUpdate
        own = ctx.triggered_id
        _settled(context, do(context, by_name, (own["do"], own["key"]), {}, once or ""))
        return False

    @app.callback(
        Output({"form": MATCH, "wrong": ALL}, "children"),
        Output({"form": MATCH, "field": ALL}, "value"),
        Input({"form": MATCH, "send": ALL}, "n_clicks"),
        Input({"form": MATCH, "field": ALL}, "n_submit"),
        State({"form": MATCH, "field": ALL}, "value"),
        State("once", "data"),
        prevent_initial_call=True,
    )
    def sent(_c: Any, _s: Any, _v: Any, once: str | None) -> tuple[list[Any], list[Any]]:
        if not any(trigger["value"] for trigger in ctx.triggered):
            raise PreventUpdate
        return _sent(context, by_name, once or "")
