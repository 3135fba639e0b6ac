"""The bench as lamps and buzzers follow it: one plain object for each topic.

Topics under `curewatch/bench/`: `STEP/MILESTONE`, like `3/clamp_time`; `next`, the one thing
that comes next; `alarms`, what would sound now; `plan`, the beginnings that a plan
reminds of. Readers may rely on every key named in SCHEMAS;
later versions may add keys.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from collections.abc import Set as AbstractSet
from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Any, get_args

from curewatch.bench.alarms import Alarm, Kind, alarms
from curewatch.bench.due import asked_of, open_milestones
from curewatch.notice_words import sentences
from curewatch.text import short_name
from curewatch.walltime import stamp

if TYPE_CHECKING:
    from curewatch.bench.views import BenchView, DueView, MilestoneView, StepView

Message = dict[str, Any]
STATES = ("ahead", "test-now", "reached", "over", "no-time")
NOTHING = "nothing"
TIMES = ("due", "early", "likely", "late")
FELT = timedelta(minutes=1)
_ASIDE = ("reason", "revision")

_TIME = {"type": "string", "format": "date-time", "description": "RFC 3339, UTC"}
_MAYBE = {"anyOf": [_TIME, {"type": "null"}]}
_WORD = {"anyOf": [{"type": "string"}, {"type": "null"}]}
_STEP = {"anyOf": [{"type": "integer", "minimum": 1}, {"type": "null"}]}
_HEAD = {"step": _STEP, **{key: _WORD for key in ("what", "where", "place", "product")}}


def _schema(properties: Message) -> Message:
    return {"type": "object", "properties": properties, "required": list(properties)}


_MILESTONE = _schema(
    {
        **_HEAD,
        "state": {"enum": [*STATES, NOTHING]},
        **dict.fromkeys(TIMES, _MAYBE),
        "reason": _WORD,
        "revision": {"type": "string"},
    }
)
_ALARM = _schema(
    {
        "kind": {"enum": list(get_args(Kind))},
        **_HEAD,
        "since": _TIME,
        "once": {"type": "boolean"},
        "silenced": {"type": "boolean"},
    }
)
_BEGINNING = _schema(
    {
        **{key: {"type": "string"} for key in ("part", "job", "does")},
        "state": {"enum": ["ahead", "begin", "past"]},
        "from": _TIME,
        "until": _TIME,
        "moved_from": _MAYBE,
        "moved_because": _WORD,
    }
)
SCHEMAS: Mapping[str, Message] = {
    "milestone": _MILESTONE,
    "alarms": _schema(
        {"alarms": {"type": "array", "items": _ALARM}, "revision": {"type": "string"}}
    ),
    "plan": _schema({"steps": {"type": "array", "items": _BEGINNING}}),
}


def where(part: str, product: str) -> str:
    """What a step is called: its part, else its product without what stands in brackets."""
    return part or short_name(product)


def _head(step: StepView, what: str) -> Message:
    return {
        "step": step.id,
        "what": what,
        "where": where(step.part, step.sheet.name),
        "place": step.place,
        "product": step.sheet.name,
    }


def state_of(step: StepView, milestone: MilestoneView, now: datetime) -> str:
    """One of STATES: reached by a test, or a later one was; over is what ended unasked."""
    open_names = {candidate.name for candidate in open_milestones(step)}
    past = milestone.shown is not None and milestone.shown <= now
    if milestone.reached or (milestone.name not in open_names and milestone.name != "pot_life"):
        return "reached"
    if past:
        question = asked_of(step)
        return "test-now" if question is not None and question.name == milestone.name else "over"
    return "no-time" if milestone.shown is None or milestone.likely is None else "ahead"


def _milestone(step: StepView, milestone: MilestoneView, view: BenchView) -> Message:
    state = state_of(step, milestone, view.now)
    return {
        **_head(step, milestone.name),
        "state": state,
        "due": None if state == "no-time" else milestone.shown,
        "early": milestone.early,
        "likely": milestone.likely,
        "late": milestone.late,
        "reason": sentences(step.forecast.reason),
        "revision": view.revision,
    }


def next_due(view: BenchView) -> DueView | None:
    """What the bench asks first: what is due, then by time, what has no time last."""

    def order(due: DueView) -> tuple[bool, bool, datetime]:
        milestone = due.milestone
        return not milestone.due, milestone.timeless, milestone.shown or view.now

    return min(view.due, key=order, default=None)


def _next(view: BenchView) -> Message:
    due = next_due(view)
    if due is None:
        empty = dict.fromkeys([*_HEAD, *TIMES, "reason"])
        return {**empty, "state": NOTHING, "revision": view.revision}
    return _milestone(due.step, due.milestone, view)


def sounding(view: BenchView, planned: Iterable[Alarm] = ()) -> list[Alarm]:
    """What is to be heard now; planned: the beginnings that a plan reminds of."""
    return [alarm for alarm in (*alarms(view), *planned) if alarm.at <= view.now]


def _alarm(alarm: Alarm, step: StepView | None, silenced: AbstractSet[str]) -> Message:
    unmixed = {**dict.fromkeys(_HEAD), "what": alarm.name, "where": alarm.part}
    place = {"where": alarm.name, "place": alarm.name} if alarm.kind == "lost" else {}
    return {
        "kind": alarm.kind,
        **(unmixed if step is None else _head(step, alarm.name)),
        **place,
        "since": alarm.at,
        "once": alarm.once,
        "silenced": alarm.key in silenced,
    }


def announced(
    view: BenchView, silenced: AbstractSet[str] = frozenset(), planned: Iterable[Alarm] = ()
) -> dict[str, Message]:
    """What every topic holds now, instants still as such; silenced: the keys of the alarms that
    someone silenced; planned: the beginnings that a plan reminds of."""
    steps = {step.id: step for step in view.steps}
    heard = [
        _alarm(alarm, None if alarm.step is None else steps[alarm.step], silenced)
        for alarm in sounding(view, planned)
    ]
    messages = {
        f"{step.id}/{milestone.name}": _milestone(step, milestone, view)
        for step in view.steps
        for milestone in step.milestones
    }
    return {
        **messages,
        "next": _next(view),
        "alarms": {"alarms": heard, "revision": view.revision},
    }


def alike(one: Any, other: Any) -> bool:
    """Whether nobody need be told: only times moved, each by less than a minute."""
    if isinstance(one, datetime) and isinstance(other, datetime):
        return abs(one - other) < FELT
    if isinstance(one, dict) and isinstance(other, dict):
        return one.keys() == other.keys() and all(
            alike(one[key], other[key]) for key in one if key not in _ASIDE
        )
    if isinstance(one, list) and isinstance(other, list):
        return len(one) == len(other) and all(map(alike, one, other))
    return bool(one == other)


def for_json(value: Any) -> Any:
    """A message as JSON holds it: instants in RFC 3339, UTC, to the second."""
    if isinstance(value, datetime):
        return stamp(value)
    if isinstance(value, dict):
        return {key: for_json(item) for key, item in value.items()}
    return [for_json(item) for item in value] if isinstance(value, list) else value
