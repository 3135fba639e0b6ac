"""What the bench page says: the band, what follows, which step is asked about, what moved."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import replace
from datetime import datetime, timedelta

from curewatch.bench.alarms import asks_for_tools, closing
from curewatch.bench.views import AirTile, BenchView, Change, DueView, MilestoneView, StepView
from curewatch.frozen import frozen
from curewatch.notice_words import sentence, sentences
from curewatch.vocabulary import EARLY_SHOWN, LATER
from curewatch.wording import milestone_words, words
from curewatch.wording.words import ReaderFormat, Rounding, rounding

FAR = timedelta(hours=12)
SOON = timedelta(hours=2)
FRESH = timedelta(minutes=30)


@frozen
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


@frozen
class Then:
    """A later thing: its words and its instant."""

    text: str
    at: datetime | None
    due: bool
    rounding: Rounding
    far: bool


def due_in_order(view: BenchView) -> list[DueView]:
    """What the steps ask: what is due, then by time, what has no time last."""

    def order(due: DueView) -> tuple[bool, bool, datetime]:
        milestone = due.milestone
        return not milestone.due, milestone.timeless, milestone.shown or view.now

    return sorted(view.due, key=order)


def _lines(milestone: MilestoneView, now: datetime, manner: ReaderFormat) -> tuple[str, ...]:
    if milestone.shown is None or milestone.timeless:
        return tuple(sentence(warning, manner) for warning in milestone.warnings[:2])
    texts = []
    if milestone.name in EARLY_SHOWN:
        texts.append(f"by {manner.moment(milestone.shown, now)}")
        if milestone.likely and milestone.likely > milestone.shown:
            texts.append(f"likely good to {manner.moment(milestone.likely, now)}")
    else:
        if milestone.likely:
            since = "from" if milestone.likely > now else "since"
            texts.append(f"likely {since} {manner.moment(milestone.likely, now)}")
        texts.append(f"at the latest {manner.moment(milestone.shown, now)}")
    return tuple(texts)


def next_of(due: DueView, view: BenchView, manner: ReaderFormat) -> Next:
    """What the band says of a milestone."""
    step, milestone, now = due.step, due.milestone, view.now
    part, name = words.step_names(view.steps, now, manner)[step.id], milestone.name
    say = milestone_words.no_time if milestone.timeless else milestone_words.do
    return Next(
        step_id=step.id,
        milestone=name,
        sentence=(milestone_words.test_now if milestone.due else say)(name, part),
        due=milestone.due,
        at=milestone.shown,
        rounding=rounding(name),
        lines=_lines(milestone, now, manner),
        reason=sentences(step.forecast.reason, manner),
        test=milestone_words.TEST.get(name, ""),
        answers=(*milestone_words.ANSWERS[name].items(), (LATER, milestone_words.LATER)),
        call=milestone_words.call(name),
        part=part,
        cold=step.forecast.stalled_now,
    )


def _coming(
    view: BenchView, manner: ReaderFormat
) -> list[tuple[int, str, str, datetime | None, bool]]:
    """Every milestone ahead: what each step asks, then what follows on its sheet."""
    rows, names = [], words.step_names(view.steps, view.now, manner)
    for due in due_in_order(view):
        part, milestone = names[due.step.id], due.milestone
        at = None if milestone.timeless else milestone.shown
        rows.append((due.step.id, milestone.name, part, at, milestone.due))
    named = {row[:2] for row in rows}
    for step in view.steps:
        part = names[step.id]
        for milestone in step.milestones:
            timed = (
                milestone.likely is not None
                and milestone.shown is not None
                and milestone.shown > view.now
            )
            if (
                timed
                and not milestone.reached
                and milestone.name != "pot_life"
                and (step.id, milestone.name) not in named
            ):
                rows.append((step.id, milestone.name, part, milestone.shown, False))
    return rows


def then_of(view: BenchView, manner: ReaderFormat, most: int = 3) -> list[Then]:
    """What follows the band: what else is due, then by time; what has no time comes last."""
    rows = sorted(
        _coming(view, manner)[1:],
        key=lambda row: (not row[4], row[3] is None, row[3] or view.now),
    )
    rows.sort(key=lambda row: not row[4] and not _shuts_soon(row[1], row[3], view))
    return [
        Then(
            milestone_words.then(name, part),
            at,
            due,
            rounding(name),
            at is not None and _far(at, view),
        )
        for _, name, part, at, due in rows[:most]
    ]


def _far(at: datetime, view: BenchView) -> bool:
    return at - view.now > FAR


def _shuts_soon(milestone: str, at: datetime | None, view: BenchView) -> bool:
    return milestone == "recoat_closes" and at is not None and at - view.now <= SOON


def closings(view: BenchView) -> list[tuple[StepView, datetime]]:
    """The recoat windows that close within twelve hours and that the band does not speak of."""
    first = due_in_order(view)[0] if view.due else None
    shutting = []
    for step in view.steps:
        shuts = closing(step)
        if shuts is None or shuts.shown is None or not view.now < shuts.shown <= view.now + FAR:
            continue
        if first is None or (first.step.id, first.milestone.name) != (step.id, "recoat_closes"):
            shutting.append((step, shuts.shown))
    return sorted(shutting, key=lambda pair: pair[1])


def when_due(view: BenchView, manner: ReaderFormat) -> Next | None:
    """What the band will say once its countdown has run out."""
    first = due_in_order(view)[0] if view.due else None
    if first is None or first.milestone.due or first.milestone.timeless:
        return None
    due = replace(first, milestone=replace(first.milestone, due=True))
    return next_of(due, view, manner)


def unexplained(view: BenchView) -> StepView | None:
    """The last step that was mixed against a stop without saying why."""
    return next((step for step in reversed(view.steps) if step.unexplained), None)


def tools(view: BenchView) -> StepView | None:
    """The step whose cup or gun should be used up by now and was not told to be."""
    steps = [step for step in view.steps if asks_for_tools(step, view.now)]
    return steps[-1] if steps else None


def others(view: BenchView, drawn: Collection[int]) -> list[StepView]:
    """The steps without a ribbon, what comes first first."""
    order = list(dict.fromkeys(due.step.id for due in view.due))
    left = [step for step in view.steps if step.id not in drawn]
    return sorted(left, key=lambda step: order.index(step.id) if step.id in order else len(order))


def changes(view: BenchView) -> list[tuple[StepView, Change]]:
    """What moved: what is asked next first, then by how far."""
    wanted = {(due.step.id, due.milestone.name) for due in view.due}
    moved = [
        (step, change)
        for step in view.steps
        if not step.forecast.stalled_now
        for change in step.changes
    ]
    return sorted(
        moved,
        key=lambda pair: ((pair[0].id, pair[1].milestone) not in wanted, -abs(pair[1].later_min)),
    )


def focus(view: BenchView) -> StepView | None:
    """The step whose dab is asked about: the next one's, else the last mixed."""
    if not view.steps:
        return None
    return due_in_order(view)[0].step if view.due else view.steps[-1]


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
    fresh = [step for step in steps if view.now - step.recorded_at < FRESH]
    return next(iter(fresh or ([] if tools(view) else steps)), None)


def stalled(view: BenchView) -> StepView | None:
    """The step the band speaks of when no time can be given for any."""
    first = due_in_order(view)[0] if view.due else None
    return first.step if first and first.milestone.timeless else None


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
    by_key = {(tile.place, tile.quantity): tile for tile in tiles}
    chosen = [by_key[key] for key in wanted if key in by_key]
    others = [tile for tile in tiles if (tile.place, tile.quantity) not in wanted]
    return (chosen + others)[:5]


def dew_from(view: BenchView) -> datetime | None:
    """From when dew is likely, if it is."""
    spells = view.track.dew if view.track else ()
    return next((max(start, view.now) for start, end in spells if end > view.now), None)
