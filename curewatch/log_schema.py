"""The JSON Schema (draft 2020-12) of what `curewatch log --json` prints.

Readers may rely on every key named here; later versions may add keys.
"""

from __future__ import annotations

from typing import Any

from curewatch.logbook import SPANS

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
        "answered": _or_null({"enum": ["passed", "failed", "later"]}),
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
CONDITIONS = _object(
    {"until": TEXT, "start": TIME, "end": TIME},
    optional={
        name: _object({part: _number(_UNIT.get(name, "C")) for part in ("min", "mean", "max")})
        for name in SPANS
    },
)
OVERRIDE = _object({"stops": TEXTS, "why": _or_null(TEXT), "told": TIME})
HEATED = _object({"from": TIME, "until": TIME, "surface_c": _or_null(_number("C"))})
STEP = _object(
    {
        "step": {"type": "integer", "minimum": 1},
        **{name: TEXT for name in ("sheet", "product", "part", "job", "place", "batch")},
        "amount_g": _or_null(_number("g", 0)),
        "hardener_pct": _or_null(_number("%", 0)),
        "mixed": TIME,
        "told": TIME,
        "state": {"enum": ["hardening", "finished", "abandoned"]},
        "emptied": _or_null(TIME),
        "reason": TEXT,
        "ratio": _or_null(_number("likely time over the label's", 0)),
        "stalled": {"type": "boolean"},
        "warnings": TEXTS,
        "milestones": _list(MILESTONE),
        "witnesses": _list(WITNESS),
        "reminders": {"type": "object", "additionalProperties": _or_null(TIME)},
        "notes": TEXTS,
        "overrides": _list(OVERRIDE),
        "heated": _list(HEATED),
        "fan_on": _or_null(TIME),
        "conditions": _list(CONDITIONS),
    }
)
SCHEMA: Schema = {
    "$schema": "https://json-schema.org/draft/2020-12/schema",
    "title": "curewatch logbook",
    "description": "Steps, the latest first, each with the conditions of its stretches.",
    **_list(STEP),
}
