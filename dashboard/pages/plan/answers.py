"""What a plan says: when a part is done or begun, what next, what holds it up, what would help."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import TYPE_CHECKING, Any
from urllib.parse import urlencode

from dash import html

from curewatch.formats import ReaderFormat
from curewatch.frozen import frozen
from curewatch.text import short_name
from curewatch.ways import words
from dashboard.context.page_context import WishedPlans
from dashboard.context.planning import BEGUN, form_key
from dashboard.pages.components import first_up, link
from dashboard.pages.touches import button

if TYPE_CHECKING:
    from curewatch.ways.gather import PartPlan
    from curewatch.week.plan import PlannedPart, PlannedStep, WeekPlan
    from curewatch.week.taken import PlanReminder

REMIND, LET_GO = "plan remind", "plan let go"


def _part_link(part: str, job: str) -> html.A:
    address = f"/parts?{urlencode({'part': part, 'job': job})}"
    return link(first_up(part), address, button=False)


def _headline(part: str, job: str, text: str) -> html.P:
    named: list[Any] = [_part_link(part, job), ": ", text]
    return html.P(named, className="answer")


def _headlines(plans: WishedPlans, say: ReaderFormat) -> list[html.P]:
    from curewatch.week.words import verdict

    if alone := plans.alone:
        return [_headline(alone.left.part, alone.left.job, words.sentence(alone, say))]
    week = plans.week
    return [
        _headline(part.part, part.job, first_up(verdict(part, week, say))) for part in week.parts
    ]


def _unplanned(week: WeekPlan) -> list[html.P]:
    """The parts that are not planned, and why: a structural one by its maker's procedure."""
    return [
        html.P([_part_link(out.part, out.job), f": {out.why}"], className="problem")
        for out in week.left_out
    ]


def _step(step: PlannedStep, week: WeekPlan, say: ReaderFormat) -> html.Li:
    """A step: on which part, what, with which product, and between when and when to begin it."""
    from curewatch.week.words import AGAIN

    between = words.between_words(step.start, step.latest, week.now, say)
    used = f" with {short_name(step.product)}" if step.product else ""
    again = f" ({AGAIN[step.again]})" if step.again else ""
    line: list[Any] = [html.B(first_up(step.part)), f": {step.does}{used}; begin {between}{again}."]
    return html.Li(line)


def _next(plans: WishedPlans, say: ReaderFormat) -> list[Any]:
    """What is next: the steps of the first evening, as the strip has them."""
    steps = plans.week.tonight
    if not steps:
        return [html.P("Nothing can be begun within the coming two weeks.")]
    evening = words.evening_words(steps[0].start, plans.week.now, say)
    rows = [_step(step, plans.week, say) for step in steps]
    return [html.H2(first_up(evening)), html.Ul(rows, className="plain next-steps")]


def _helps(plan: PartPlan, say: ReaderFormat) -> list[Any]:
    """What would help one part, and what is left with which products."""
    helps = [html.Li(first_up(text)) for text in words.help_lines(plan, say)]
    cautions = words.heat_cautions(words.help_codes(plan))
    left = ", ".join(step.does for step in plan.left.steps)
    used = "; ".join(f"{kind}: {short_name(name)}" for kind, name in plan.products.items())
    return [
        html.P(words.hold_words(plan) or "Nothing holds it up."),
        html.P("What would help:" if helps else "Nothing that was tried would help."),
        html.Ul(helps, className="plain") if helps else None,
        *(html.P(caution, className="hint") for caution in cautions),
        html.P(f"Left to do: {left}.", className="hint"),
        html.P(f"With {used}.", className="hint") if used else None,
    ]


def _holds(parts: Sequence[PlannedPart]) -> html.Ul:
    """What holds up each of several parts."""
    from curewatch.week.words import hold_words

    rows = [
        html.Li(f"{first_up(part.part)}: {hold_words(part) or 'nothing holds it up'}.")
        for part in parts
    ]
    return html.Ul(rows, className="plain")


def _more(plans: WishedPlans, say: ReaderFormat, helps: html.Div) -> html.Details:
    if plans.alone is not None:
        summary = html.Summary("What holds it up, and what would help")
        return html.Details([summary, *_helps(plans.alone, say)])
    summary = html.Summary("What holds them up, and what would help")
    return html.Details([summary, _holds(plans.week.parts), helps])


def _moved(week: WeekPlan, say: ReaderFormat) -> html.Ul | None:
    """What moved since the plan was last shown, and why."""
    from curewatch.week.words import moved_words

    rows = [html.Li(text.strip()) for text in moved_words(week, say)]
    return html.Ul(rows, className="plain") if rows else None


@frozen
class Reminded:
    """What the plan that was taken over reminds of; on: whether of all its parts."""

    steps: Sequence[PlanReminder]
    on: bool


def _begun(step: PlanReminder) -> html.P | None:
    """The touch that a step was begun, where no mix says it."""
    named: dict[str, Any] = {"aria-label": f"Begun: {step.part}, {step.does}"}
    begun = button("Begun", BEGUN, form_key(step.part, step.job), **named)
    return None if step.kind else html.P(begun, className="buttons")


def _reminders(reminded: Reminded, now: datetime, say: ReaderFormat) -> list[Any]:
    """What one is reminded of, and the touch that changes it."""
    from curewatch.week.taken_words import sentence

    first = {(step.part, step.job): step for step in reversed(reminded.steps)}
    nearest = sorted(first.values(), key=lambda step: step.start)
    rows = [
        html.Li([html.Span(first_up(sentence(step, now, say))), _begun(step)]) for step in nearest
    ]
    take, stop = button("Remind me of this plan", REMIND), button("Remind me no more", LET_GO)
    buttons = [None if reminded.on else take, stop if reminded.steps or reminded.on else None]
    text = words.REMINDS if reminded.on else words.PROPOSAL
    return [
        html.H2("Reminders") if rows else None,
        html.Ul(rows, className="plain reminders") if rows else None,
        html.P(buttons, className="buttons"),
        html.P(text, className="hint"),
    ]


def _tallies(plans: WishedPlans) -> list[html.P]:
    """How often what was promised before came true, once ten promises are past."""
    from curewatch.week.words import tally_words

    return [html.P(tally_words(tally), className="hint") for tally in plans.tallies]


def answer(
    plans: WishedPlans,
    say: ReaderFormat,
    shown: Sequence[Any],
    reminded: Reminded,
    helps: html.Div,
) -> list[Any]:
    """All that the plan says; shown: its strip, and the list of its steps; helps: what would help
    several parts."""
    if not plans.week.parts:
        return list(_unplanned(plans.week))
    return [
        *_headlines(plans, say),
        *_unplanned(plans.week),
        _moved(plans.week, say),
        *_tallies(plans),
        *_next(plans, say),
        *shown,
        *_reminders(reminded, plans.week.now, say),
        _more(plans, say, helps),
    ]
