"""What an act did, in words: "Started: quick adhesive, lower corner patch"."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import datetime
from typing import TYPE_CHECKING, Any

from curewatch.durations import duration
from curewatch.errors import CurewatchError, StepError
from curewatch.events.events import REMOVED, SHEET, UNDO, Entry, Event, own_products, standing
from curewatch.garage import cans
from curewatch.garage.shelf import shelf
from curewatch.garage.step import DamagedStep, fold
from curewatch.logbook.history import history
from curewatch.logbook.undo import PastAct, past_act
from curewatch.products.sheet import parse_sheet
from curewatch.text import short_name

if TYPE_CHECKING:
    from curewatch.logbook.paper import FieldFormatter
    from curewatch.store.store import Store

_ASIDE = ("overridden", "acknowledged", "amended")
Body = Mapping[str, Any]


def _part(kind: str) -> Callable[[Body, FieldFormatter], str]:
    return lambda body, _: f"{body['name']}: {kind}"


def _reading(what: str) -> Callable[[Body, FieldFormatter], str]:
    def words(body: Body, paper: FieldFormatter) -> str:
        quantity = body["quantity"]
        return f"{what}: {quantity.replace('_', ' ')} {paper.measured(quantity, body['value'])}"

    return words


def _probed(body: Body, paper: FieldFormatter) -> str:
    return f"Probe under the lamp: {paper.say.difference(body['rise_k'])} warmer"


def _until(body: Body, paper: FieldFormatter) -> str:
    return f"Working until {paper.stamp(datetime.fromisoformat(body['at']))}"


_THINGS: dict[tuple[str, str], Callable[[Body, FieldFormatter], str]] = {
    ("part", "marked"): lambda body, _: f"{body['name']}: marked {body['as']}",
    ("part", "bared"): _part("cleaned to bare metal"),
    ("part", "covered"): _part("covered"),
    ("part", "still bare"): _part("still bare"),
    ("part", "done"): _part("finished"),
    ("cartridge", "opened"): lambda body, _: f"Cartridge opened: {body['name']}",
    ("cartridge", "worn"): lambda body, _: f"Worn {duration(60 * body['hours'])} more",
    ("cartridge", "discarded"): lambda body, _: "Cartridge discarded",
    ("hours", "told"): lambda body, _: f"In the garage: {body['week']}",
    ("hours", "otherwise"): lambda body, _: (
        f"In the garage on {body['day']}: {body['hours'] or 'not'}"
    ),
    ("hours", "clamps"): lambda body, _: f"Clamps: {body['clamps']}",
    ("plan", "shown"): lambda body, _: f"Plan of {len(body['steps'])} steps shown",
    ("plan", "taken over"): lambda body, _: "Reminders of the plan switched on",
    ("plan", "let go"): lambda body, _: "Reminders of the plan switched off",
    ("work", "begun"): lambda body, _: f"{body['name']}: begun, {body['does']}",
    ("way", "told"): lambda body, _: f"{body['name']}: way of work saved",
    ("wish", "told"): lambda body, _: f"{body['name']}: wish saved",
    ("wish", "dropped"): lambda body, _: f"{body['name']}: wish dropped",
    ("heater", "owned"): lambda body, _: f"Heater entered: {body['name']}",
    ("heater", "probed"): _probed,
    ("heater", "ran"): lambda body, _: "Heater was on",
    ("heater", "sold"): lambda body, _: "Heater removed",
    ("energy", "told"): lambda body, _: "Price of energy saved",
    ("room", "told"): lambda body, _: "Room and fan saved",
    ("evening", "stopping"): _until,
    ("evening", "bare asked"): lambda body, _: f"Bare metal this evening: {body['answer']}",
    ("rehearsal", "begun"): lambda body, _: "Rehearsal started",
    ("rehearsal", "took"): lambda body, _: f"Rehearsed in {duration(body['took_min'])}",
    ("label", "photographed"): lambda body, _: "Photograph of the label saved",
    ("label", "removed"): lambda body, _: "Photograph of the label removed",
    ("limit", "told"): lambda body, _: f"Bare metal at most {duration(body['limit_min'])}",
    ("mixed", "touched"): lambda body, _: "Mixed, product not named yet",
    ("mixed", "named"): lambda body, _: "Named what was mixed",
    ("reading", "typed"): _reading("Reading entered"),
    ("reading", "taken_back"): _reading("Reading taken back"),
    ("reading", "used_again"): _reading("Reading used again"),
    ("clock", "confirmed"): lambda body, _: "This computer's clock confirmed",
    ("sensor", "checked"): lambda body, _: "Sensor checked",
    ("sensor", "renamed"): lambda body, _: "Sensor has a new topic",
}


def _can(store: Store, entry: Entry) -> str:
    number = entry.name or cans.numbered(store.all_entries(cans.SUBJECT))[entry.id]
    if entry.kind == "used up" and not entry.body["used_up"]:
        return f"Can {number}: back in use"
    id = str(entry.body.get("sheet_id", ""))
    name = short_name(sheet.name) if (sheet := shelf(store).get(id)) else id
    what = {"added": f"added, {name}", "amended": "changed"}
    done = "" if entry.kind == "opened" else what.get(entry.kind, entry.kind)
    return f"Can {number}: {', '.join(filter(None, (done, cans.days_in(entry.body))))}"


def _sheet(store: Store, entry: Entry) -> str:
    earlier = [row for row in store.all_entries(SHEET, entry.name) if row.id < entry.id]
    before = own_products(standing(earlier)).get(entry.name, "")
    text = before if entry.kind == REMOVED else str(entry.body["text"])
    try:
        name = parse_sheet(text, entry.name).name
    except CurewatchError:
        name = entry.name
    if entry.kind == REMOVED:
        return f"Product removed: {name}"
    return f"Product {'changed' if before else 'added'}: {name}"


def _thing(store: Store, entry: Entry, paper: FieldFormatter) -> str:
    if entry.subject == SHEET:
        return _sheet(store, entry)
    if entry.subject == cans.SUBJECT:
        return _can(store, entry)
    words = _THINGS.get((entry.subject, entry.kind))
    return words(entry.body, paper) if words else f"{entry.subject} {entry.kind}"


def _step(store: Store, event: Event, paper: FieldFormatter) -> str:
    events = store.events([event.step])[event.step]
    try:
        step = fold(events)
    except DamagedStep:
        return f"{event.kind[:1].upper()}{event.kind[1:]} (step {event.step}, damaged)"
    product = short_name(step.sheet.name)
    if event.kind == "started":
        return f"Started: {', '.join(filter(None, (product, step.part)))}"
    line = next(change for change in history(events, paper) if change.number == event.id)
    return f"{line.words[:1].upper()}{line.words[1:]} ({step.part or product})"


def _of_undo(store: Store, row: Event | Entry, paper: FieldFormatter) -> str:
    """What an undo undid; of an undo that undid another, what it brought back."""
    undone, undos = _undone(store, row), 1
    while undone is not None and undone.kind == UNDO:
        undone, undos = _undone(store, undone), undos + 1
    verb = "Undone" if undos % 2 else "Brought back"
    if undone is None:
        return f"{verb}: what is not in the logbook"
    try:
        return f"{verb}: {act_words(store, past_act(store, undone.act), paper)}"
    except StepError:  # it happened by itself, and was removed as damaged
        return f"Removed: {undone.kind[:40]}" if verb == "Undone" else f"{verb}: {undone.kind[:40]}"


def _undone(store: Store, undo: Event | Entry) -> Event | Entry | None:
    """What an undo undid; None where that is not in the logbook."""
    rows: list[Event] | list[Entry] = (
        store.all_entries(undo.subject, undo.name)
        if isinstance(undo, Entry)
        else store.events([undo.step])[undo.step]
    )
    return next((row for row in rows if row.id == undo.body["event"] < undo.id), None)


def act_words(store: Store, act: PastAct, paper: FieldFormatter) -> str:
    """What an act did, in one line. The first thing it recorded tells it, but for what goes with
    a mix or with heat."""
    row = next((row for row in act.rows if row.kind not in _ASIDE), act.rows[0])
    if row.damaged:
        return f"Damaged: {row.kind[:40]} ({row.damaged})"
    if row.kind == UNDO:
        return _of_undo(store, row, paper)
    if isinstance(row, Entry):
        return _thing(store, row, paper)
    return _step(store, row, paper)
