"""The JSON Schema (draft 2020-12) of what `curewatch log --json` prints.

Readers may rely on every key named here; later versions may add keys.
"""

from __future__ import annotations

from typing import Any

from curewatch.answers import ANSWERS
from curewatch.logbook import SPANS
from curewatch.moments import VALUES

Schema = dict[str, Any]

TIME: Schema = {"type": "string", "format": "date-time", "description": "RFC 3339, UTC"}
TEXT: Schema = {"type": "string"}
TEXTS: Schema = {"type": "array", "items": TEXT}


def _or_null(schema: Schema) -> Schema:
    return {"anyOf": [schema, {"type": "null"}]}


def _number(unit: str, least: float | None = None) -> Schema:
    found: Schema = {"type": "number", "description": unit}
    return found if least is None else found | {"minimum": least}


def _object(properties: Schema, *, optional: Schema | None = None) -> Schema:
    return {
        "type": "object",
        "properties": properties | (optional or {}),
        "required": list(properties),
    }


def _list(items: Schema) -> Schema:
    return {"type": "array", "items": items}


_UNIT = {"relative_humidity": "%", "dew_point_spread": "K"}
MILESTONE = _object(
    {
        "milestone": TEXT,
        **{name: _or_null(TIME) for name in ("early", "likely", "late", "shown")},
        "label_min": _number("minutes by the label", 0),
        "test_now": {"type": "boolean"},
        "answered": _or_null({"enum": list(ANSWERS)}),
        "answered_at": _or_null(TIME),
        "reopened": _or_null(TIME),
        "warnings": TEXTS,
    }
)
WITNESS = _object(
    {
        "witness": {"type": "integer"},
        "at": TIME,
        "told": TIME,
        "state": TEXT,
        "sample": {"enum": ["smear", "cup", "work"]},
    }
)
SOURCE = _object({"quantity": TEXT, "place": TEXT, "kind": {"enum": ["typed", "sensor", "heat"]}})
CONDITIONS = _object(
    {"until": TEXT, "start": TIME, "end": TIME},
    optional={
        name: _object(
            {part: _number(_UNIT.get(name, "C")) for part in ("min", "mean", "max")},
            optional={
                "source": _or_null(SOURCE),
                "age_min": _number("minutes to the nearest reading, at the most", 0),
                "gap": {"type": "boolean", "description": "longer than a reading is good for"},
            },
        )
        for name in SPANS
    },
)
MOMENT = _object(
    {"when": TEXT, "at": TIME},
    optional={name: _number(_UNIT.get(name, "C")) for name in VALUES},
)
SENSOR = _object(
    {
        "source": TEXT,
        "place": TEXT,
        "quantity": TEXT,
        "checked": _or_null(TIME),
        "checked_by": TEXT,
    }
)
_TOLD: Schema = {
    "at": TIME,
    "told": TIME,
    "body": {"type": "object"},
    "act": {"type": "integer", "minimum": 0},
}
EVENT = _object({"event": {"type": "integer", "minimum": 1}, "kind": TEXT, **_TOLD})
ENTRY = _object(
    {
        "entry": {"type": "integer", "minimum": 1},
        **{name: TEXT for name in ("subject", "name", "kind")},
        **_TOLD,
    }
)
RECORD = _object(
    {
        **{
            name: TEXT
            for name in (
                "who", "hardener_batch", "expiry", "ratio", "grit", "cleaner", "deviations",
                "signed", "applied",
            )
        },
        "cleaned_at": _or_null(TIME),
        "product_c": _or_null(_number("C")),
        "induction_min": _or_null(_number("minutes", 0)),
        **{
            name: _or_null(_number("um", 0)) for name in ("film_um", "film_wet_um", "film_dry_um")
        },
    }
)  # fmt: skip
LOST = _object(
    {
        "place": TEXT,
        "quantity": TEXT,
        "since": TIME,
        "flag": _or_null({"type": "object"}),
        "steps": _list({"type": "integer"}),
    }
)
CHARGE = _object(
    {
        **SOURCE["properties"],
        "age_min": _number("minutes since it was read; below 0 where its clock is ahead"),
        "share": _number("how much it counts, 1 at the most", 0),
        "instead_of": _or_null(SOURCE),
    }
)
STEP = _object(
    {
        "step": {"type": "integer", "minimum": 1},
        **{name: TEXT for name in ("sheet", "product", "part", "job", "place", "batch")},
        "amount_g": _or_null(_number("g", 0)),
        "hardener_pct": _or_null(_number("%", 0)),
        "mixed": TIME,
        "told": TIME,
        "state": {"enum": ["hardening", "finished", "abandoned", "undone"]},
        "emptied": _or_null(TIME),
        "reason": TEXT,
        "ratio": _or_null(_number("likely time over the label's", 0)),
        "stalled": {"type": "boolean"},
        "joint": {"enum": ["body", "structural", "asked"]},
        "surface_from": _or_null(CHARGE),
        "lost": _list(LOST),
        "warnings": TEXTS,
        "milestones": _list(MILESTONE),
        "witnesses": _list(WITNESS),
        "reminders": {"type": "object", "additionalProperties": _or_null(TIME)},
        "notes": TEXTS,
        "record": RECORD,
        "conditions": _list(CONDITIONS),
        "moments": _list(MOMENT),
        "sensors": _list(SENSOR),
        "events": _list(EVENT),
    }
)
READINGS = _object(
    {
        **{name: TEXT for name in ("source", "place", "quantity")},
        "every": {"enum": ["reading", "hour"]},
        "from": TIME,
        "ms_later": _list({"type": "integer", "minimum": 0}),
        "values": _list({"type": "number"}),
    }
)
SCHEMA: Schema = {
    "$schema": "https://json-schema.org/draft/2020-12/schema",
    "title": "curewatch logbook",
    "description": "Steps, the latest first, each with the conditions of its stretches and, to be "
    "taken in by another curewatch, all its events; what was told of cans, parts and sensors; own "
    "sheets; the readings behind it all (each later than the one before by so many ms; of an hour "
    "its mean); photographs as JPEG in base64.",
    **_object(
        {
            "curewatch": {"enum": [2], "description": "the format"},
            "made": TIME,
            "steps": _list(STEP),
            "ledger": _list(ENTRY),
            "sheets": _list(_object({"sheet": TEXT, "text": TEXT})),
            "readings": _list(READINGS),
            "photographs": _list(_object({"name": TEXT, "jpeg": TEXT})),
        }
    ),
}
