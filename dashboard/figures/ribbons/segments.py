"""One step's milestones as the stretches of its ribbon, with edges as wide as the doubt."""

from __future__ import annotations

from datetime import datetime, timedelta

from curewatch.bench.views import MilestoneView, StepView
from curewatch.frozen import frozen

WORDS = {
    "workable": "workable",
    "clamped": "clamps on",
    "setting": "setting",
    "ready": "sand test",
    "window": "recoat window",
    "shut": "scuff first",
    "cured": "cured by the label",
    "stalled": "below its minimum",
}
_AFTER = {
    "clamp_time": "setting",
    "sand_ready": "ready",
    "recoat_opens": "window",
    "recoat_closes": "shut",
    "full_cure": "cured",
}


@frozen
class Edge:
    """Where a stretch begins: the early and the late instant of its milestone."""

    kind: str
    early: datetime
    late: datetime


@frozen
class Segment:
    """A stretch of a ribbon from its soft start to its soft end (None: it does not end)."""

    kind: str
    start: Edge
    end: Edge | None

    @property
    def word(self) -> str:
        """What is written on it."""
        return WORDS[self.kind]


def _edge(kind: str, milestone: MilestoneView) -> Edge | None:
    moments = [at for at in (milestone.early, milestone.likely, milestone.late) if at is not None]
    if not moments:
        return None
    late = milestone.late or max(moments) + timedelta(hours=12)
    return Edge(kind, min(moments), max(late, min(moments)))


def _kind_after(milestone: str, names: set[str]) -> str | None:
    if milestone == "working_time" or (milestone == "pot_life" and "working_time" not in names):
        return "clamped" if "clamp_time" in names else "setting"
    return _AFTER.get(milestone)


def edges(step: StepView) -> list[Edge]:
    """Where the stretches of a step begin, in order of time."""
    names = {milestone.name for milestone in step.milestones}
    wet = bool(names & {"working_time", "pot_life"})
    starts = [Edge("workable" if wet else "setting", step.mixed_at, step.mixed_at)]
    for milestone in step.milestones:
        kind = _kind_after(milestone.name, names)
        edge = _edge(kind, milestone) if kind else None
        if edge:
            starts.append(edge)
    starts.sort(key=lambda edge: edge.early + (edge.late - edge.early) / 2)
    return _without_steps_back(starts)


def _without_steps_back(edges: list[Edge]) -> list[Edge]:
    order = list(WORDS)
    kept = edges[:1]
    for edge in edges[1:]:
        if order.index(edge.kind) > order.index(kept[-1].kind):
            kept.append(edge)
    return kept


def _stall(step: StepView) -> Edge | None:
    after = step.forecast.stalled_from_min
    unreached = any(
        milestone.likely is None and milestone.answered is None for milestone in step.milestones
    )
    if after is None or not unreached:
        return None
    at = step.mixed_at + timedelta(minutes=after)
    ends = step.by_name.get("working_time") or step.by_name.get("pot_life")
    workable = _edge("stalled", ends) if ends else None
    return workable if workable and workable.early > at else Edge("stalled", at, at)


def segments(step: StepView) -> list[Segment]:
    """The stretches of a step's ribbon, each ending where the next begins."""
    starts = edges(step)
    stall = _stall(step)
    if stall:
        starts = [starts[0], *(edge for edge in starts[1:] if edge.early < stall.early), stall]
    ends = [*starts[1:], None]
    return [Segment(a.kind, a, b) for a, b in zip(starts, ends, strict=True)]


def present(step: StepView, now: datetime) -> str:
    """What a step is doing now, in the ribbon's word."""
    begun = [segment for segment in segments(step) if segment.start.late <= now]
    return begun[-1].word if begun else segments(step)[0].word
