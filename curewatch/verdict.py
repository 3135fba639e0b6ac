"""Stop, think or go: one question before a mix, answered."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Literal, Protocol

Verdict = Literal["stop", "think", "go"]
ORDER: tuple[Verdict, ...] = ("stop", "think", "go")


class Manner(Protocol):
    """How this reader likes figures said."""

    def moment(self, at: datetime, now: datetime) -> str:
        """Clock time, with its day where it is not today's."""

    def temperature(self, value_c: float, digits: int = 1) -> str:
        """A temperature [C] in the reader's unit."""

    def difference(self, value_k: float) -> str:
        """A temperature difference [K] in the reader's unit."""


@dataclass(frozen=True)
class Check:
    """One question: its figure and limit in `unit`, whose limit it is, and what would change it.

    at: when it happens; before: the latest moment to start; asks: it is a question that is answered
    by itself, at once or on the bench, so that a stop by it wants no reason.
    """

    question: str
    verdict: Verdict
    words: str
    figure: float | None = None
    limit: float | None = None
    unit: str = ""
    source: str = ""
    change: str = ""
    at: datetime | None = None
    before: datetime | None = None
    asks: bool = False


def worst(checks: Sequence[Check]) -> Verdict:
    """The strictest of the verdicts; go where nothing was asked."""
    found = {each.verdict for each in checks}
    return next((each for each in ORDER if each in found), "go")


def ordered(checks: Sequence[Check]) -> tuple[Check, ...]:
    """Stops first, then what to think about, then what goes."""
    return tuple(sorted(checks, key=lambda each: ORDER.index(each.verdict)))


def when(at: datetime, now: datetime, say: Manner) -> str:
    """An instant inside a sentence: at 22:05; tomorrow 03:15."""
    moment = say.moment(at, now)
    return f"at {moment}" if moment[0].isdigit() else moment
