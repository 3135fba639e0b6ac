"""Joints that no time is given for: told by the words of part and job, or by the part's mark."""

from __future__ import annotations

import re
from collections.abc import Sequence

from curewatch.ledger import Entry

STRUCTURAL = re.compile(
    r"\b(structur\w*|restraint|seat[- ]?belts?|belt anchor\w*|air ?bags?|steering|brakes?|braking|"
    r"fuel|petrol tank|glazing|windscreen|windshield|bonded glass|suspension|subframes?|"
    r"chassis|crash\w*|load[- ]bearing)\b",
    re.IGNORECASE,
)
PROCEDURE = (
    "structural, restraint, steering, brake, fuel and glazing joints follow the maker's procedure "
    "and licensed practice: no time is given here"
)


def is_structural(*texts: str) -> bool:
    """Whether a part or job names a joint that is none of ours."""
    return any(STRUCTURAL.search(text) for text in texts)


def marked_structural(entries: Sequence[Entry], job: str) -> bool:
    """Whether a part is marked structural, by what the ledger holds under its name.

    A mark told without a job holds in every job that has none of its own; asked without a job,
    one job's mark is enough.
    """
    wanted, last = _plain(job), dict[str, str]()
    for entry in entries:
        if entry.kind == "marked":
            last[_plain(entry.body["job"])] = entry.body["as"]
    held = [last.get(wanted, last.get("", ""))] if wanted else last.values()
    return "structural" in held


def _plain(text: str) -> str:
    return " ".join(text.split()).casefold()


def name_of(part: str) -> str:
    """Under which name the ledger keeps a part."""
    return _plain(part)
