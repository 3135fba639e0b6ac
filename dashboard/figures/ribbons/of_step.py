"""The ribbon of a step: its name, its stretches, and what each of them says when it is touched."""

from __future__ import annotations

import textwrap
from datetime import datetime
from html import escape

from curewatch.bench.views import StepView
from curewatch.formats import ReaderFormat
from curewatch.notice_words import sentences
from curewatch.wording import words
from dashboard.figures.ribbons.lanes import RibbonLane
from dashboard.figures.ribbons.segments import Edge, Segment, present, segments

_WIDE = 64


def _between(edge: Edge, now: datetime, say: ReaderFormat) -> str:
    """When an edge is: an instant, or between two that hold it nine times in ten."""
    early, late = say.moment(edge.early, now), say.moment(edge.late, now)
    return early if early == late else f"between {early} and {late}"


def _when(segment: Segment, now: datetime, say: ReaderFormat) -> str:
    begin, end = segment.start, segment.end
    text = f"since {_between(begin, now, say)}" if begin.late <= now else ""
    text = text or f"from {_between(begin, now, say)}"
    ends = f"{text}, until {_between(end, now, say)}" if end else text
    soft = begin.early != begin.late or (end is not None and end.early != end.late)
    return f"{ends} (9 in 10)" if soft else ends


def why_of(step: StepView, say: ReaderFormat) -> str:
    """Why its times are as they are."""
    return sentences(step.forecast.reason, say)


def hover_of(step: StepView, name: str, now: datetime, say: ReaderFormat) -> tuple[str, ...]:
    """What each stretch of a step says when it is touched: when, how sure, and why."""
    why = textwrap.wrap(why_of(step, say), _WIDE)
    return tuple(
        "<br>".join(
            escape(line, quote=False)
            for line in (
                f"{name}: {segment.word}",
                *textwrap.wrap(_when(segment, now, say), _WIDE),
                *why,
            )
        )
        for segment in segments(step)
    )


def lane_of(
    step: StepView,
    name: str,
    now: datetime,
    say: ReaderFormat,
    otherwise: StepView | None = None,
    wondered: str = "",
) -> RibbonLane:
    """The ribbon of a step, and how it would be if it were as wondered; a touch opens the step."""
    mixed = words.mixed_details(say, step.sheet.name, step.amount_g, step.hardener_pct)
    return RibbonLane(
        name,
        wondered if otherwise else mixed,
        tuple(segments(step)),
        hover_of(step, name, now, say),
        f"/step/{step.id}",
        tuple(segments(otherwise)) if otherwise else (),
    )


def said_of(step: StepView, name: str, now: datetime, say: ReaderFormat) -> str:
    """A ribbon in one sentence, for those who do not see it."""
    texts = [f"{name}, {words.short_name(step.sheet.name)}: {present(step, now)}"]
    for milestone in step.milestones:
        if milestone.early and milestone.late and milestone.late > now:
            between = f"{say.moment(milestone.early, now)} and {say.moment(milestone.late, now)}"
            return f"{texts[0]}, {words.in_words(milestone.name)} between {between}"
    return texts[0]
