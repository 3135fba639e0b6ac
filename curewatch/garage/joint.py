"""Joints that no time is given for: by the part's mark, or while a word of it is asked about.

A word that often names a structural joint asserts nothing: it asks. Until the part is marked as
structural or as body, it is treated as structural.
"""

from __future__ import annotations

import re
import shlex
from collections.abc import Sequence
from typing import TYPE_CHECKING, Literal

from curewatch.notice import notice

if TYPE_CHECKING:
    from curewatch.events.events import Entry

Joint = Literal["body", "structural", "asked"]
STRUCTURAL = re.compile(
    r"\b(structur\w*|load bearing|"
    r"sills?|rockers?|[a-d]?pillars?|(strut|shock|suspension) ?(towers?|mounts?|mountings?)|"
    r"(control|trailing|swing) ?arms?|wishbones?|torsion ?bars?|panhard|harness(es)?|"
    r"(chassis|frame) ?rails?|chassis|sub ?frames?|cross ?members?|outriggers?|"
    r"roll ?(over ?)?(bars?|cages?)|jacks?(?! s\b)|jacking|tow(ing)? ?(bars?|hooks?|eyes?|balls?)|"
    r"hitch(es)?|spring ?(hangers?|mounts?|perch(es)?|seats?)|axles?|suspensions?|"
    r"seat ?(mounts?|mountings?|bases?|bolts?|rails?|brackets?|belts?)|"
    r"belt (anchor\w*|mounts?)|restraints?|"
    r"air ?bags?|crash\w*|steering|brakes?|braking|fuel|(petrol|gas) tanks?|"
    r"glazing|wind ?screens?|wind ?shields?|bonded glass)\b"
)
QUESTION = "Is it structural?"
HINT = "It is, if it carries load or belongs to seats, belts, steering, brakes, fuel or glazing."
NO_TIME = {kind: notice(f"joint-{kind}") for kind in ("structural", "asked")}
"""Why no time is given for a joint that is marked as structural, or asked about."""


def recognised(*texts: str) -> bool:
    """Whether a part or job has a word that often names a structural joint; whole words only.

    >>> recognised("B-pillar"), recognised("jacket"), recognised("Jack's door")
    (True, False, False)
    """
    return any(STRUCTURAL.search(re.sub(r"[\W_]+", " ", text).casefold()) for text in texts)


def mark_of(entries: Sequence[Entry], job: str) -> str:
    """How a part is marked, by what the ledger holds under its name: 'body', 'structural' or ''.

    A mark told without a job holds in every job that has none of its own; asked without a job, one
    job's structural mark is enough, and its body mark is not.
    """
    plain_job, last = _plain(job), dict[str, str]()
    for entry in entries:
        if entry.kind == "marked":
            last[_plain(entry.body["job"])] = entry.body["as"]
    if not plain_job and "structural" in last.values():
        return "structural"
    return last.get(plain_job, last.get("", ""))


def joint(mark: str, part: str, job: str) -> Joint:
    """What kind of joint it is: as marked, else asked about where a word names one."""
    if mark == "structural":
        return "structural"
    return "asked" if mark != "body" and recognised(part, job) else "body"


def mark_commands(part: str, job: str) -> str:
    """The command that answers whether a part is structural."""
    of = f" --job {shlex.quote(job)}" if job else ""
    return f"curewatch part structural {shlex.quote(part)}{of}, with --not if it is plain body"


def _plain(text: str) -> str:
    return " ".join(text.split()).casefold()


def name_of(part: str) -> str:
    """Under which name the ledger keeps a part."""
    return _plain(part)
