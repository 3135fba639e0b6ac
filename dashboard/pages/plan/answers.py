"""What a plan says: by when to begin, what tonight, what holds it up, what would help."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import TYPE_CHECKING, Any
from urllib.parse import urlencode

from dash import html

from curewatch.formats import ReaderFormat
from curewatch.ways import words
from dashboard.pages.components import first_up, link
from dashboard.planning import Unplanned, WishedPlans

if TYPE_CHECKING:
    from curewatch.ways.gather import PartPlan

_PROPOSAL = (
    "A proposal: no reminder comes from it, and each test decides. Dew is not counted in it."
)
_HANDS = "Each part is planned as if it had your hands to itself."


def _part_link(part: str, job: str) -> html.A:
    return link(first_up(part), f"/parts?{urlencode({'part': part, 'job': job})}", button=False)


def _sentence(plan: PartPlan, say: ReaderFormat) -> html.P:
    named: list[Any] = [_part_link(plan.part, plan.job), ": ", words.sentence(plan, say)]
    return html.P(named, className="answer")


def _next_first(plan: PartPlan) -> datetime:
    begin = plan.plan.next_begin
    return begin.start if begin is not None else datetime.max.replace(tzinfo=plan.now.tzinfo)


def _next(plans: Sequence[PartPlan], say: ReaderFormat) -> list[Any]:
    """The next step of each part, the first first."""
    rows = [
        html.Li([html.B(f"{first_up(plan.part)}: "), words.next_words(plan, say)])
        for plan in sorted(plans, key=_next_first)
    ]
    return [html.H2("Next"), html.Ul(rows, className="plain next-steps")]


def _more(plan: PartPlan, say: ReaderFormat) -> html.Section:
    """What holds a part up, what would help, and what is left with which products."""
    helps = [html.Li(first_up(text)) for text in words.help_lines(plan, say)]
    left = ", ".join(step.does for step in plan.left)
    used = "; ".join(f"{kind}: {name.split(' (')[0]}" for kind, name in plan.products.items())
    return html.Section(
        [
            html.H3(first_up(plan.part)),
            html.P(words.hold_words(plan) or "Nothing holds it up."),
            html.P("What would help:" if helps else "Nothing that was tried would help."),
            html.Ul(helps, className="plain") if helps else None,
            html.P(f"Left to do: {left}.", className="hint"),
            html.P(f"With {used}.", className="hint") if used else None,
        ]
    )


def _unplanned(part: Unplanned) -> html.P:
    return html.P([_part_link(part.part, part.job), f": {part.why}"], className="problem")


def answer(found: WishedPlans, say: ReaderFormat) -> list[Any]:
    """All that the plan says."""
    if not found.plans:
        return [_unplanned(part) for part in found.unplanned]
    summary = html.Summary("What holds it up, and what would help")
    more = [_more(plan, say) for plan in found.plans]
    return [
        *[_sentence(plan, say) for plan in found.plans],
        *[_unplanned(part) for part in found.unplanned],
        *_next(found.plans, say),
        html.Details([summary, *more], className="plan-more"),
        html.P(_PROPOSAL, className="hint"),
        html.P(_HANDS, className="hint") if len(found.plans) > 1 else None,
    ]
