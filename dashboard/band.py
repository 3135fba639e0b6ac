"""What the bench page says: the band, what follows, whom to ask, what to sound."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from curewatch.bench.alarms import asks_for_tools, closing
from curewatch.bench.views import AirTile, BenchView, Change, DueView, StepView
from curewatch.vocabulary import EARLY_SHOWN, LATER
from curewatch.wording import milestone_words, words
from curewatch.wording.words import ReaderFormat, Rounding, rounding

FAR = timedelta(hours=12)
SOON = timedelta(hours=2)
FRESH = timedelta(minutes=30)


def ms(at: datetime) -> int:
    """An instant as the browser counts it: milliseconds since 1970. [ms]"""
    return round(at.timestamp() * 1000)


def minutes_to(at: datetime, now: datetime) -> float:
    """From now to an instant. [min]"""
    return (at - now).total_seconds() / 60


@dataclass(frozen=True)
class Next:
    """The band at the top: one thing to do, and when."""

    step_id: int
    milestone: str
    sentence: str
    due: bool
    at: datetime | None
    rounding: Rounding
    lines: tuple[str, ...]
    reason: str
    test: str
    answers: tuple[tuple[str, str], ...]
    call: str
    part: str
    cold: bool


@dataclass(frozen=True)
class Then:
    """A later thing: its words and its instant."""

    text: str
    at: datetime | None
    due: bool
    rounding: Rounding
    far: bool


def timeless(due: DueView) -> bool:
    """Whether the model gives no time: only a bound at best, never a likely one."""
    return not due.due and (due.shown is None or due.likely is None)


def asked(view: BenchView) -> list[DueView]:
    """What the steps ask: what is due, then by time, what has no time last."""
    order = {True: 2, False: 1}
    return sorted(
        view.due,
        key=lambda each: (0 if each.due else order[timeless(each)], each.shown or view.now),
    )


def _lines(due: DueView, now: datetime, manner: ReaderFormat) -> tuple[str, ...]:
    if due.shown is None or timeless(due):
        return due.warnings[:2]
    said = []
    if due.milestone in EARLY_SHOWN:
        if due.likely:
            said.append(f"likely until {manner.moment(due.likely, now)}")
        said.append(f"act by {manner.moment(due.shown, now)}")
    else:
        if due.likely and due.likely > now:
            up = words.duration(minutes_to(due.likely, now), "up")
            said.append(f"likely from {up}")
        elif due.likely:
            said.append(f"likely since {manner.moment(due.likely, now)}")
        said.append(f"at the latest {manner.moment(due.shown, now)}")
    return tuple(said)


def next_of(due: DueView, now: datetime, manner: ReaderFormat) -> Next:
    """What the band says of a milestone."""
    part = words.part_of(due.part, due.sheet_name)
    say = (
        milestone_words.test_now
        if due.due
        else milestone_words.no_time
        if timeless(due)
        else milestone_words.do
    )
    return Next(
        step_id=due.step_id,
        milestone=due.milestone,
        sentence=say(due.milestone, part),
        due=due.due,
        at=due.shown,
        rounding=rounding(due.milestone),
        lines=_lines(due, now, manner),
        reason=due.reason,
        test=milestone_words.TEST.get(due.milestone, ""),
        answers=(*milestone_words.ANSWERS[due.milestone].items(), (LATER, milestone_words.LATER)),
        call=milestone_words.call(due.milestone),
        part=part,
        cold=due.cold,
    )


def _coming(view: BenchView) -> list[tuple[int, str, str, datetime | None, bool]]:
    """Every milestone ahead: what each step asks, then what follows on its sheet."""
    found = []
    for due in asked(view):
        part = words.part_of(due.part, due.sheet_name)
        at = None if timeless(due) else due.shown
        found.append((due.step_id, due.milestone, part, at, due.due))
    known = {each[:2] for each in found}
    for step in view.steps:
        part = words.part_of(step.part, step.sheet.name)
        for each in step.milestones:
            timed = each.likely is not None and each.shown is not None and each.shown > view.now
            if (
                timed
                and not each.reached
                and each.name != "pot_life"
                and (step.id, each.name) not in known
            ):
                found.append((step.id, each.name, part, each.shown, False))
    return found


def then_of(view: BenchView, most: int = 3) -> list[Then]:
    """What follows the band: what else is due, then by time; what has no time comes last."""
    found = sorted(
        _coming(view)[1:], key=lambda each: (not each[4], each[3] is None, each[3] or view.now)
    )
    found.sort(key=lambda each: not each[4] and not _shuts_soon(each[1], each[3], view))
    return [
        Then(
            milestone_words.then(name, part),
            at,
            due,
            rounding(name),
            at is not None and _far(at, view),
        )
        for _, name, part, at, due in found[:most]
    ]


def _far(at: datetime, view: BenchView) -> bool:
    return at - view.now > FAR


def _shuts_soon(milestone: str, at: datetime | None, view: BenchView) -> bool:
    return milestone == "recoat_closes" and at is not None and at - view.now <= SOON


def closings(view: BenchView) -> list[tuple[StepView, datetime]]:
    """The recoat windows that shut within twelve hours and that the band does not speak of."""
    first = asked(view)[0] if view.due else None
    found = []
    for step in view.steps:
        shuts = closing(step)
        if shuts is None or shuts.shown is None or not view.now < shuts.shown <= view.now + FAR:
            continue
        if first is None or (first.step_id, first.milestone) != (step.id, "recoat_closes"):
            found.append((step, shuts.shown))
    return sorted(found, key=lambda each: each[1])


def when_due(view: BenchView, manner: ReaderFormat) -> Next | None:
    """What the band will say once its countdown has run out."""
    first = asked(view)[0] if view.due else None
    if first is None or first.due or timeless(first):
        return None
    return next_of(replace(first, due=True), view.now, manner)


def unexplained(view: BenchView) -> StepView | None:
    """The last step that was mixed against a stop without saying why."""
    return next((step for step in reversed(view.steps) if step.unexplained), None)


def tools(view: BenchView) -> StepView | None:
    """The step whose cup or gun should be used up by now and was not told to be."""
    found = [step for step in view.steps if asks_for_tools(step, view.now)]
    return found[-1] if found else None


def others(view: BenchView, drawn: Collection[int]) -> list[StepView]:
    """The steps without a ribbon, what comes first first."""
    order = list(dict.fromkeys(each.step_id for each in view.due))
    left = [step for step in view.steps if step.id not in drawn]
    return sorted(left, key=lambda step: order.index(step.id) if step.id in order else len(order))


def changes(view: BenchView) -> list[tuple[StepView, Change]]:
    """What moved: what is asked next first, then by how far."""
    wanted = {(due.step_id, due.milestone) for due in view.due}
    found = [
        (step, change)
        for step in view.steps
        if not step.forecast.stalled_now
        for change in step.changes
    ]
    return sorted(
        found,
        key=lambda each: ((each[0].id, each[1].milestone) not in wanted, -abs(each[1].later_min)),
    )


def focus(view: BenchView) -> StepView | None:
    """The step whose dab is asked about: the next one's, else the last mixed."""
    if not view.steps:
        return None
    wanted = asked(view)[0].step_id if view.due else view.steps[-1].id
    return next((step for step in view.steps if step.id == wanted), view.steps[-1])


def unmasked(view: BenchView) -> StepView | None:
    """The last step that may be sprayed with isocyanate, nobody having said who is protected."""
    return next((step for step in reversed(view.steps) if step.unmasked), None)


def unsure(view: BenchView) -> StepView | None:
    """The last step on a part that may be structural, nobody having said whether it is."""
    return next((step for step in reversed(view.steps) if step.joint == "asked"), None)


def reminding(view: BenchView) -> StepView | None:
    """The last step with reminders that nobody answered; after its first half hour the question
    whether cup and tools are clean comes before them."""
    steps = [step for step in reversed(view.steps) if words.unanswered(step)]
    fresh = [step for step in steps if view.now - step.told_at < FRESH]
    return next(iter(fresh or ([] if tools(view) else steps)), None)


def stalled(view: BenchView) -> StepView | None:
    """The step the band speaks of when no time can be given for any."""
    first = asked(view)[0] if view.due else None
    if first is None or not timeless(first):
        return None
    return next((step for step in view.steps if step.id == first.step_id), None)


def main_air(tiles: Sequence[AirTile], places: Sequence[str] = ()) -> list[AirTile]:
    """The present values for the bench: at most five, those of the steps' places among them.

    places: where the steps are, the one to show first first.
    """
    here = list(dict.fromkeys(places))[:2] or ["panel"]
    wanted = [
        *((place, "surface_temperature") for place in here),
        ("air", "air_temperature"),
        ("air", "relative_humidity"),
        (here[0], "dew_point_spread"),
        ("outdoors", "air_temperature"),
    ]
    held = {(tile.place, tile.quantity): tile for tile in tiles}
    chosen = [held[key] for key in wanted if key in held]
    others = [tile for tile in tiles if (tile.place, tile.quantity) not in wanted]
    return (chosen + others)[:5]


def dew_from(view: BenchView) -> datetime | None:
    """From when dew is likely, if it is."""
    spells = view.track.dew if view.track else ()
    return next((max(start, view.now) for start, end in spells if end > view.now), None)
