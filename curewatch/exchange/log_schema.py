"""The JSON Schema (draft 2020-12) of what `curewatch data export` prints, and of what is taken in.

Readers may rely on every key named here; later versions may add keys. Events and entries
are those of `event_json.py`.
"""

from __future__ import annotations

from curewatch.climate.reading import QUANTITIES
from curewatch.events.bodies import SHEET, WORDS
from curewatch.events.fields import RECORD
from curewatch.events.json_schema import (
    TIME,
    Schema,
    list_of,
    number,
    object_of,
    one_of,
    or_null,
    text,
    whole,
)
from curewatch.exchange.event_json import ENTRY, ENTRY_SHAPE, EVENT, EVENT_SHAPE, KEY, NUMBER
from curewatch.logbook.logbook import SPANS
from curewatch.logbook.moments import VALUES
from curewatch.vocabulary import ANSWERS

TEXTS = list_of(WORDS)
_UNIT = {"relative_humidity": "%", "dew_point_spread": "K"}
MILESTONE = object_of(
    {
        "milestone": WORDS,
        **{name: or_null(TIME) for name in ("early", "likely", "late", "shown")},
        "label_min": number("minutes by the label", 0),
        "test_now": {"type": "boolean"},
        "answered": or_null({"enum": list(ANSWERS)}),
        "answered_at": or_null(TIME),
        "reopened": or_null(TIME),
        "warnings": TEXTS,
    },
    optional={"warning_codes": TEXTS},
)
WITNESS = object_of(
    {
        "witness": {"type": "integer"},
        "at": TIME,
        "told": TIME,
        "state": WORDS,
        "sample": {"enum": ["smear", "cup", "work"]},
        "turned_min": or_null(number("min", 0)),
    }
)
ASKED_LOOK = object_of(
    {
        "milestone": WORDS,
        "state": WORDS,
        "waited": WORDS,
        "worth": number("share", 0, 1),
        "until": TIME,
    }
)
SOURCE = object_of(
    {"quantity": WORDS, "place": WORDS, "kind": {"enum": ["typed", "sensor", "heat"]}}
)
CONDITIONS = object_of(
    {"until": WORDS, "start": TIME, "end": TIME},
    optional={
        name: object_of(
            {part: number(_UNIT.get(name, "C")) for part in ("min", "mean", "max")},
            optional={
                "source": or_null(SOURCE),
                "age_min": number("minutes to the nearest reading, at the most", 0),
                "gap": {"type": "boolean", "description": "longer than a reading is good for"},
            },
        )
        for name in SPANS
    },
)
MOMENT = object_of(
    {"when": WORDS, "at": TIME},
    optional={name: number(_UNIT.get(name, "C")) for name in VALUES},
)
SENSOR = object_of(
    {
        "source": WORDS,
        "place": WORDS,
        "quantity": WORDS,
        "checked": or_null(TIME),
        "checked_by": WORDS,
    }
)
STEP_RECORD = object_of(
    {field.name: or_null(field.schema) if field.empty is None else WORDS for field in RECORD}
)
LOST = object_of(
    {
        "place": WORDS,
        "quantity": WORDS,
        "since": TIME,
        "flag": or_null({"type": "object"}),
        "steps": list_of({"type": "integer"}),
    }
)
CHARGE = object_of(
    {
        **SOURCE["properties"],
        "age_min": number("minutes since it was read; below 0 where its clock is ahead"),
        "share": number("how much it counts, 1 at the most", 0),
        "instead_of": or_null(SOURCE),
    }
)
STEP = object_of(
    {
        "step": NUMBER,
        **{name: WORDS for name in ("sheet", "product", "part", "job", "place", "batch")},
        "amount_g": or_null(number("g", 0)),
        "hardener_pct": or_null(number("%", 0)),
        "mixed": TIME,
        "told": TIME,
        "state": {"enum": ["hardening", "finished", "abandoned", "undone"]},
        "emptied": or_null(TIME),
        "reason": WORDS,
        "ratio": or_null(number("likely time over the label's", 0)),
        "stalled": {"type": "boolean"},
        "joint": {"enum": ["body", "structural", "asked"]},
        "surface_from": or_null(CHARGE),
        "lost": list_of(LOST),
        "warnings": TEXTS,
        "milestones": list_of(MILESTONE),
        "witnesses": list_of(WITNESS),
        "asked_look": or_null(ASKED_LOOK),
        "reminders": {"type": "object", "additionalProperties": or_null(TIME)},
        "notes": TEXTS,
        "record": STEP_RECORD,
        "conditions": list_of(CONDITIONS),
        "moments": list_of(MOMENT),
        "sensors": list_of(SENSOR),
        "events": list_of(EVENT),
    },
    optional={"warning_codes": TEXTS},
)
_SERIES: Schema = {
    "source": KEY,
    "place": KEY,
    "quantity": one_of(*QUANTITIES),
    "from": TIME,
    "ms_later": list_of(whole()),
    "values": list_of(number("C or %")),
}
_EVERY: Schema = {"every": one_of("reading", "hour")}
READINGS = object_of(_SERIES | _EVERY)
_SHEETS = list_of(object_of({"sheet": text(1, 200), "text": SHEET}))
_PHOTOGRAPHS = list_of(object_of({"name": KEY, "jpeg": {"type": "string"}}))
DAMAGED = object_of(
    {"told": TIME, **dict.fromkeys(("of", "kind", "what"), WORDS), "body": {"type": "string"}}
)
_FORMAT: Schema = {"enum": [2], "description": "the format"}
IMPORTED = object_of(
    {
        "made": TIME,
        "steps": list_of(object_of({"step": NUMBER, "events": list_of(EVENT_SHAPE)})),
        "ledger": list_of(ENTRY_SHAPE),
        "sheets": _SHEETS,
        "readings": list_of(object_of(_SERIES, optional=_EVERY)),
        "photographs": _PHOTOGRAPHS,
    }
)
SCHEMA: Schema = {
    "$schema": "https://json-schema.org/draft/2020-12/schema",
    "title": "curewatch logbook",
    "description": "Steps, the latest first, each with the conditions of its stretches and, to be "
    "taken in by another curewatch, all its events; what was entered of cans, parts and sensors; "
    "own sheets; the readings behind it all (each later than the one before by so many ms; of an "
    "hour its mean); photographs as JPEG in base64; what is damaged, as it was "
    "found, which is not taken in.",
    **object_of(
        {
            "curewatch": _FORMAT,
            "made": TIME,
            "steps": list_of(STEP),
            "ledger": list_of(ENTRY),
            "sheets": _SHEETS,
            "readings": list_of(READINGS),
            "photographs": _PHOTOGRAPHS,
            "damaged": list_of(DAMAGED),
        }
    ),
}
