"""Stop, caution or go: one question before a mix, answered."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import Literal

from curewatch.frozen import frozen

Verdict = Literal["stop", "caution", "go"]
ORDER: tuple[Verdict, ...] = ("stop", "caution", "go")


@frozen
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
    verdicts = {check.verdict for check in checks}
    return next((verdict for verdict in ORDER if verdict in verdicts), "go")


def ordered(checks: Sequence[Check]) -> tuple[Check, ...]:
    """Stops first, then cautions, then what is fine."""
    return tuple(sorted(checks, key=lambda check: ORDER.index(check.verdict)))
