"""The week's plan in words and as plain data."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, datetime
from itertools import groupby
from typing import TYPE_CHECKING, Any

from curewatch.formats import ReaderFormat, chance_words, tenths
from curewatch.starts.windows import LONGEST, SURE
from curewatch.text import short_name
from curewatch.walltime import evening_of, stamp
from curewatch.ways.words import (
    EVEN,
    PROPOSAL,
    REMINDS,
    evening_words,
    held_by,
    hold_json,
    what_helps,
)

if TYPE_CHECKING:
    from curewatch.week.helps import WeekHelp
    from curewatch.week.plan import LeftOut, PlannedPart, PlannedStep, WeekPlan
    from curewatch.week.promises import PromiseTally
    from curewatch.week.taken import PlanReminder

WHY = {
    "wishes": "what there is to do has changed",
    "gains": "{part} gains by it",
    "passed": "{part} was not begun then",
    "curing": "what cures on {part} takes longer than it seemed",
    "absent": "there is not enough time for {part} then",
    "loud": "{part} would be too loud by then",
    "cold": "the panel of {part} is outside the label's limits then",
    "order": "other steps take its place",
}
AGAIN = {
    "scuff": "scuff it first, the recoat window is over by then",
    "clean": "clean it again first, it will have stood bare too long",
}


def name(part: PlannedPart | PlannedStep | PlanReminder | LeftOut) -> str:
    """A part, with its job where it has one."""
    return f"{part.part} [{part.job}]" if part.job else part.part


def far(at: datetime, plan: WeekPlan) -> bool:
    """Whether it is further ahead than a forecast tells a time."""
    return at > plan.now + LONGEST


def _when(at: datetime, plan: WeekPlan, say: ReaderFormat) -> str:
    return "about the week after" if far(at, plan) else f"by {say.moment(at, plan.now)}"


def verdict(part: PlannedPart, plan: WeekPlan, say: ReaderFormat) -> str:
    """Whether a part is done by its wish, or when it is done, and how likely that is."""
    end = part.end or "finished"
    if part.chance is not None and part.by is not None:
        by, chance = say.moment(part.by, plan.now), chance_words(part.chance)
        if tenths(part.chance) < EVEN:
            return f"unlikely to be {end} by {by}, {chance}."
        return f"{end} by {by}, {chance}."
    if part.done is None:
        return f"not {end} within the coming two weeks."
    words = f"likely {end} {_when(part.done, plan, say)}"
    if part.surely is not None and not far(part.surely, plan):
        words += f", {chance_words(SURE)} {_when(part.surely, plan, say)}"
    return f"{words}."


def sentence(part: PlannedPart, plan: WeekPlan, say: ReaderFormat) -> str:
    """A part with its job, and when it is done."""
    return f"{name(part)}: {verdict(part, plan, say)}"


def hold_words(part: PlannedPart) -> str:
    """What takes a part the most time, '' where nothing does."""
    hold = part.hold
    if hold is None or hold.hours < 1:
        return ""
    return f"held up most by {held_by(hold)}"


def step_words(step: PlannedStep, say: ReaderFormat) -> str:
    """A step: between when and when to begin it, and what."""
    start, latest = say.clock(step.start), say.clock(step.latest)
    one_day = evening_of(step.start, say.zone) == evening_of(step.latest, say.zone)
    between = f"{start} to {latest}" if one_day else f"from {start}"
    between = start if start == latest else between
    words = f"{between}  {name(step)}: {step.does}"
    if step.product:
        words += f", {short_name(step.product)}"
    return f"{words} ({AGAIN[step.again]})" if step.again else words


def _days(plan: WeekPlan, say: ReaderFormat) -> Iterator[tuple[date, list[PlannedStep]]]:
    near = [step for step in plan.steps if not far(step.start, plan)]
    for day, steps in groupby(near, key=lambda step: evening_of(step.start, say.zone)):
        yield day, list(steps)


def moved_words(plan: WeekPlan, say: ReaderFormat) -> Iterator[str]:
    """What moved since the plan was last shown, and why."""
    if plan.moved is None:
        return
    yield f"Moved since it was last shown: {WHY[plan.moved.why].format(part=plan.moved.part)}"
    for move in plan.moved.moves:
        if not far(move.was, plan) and not far(move.step.start, plan):
            start, was = (say.moment(at, plan.now) for at in (move.step.start, move.was))
            yield f"    {name(move.step)}: {move.step.does}, {start} instead of {was}"


def lines(plan: WeekPlan, say: ReaderFormat, reminds: bool = False) -> Iterator[str]:
    """The plan for a terminal. reminds: it was taken over with all its parts."""
    for part in plan.parts:
        yield sentence(part, plan, say)
        if text := hold_words(part):
            yield f"    {text}"
    for out in plan.left_out:
        yield f"{name(out)}: not planned, {out.why}"
    yield from moved_words(plan, say)
    if plan.steps:
        yield "Begin, to keep the rest as it is:"
    for _, steps in _days(plan, say):
        yield f"{evening_words(steps[0].start, plan.now, say).capitalize()}"
        yield from (f"    {step_words(step, say)}" for step in steps)
    later = [step for step in plan.steps if far(step.start, plan)]
    if later:
        yield "About the week after"
        yield from (f"    {name(step)}: {step.does}" for step in later)
    yield REMINDS if reminds else PROPOSAL


def tally_words(tally: PromiseTally) -> str:
    """How often what was promised came true."""
    promised = f"{tally.tenths} in 10" if tally.tenths else "less than 1 in 10"
    return f"Your {promised} held {tally.kept} of {tally.made}."


def _gained(part: PlannedPart, plan: WeekPlan, say: ReaderFormat) -> str:
    """How a part would be, also when it would likely be done where its wish has a time."""
    text = sentence(part, plan, say)
    if part.chance is None or part.done is None:
        return text
    return f"{text.removesuffix('.')}, likely {_when(part.done, plan, say)}."


def help_words(option: WeekHelp, plan: WeekPlan, say: ReaderFormat) -> str:
    """What would help, and how the parts that gain would be then."""
    what = what_helps(option.code, option.name, option.on)
    return f"{what}: {' '.join(_gained(part, plan, say) for part in option.parts)}"


def help_json(option: WeekHelp) -> dict[str, Any]:
    """What would help as plain data."""
    return {
        "what": option.code,
        "name": option.name or None,
        "on": option.on or None,
        "parts": [_part_json(part) for part in option.parts],
    }


def _step_json(step: PlannedStep, plan: WeekPlan) -> dict[str, Any]:
    early, likely, late = step.ready or (None, None, None)
    return {
        "part": step.part,
        "job": step.job,
        "does": step.does,
        "product": step.product or None,
        "from": stamp(step.start),
        "until": stamp(step.end),
        "begin_by": stamp(step.latest),
        "beyond_the_forecast": far(step.start, plan),
        "first": step.again or None,
        "waits_for": step.waits_for or None,
        "early": stamp(early),
        "likely": stamp(likely),
        "late": stamp(late),
    }


def _part_json(part: PlannedPart) -> dict[str, Any]:
    return {
        "part": part.part,
        "job": part.job,
        "end": part.end or None,
        "by": stamp(part.by),
        "tenths": None if part.chance is None else tenths(part.chance),
        "likely_done": stamp(part.done),
        "surely_done": stamp(part.surely),
        "held_up_by": hold_json(part.hold),
    }


def as_json(plan: WeekPlan) -> dict[str, Any]:
    """The plan as plain data: chances in tenths, rounded down and never ten."""
    return {
        "made": stamp(plan.now),
        "parts": [_part_json(part) for part in plan.parts],
        "steps": [_step_json(step, plan) for step in plan.steps],
        "moved": plan.moved
        and {
            "why": plan.moved.why,
            "part": plan.moved.part or None,
            "steps": [
                {"part": m.step.part, "job": m.step.job, "does": m.step.does, "was": stamp(m.was)}
                for m in plan.moved.moves
            ],
        },
        "not_planned": [
            {"part": out.part, "job": out.job, "why": str(out.why)} for out in plan.left_out
        ],
    }
