"""Sentences about a product: its times against the temperature; what stays once it is removed."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime
from typing import TYPE_CHECKING

from curewatch.durations import between, duration, rounding
from curewatch.formats import ReaderFormat
from curewatch.garage.cans import cans
from curewatch.garage.shelf import shelf
from curewatch.vocabulary import in_words

if TYPE_CHECKING:
    from curewatch.cure.forecast import Milestone
    from curewatch.plan.by_temperature import ByTemperature, TimedBatch
    from curewatch.products.sheet import TimesRow
    from curewatch.store.store import Store

NOW_WORDS = {
    "pot_life": "pot life",
    "working_time": "workable for",
    "clamp_time": "clamps off after",
    "sand_ready": "sand-ready after",
    "recoat_opens": "recoat opens after",
    "recoat_closes": "recoat before",
    "full_cure": "full cure after",
}


def span(time: Milestone) -> str:
    """How long it takes, 9 in 10; where it may never come, since when at the earliest."""
    how = rounding(time.name)
    if time.early_min is None or time.likely_min is None:
        return "no time"
    if time.late_min is None:
        return f"{duration(time.early_min, how)} or more"
    return between(time.early_min, time.late_min, how)


def at_temperature(temperature_c: float, time: Milestone, say: ReaderFormat) -> str:
    """What is expected at a temperature. [C]"""
    likely = "" if time.likely_min is None else f", likely {duration(time.likely_min)}"
    return f"At {say.temperature(temperature_c, 0)}: {span(time)}{likely}"


def label_row(row: TimesRow, milestone: str, say: ReaderFormat) -> str:
    """What the label says at its temperature."""
    length = duration(row.minutes[milestone], rounding(milestone))
    return f"Label: {length} at {say.temperature(row.temperature_c, 0)}"


def batch_words(batch: TimedBatch, milestone: str, now: datetime, say: ReaderFormat) -> str:
    """What a test found on a step."""
    before = "" if batch.not_yet_min is None else f"not yet at {duration(batch.not_yet_min)}, "
    part = batch.part or f"step {batch.step}"
    return (
        f"{part}, {say.moment(batch.mixed_at, now)}<br>{before}{in_words(milestone)} found at "
        f"{duration(batch.reached_min)}, {say.temperature(batch.surface_c)}"
    )


def now_sentence(curve: ByTemperature, say: ReaderFormat) -> str:
    """What is expected with the surface as it is now, in one sentence."""
    if curve.surface_c is None:
        return "Nothing is measured here yet: type a reading on the Air page."
    here = say.temperature(curve.surface_c)
    if curve.surface_c < curve.least_c:
        least = say.temperature(curve.least_c, 0)
        return f"Too cold now: surface {here}, this product needs {least}."
    if curve.surface_c > curve.temperatures_c[-1]:
        return f"Too warm now: surface {here}, more than this product is used at."
    if curve.time_now is None or curve.time_now.likely_min is None:
        return f"No time can be given at the surface's {here}."
    time = span(curve.time_now)
    return f"At the surface's {here} now: {NOW_WORDS[curve.milestone]} {time} (9 in 10)."


def forecast_span(curve: ByTemperature, say: ReaderFormat) -> str:
    """From where to where the surface is likely to go in the coming day."""
    if curve.forecast_c is None:
        return ""
    low, high = curve.forecast_c
    return f"forecast, 24 h: {say.number(say.degrees(low), 0)} to {say.temperature(high, 0)}"


def too_cold(curve: ByTemperature, say: ReaderFormat) -> str:
    """Below which temperature it may not cure, and whose limit that is."""
    limit = f"below {say.temperature(curve.least_c, 0)} it may not cure"
    entered = curve.sheet.limits.temperature_c is not None
    return limit if entered else f"{limit} (assumed: no limit is entered; check your label)"


def choice(milestone: str) -> str:
    """A milestone as the name of what is drawn."""
    return in_words(milestone).capitalize()


def left_behind(store: Store, product: str) -> Iterator[str]:
    """What becomes of what was of a product that has just been removed."""
    mixed, running = store.steps(sheet=product), store.steps(sheet=product, only_open=True)
    if mixed:
        on_bench = f"; still on the bench: {_numbered('step', [row.id for row in running])}"
        yield f"Steps mixed with it keep their label and their times{on_bench if running else ''}."
    if product in shelf(store):
        yield f"The generic product {product} is used instead."
    elif left := [can.id for can in cans(store, product) if not can.used_up]:
        leave = "leaves" if len(left) == 1 else "leave"
        yield f"{_numbered('can', left).capitalize()} {leave} the list of cans with it."


def _numbered(word: str, numbers: list[int]) -> str:
    """Things by their numbers: can 1; cans 1 and 2."""
    *first, last = map(str, numbers)
    return f"{word}s {', '.join(first)} and {last}" if first else f"{word} {last}"
