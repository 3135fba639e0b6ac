"""How times, doubts, places and tests are said on the pages; nothing here promises anything."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

from curewatch.bench.spraying import AIR_FED_KEY
from curewatch.climate.source_words import leading_source_words as leading_source
from curewatch.climate.source_words import span_words as span_from
from curewatch.durations import Rounding, ago, between, duration, parts, rounding
from curewatch.formats import ReaderFormat, when
from curewatch.garage.joint import HINT as STRUCTURAL_IF
from curewatch.text import short_name
from curewatch.vocabulary import EARLY_SHOWN, MILESTONES, in_words
from curewatch.wording import milestone_words

if TYPE_CHECKING:
    from curewatch.bench.views import Change, Reminder, ShownTimes, StepView
    from curewatch.exchange import ics

__all__ = [
    "MILESTONES",
    "STRUCTURAL_IF",
    "ReaderFormat",
    "Rounding",
    "ago",
    "between",
    "duration",
    "in_words",
    "leading_source",
    "parts",
    "rounding",
    "short_name",
    "span_from",
    "when",
]

STRIPPED = "Photos are shrunk and stripped of location and camera data."
CAUTION = (
    "The label and the safety data sheet come first. Every time here is an estimate. For "
    "structural, seat-belt, steering, brake, fuel and glazing joints follow the maker's "
    "procedure, local codes and licensed practice."
)
FELT_C = 0.3
STATES = {
    "workable": "still workable",
    "stringy": "stringy",
    "tacky": "tacky",
    "fingernail": "takes a fingernail mark",
    "hard": "hard",
    "sands": "powders when sanded",
}
SAMPLE = {"smear": "thin smear on metal", "cup": "left in the cup", "work": "the work itself"}
REMIND = {
    "ventilation": "Door open, fan on",
    "respirator": "Respirator on",
    "air-fed": "Air-fed mask on",
    "isocyanate": "Not sprayed",
    "mist": "Particle filter on",
    "gloves": "Gloves, glasses on",
    "ignition": "No flame near",
    "peroxide": "Hardener put away",
    "dust": "Dust mask at hand",
    "leftovers": "Leftovers spread out thin",
    "ventilation:wet": "Fan still on",
    "air-fed:wet": "Air-fed until clear",
    "dust:sanding": "Dust mask on",
    "leftovers:pot": "Leftovers spread out thin",
    "heater:on": "Alarm on, I stay",
}
APPLIED = {
    "spray": "Spray, air-fed mask on",
    "brush": "Brush",
    "roller": "Roller",
    "spread": "Spread",
}
QUANTITY = {
    "surface_temperature": "surface",
    "air_temperature": "air temperature",
    "relative_humidity": "humidity",
    "dew_point_spread": "above dew point",
}
STRUCTURAL = {"structural": "Yes, structural", "body": "No, plain body panel"}
MARKED = {"structural": "Saved: structural.", "body": "Saved: plain body panel."}
KIND = {"adhesive": "adhesive", "filler": "filler", "primer": "primer", "sealer": "sealer"}
ALARM = {
    "due": "{name}, {part}: test now",
    "ending": "working time of {part} is nearly over",
    "stop": "{part} is below its product's minimum: it may not cure properly",
    "lost": "no usable reading from {name}",
    "window": "recoat window of {part} closes {when}",
    "tools": "{part}: cup empty, tools cleaned?",
    "look": "{part}: look at the test dab",
}
TURNED = {"0": "Just now", "5": "5 min ago", "10": "10 min ago", "": "Some time ago"}
COLD_ROW = "check both figures; if the label really says so, tick the box below the times"
TOO_COLD = "below this product's minimum: it may not cure properly"
WHY = ("it is already mixed", "I warm it before it goes on", "a trial piece only")
LOGBOOK_GONE = (
    "The logbook was deleted or moved while in use: nothing can be saved. "
    "Stop curewatch and bring the last copy back."
)
EMPTY = {
    "bench": "Start the clock when hardener meets resin; you can enter the rest later.",
    "air": "Nothing measured yet. Type what a thermometer on the panel shows, or connect a sensor.",
    "logbook": "No step yet. The first mix starts the log.",
    "refused": "No rejected messages.",
}


def unanswered(step: StepView) -> list[Reminder]:
    """The reminders before a mix that nobody answered; whether it is sprayed is asked apart."""
    apart = AIR_FED_KEY if step.unmasked else ""
    return [
        reminder
        for reminder in step.reminders
        if not (reminder.answered_at or reminder.again or reminder.key == apart)
    ]


def part_of(part: str, sheet_name: str) -> str:
    """What a step is called: its part, else its product."""
    return part or short_name(sheet_name)


def step_names(steps: Sequence[StepView], now: datetime, say: ReaderFormat) -> dict[int, str]:
    """What each step is called, by its number: its part, or its product; where two are called the
    same, also when each was mixed."""
    plain = {step.id: part_of(step.part, step.sheet.name) for step in steps}
    count = Counter(plain.values())
    return {
        step.id: plain[step.id]
        if count[plain[step.id]] == 1
        else f"{plain[step.id]}, {say.moment(step.mixed_at, now)}"
        for step in steps
    }


def calendar(say: ReaderFormat) -> ics.Words:
    """How a calendar says what is coming."""
    from curewatch.exchange import ics

    return ics.Words(MILESTONES, milestone_words.TEST, CAUTION, say)


def figure(value: float, say: ReaderFormat) -> str:
    """A bare figure [-] with the reader's decimal mark, no more digits than it needs."""
    return say.figure(value)


def shuts(part: str, at: datetime, now: datetime, say: ReaderFormat) -> str:
    """A recoat window that closes soon, by the clock of its label."""
    left = duration((at - now).total_seconds() / 60, "down")
    return (
        f"{part}: recoat window closes {say.moment(at, now)}, in {left}; "
        "after that scuff before coating."
    )


def shown_times(
    milestone: str, times: ShownTimes, other: ShownTimes, now: datetime, say: ReaderFormat
) -> tuple[str, str]:
    """A milestone's times in words, and in short those to compare them with."""
    limit = say.moment(times.bound, now)
    early = milestone in EARLY_SHOWN
    counts = f"at the earliest {limit}" if early else f"by {limit} at the latest"
    others = [other.bound]
    if times.likely and other.likely:
        counts = f"likely {say.moment(times.likely, now)}, {counts}"
        others = [other.likely, other.bound]
    return counts, ", ".join(say.moment(at, now) for at in others)


def ends_words(milestone: str) -> str:
    """A milestone as what comes at an instant."""
    return "working time ends" if milestone == "working_time" else in_words(milestone)


def moved(change: Change, now: datetime, say: ReaderFormat) -> str:
    """A milestone that moved: its new times, those it had, and why as far as the panel tells."""
    counts, was = shown_times(change.milestone, change.times, change.before, now, say)
    return f"{ends_words(change.milestone)} now {counts} (was {was}), {_why_moved(change, say)}."


def _why_moved(change: Change, say: ReaderFormat) -> str:
    if change.entered:
        return "because of what you entered"
    warming_c = change.to_c - change.from_c
    if abs(warming_c) < FELT_C or (warming_c > 0) == (change.later_min > 0):
        if change.later_min < 0:
            return "more certain now, with more readings"
        return "because the forecast temperature changed"
    turned = "cooled" if change.to_c < change.from_c else "warmed"
    here, there = say.number(say.degrees(change.from_c)), say.temperature(change.to_c)
    return f"because the panel {turned} from {here} to {there}"


def air_label(place: str, quantity: str) -> str:
    """What a present value is, short."""
    if quantity == "dew_point_spread":
        return "above dew point" if place == "panel" else f"above dew point, {place}"
    if quantity == "relative_humidity":
        return "humidity" if place in ("air", "panel") else f"humidity, {place}"
    if quantity == "air_temperature" and place == "panel":
        return "air at panel"
    return place


def value(say: ReaderFormat, quantity: str, amount: float) -> str:
    """A present value [C, K or %] with its unit."""
    if quantity == "relative_humidity":
        return f"{say.number(amount, 0)} %"
    if quantity == "dew_point_spread":
        return say.difference(amount)
    return say.temperature(amount)


def bare(say: ReaderFormat, quantity: str, amount: float) -> str:
    """A value [C, K or %] without its unit."""
    if quantity == "relative_humidity":
        return say.number(amount, 0)
    if quantity == "dew_point_spread":
        return say.number(say.degree_steps(amount))
    return say.number(say.degrees(amount))


def mixed_details(
    say: ReaderFormat, sheet_name: str, amount_g: float | None, hardener_pct: float | None
) -> str:
    """A step's product, amount [g] and hardener [%] in one line."""
    texts = []
    if amount_g is not None:
        texts.append(f"{say.figure(amount_g)} g")
    if hardener_pct is not None:
        texts.append(f"{say.figure(hardener_pct)} %")
    texts.append(short_name(sheet_name))
    return ", ".join(text for text in texts if text)


def entered_late(mixed_at: datetime, recorded_at: datetime) -> str:
    """Said where a mix was told after it happened."""
    late = recorded_at - mixed_at
    if late < timedelta(seconds=30):
        return ""
    return f"entered {duration(late.total_seconds() / 60)} later"
