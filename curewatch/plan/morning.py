"""The morning after: what the night did to every step and to bare metal, and when to test."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from curewatch.bench.bench import Bench
from curewatch.bench.due import open_milestones
from curewatch.bench.views import StepView
from curewatch.climate.conditions import Conditions
from curewatch.climate.reading import AIR_PLACE, Reading
from curewatch.climate.series import Interval
from curewatch.cure.thermal_history import minimum_c
from curewatch.durations import duration, on_wall
from curewatch.formats import ReaderFormat, when
from curewatch.frozen import frozen
from curewatch.garage import parts
from curewatch.garage.joint import NO_TIME
from curewatch.garage.part_history import Part
from curewatch.notice import Notice
from curewatch.notice_words import sentence, sentences, warnings_json
from curewatch.plan.night import Night, Progress, night, progress
from curewatch.products.shelf_life import local_day
from curewatch.quality.overview import believed
from curewatch.units import minutes
from curewatch.vocabulary import WAITED, in_words
from curewatch.walltime import instant_of, stamp

BEGINS, LATEST_MIX, ENDS = time(18, 0), time(3, 0), time(10, 0)
SHOWN_FROM, SHOWN_UNTIL = time(4, 0), time(12, 0)
LAST = "full_cure"
NEVER_C = -273.0
RUST = "look for rust, clean it again before anything goes over it"


@frozen
class Overnight:
    """One step's night; progress: towards each milestone it still asks; structural: a joint that
    no time is given for, also while it is asked about, with no figures; measured: whether any
    temperature was."""

    step: StepView
    night: Night
    progress: tuple[Progress, ...]
    least_c: float
    structural: bool
    measured: bool
    notes: tuple[Notice, ...]


@frozen
class BareNight:
    """The night of a part that stood bare."""

    part: Part
    night: Night


@frozen
class Morning:
    """What the last night did."""

    now: datetime
    start: datetime
    end: datetime
    steps: tuple[Overnight, ...]
    bare: tuple[BareNight, ...]


def last_night(now: datetime, zone: ZoneInfo) -> tuple[datetime, datetime]:
    """From six in the evening before today to ten, or to now where it is earlier."""
    today = local_day(now, zone)
    start = instant_of(today - timedelta(days=1), BEGINS, zone)
    return start, min(now, instant_of(today, ENDS, zone))


def is_morning(now: datetime, zone: ZoneInfo) -> bool:
    """Whether the bench shows the night by itself: from four to noon."""
    return SHOWN_FROM <= now.astimezone(zone).time() < SHOWN_UNTIL


def _damp_known(readings: list[Reading], place: str, start: datetime, end: datetime) -> bool:
    return any(
        reading.quantity == "relative_humidity"
        and reading.place in (place, AIR_PLACE)
        and start <= reading.at <= end
        for reading in readings
    )


def _one(bench: Bench, view: StepView, now: datetime, start: datetime, end: datetime) -> Overnight:
    step = bench.step(view.id)
    snapshot = bench.reader.snapshot(step.mixed_at, now)
    conditions = bench.reader.conditions(snapshot.readings, step, now)
    begin = max(start, step.mixed_at)
    measured = conditions.source != "assumed"
    damp_known = measured and _damp_known(list(snapshot.readings), step.place, begin, end)
    overnight = night(conditions, begin, end, minimum_c(step.sheet), damp_known=damp_known)
    structural = bench.reader.structural(step.part, step.job)
    before = 0.0
    if step.mixed_at < start and not structural:
        before = bench.reader.forecast(step, snapshot.as_of(start)).age_min
    towards = () if structural else tuple(_towards(view, before))
    least = minimum_c(step.sheet)
    return Overnight(view, overnight, towards, least, structural, measured, conditions.notes)


def _towards(view: StepView, before: float) -> Iterator[Progress]:
    waited = [milestone.name for milestone in open_milestones(view) if milestone.name in WAITED]
    for name in waited or [
        milestone.name for milestone in open_milestones(view) if milestone.name == LAST
    ]:
        yield progress(view.forecast, before, view.forecast.by_name[name])


def _conditions(
    bench: Bench, part: Part, start: datetime, end: datetime
) -> tuple[Conditions, bool]:
    readings = believed(bench.store, start - timedelta(hours=3), end, bucket_s=60)
    conditions = bench.reader.at(readings, part.place, start, end, parts.UNMEASURED_C)
    measured = conditions.source != "assumed"
    return conditions, measured and _damp_known(readings, part.place, start, end)


def _bare(bench: Bench, part: Part, start: datetime, end: datetime) -> BareNight:
    begin = max(start, part.bare_since or start)
    conditions, damp_known = _conditions(bench, part, begin, end)
    return BareNight(part, night(conditions, begin, end, NEVER_C, damp_known=damp_known))


def morning(bench: Bench, now: datetime, zone: ZoneInfo) -> Morning:
    """The last night of every step still on the bench, and of every part that stood bare."""
    start, end = last_night(now, zone)
    latest = instant_of(local_day(now, zone), LATEST_MIX, zone)
    ran = [view for view in bench.view(now).steps if view.mixed_at < min(latest, end)]
    stood = [
        part
        for part in parts.bare(parts.parts(bench.reader, now))
        if part.bare_since is not None and part.bare_since < min(latest, end)
    ]
    return Morning(
        now,
        start,
        end,
        tuple(_one(bench, view, now, start, end) for view in ran),
        tuple(_bare(bench, part, start, end) for part in stood),
    )


def spell_words(spell: Interval, now: datetime, say: ReaderFormat) -> str:
    """From when to when, or since when it lasts."""
    start = say.moment(spell.start, now)
    return f"since {start}" if spell.end >= now else f"from {start} to {say.moment(spell.end, now)}"


def _test(progress: Progress, mixed: datetime, now: datetime, say: ReaderFormat) -> str:
    early = (
        None
        if progress.early_min is None
        else on_wall(mixed, progress.early_min, progress.milestone)
    )
    first = f"not before {say.moment(early, now)}" if early is not None and early > now else ""
    if progress.late_min is None:
        why = sentences(progress.warnings, say) or "it may stop curing before it is reached"
        return f"{first}; {why}" if first else why
    late = on_wall(mixed, progress.late_min, progress.milestone)
    if late <= now:
        return "test now"
    test = f"test from {say.moment(late, now)}"
    return f"{first}, {test}" if first else test


def _reached(progress: Progress, step: StepView, now: datetime, say: ReaderFormat) -> str:
    label = say.temperature(step.sheet.reference.temperature_c, 0)
    needs = f"{duration(progress.needed_min, 'up')} at {label}"
    if progress.age_min >= progress.needed_min:
        words = f"probably past the {needs} it needs"
    else:
        night = f", {duration(progress.gained_min, 'down')} of them in the night"
        words = f"{duration(progress.age_min, 'down')} of the {needs} it needs{night}"
    return f"{in_words(progress.milestone)}: {words}; {_test(progress, step.mixed_at, now, say)}"


def step_lines(overnight: Overnight, now: datetime, say: ReaderFormat) -> Iterator[str]:
    """One step's night, in sentences."""
    if overnight.structural:
        yield sentence(NO_TIME[overnight.step.joint], say)
        return
    night = overnight.night
    yield from (_reached(progress, overnight.step, now, say) for progress in overnight.progress)
    if overnight.measured:
        cold = say.temperature(night.coldest_c)
        yield f"coldest {cold} {when(night.coldest_at, now, say)}"
        for spell in night.stalled:
            least = say.temperature(overnight.least_c, 0)
            yield f"not curing {spell_words(spell, now, say)}: below {least}"
    yield from (sentence(note, say) for note in overnight.notes)


def bare_lines(bare_night: BareNight, now: datetime, say: ReaderFormat) -> Iterator[str]:
    """The night of bare metal, in sentences."""
    part, night = bare_night.part, bare_night.night
    assert part.bare_since is not None
    yield f"bare since {say.moment(part.bare_since, now)}, {counted(part, now)}"
    if night.lowest_k is None:
        yield "humidity or temperature was not measured: nobody knows whether dew formed"
    for spell in night.damp:
        yield f"within {say.difference(3.0)} of the dew point {spell_words(spell, now, say)}"
    if night.lowest_k is not None and night.lowest_k < 0:
        yield f"{say.difference(-night.lowest_k)} below the dew point at worst: dew formed; {RUST}"
    elif night.damp:
        yield RUST


def counted(part: Part, now: datetime) -> str:
    """How long bare, and as how long the damp counts it."""
    if part.bare_since is None:
        return ""
    plain_min, damp_min = minutes(now - part.bare_since), 60 * (part.bare_hours or 0.0)
    if not part.damp_known:
        return f"{duration(plain_min)}, humidity not measured"
    faster = damp_min > 1.1 * plain_min
    return (
        f"{duration(plain_min)}, counts as {duration(damp_min)} (damp air)"
        if faster
        else duration(plain_min)
    )


def _spells(spells: tuple[Interval, ...]) -> list[dict[str, Any]]:
    return [{"from": stamp(spell.start), "to": stamp(spell.end)} for spell in spells]


def _night_json(night: Night) -> dict[str, Any]:
    return {
        "from": stamp(night.start),
        "to": stamp(night.end),
        "coldest_c": round(night.coldest_c, 2),
        "coldest_at": stamp(night.coldest_at),
        "near_dew": _spells(night.damp),
        "least_above_dew_k": None if night.lowest_k is None else round(night.lowest_k, 2),
    }


def _progress_json(progress: Progress, mixed: datetime) -> dict[str, Any]:
    late = (
        None if progress.late_min is None else on_wall(mixed, progress.late_min, progress.milestone)
    )
    return {
        "milestone": progress.milestone,
        "age_min": round(progress.age_min, 1),
        "gained_min": round(progress.gained_min, 1),
        "needed_min": round(progress.needed_min, 1),
        "test_from": stamp(late),
        **warnings_json(progress.warnings),
    }


def as_json(morning: Morning) -> dict[str, Any]:
    """The morning as plain data; ages in minutes at the label's temperature."""
    return {
        "now": stamp(morning.now),
        "steps": [
            {
                "step": overnight.step.id,
                "part": overnight.step.part,
                "sheet": overnight.step.sheet.id,
                "structural": overnight.structural,
                "measured": overnight.measured,
                **_night_json(overnight.night),
                "not_curing": [] if overnight.structural else _spells(overnight.night.stalled),
                "progress": [
                    _progress_json(one, overnight.step.mixed_at) for one in overnight.progress
                ],
            }
            for overnight in morning.steps
        ],
        "bare": [
            {
                "part": bare_night.part.name,
                "job": bare_night.part.job,
                "since": stamp(bare_night.part.bare_since),
                "counted_h": round(bare_night.part.bare_hours or 0.0, 2),
                **_night_json(bare_night.night),
            }
            for bare_night in morning.bare
        ],
    }
