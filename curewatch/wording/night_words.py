"""Sentences about the last night: the whole of it in a line, and each moment of its figure."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime, timedelta

from curewatch.climate.series import Interval
from curewatch.durations import duration, on_wall
from curewatch.formats import ReaderFormat
from curewatch.plan.morning import BareNight, Morning, Overnight, spell_words
from curewatch.plan.night_course import NightCourse
from curewatch.units import minutes
from curewatch.vocabulary import in_words
from curewatch.wording import words

NOTHING = "Nothing was on the bench last night, and no metal was bare."
NO_FIGURE = "no times"
_STEP_TEST = {"clamp_time": "clamps off", "sand_ready": "sand-ready"}


def step_name(overnight: Overnight) -> str:
    """What a step is called: its part, else its product."""
    return words.part_of(overnight.step.part, overnight.step.sheet.name)


def _first_up(text: str) -> str:
    return text[:1].upper() + text[1:]


def _length(spells: tuple[Interval, ...]) -> str:
    return duration(
        minutes(sum((interval.end - interval.start for interval in spells), timedelta()))
    )


def _names(overnights: Sequence[Overnight]) -> str:
    """The steps of a list, as the beginning of a sentence."""
    *most, last = (step_name(overnight) for overnight in overnights)
    return _first_up(f"{', '.join(most)} and {last}" if most else last)


def _to_test(morning: Morning) -> Iterator[str]:
    """The steps of which something can be tested by now."""
    due = [overnight for overnight in morning.steps if _due(overnight, morning.now)]
    if due:
        yield f"Test now: {', '.join(step_name(overnight) for overnight in due)}."


def _due(overnight: Overnight, now: datetime) -> bool:
    lates = [
        on_wall(overnight.step.mixed_at, progress.late_min, progress.milestone)
        for progress in overnight.progress
        if progress.late_min is not None
    ]
    return any(late <= now for late in lates)


def _cold(morning: Morning, say: ReaderFormat) -> Iterator[str]:
    """Which steps stood still for how long, and how cold it was."""
    measured = [overnight for overnight in morning.steps if overnight.measured]
    timed = [overnight for overnight in measured if not overnight.structural]
    groups: dict[str, list[Overnight]] = {}
    for overnight in timed:
        if overnight.night.stalled:
            least = say.temperature(overnight.least_c, 0)
            cold = f"did not cure for {_length(overnight.night.stalled)} (below {least})"
            groups.setdefault(cold, []).append(overnight)
    yield from (f"{_names(overnights)} {cold}." for cold, overnights in groups.items())
    if timed and not groups:
        yield "Nothing was too cold to cure."
    if measured:
        coldest = min(measured, key=lambda overnight: overnight.night.coldest_c).night
        yield f"Coldest {say.temperature(coldest.coldest_c)} at {say.clock(coldest.coldest_at)}."


def _dew(morning: Morning) -> Iterator[str]:
    for bare in morning.bare:
        name = _first_up(bare.part.name)
        if bare.night.lowest_k is None:
            yield f"{name}: nobody knows whether dew formed, humidity was not measured."
        elif bare.night.lowest_k < 0:
            yield f"Dew formed on {bare.part.name}."
        elif bare.night.damp:
            yield f"{name} came near the dew point."
        else:
            yield f"{name} stayed dry."


def headline(morning: Morning, say: ReaderFormat) -> str:
    """The whole night in a few short sentences."""
    if not morning.steps and not morning.bare:
        return NOTHING
    return " ".join([*_to_test(morning), *_cold(morning, say), *_dew(morning)])


def percent(share: float) -> str:
    """How much of its need a step has got; what is enough is not counted beyond."""
    return "enough" if share >= 1 else f"{100 * share:.0f} %"


def reached(course: NightCourse, *, short: bool = False) -> str:
    """What stands at the right end of a step's lane. short: where there is little room"""
    if short:
        return percent(course.shares[-1])
    name = _STEP_TEST.get(course.progress.milestone, in_words(course.progress.milestone))
    if course.shares[-1] >= 1:
        return f"{name}: probably enough"
    return f"{name}: {percent(course.shares[-1])}"


def stopped(overnight: Overnight, spell: Interval, now: datetime, say: ReaderFormat) -> str:
    """What a shaded spell of cold says when it is touched."""
    least = say.temperature(overnight.least_c, 0)
    return f"{step_name(overnight)}<br>not curing {spell_words(spell, now, say)}: below {least}"


def damp(bare: BareNight, spell: Interval, now: datetime, say: ReaderFormat) -> str:
    """What a shaded spell of damp says when it is touched."""
    near = f"within {say.difference(3.0)} of the dew point {spell_words(spell, now, say)}"
    return f"{bare.part.name}, bare metal<br>{near}"


def bare_end(bare: BareNight, *, short: bool = False) -> str:
    """What stands at the right end of a bare part's lane. short: where there is little room"""
    metal = "" if short else "bare metal: "
    if bare.night.lowest_k is None:
        return f"{metal}not measured" if short else f"{metal}humidity not measured"
    if bare.night.lowest_k < 0:
        return f"{metal}dew formed"
    return f"{metal}near the dew point" if bare.night.damp else f"{metal}stayed dry"


def got(course: NightCourse, share: float) -> str:
    """What a step had got by an instant of the figure."""
    return f"{step_name(course.overnight)} {percent(share)}"
