"""Why a reading is not used: a code with what belongs to it, and how that is kept. Pure.

Words are made of it where it is shown; nothing reads them back.
"""

from __future__ import annotations

import json
from dataclasses import dataclass, fields
from datetime import UTC, datetime
from functools import lru_cache
from typing import Any, Literal, get_args

Code = Literal[
    "jump",
    "spike",
    "failed",
    "end",
    "stuck",
    "zone",
    "clock",
    "outvoted",
    "apart",
    "waited",
    "unjudged",
    "replaced",
    "taken_back",
    "ahead",
    "other",
]
CODES: tuple[Code, ...] = get_args(Code)
_TIMES = ("since", "checked", "other_checked")


@dataclass(frozen=True, slots=True)
class Flag:
    """Why a reading is not used.

    since: from when on; value: the one that stands still or at an end [C or %]; gap: a step, or
    how far above the others [K or %]; seconds: which a step took, or which a clock is behind [s];
    source: the other sensor; others: how many; checked, other_checked: when this one and the other
    were last held against a reference; text: of a flag in no other code, as it was found.
    """

    code: Code
    since: datetime | None = None
    value: float | None = None
    gap: float | None = None
    seconds: float | None = None
    source: str = ""
    others: int = 0
    checked: datetime | None = None
    other_checked: datetime | None = None
    text: str = ""


WAITED = Flag("waited")
REPLACED, TAKEN_BACK, SET_ASIDE = Flag("replaced"), Flag("taken_back"), Flag("ahead")
WITHDRAWN = (REPLACED, TAKEN_BACK, SET_ASIDE)


def instant(at_s: float) -> datetime:
    """An instant since 1970 [s] as a flag holds it, to the millisecond."""
    return datetime.fromtimestamp(round(at_s, 3), UTC)


def text_of(flag: Flag) -> str:
    """A flag as it is stored: compact JSON with what was set.

    >>> text_of(Flag("jump", gap=31.0, seconds=60.0))
    '{"code":"jump","gap":31.0,"seconds":60.0}'
    """
    return json.dumps(plain_of(flag), ensure_ascii=False, separators=(",", ":"))


def plain_of(flag: Flag) -> dict[str, Any]:
    """A flag as plain data, with what was set."""
    values = {field.name: getattr(flag, field.name) for field in fields(Flag)}
    return {
        name: value.isoformat() if isinstance(value, datetime) else value
        for name, value in values.items()
        if value not in (None, "") and (name != "others" or value)
    }


@lru_cache(maxsize=1024)
def flag_of(text: str) -> Flag:
    """The flag that was stored; of another program's that cannot be read, the text is kept."""
    try:
        stored = json.loads(text)
        flag = Flag(**{name: _value(name, value) for name, value in stored.items()})
        return flag if flag.code in CODES else Flag("other", text=text)
    except (ValueError, TypeError, AttributeError, RecursionError, OverflowError):
        return Flag("other", text=text)


def _value(name: str, value: Any) -> Any:
    if name in _TIMES:
        return datetime.fromisoformat(value)
    expected = str if name in ("code", "source", "text") else (int, float)
    if not isinstance(value, expected):
        raise TypeError(name)
    return value
