"""What each kind of event and ledger entry may say: the one table of names, types and ranges.

What is taken in is held against it, and refused where it differs; what is read from the logbook's
file is too, and set aside as damaged; the published schema of the JSON is made of it.

A name means the same in every kind but for those with a row of their own below. A kind or a name
that is not listed, as a later curewatch may write, may be any short plain value.
"""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from datetime import datetime
from functools import lru_cache
from typing import Any, Literal, get_args

from curewatch.climate.reading import QUANTITIES
from curewatch.errors import CurewatchError
from curewatch.events.events import UNDO
from curewatch.events.fields import FIELDS, TURNED
from curewatch.events.json_schema import (  # fmt: skip
    DAY,
    FLAG,
    NULL,
    TIME,
    Fault,
    Schema,
    above,
    fault,
    list_of,
    number,
    object_of,
    one_of,
    or_null,
    shown,
    text,
    whole,
)
from curewatch.vocabulary import ANSWERS, MILESTONES, SAMPLES, STATES, answers_to
from curewatch.walltime import from_ms

PartKind = Literal["body", "structural"]
CartridgeKind = Literal["vapour", "dust"]
HeatedPlace = Literal["panel", "room"]
WORDS, NAME, SHEET = text(), text(1), text(1, 100_000)
PHOTOGRAPH = text(36, 36, r"^[0-9a-f]{32}\.jpg$") | {"description": "32 hex digits and .jpg"}
_PLAIN: Schema = {"anyOf": [WORDS, FLAG, number("any unit"), list_of(WORDS), NULL]}
_RECORDED: dict[str, Schema] = {
    field.name: or_null(field.schema) if field.kind.number else field.schema
    for field in (*FIELDS, TURNED)
}
NAMES: dict[str, Schema] = {
    **_RECORDED,
    **dict.fromkeys(
        ("why", "by", "key", "kind", "words", "name", "text", "answer", "how", "stored", "verdict",
         "cleaned_with", "from", "to"),
        WORDS,
    ),
    **dict.fromkeys(("mixed_at", "until", "at"), TIME),
    **dict.fromkeys(("bought", "opened"), DAY),
    **dict.fromkeys(("on", "both", "used_up"), FLAG),
    **dict.fromkeys(("event", "touch", "step"), whole(1)),
    **dict.fromkeys(("can", "coat", "width", "height", "size"), whole()),
    **dict.fromkeys(("reference", "read", "value"), number("C or %", -200, 1000)),
    "offset": number("K or %", -1000, 1000),
    "uncertainty": or_null(number("K or %", 0, 1000)),
    "surface_c": or_null(number("C", -100, 300)),
    "sheet_id": text(1, 200),
    "sheet_text": SHEET,
    "acknowledged": list_of(WORDS),
    "stops": list_of(WORDS),
    "what": {"anyOf": [WORDS, list_of(WORDS)]},
    "said": {"anyOf": [WORDS, list_of(WORDS)]},
    "replaces": list_of(TIME),
    "state": one_of(*STATES),
    "sample": one_of(*SAMPLES),
    "result": one_of(*ANSWERS),
    "milestone": one_of(*MILESTONES),
    "quantity": one_of(*QUANTITIES),
    "as": one_of(*get_args(PartKind)),
    "hours": above("h", 0, 1000),
    "maker_h": or_null(above("h", 0, 1000)),
    "volume_m3": number("m3", 1, 100_000),
    "flow_m3_h": number("m3/h", 1, 1_000_000),
    "mixing": number("mixing factor", 1, 10),
    "took_min": above("min", 0, 100_000),
    "limit_min": above("min", 0, 100_000),
    "watts": number("W", 10, 20_000),
    "lit_m2": number("m2", 0.02, 10),
    "rise_k": above("K", 0, 60),
    "price": number("the user's money for each kWh", 0, 100),
}  # fmt: skip


def _body(needed: str = "", /, **own: Schema) -> Schema:
    """A body that needs these names; those given here mean something of their own in it."""
    named = NAMES | own
    body = object_of({name: named[name] for name in needed.split()}, optional=named)
    return body | {"additionalProperties": _PLAIN}


_CAN = {"expiry": DAY}
_CAN_NUMBER = re.compile("[1-9][0-9]{0,11}")
_PART = {"name": NAME}
_PLANNED = object_of(
    {"name": NAME, "job": WORDS, "number": whole(), "from": TIME}, optional={"latest": TIME}
)
_MOVED = object_of({"why": WORDS, "part": WORDS})
_REMINDED = object_of({"name": NAME, "job": WORDS, "end": WORDS})
_PROMISED = object_of({"name": NAME, "job": WORDS, "end": WORDS, "by": TIME, "tenths": whole()})
BODIES: dict[tuple[str, str], Schema] = {
    ("", "started"): _body(**{field.name: or_null(field.schema) for field in FIELDS}),
    ("", "amended"): _body(),
    ("", "witnessed"): _body("state sample"),
    ("", "turned"): _body("event turned_min"),
    ("", "tested"): _body("milestone result", until=or_null(TIME)),
    ("", "acknowledged"): _body("key"),
    ("", "heated"): _body("from until surface_c", **{"from": TIME}),
    ("", "overridden"): _body("stops why"),
    ("", "fan"): _body("on"),
    ("", "noted"): _body("text"),
    ("", "in_use"): _body("until"),
    ("", "sounded"): _body("key"),
    ("", "photographed"): _body("name", name=PHOTOGRAPH),
    ("can", "added"): _body("sheet_id", **_CAN),
    ("can", "used up"): _body("used_up", **_CAN),
    ("cartridge", "opened"): _body("name kind", name=NAME, kind=one_of(*get_args(CartridgeKind))),
    ("cartridge", "worn"): _body("hours"),
    ("clock", "confirmed"): _body("newest", newest=TIME),
    ("evening", "stopping"): _body("at"),
    ("evening", "bare asked"): _body("answer"),
    ("energy", "told"): _body("price"),
    ("hours", "told"): _body("week loud_until", week=WORDS, loud_until=WORDS),
    ("hours", "clamps"): _body("clamps", clamps=whole(1)),
    ("hours", "otherwise"): _body("day hours", day=DAY, hours=WORDS),
    ("plan", "shown"): _body(
        "steps promises", steps=list_of(_PLANNED), promises=list_of(_PROMISED), moved=_MOVED
    ),
    ("plan", "taken over"): _body("parts", parts=list_of(_REMINDED)),
    ("plan", "let go"): _body(),
    ("work", "begun"): _body("name job does", **_PART, does=NAME),
    ("way", "told"): _body("name job way text", **_PART, way=NAME, text=SHEET),
    ("wish", "told"): _body("name job end at", **_PART, end=WORDS),
    ("heater", "owned"): _body(
        "name watts heats lit_m2", name=NAME, heats=one_of(*get_args(HeatedPlace))
    ),
    ("heater", "probed"): _body("rise_k"),
    ("heater", "ran"): _body("until"),
    ("label", "photographed"): _body("name", name=PHOTOGRAPH),
    ("label", "removed"): _body(),
    ("limit", "told"): _body("limit_min"),
    ("mixed", "named"): _body("touch step"),
    ("part", "marked"): _body("name job as", **_PART),
    ("rehearsal", "took"): _body("took_min"),
    ("room", "told"): _body("volume_m3 flow_m3_h mixing"),
    ("sensor", "checked"): _body("quantity reference read offset"),
    ("sensor", "moved"): _body("quantity from to both"),
    ("sensor", "renamed"): _body("from"),
    ("sensor", "stuck"): _body("quantity place"),
    ("sheet", "kept"): _body("text", text=SHEET),
    ("sheet", "removed"): _body(),
}
_OF_A_SUBJECT: dict[str, Schema] = {
    "can": _body(**_CAN),
    "part": _body("name job", **_PART),
    "reading": _body("quantity value"),
}
FORGOT, ANY = _body("event"), _body()


def body_schema(kind: str, subject: str = "") -> Schema:
    """What a body of this kind may say; subject: '' for an event of a step."""
    if kind == UNDO:
        return FORGOT
    return BODIES.get((subject, kind)) or _OF_A_SUBJECT.get(subject, ANY)


def wrong_with(kind: str, body: Mapping[str, Any], subject: str = "") -> Fault | None:
    """What keeps a body of this kind from being used, and where in it; None where nothing does."""
    misfit = fault(body, body_schema(kind, subject))
    if misfit:
        return misfit
    if kind == "tested" and body["result"] not in answers_to(body["milestone"]):
        allowed = ", ".join(answers_to(body["milestone"]))
        return Fault("result", f"{body['result']} is not an answer to this test; {allowed} are")
    if (subject, kind) == ("sheet", "kept"):
        odd = _odd_sheet(body["text"], "product")
        return Fault("text", f"the product cannot be read ({odd})") if odd else None
    if not subject and kind in ("started", "amended") and "sheet_text" in body:
        odd = _odd_sheet(body["sheet_text"], str(body.get("sheet_id") or "product"))
        return Fault("sheet_text", f"the product cannot be read ({odd})") if odd else None
    return None


def wrong_with_name(subject: str, name: str, kind: str) -> Fault | None:
    """What keeps an entry's name from being used: whatever happens to a can names its number."""
    if subject != "can" or kind in ("added", UNDO) or _CAN_NUMBER.fullmatch(name):
        return None
    return Fault("name", f"{shown(name)} is not the number of a can")


@lru_cache(maxsize=256)
def _odd_sheet(text: str, id: str) -> str:
    from curewatch.products.sheet import parse_sheet

    try:
        parse_sheet(text, id)
    except CurewatchError as error:
        return error.what
    return ""


def read_row(
    kind: str, at_ms: int, told_ms: int, text: str, subject: str = ""
) -> tuple[datetime, datetime, dict[str, Any], str]:
    """A row as the logbook's file holds it: when it was, when it was told, its body, and what is
    damaged in it, '' where nothing is. Times [ms]"""
    body, damaged = read_body(text, kind, subject)
    try:
        return from_ms(at_ms), from_ms(told_ms), body, damaged
    except (ArithmeticError, TypeError, ValueError, OSError):
        return from_ms(0), from_ms(0), body, damaged or "its time is impossible"


def read_body(text: str, kind: str, subject: str = "") -> tuple[dict[str, Any], str]:
    """A body as the logbook's file holds it, and what is damaged in it: '' where nothing is."""
    try:
        body = json.loads(text)
    except (TypeError, ValueError, RecursionError):
        return {}, "it cannot be read"
    if not isinstance(body, dict):
        return {}, "it has no named values"
    misfit = wrong_with(kind, body, subject)
    place = misfit.place.replace("_", " ") if misfit else ""
    return body, f"{place}: {misfit.what}" if misfit else ""
