"""Milestones with their names and their order, and the answers to a test: one set of words for
page, command, button and JSON.

The end of a recoat window is no state that a test finds: the label's clock closes it. It is only
noted, or put off.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Literal

MILESTONES = {
    "pot_life": "pot life",
    "working_time": "working time",
    "clamp_time": "clamps off",
    "sand_ready": "sand-ready",
    "recoat_opens": "recoat opens",
    "recoat_closes": "recoat closes",
    "full_cure": "full cure",
}
"""Every milestone with its name, in the order in which they come."""
ORDERED = (
    ("working_time", "clamp_time", True),
    ("working_time", "sand_ready", True),
    ("working_time", "recoat_opens", False),
    ("working_time", "full_cure", True),
    ("clamp_time", "sand_ready", False),
    ("clamp_time", "full_cure", False),
    ("sand_ready", "full_cure", False),
    ("recoat_opens", "recoat_closes", True),
    ("recoat_opens", "full_cure", False),
)
"""The first comes before the second; True: not at the same time either."""
EARLY_SHOWN = ("pot_life", "working_time", "recoat_closes")
"""What must not be missed: its early bound is shown. The others must be waited for."""
SHARE_EARLY, SHARE_NOT_TO_MISS = 0.05, 0.025
"""How likely a milestone is there before its early bound, and one that must not be missed. [-]"""
TESTED = tuple(name for name in MILESTONES if name != "pot_life")
"""What a test on the work is asked about; the pot goes unasked."""
WAITED = ("clamp_time", "sand_ready", "recoat_opens")
"""What the next work on a part waits for."""

Order = Literal["dmy", "mdy"]
"""Which comes first in a date like 03/04/2026, day or month."""
Sample = Literal["smear", "cup", "work"]
STATES: dict[str, tuple[tuple[str, bool], ...]] = {
    "workable": (("working_time", False),),
    "stringy": (("working_time", True), ("clamp_time", False)),
    "tacky": (("working_time", True), ("clamp_time", False), ("sand_ready", False)),
    "fingernail": (("working_time", True), ("sand_ready", False)),
    "hard": (("working_time", True), ("clamp_time", True)),
    "sands": (("working_time", True), ("clamp_time", True), ("sand_ready", True)),
}
_REMINDED = {"wet": "while wet", "sanding": "when sanding", "pot": "in the cup", "on": "while on"}
TURNS = {"stringy": "working_time", "hard": "clamp_time", "sands": "sand_ready"}
"""The states that begin as a milestone is reached: of these one may have seen how long ago."""
MARKS = {"coat": "coated", "clamps-on": "clamped", "clamps-off": "unclamped"}
SAMPLES = ("smear", "cup", "work")
SPRAY = "spray"
APPLIED = {SPRAY: "sprayed", "brush": "brushed", "roller": "rolled", "spread": "spread"}

STEP_STATES = {
    "hardening": "curing",
    "finished": "finished",
    "abandoned": "failed",
    "undone": "undone",
}
"""The states of a step with their words; JSON, CSV and the logbook keep the codes."""

STILL_WORKS, GONE_OFF = "still-works", "gone-off"
NOT_YET, REACHED = "not-yet", "reached"
LATER = "later"
ANSWERS = (STILL_WORKS, GONE_OFF, NOT_YET, REACHED, LATER)
_ENDS = ("working_time", "pot_life")
_NOTED = "recoat_closes"
_EARLIER_WORDS = {"passed": True, "failed": False}


def early_share(milestone: str) -> float:
    """How likely a milestone is there before its early bound. [-]

    >>> early_share("working_time"), early_share("sand_ready")
    (0.025, 0.05)
    """
    return SHARE_NOT_TO_MISS if milestone in EARLY_SHOWN else SHARE_EARLY


def in_words(name: str) -> str:
    """A milestone's or a step's state in words; of anything else, its own name.

    >>> in_words("sand_ready"), in_words("full_cure"), in_words("abandoned")
    ('sand-ready', 'full cure', 'failed')
    """
    return (MILESTONES | STEP_STATES).get(name, name.replace("_", " "))


def reminder_name(key: str) -> str:
    """A reminder by its key, for a list.

    >>> reminder_name("gloves"), reminder_name("leftovers:pot")
    ('gloves', 'leftovers in the cup')
    """
    name, _, when = key.partition(":")
    return f"{name} {_REMINDED[when]}" if when in _REMINDED else name


def answers_to(milestone: str) -> tuple[str, ...]:
    """What a test for this milestone may be answered.

    >>> answers_to("working_time")
    ('still-works', 'gone-off', 'later')
    """
    if milestone in _ENDS:
        return STILL_WORKS, GONE_OFF, LATER
    return (REACHED, LATER) if milestone == _NOTED else (NOT_YET, REACHED, LATER)


def is_reached(answer: str | None) -> bool:
    """Whether it says that the milestone was reached."""
    return answer in (REACHED, GONE_OFF)


def is_not_yet(answer: str | None) -> bool:
    """Whether it says that the milestone was not reached yet."""
    return answer in (NOT_YET, STILL_WORKS)


def in_present_words(kind: str, body: Mapping[str, Any]) -> dict[str, Any]:
    """A stored event's body with the words an earlier version used for its codes replaced.

    Of a test, `passed` was what is now `gone-off` or `reached`, and `failed` what is now
    `still-works` or `not-yet`. Page and model took `passed` for working time and pot life as over,
    and so did the times that the user was shown. A window that was not over by `failed` was asked
    about again. Of a mix despite the gate, the verdict `think` is now `caution`.
    """
    if kind == "tested":
        return _present_answer(body)
    if kind == "overridden" and body.get("verdict") == "think":
        return {**body, "verdict": "caution"}
    return dict(body)


def _present_answer(body: Mapping[str, Any]) -> dict[str, Any]:
    present, milestone, earlier = dict(body), body.get("milestone"), body.get("result")
    if isinstance(milestone, str) and isinstance(earlier, str) and earlier in _EARLIER_WORDS:
        allowed = answers_to(milestone)
        over = next(answer for answer in allowed if is_reached(answer))
        not_over = next((answer for answer in allowed if is_not_yet(answer)), LATER)
        present["result"] = over if _EARLIER_WORDS[earlier] else not_over
    return present
