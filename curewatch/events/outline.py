"""What a step's events say of it as it stands: product, times, state and details.

The one reading of these: the step itself and the index of all steps are both made of it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from curewatch.events.events import Event, standing, undone_by
from curewatch.walltime import from_ms, to_ms

HARDENING, UNDONE = "hardening", "undone"
ENDS = ("finished", "abandoned")
DETAILS = (
    "part",
    "job",
    "place",
    "batch",
    "amount_g",
    "hardener_pct",
    "film_um",
    "product_c",
    "who",
    "hardener_batch",
    "expiry",
    "ratio",
    "grit",
    "cleaner",
    "cleaned_at",
    "induction_min",
    "film_wet_um",
    "film_dry_um",
    "deviations",
    "signed",
    "applied",
)
TIMES = ("cleaned_at", "mixed_at")


@dataclass(frozen=True)
class Outline:
    """A step as told last: told: its details by name; can: the can it came from, 0 where that was
    not told; amended: when each detail was told afterwards."""

    sheet_id: str
    sheet_text: str
    mixed_at: datetime
    closed_at: datetime | None
    state: str
    told: Mapping[str, Any]
    can: int
    amended: Mapping[str, datetime]


def _told(body: Mapping[str, Any], names: Sequence[str]) -> dict[str, Any]:
    return {
        name: datetime.fromisoformat(body[name]) if name in TIMES else body[name]
        for name in names
        if name in body
    }


def _product(body: Mapping[str, Any]) -> tuple[str, str]:
    return str(body.get("sheet_id", "")), str(body.get("sheet_text", ""))


def outline(events: Sequence[Event]) -> Outline:
    """What these events say, the first being the start of the step, without what was undone.

    A batch that is told afterwards is of no known can, unless its can is told with it.
    """
    first, gone = events[0], undone_by(events)
    begun: Mapping[str, Any] = {} if first.damaged else first.body
    known = {name: value for name, value in begun.items() if value is not None}
    told, product, can = _told(known, DETAILS), _product(begun), begun.get("can") or 0
    mixed_at, closed_at, state = first.at, None, HARDENING
    amended: dict[str, datetime] = {}
    for event in standing(events):
        body = event.body
        if event.kind == "amended":
            changed = _told(body, (*DETAILS, "mixed_at"))
            amended |= dict.fromkeys(changed, event.told)
            mixed_at = changed.pop("mixed_at", mixed_at)
            told |= changed
            can = body.get("can") or (0 if "batch" in body else can)
            if "sheet_id" in body:
                product, amended["sheet"] = _product(body), event.told
        elif event.kind in ENDS:
            state, closed_at = event.kind, event.at
    if first.id in gone:
        state, closed_at = UNDONE, gone[first.id].at
    return Outline(*product, from_ms(to_ms(mixed_at)), closed_at, state, told, can, amended)
