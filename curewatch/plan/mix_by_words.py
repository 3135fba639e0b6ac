"""When to mix, in words and as plain data."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime
from typing import Any

from curewatch.formats import ReaderFormat, chance_words, tenths, when
from curewatch.plan.mix_by import MixBy
from curewatch.starts.windows import SURE
from curewatch.vocabulary import in_words
from curewatch.walltime import stamp


def _goal(answer: MixBy, say: ReaderFormat) -> str:
    """What is to be there in time."""
    name, now = in_words(answer.milestone), answer.proposal.now
    if answer.by is None:
        return f"{name} before the panel is below {say.temperature(answer.proposal.least_c, 0)}"
    return f"{name} before {say.moment(answer.by, now)}"


def sentence(answer: MixBy, say: ReaderFormat) -> str:
    """Between when and when to mix; else how likely it is at best."""
    now, window, best = answer.proposal.now, answer.window, answer.chances.best
    goal, sure = _goal(answer, say), chance_words(SURE)
    if window is not None and window.start <= now:
        return f"Mix by {say.moment(window.end, now)}: {goal}, {sure}."
    if window is not None:
        start, end = say.moment(window.start, now), say.moment(window.end, now)
        return f"Mix between {start} and {end}: {goal}, {sure}."
    if best is None:
        return (
            f"By the forecast the panel is never within the label's limits for a start: {goal} "
            "needs heat or another product."
        )
    at = "mixed now" if best[0] <= now else f"mixed {when(best[0], now, say)}, which is best"
    return f"No start reaches {sure}: {goal}, {at}, {chance_words(best[1])}."


def _row(at: datetime, chance: float | None, now: datetime, say: ReaderFormat) -> tuple[str, str]:
    """A start and what becomes of it."""
    mixed = "now" if at <= now else say.moment(at, now)
    outside = "the panel is outside the label's limits"
    return mixed, outside if chance is None else chance_words(chance)


def start_words(answer: MixBy, at: datetime, chance: float | None, say: ReaderFormat) -> str:
    """What becomes of one start, in a line: Mixed 18:10: 9 in 10."""
    mixed, text = _row(at, chance, answer.proposal.now, say)
    return f"Mixed {mixed}: {text}"


def row_words(answer: MixBy, say: ReaderFormat) -> list[tuple[str, str]]:
    """Starts and what becomes of each."""
    return [_row(at, chance, answer.proposal.now, say) for at, chance in answer.rows()]


def lines(answer: MixBy, say: ReaderFormat) -> Iterator[str]:
    """The answer for a terminal."""
    yield sentence(answer, say)
    rows = row_words(answer, say)
    width = max(len(at) for at, _ in rows)
    yield from (f"    mixed {at:{width}}  {chance}" for at, chance in rows)
    yield "The chances count the weather and the product, not a slow hand. Your test decides."


def as_json(answer: MixBy) -> dict[str, Any]:
    """The answer as plain data: chances in tenths, rounded down and never ten."""
    window, best = answer.window, answer.chances.best
    return {
        "product": answer.proposal.sheet.id,
        "milestone": answer.milestone,
        "by": stamp(answer.by),
        "asked_tenths": tenths(SURE),
        "mix": window and {"from": stamp(window.start), "until": stamp(window.end)},
        "now_tenths": tenths(answer.chances.now),
        "best": best and {"at": stamp(best[0]), "tenths": tenths(best[1])},
        "starts": [
            {
                "at": stamp(at),
                "tenths": None if chance is None else tenths(chance),
            }
            for at, chance in answer.rows()
        ],
    }
