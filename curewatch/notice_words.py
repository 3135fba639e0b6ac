"""The sentence of each notice, in the reader's units and marks: one entry for each code.

In a sentence {name} stands for a field of the notice, {name:.1f} says with how many digits.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from string import Formatter
from typing import Any

from curewatch.durations import duration
from curewatch.formats import SCRIPTS, ReaderFormat
from curewatch.notice import Count, Duration, Field, Measure, Notice, Term
from curewatch.vocabulary import in_words

MOST_DIGITS = 1
WIDENED = "so the times are less certain"
MAY_NOT_CURE = "it may not cure properly"
NO_ANSWER = (
    "Until you answer, no time is given here: follow the maker's procedure and licensed practice"
)

SENTENCES = {
    # what was measured
    "reading-old": f"the last reading of {{of}} is {{age}} old: held, {WIDENED}",
    "reading-old-air-instead": (
        f"the last reading of {{of}} is {{age}} old: the air stands in, {WIDENED}"
    ),
    "not-read": f"no reading of {{of}} for up to {{gap}} ({{times}}): bridged, {WIDENED}",
    "not-read-air-instead": (
        f"no reading of {{of}} for up to {{gap}} ({{times}}): the air stands in, {WIDENED}"
    ),
    "temperature-assumed": f"no temperature reading: {{assumed:.3g}} assumed, {WIDENED}",
    "panel-from-air": f"no probe on the panel: its temperature is taken from the air, {WIDENED}",
    "humidity-assumed": f"no humidity reading: {{assumed:g}} assumed, {WIDENED}",
    "rows-apart": f"rows up to {{gap}} apart: bridged, {WIDENED}",
    # heat that was entered
    "heat-unmeasured": "heated, how warm was not entered: the times leave it out and are less "
    "certain",
    "heat-entered": "heated to about {temperature:g} as entered, not measured: less certain times",
    "heat-ahead": "heat to come, about {temperature:g}, counts as entered",
    "heat-probe-counts": "heat was entered, but the probe at this place counts instead",
    "heat-probe-counts-partly": (
        "where the probe reported during the heat, its readings count instead"
    ),
    # where the forecast temperature comes from
    "forecast-own-days": "goes on like its own last days",
    "forecast-outdoors": "follows outdoors with about {lag} of lag, then its last days",
    "forecast-assumed": "no reading: {assumed:.3g} assumed",
    "forecast-held": "taken to stay as it is: less than two days of readings",
    "forecast-constant": "taken to stay as it is",
    "forecast-reading-old": "the last reading is {age} old",
    "forecast-heat": "with the heat that was entered",
    # the label
    "check-figures": "check the product's figures: {doubt}",
    "colder-faster": (
        "{milestone}: {cold} at {colder:g} is faster than {warm} at {warmer:g}, "
        "though colder is slower"
    ),
    "absurd-time": "{milestone} of {time} at {temperature:g} is outside what labels give, "
    "10 s to {most}",
    # why no time is given
    "no-time": "no time can be given",
    "untimed-part": "{part}: {why}.",
    "no-reading-yet": (
        "No reading yet: the times assume the label's temperature and are very uncertain. "
        "Enter a thermometer's reading to make them more certain."
    ),
    "no-reading-assumed": (
        "No reading yet: the times assume {assumed:g} and are very uncertain. "
        "Enter a thermometer's reading to make them more certain."
    ),
    "joint-structural": (
        "for structural, restraint, steering, brake, fuel and glazing joints follow the maker's "
        "procedure and licensed practice: no time is given here"
    ),
    "joint-asked": f"it may be structural. {NO_ANSWER}",
    "ratio-never-varied": (
        "no time: the mixing ratio of {chemistry} is never varied to change the speed, "
        "mix by the label"
    ),
    "no-hardener-range": "no time: the label gives no range of hardener, add limits.hardener",
    "hardener-outside": (
        "no time: {hardener:g} hardener is outside the label's {least:g} to {most:g}"
    ),
    "film-too-thin": (
        "no time: a film of {film} is under a quarter of the label's {label}, too different to "
        "predict"
    ),
    "film-too-thick": (
        "no time: a film of {film} is over four times the label's {label}, too different to predict"
    ),
    "outlasted": (
        "no time can be given: a test found this, or what comes before it, not reached after its "
        "latest time. It may never cure: check the hardener, the mixing and the temperature"
    ),
    "stops-short": "an epoxy this cold stops short of full cure: warm it to finish it",
    "no-time-cold": (
        f"no time can be given: the panel is below this product's minimum of {{least:g}}: "
        f"{MAY_NOT_CURE}"
    ),
    "no-time-far": "no time can be given: {ahead} are not enough",
    "no-latest-cold": (
        f"no latest time: the panel may fall below this product's minimum of {{least:g}}: "
        f"{MAY_NOT_CURE}"
    ),
    "no-latest-far": "no latest time: {ahead} are not enough",
    # what the times hold for
    "far-from-label": "{mean:.0f} is {gap:.0f} from the nearest temperature on the label",
    "label-says": "the label itself says {time} at {temperature:g}",
    "hot-held": "above {limit:g} the speed is taken as at {limit:g}",
    "never-later-than-label": "never later than the label's own time, however cold",
    "forecast-repeats": "beyond the forecast its last day is taken to repeat",
    "hold-if-warm": (
        "the latest times hold if the panel stays above this product's minimum of {least:g}: "
        f"below it, {MAY_NOT_CURE}"
    ),
    "cold-now": (
        "the panel is at {panel:.1f}, below this product's minimum of {least:g}: "
        f"{MAY_NOT_CURE}"
    ),
    "window-closed": "its recoat window is closed: scuff it first",
    "window-may-close": (
        "the recoat window may close before it surely opens: plan to scuff before coating"
    ),
    "cold-assumed": "how {chemistry} slows in the cold is assumed, not published: wide band",
    "damp-shortens": "damp air shortens the pot life of urethane by an amount not published",
    "damp-tacky": "at {humidity:.0f} humidity the surface of polyester may stay tacky",
    "too-dry": (
        "the air holds {share:.0f} of the water that the label's times count on: damp the air; "
        "heat alone adds no water"
    ),
    "too-damp": "{humidity:.0f} humidity is above the label's {most:g}",
    "hot-at-mixing": "the panel was above the label's {most:g} at mixing",
    # the reason: the label's time, and what makes it longer or shorter
    "label-time": "label {milestone} {time} at {temperature:g}",
    "factor": "{what}: {times:.2f}",
    "panel-mean": "panel {temperature:.1f}",
    "pot-mean": "pot {temperature:.1f}",
    "air-mean": "air {humidity:.0f}",
    "hardener": "{share:g} hardener",
    "film": "film {film}",
    "amount": "{mass:g} in the pot",
    "this-batch": "this batch's dab",
    "last-batch": "your last batch",
    "last-batches": "your last {mixes}",
    "panel-cold": f"panel {{panel:.1f}} is below this product's minimum of {{least:g}}: "
    f"{MAY_NOT_CURE}",
    "panel-slow": "panel {panel:.1f} now: not reached as far ahead as the forecast goes",
    # what was learned of a product
    "learned-nothing": "Nothing learned yet: no dab check{rows}. {learned}.",
    "learned-from": "Learned from {checks} in {mixes}{rows}. {learned}.",
    "learned-rows": " and {rows}",
    "learned-speed": (
        "Takes {middle:.2f} the label's time ({low:.2f} to {high:.2f}), and goes "
        "{least:.1f} to {most:.1f} times as fast when it is {warmer:g} warmer"
    ),
    # the pot
    "pot-life-reckoned": (
        "pot life against mass is calculated from two published figures: take it as +-30 %"
    ),
    "pot-before-work": (
        "in the pot it goes off before its working time is over: spread it by the end of the pot "
        "life"
    ),
    "no-pot-mass": "the label names no pot mass: {mass:g} taken, common practice",
    "pot-heats": (
        "{mass:g} in one cup heats up by itself, to about {peak:.0f}: spread it thin or mix less "
        "at a time"
    ),
    # an estimate that leaves something out
    "humidity-from-label": "no humidity given: {assumed:g} taken, the label's",
    "film-unused": "the label gives no film thickness: yours changes nothing",
    "amount-unused": "the label gives no pot life: the amount changes nothing",
    "log-ended": "after the end of the log its last value is taken to stay",
}
"""What each notice says; a new one is one entry here."""

AHEAD_ONLY = ("hold-if-warm", "cold-now")
"""What is said of a panel only while something cures on it."""

TERMS = {"panel": "the panel", "air": "the air", "humidity": "humidity"}
COUNTS = {
    "times": ("once", "{} times"),
    "dab checks": ("1 dab check", "{} dab checks"),
    "mixes": ("1 mix", "{} mixes"),
    "batches": ("1 batch", "{} batches"),
    "label rows": ("1 label row", "{} label rows"),
}


class _Filling(Formatter):
    """Fills a sentence with the fields of its notice, as this reader likes them."""

    def __init__(self, say: ReaderFormat) -> None:
        self._say = say

    def format_field(self, value: Any, format_spec: str) -> str:
        return _field(value, format_spec or "g", self._say)


def _field(value: Field, spec: str, say: ReaderFormat) -> str:
    match value:
        case Notice():
            return sentence(value, say)
        case Measure():
            return _quantity(value, spec, say)
        case Duration():
            return duration(value.minutes, value.rounding)
        case Count():
            return COUNTS[value.of][value.number != 1].format(value.number)
        case Term():
            return TERMS.get(value.code) or in_words(value.code)
    return value


def _quantity(quantity: Measure, spec: str, say: ReaderFormat) -> str:
    """A value with its unit; temperatures with one digit at most."""
    digits = min(len(format(quantity.value, spec).partition(".")[2]), MOST_DIGITS)
    match quantity.unit:
        case "C":
            return say.temperature(quantity.value, digits)
        case "K":
            return say.difference(quantity.value, digits)
        case "x":
            return say.times(quantity.value, spec)
        case "um":
            return say.film(quantity.value)
    return f"{say.figure(quantity.value, spec)} {quantity.unit}".rstrip()


def sentence(notice: Notice, say: ReaderFormat = SCRIPTS) -> str:
    """A notice in words; without a reader's format, as programs are told it.

    >>> sentence(Notice("heat-entered", {"temperature": Measure(40.0, "C")}))
    'heated to about 40 C as entered, not measured: less certain times'
    """
    return _Filling(say).vformat(SENTENCES[notice.code], (), notice.fields)


def sentences(notices: Iterable[Notice], say: ReaderFormat = SCRIPTS) -> str:
    """Several notices in one line."""
    return "; ".join(sentence(notice, say) for notice in notices)


def warnings_json(warnings: Sequence[Notice]) -> dict[str, list[str]]:
    """Warnings as sentences, and their codes in the same order."""
    return {
        "warnings": [sentence(warning) for warning in warnings],
        "warning_codes": [warning.code for warning in warnings],
    }
