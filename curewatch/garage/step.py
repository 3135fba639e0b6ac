"""The events of one step, read in order, to what is known of it now."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from contextlib import suppress
from dataclasses import field, replace
from datetime import datetime
from functools import lru_cache
from typing import Any

from curewatch.climate.reading import HeatSpell, added
from curewatch.errors import CurewatchError, StepError
from curewatch.events.details import Value
from curewatch.events.events import Event, standing
from curewatch.events.fields import MIXED_AT, Field
from curewatch.events.outline import ENDS, outline
from curewatch.events.outline import UNDONE as UNDONE
from curewatch.frozen import frozen
from curewatch.products.sheet import Sheet, parse_sheet
from curewatch.units import minutes
from curewatch.vocabulary import ORDERED, Sample, is_not_yet, is_reached

CLOSED = (*ENDS, UNDONE)
STOP, CAUTION = "stop", "caution"
AGAINST = {STOP: "mixed despite a stop", CAUTION: "mixed despite caution"}


@frozen
class WitnessView:
    """What was seen on a dab, when; entered later than seen where `recorded_at` is later;
    turned_min: how long before it the state began, None where only that it had. [min]"""

    id: int
    at: datetime
    recorded_at: datetime
    state: str
    sample: Sample
    turned_min: float | None = None


@frozen
class Answer:
    """What a test on the work found, or that it was put off; not asked again before `until`."""

    result: str
    at: datetime
    until: datetime | None = None


@frozen
class Happening:
    """Anything else that happened to a step: the event's number, its kind, when, when entered."""

    id: int
    kind: str
    at: datetime
    recorded_at: datetime
    body: Mapping[str, Any]


def override_words(verdict: str, stops: Iterable[str], why: str) -> str:
    """A mix despite these stops or cautions, and why."""
    return f"{AGAINST[verdict]}: {'; '.join(stop.rstrip('.') for stop in stops)}. Reason: {why}"


@frozen
class Override:
    """A mix despite these stops of the gate, entered at an instant; why: '' while none is entered.

    verdict: CAUTION where the gate stopped nothing and a reason was entered anyway.
    """

    stops: tuple[str, ...]
    why: str
    at: datetime
    verdict: str = STOP

    @property
    def words(self) -> str:
        """What it was mixed despite, and why."""
        return override_words(self.verdict, self.stops, self.why or "no reason entered")


@frozen
class Step:
    """A step as its events tell it: its times, aware; recorded: the values of its fields by name,
    of which code asks for amount_g [g], hardener_pct [%], film_um as put on [um] and product_c, the
    temperature the product was stored at [C]; happened: all other events, in the order told.
    reached: the tests that found a milestone reached and stand; reopened: those that a later test
    refuted."""

    id: int
    sheet: Sheet
    mixed_at: datetime
    recorded_at: datetime
    recorded: Mapping[str, Any] = field(default_factory=dict)
    state: str = "hardening"
    closed_at: datetime | None = None
    witnesses: tuple[WitnessView, ...] = ()
    answers: dict[str, tuple[Answer, ...]] = field(default_factory=dict)
    reached: dict[str, Answer] = field(default_factory=dict)
    reopened: dict[str, Answer] = field(default_factory=dict)
    acknowledged: dict[str, datetime] = field(default_factory=dict)
    notes: tuple[str, ...] = ()
    heated: tuple[HeatSpell, ...] = ()
    overrides: tuple[Override, ...] = ()
    fan_on: datetime | None = None
    can: int = 0
    amended: dict[str, datetime] = field(default_factory=dict)
    happened: tuple[Happening, ...] = ()
    last_event: int = 0

    part = Value("")
    job = Value("")
    place = Value("panel")
    batch = Value("")
    who = Value("")
    applied = Value("")
    amount_g = Value[float | None](None)
    hardener_pct = Value[float | None](None)
    film_um = Value[float | None](None)
    product_c = Value[float | None](None)

    def value(self, field: Field) -> Any:
        """What is recorded of a field, its empty value where nothing is."""
        values = vars(self) if field is MIXED_AT else self.recorded
        return values.get(field.name, field.empty)

    def but(self, **recorded: Any) -> Step:
        """The same step with other values for these fields."""
        return replace(self, recorded={**self.recorded, **recorded})

    def of(self, *kinds: str) -> tuple[Happening, ...]:
        """What happened of these kinds, in the order told."""
        return tuple(event for event in self.happened if event.kind in kinds)

    @property
    def emptied_at(self) -> datetime | None:
        """When cup, gun and tools were told to be used up and clean."""
        events = self.of("emptied")
        return events[-1].at if events else None

    @property
    def in_use_until(self) -> datetime | None:
        """Until when the cup or gun was told to be still in use, if it was."""
        events = self.of("in_use")
        return datetime.fromisoformat(events[-1].body["until"]) if events else None

    @property
    def unexplained(self) -> tuple[str, ...]:
        """The stops it was mixed against with no reason told yet."""
        return tuple(
            stop for override in self.overrides if not override.why for stop in override.stops
        )

    def after_min(self, at: datetime) -> float:
        """Minutes from mixing to an instant. [min]"""
        return minutes(at - self.mixed_at)


class DamagedStep(StepError):
    """A step that cannot be read or worked out; reason: what is wrong with it."""

    def __init__(self, number: int, reason: str, fix: str = "") -> None:
        fix = fix or "remove its damaged entry, or bring back a copy from before"
        super().__init__(f"step {number} is damaged ({reason})", fix=fix)
        self.number, self.reason = number, reason


@lru_cache(maxsize=256)
def _sheet(text: str, id: str) -> Sheet:
    return parse_sheet(text, id)


def _begun(events: Sequence[Event]) -> Step:
    """The step before anything happened to it, with all that was entered about it."""
    first, mix = events[0], outline(events)
    if first.damaged:
        raise DamagedStep(first.step, first.damaged)
    try:
        sheet = _sheet(mix.sheet_text, mix.sheet_id)
    except CurewatchError as error:
        raise DamagedStep(first.step, f"the product cannot be read: {error.what}") from None
    return Step(
        id=first.step,
        sheet=sheet,
        mixed_at=mix.mixed_at,
        recorded_at=first.recorded_at,
        acknowledged={key: first.recorded_at for key in first.body.get("acknowledged", ())},
        state=mix.state,
        closed_at=mix.closed_at,
        can=mix.can,
        amended=dict(mix.amended),
        last_event=events[-1].id,
        recorded=mix.recorded,
    )


def _with_witness(step: Step, event: Event) -> Step:
    seen: list[Any] = [event.body.get(key) for key in ("state", "sample", "turned_min")]
    witness = WitnessView(event.id, event.at, event.recorded_at, *seen)
    return replace(step, witnesses=(*step.witnesses, witness))


def _turned(step: Step, event: Event) -> Step:
    """How long ago it turned, entered of a look that was entered before."""
    number, turned_min = event.body["event"], event.body["turned_min"]
    witnesses = tuple(
        replace(witness, turned_min=turned_min) if witness.id == number else witness
        for witness in step.witnesses
    )
    return replace(step, witnesses=witnesses)


def _answered(step: Step, event: Event) -> Step:
    until = event.body.get("until")
    answer = Answer(
        event.body["result"], event.at, datetime.fromisoformat(until) if until else None
    )
    name = event.body["milestone"]
    step = replace(step, answers=step.answers | {name: (*step.answers.get(name, ()), answer)})
    if is_reached(answer.result):
        reopened = {key: value for key, value in step.reopened.items() if key != name}
        return replace(step, reached={name: answer} | step.reached, reopened=reopened)
    return _refuted(step, name) if is_not_yet(answer.result) else step


def _refuted(step: Step, name: str) -> Step:
    """Not yet at this milestone: neither it nor what comes after it was reached before."""
    after = [later for first, later, _ in ORDERED if first == name and later != "recoat_closes"]
    withdrawn = {key: step.reached[key] for key in (name, *after) if key in step.reached}
    left = {key: value for key, value in step.reached.items() if key not in withdrawn}
    return replace(step, reached=left, reopened=step.reopened | withdrawn)


def _heated(step: Step, event: Event) -> Step:
    body = event.body
    start, until = (datetime.fromisoformat(body[key]) for key in ("from", "until"))
    return replace(step, heated=added(step.heated, HeatSpell(start, until, body["surface_c"])))


def _overridden(step: Step, event: Event) -> Step:
    """A reason told later takes the place of the mix against the same stops."""
    verdict = CAUTION if event.body.get("verdict") == CAUTION else STOP
    override = Override(tuple(event.body["stops"]), event.body["why"], event.recorded_at, verdict)
    kept = tuple(
        earlier for earlier in step.overrides if earlier.why or earlier.stops != override.stops
    )
    return replace(step, overrides=(*kept, override))


def _next(step: Step, event: Event) -> Step:
    match event.kind:
        case "amended":
            return step
        case "witnessed":
            return _with_witness(step, event)
        case "turned":
            return _turned(step, event)
        case "tested":
            return _answered(step, event)
        case "acknowledged":
            return replace(
                step, acknowledged=step.acknowledged | {event.body["key"]: event.recorded_at}
            )
        case "heated":
            step = _heated(step, event)
        case "overridden":
            step = _overridden(step, event)
        case "fan":
            step = replace(step, fan_on=event.at if event.body["on"] else None)
        case "coated":
            count = len(step.of("coated")) + 1
            event = replace(event, body={**event.body, "coat": count})
        case "noted":
            return replace(step, notes=(*step.notes, event.body["text"]))
        case "finished" | "abandoned":
            why = event.body.get("why")
            return replace(step, notes=(*step.notes, why)) if why else step
    happening = Happening(event.id, event.kind, event.at, event.recorded_at, event.body)
    return replace(step, happened=(*step.happened, happening))


def fold(events: Sequence[Event]) -> Step:
    """The step that these events tell, the first being its start, without what was undone.

    A mix that was undone is left as a step of the state `undone`. Raises DamagedStep where the
    start cannot be read.
    """
    step = _begun(events)
    for event in standing(events):
        if event is not events[0]:
            step = _next(step, event)
    return step


def folded(steps_events: Iterable[Sequence[Event]]) -> list[Step]:
    """The steps that these events of each tell, but for those whose start cannot be read."""
    folded_steps = []
    for events in steps_events:
        with suppress(DamagedStep):
            folded_steps.append(fold(events))
    return folded_steps
