"""Sensor Measurement Lists in JSON (RFC 8428): a pack to its resolved records. Pure.

References
----------
1. C. Jennings et al., "Sensor Measurement Lists (SenML)", RFC 8428, 2018: section 4.1 base
   fields, 4.2 regular fields, 4.4 fields that must be understood, 4.5.1 names, 4.5.3 time,
   4.6 resolved records.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from curewatch.errors import ReadingError

VERSION = 10
RELATIVE_BELOW_S = 2.0**28
_NUMBERS = ("bt", "bv", "bs", "bver", "v", "s", "t", "ut")
_TEXTS = ("bn", "bu", "n", "u", "vs", "vd")
_VALUES = ("v", "vs", "vb", "vd")
_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9:./_-]*")


@dataclass(frozen=True, slots=True)
class Record:
    """A resolved record: `value` in `unit`, None where the record holds only a sum.

    time_s: Unix time, or relative to now where below RELATIVE_BELOW_S. [s]
    """

    name: str
    unit: str
    value: float | str | bool | None
    time_s: float


def records(pack: Any) -> list[Record]:
    """The resolved records of a SenML pack, in its order.

    Raises ReadingError where the pack is no SenML or needs what is not known here.

    >>> records([{"bn": "shed/", "bt": 1e9, "n": "t", "u": "Cel", "v": 4}])
    [Record(name='shed/t', unit='Cel', value=4.0, time_s=1000000000.0)]
    """
    if not isinstance(pack, list) or not pack:
        raise ReadingError("the SenML pack is not a list of records", fix="send [{...}, ...]")
    base: dict[str, Any] = {}
    resolved = []
    for number, record in enumerate(pack, 1):
        _check(record, number)
        base.update({key: value for key, value in record.items() if key.startswith("b")})
        if set(record) - set(base):
            resolved.append(_resolved({**base, **record}, number))
    return resolved


def _wrong(number: int, what: str, fix: str) -> ReadingError:
    return ReadingError(what, where=f"SenML record {number}", fix=fix)


def _check(record: Any, number: int) -> None:
    if not isinstance(record, dict):
        raise _wrong(number, "it is not an object", "send [{...}, ...]")
    for key, value in record.items():
        if key in _NUMBERS and not _finite(value):
            raise _wrong(number, f"{key} is not a finite number", "check the sensor")
        if key in _TEXTS and not isinstance(value, str):
            raise _wrong(number, f"{key} is not text", "check the sensor")
        if key == "vb" and not isinstance(value, bool):
            raise _wrong(number, "vb is neither true nor false", "check the sensor")
        if key.endswith("_"):
            raise _wrong(number, f"{key[:40]} must be understood, and is not", "leave it out")
    if record.get("bver", VERSION) > VERSION:
        raise _wrong(number, f"its version is above {VERSION}", f"send version {VERSION}")


def _finite(value: Any) -> bool:
    if isinstance(value, bool) or not isinstance(value, int | float):
        return False
    return math.isfinite(value) if isinstance(value, float) else abs(value) < 10**300


def _resolved(record: Mapping[str, Any], number: int) -> Record:
    name = record.get("bn", "") + record.get("n", "")
    if not _NAME.fullmatch(name):
        raise _wrong(
            number, f"{name[:60]!r} is not a SenML name", "use letters, digits and - : . / _"
        )
    value_keys = [key for key in _VALUES if key in record]
    if len(value_keys) > 1:
        raise _wrong(number, f"it has both {value_keys[0]} and {value_keys[1]}", "send one value")
    time_s = float(record.get("bt", 0)) + float(record.get("t", 0))
    return Record(name, record.get("u", record.get("bu", "")), _value(record, number), time_s)


def _value(record: Mapping[str, Any], number: int) -> float | str | bool | None:
    for key in ("vs", "vb", "vd"):
        if key in record:
            text_or_flag: str | bool = record[key]
            return text_or_flag
    if "v" in record or "bv" in record:
        return float(record.get("bv", 0)) + float(record.get("v", 0))
    if "s" in record or "bs" in record:
        return None
    raise _wrong(number, "it has no value", f"send one of {', '.join(_VALUES)}")
