"""What an event from elsewhere may hold: checked before it is stored, since pages rely on it."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from datetime import datetime
from typing import Any

from curewatch import cans, cartridges, parts
from curewatch.answers import ANSWERS, answers_to
from curewatch.belief import STATES
from curewatch.buttons import SAMPLES
from curewatch.errors import QuantityError
from curewatch.events import UNDO
from curewatch.life import parse_day
from curewatch.reading import QUANTITIES
from curewatch.sheet import MILESTONES
from curewatch.spraying import APPLIED

LONGEST, MOST = 100_000, 1e9
_CHOICES: dict[str, Collection[str]] = {
    "state": STATES,
    "sample": SAMPLES,
    "result": ANSWERS,
    "milestone": MILESTONES,
    "quantity": QUANTITIES,
    "as": parts.KINDS,
    "applied": APPLIED,
}
_INSTANTS = ("until", "at", "mixed_at", "cleaned_at")
_UNITS = ("_g", "_pct", "_um", "_c", "_min", "_h", "_m3", "_m3_h")
_NUMBERS = (
    "event",
    "mixing",
    "hours",
    "reference",
    "value",
    "read",
    "offset",
    "uncertainty",
    "coat",
    "can",
)
_NEEDED: dict[str, tuple[str, ...]] = {
    "witnessed": ("state", "sample"),
    "tested": ("result", "milestone"),
    "photographed": ("name",),
    "in_use": ("until",),
    "sounded": ("key",),
    "heated": ("from", "until"),
    "evening stopping": ("at",),
    "sensor checked": ("quantity", "reference", "read", "offset"),
    "sensor moved": ("quantity", "from", "to", "both"),
    "sensor renamed": ("from",),
    "sensor stuck": ("quantity", "place"),
    "reading": ("quantity", "value"),
    "can added": ("sheet_id",),
    "sheet kept": ("text",),
    "part marked": ("as",),
    "cartridge worn": ("hours",),
    "cartridge opened": ("name", "kind"),
    "rehearsal took": ("took_min",),
    "room told": ("volume_m3", "flow_m3_h", "mixing"),
    "limit told": ("limit_min",),
    UNDO: ("event",),
    "part": ("name", "job"),
}


def wrong_with(kind: str, body: Mapping[str, Any], subject: str = "") -> str:
    """What keeps a body of this kind from being used; empty where nothing does."""
    rules = (UNDO,) if kind == UNDO else (f"{subject} {kind}".strip(), subject)
    missing = [key for rule in rules for key in _NEEDED.get(rule, ()) if body.get(key) is None]
    if missing:
        return f"{kind} lacks {missing[0]}"
    odd = [key for key, value in body.items() if not _fits(key, value)]
    if kind == "tested" and body["result"] not in answers_to(body["milestone"]):
        odd.append("result")
    if kind == "heated" and not _is_instant(body["from"]):
        odd.append("from")
    if not _are_instants(body.get("replaces", [])):
        odd.append("replaces")
    if subject == cans.SUBJECT:
        odd += [key for key in cans.DAYS if not _is_day(body.get(key))]
    if subject == cartridges.SUBJECT and body.get("kind") not in (None, *cartridges.KINDS):
        odd.append("kind")
    return f"{kind} has an odd {odd[0][:40]}" if odd else ""


def _fits(key: str, value: Any) -> bool:
    if value is None:
        return True
    if key in _CHOICES:
        return isinstance(value, str) and value in _CHOICES[key]
    if key in _INSTANTS:
        return _is_instant(value)
    if key in _NUMBERS or key.endswith(_UNITS):
        return _is_number(value)
    return isinstance(value, bool) or _is_number(value) or _is_words(value)


def _is_words(value: Any) -> bool:
    if isinstance(value, list):
        return len(value) <= LONGEST and all(isinstance(each, str) for each in value)
    return isinstance(value, str) and len(value) <= LONGEST


def _is_number(value: Any) -> bool:
    plain = isinstance(value, int | float) and not isinstance(value, bool)
    return plain and abs(value) < MOST


def _is_day(value: Any) -> bool:
    try:
        return value is None or bool(parse_day(value))
    except QuantityError:
        return False


def _are_instants(value: Any) -> bool:
    return isinstance(value, list) and all(_is_instant(each) for each in value)


def _is_instant(value: Any) -> bool:
    try:
        return datetime.fromisoformat(value).tzinfo is not None
    except (TypeError, ValueError):
        return False
