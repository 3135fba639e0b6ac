"""A part's card in words, and as plain data."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime
from typing import Any

from curewatch.durations import between, duration, rounding
from curewatch.formats import ReaderFormat, chance_words
from curewatch.garage.joint import NO_TIME
from curewatch.garage.part_history import ONLY_THAT, Part
from curewatch.gate.climate import spread_words
from curewatch.notice_words import sentence, sentences
from curewatch.plan.morning import counted
from curewatch.plan.next_action import Action, Card, Fits, tonight
from curewatch.starts.windows import SURE
from curewatch.text import short_name
from curewatch.vocabulary import STEP_STATES, in_words
from curewatch.walltime import stamp

NO_LATEST = "no latest time is entered; look at the label, and test first"
FITS: dict[Fits, str] = {
    "yes": "fits before you stop",
    "may": "may fit before you stop",
    "no": "does not fit before you stop",
    "unknown": "",
}


def last_words(card: Card, now: datetime, say: ReaderFormat) -> str:
    """The last step and how it stands."""
    step = card.step
    if card.structural:
        return sentence(NO_TIME[card.joint], say)
    if step is None:
        return "nothing mixed for it yet"
    product = short_name(step.sheet.name)
    failed = card.part.failed_step
    after = f"; step {failed} over it failed: {ONLY_THAT}" if failed else ""
    return f"{product}, mixed {say.moment(step.mixed_at, now)}; {STEP_STATES[step.state]}{after}"


def _length(action: Action, say: ReaderFormat) -> str:
    if action.too_cold_c is not None:
        here, least = (
            say.temperature(action.too_cold_c[0]),
            say.temperature(action.too_cold_c[1], 0),
        )
        return f"; no time now: the panel is at {here}, below the {least} it needs"
    if action.too_damp_k is not None:
        spread, limit = action.too_damp_k
        return (
            f"; no time now: the panel is {spread_words(spread, say)} the dew point, "
            f"it needs {say.difference(limit)}"
        )
    early, late = action.length_min
    if late is None or early is None:
        return f"; no time can be given now: {sentences(action.why, say)}" if action.why else ""
    span = between(early, late, rounding(action.milestone))
    if action.milestone == "working_time":
        return f" (about {span} to work it now)"
    return f" ({in_words(action.milestone)} after about {span} now)"


def _before_cover(card: Card) -> str:
    """Whether the metal is cleaned again first: always where nobody tells how long it may stand."""
    limit, hours = card.action.bare_limit_min, card.part.bare_hours
    if limit is None or hours is None:
        return "clean again, then "
    if 60 * hours > limit:
        return f"bare longer than the {duration(limit)} allowed: clean again, then "
    return f"{duration(limit - 60 * hours, 'down')} left of the {duration(limit)} it may be bare: "


def waiting_words(action: Action, now: datetime, say: ReaderFormat) -> str:
    """From when to test what a step waits for, or why no time can be given."""
    name = in_words(action.milestone)
    if action.what == "test":
        return f"{name}: test now"
    if action.late is None:
        return f"{name}: {sentences(action.why, say)}"
    return f"{name}: test from {say.moment(action.late, now)}"


def next_words(card: Card, now: datetime, say: ReaderFormat) -> str:
    """The next action and its length."""
    action, product = card.action, short_name(card.action.product)
    match action.what:
        case "procedure":
            return ""
        case "done":
            return "finished"
        case "test" | "wait":
            return waiting_words(action, now, say)
        case "cover":
            cover = f"prime with {product}{_length(action, say)}" if product else "cover the metal"
            return f"{_before_cover(card)}{cover}"
        case "mix":
            over = (
                f"usually {product}{_length(action, say)}" if product else "the next, by its label"
            )
            return f"sand, clean, then {over}"
        case "coat" if action.late is not None and not action.why:
            return f"next coat before {say.moment(action.late, now)}; after that scuff it first"
        case "coat":
            return f"next coat: {sentences(action.why, say) or NO_LATEST}"
        case "redo":
            return f"take {product} off down to sound metal, and start again"
    return "mix the next step on it, or clean it"


def brief_words(card: Card, now: datetime, say: ReaderFormat) -> str:
    """The next action; what comes once a step is finished is named without its length."""
    if card.action.what != "mix":
        return next_words(card, now, say)
    named = replace(card.action, length_min=(None, None), too_cold_c=None, why=())
    return next_words(replace(card, action=named), now, say)


def fits_words(card: Card, now: datetime, say: ReaderFormat) -> str:
    """Whether it fits before the stopping time; '' where that is not known."""
    words = FITS[card.fits]
    if card.start_by is None or card.fits == "no" or card.start_by <= now:
        return words
    return f"{words}, {chance_words(SURE)} if started by {say.moment(card.start_by, now)}"


def bare_words(part: Part, now: datetime, say: ReaderFormat) -> str:
    """Since when it is bare, how that counts and how it was cleaned; '' where it is not."""
    if part.bare_since is None:
        return ""
    how = [f"{part.grit} grit" if part.grit.isdigit() else part.grit]
    how += [f"cleaned with {part.cleaned_with}" if part.cleaned_with else ""]
    details = ", ".join(text for text in how if text)
    since = say.moment(part.bare_since, now)
    return f"bare since {since}, {counted(part, now)}{f'; {details}' if details else ''}"


def as_json(card: Card) -> dict[str, Any]:
    """A card as plain data; lengths in minutes, null for a structural joint."""
    part, action = card.part, card.action
    return {
        "part": part.name,
        "job": part.job,
        "kind": card.joint,
        "bare_since": stamp(part.bare_since),
        "bare_counted_h": None if part.bare_hours is None else round(part.bare_hours, 2),
        "cleaned_with": part.cleaned_with or None,
        "grit": part.grit or None,
        "asked_step": part.asked_step,
        "last_step": card.step.id if card.step else None,
        "failed_step": part.failed_step,
        "last_state": card.step.state if card.step else None,
        "next": action.what,
        "milestone": action.milestone or None,
        "sheet": action.sheet_id or None,
        "early": stamp(action.early),
        "late": stamp(action.late),
        "length_min": [None if value is None else round(value, 1) for value in action.length_min],
        "fits": card.fits,
        "start_by": stamp(card.start_by),
        "why": sentences(action.why) or None,
    }


def grouped(
    shown: Sequence[Card], now: datetime, say: ReaderFormat
) -> list[tuple[str, str, list[Card]]]:
    """What can be done tonight: the action and whether it fits, with the parts it is for."""
    cards_of: dict[tuple[str, str], list[Card]] = {}
    for card in tonight(shown):
        key = (next_words(card, now, say), fits_words(card, now, say))
        cards_of.setdefault(key, []).append(card)
    return [(what, whether, cards) for (what, whether), cards in cards_of.items()]


def listed(cards: Sequence[Card], now: datetime, stop: datetime | None) -> dict[str, Any]:
    """All cards as plain data, and which of them can be done before the stopping time."""
    fitting = [{"part": card.part.name, "job": card.part.job} for card in tonight(cards)]
    return {
        "now": stamp(now),
        "stop": stamp(stop),
        "parts": [as_json(card) for card in cards],
        "tonight": fitting,
    }
