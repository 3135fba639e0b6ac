"""How values are said on paper and in the log: with units, on the wall clock, for one reader."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Any
from zoneinfo import ZoneInfo

from curewatch.climate.source_words import span_words
from curewatch.days import expiry_words
from curewatch.durations import duration
from curewatch.events.fields import DURATION, FIELDS, FILM, MOMENT, TEMPERATURE, Field
from curewatch.frozen import frozen
from curewatch.garage.step import CAUTION, STOP, Happening, Step, override_words
from curewatch.products.chemistries import CHEMISTRIES
from curewatch.vocabulary import REACHED, in_words
from curewatch.walltime import date_and_time

if TYPE_CHECKING:
    from curewatch.climate.summary import Span
    from curewatch.formats import ReaderFormat
    from curewatch.products.sheet import Sheet

NOT_TOLD = "not entered"
WITHOUT_YEAR = timedelta(days=300)
STATES = {
    "workable": "still workable",
    "fingernail": "takes a fingernail mark",
    "sands": "powders when sanded",
}
RESULTS = {
    "still-works": "still workable",
    "gone-off": "no longer workable",
    "not-yet": "not yet",
    "reached": "reached",
    "later": "put off",
}
READY = {
    "clamp_time": "ready, clamps can come off",
    "sand_ready": "ready to sand",
    "recoat_opens": "ready to recoat",
    "full_cure": "fully cured",
}
SAMPLES = {"smear": "dab", "cup": "rest in the cup", "work": "the work itself"}
SPANS = {
    "surface_temperature": "surface",
    "air_temperature": "air",
    "relative_humidity": "humidity",
    "dew_point": "dew point",
    "dew_point_spread": "above dew point",
}
HAPPENED = {
    "coated": "coat on",
    "clamped": "clamps on",
    "unclamped": "clamps off",
    "emptied": "mix used up, tools clean",
    "sounded": "alarm sounded",
    "silenced": "alarm silenced",
    "heated": "heated",
    "fan": "fan",
    "in_use": "still in use",
    "photographed": "photograph",
}
_PLAIN = ("words", "why", "what", "said", "stops", "sentence", "milestone", "tool")


def turned_words(turned_min: float | None) -> str:
    """How long before a look the dab had turned; empty where only that it had. turned_min [min]

    >>> turned_words(5.0), turned_words(0.0), turned_words(None)
    (', turned 5 min before', ', just turned', '')
    """
    if turned_min is None:
        return ""
    return f", turned {duration(turned_min)} before" if turned_min else ", just turned"


def test_words(milestone: str, result: str) -> str:
    """What a test of a milestone found.

    >>> test_words("sand_ready", "reached"), test_words("sand_ready", "not-yet")
    ('tested: ready to sand', 'tested, sand-ready: not yet')
    """
    if result == REACHED and milestone in READY:
        return f"tested: {READY[milestone]}"
    return f"tested, {in_words(milestone)}: {RESULTS.get(result, result)}"


def look_words(state: str, turned_min: float | None) -> str:
    """What was seen on the dab, and how long before it had turned. turned_min [min]"""
    return STATES.get(state, state) + turned_words(turned_min)


@frozen
class FieldFormatter:
    """How values are said on paper and in the log: on one wall's clock, in one reader's units.

    now: when a page is read, which says days as seen from then; None: on paper, with full dates.
    """

    zone: ZoneInfo
    say: ReaderFormat
    now: datetime | None = None

    def stamp(self, at: datetime) -> str:
        """Date and time on the reader's wall: in full on paper, on a page as seen from now."""
        if self.now is None:
            return date_and_time(at, self.zone)
        if abs(self.now - at) < WITHOUT_YEAR:
            return self.say.moment(at, self.now)
        return f"{self.say.day(at)} {self.say.local(at):%Y} {self.say.clock(at)}"

    def field(self, field: Field, value: Any) -> str:
        """The value of a field of a step, with its unit."""
        if value is None or value == "":
            return NOT_TOLD
        if field.kind is MOMENT:
            return self.stamp(value)
        if field.kind is TEMPERATURE:
            return self.say.temperature(value)
        if field.kind is DURATION:
            return duration(value)
        if field.kind is FILM:
            return self.say.film(value)
        if field.name == "expiry":
            return expiry_words(str(value))
        if not field.kind.number:
            return str(value)
        return f"{self.say.figure(value)} {field.kind.unit}"

    def measured(self, name: str, value: float) -> str:
        """A measured quantity [C, % or K] with its unit."""
        if name == "relative_humidity":
            return f"{value:.0f}{self.say.gap}%"
        if name == "dew_point_spread":
            return self.say.difference(value)
        return self.say.temperature(value)

    def span(self, name: str, span: Span, place: str) -> str:
        """Least to most and mean of a quantity at a place, or that it stayed, and its source."""
        unbroken = replace(self, say=replace(self.say, gap="\u00a0"))
        least, mean, most = (
            unbroken.measured(name, value) for value in (span.minimum, span.mean, span.maximum)
        )
        steady = least == most
        words = f"{least} throughout" if steady else f"{least} to {most}, mean {mean}"
        return "; ".join(filter(None, (words, span_words(span, place))))

    def happening(self, happening: Happening) -> str:
        """What else happened, in words."""
        if happening.kind == "overridden":
            why = happening.body.get("why") or "not entered yet"
            verdict = CAUTION if happening.body.get("verdict") == CAUTION else STOP
            return override_words(verdict, happening.body["stops"], why)
        words = " ".join(
            [HAPPENED.get(happening.kind, in_words(happening.kind)), *self._more(happening.body)]
        )
        texts = [_listed(happening.body[key]) for key in _PLAIN if happening.body.get(key)]
        return ": ".join([words, *texts])

    def _more(self, body: Mapping[str, Any]) -> list[str]:
        details = [str(body[key]) for key in ("coat",) if body.get(key)]
        details += (
            [f"to {self.say.temperature(body['surface_c'])}"] if body.get("surface_c") else []
        )
        details += (
            [f"until {self.stamp(datetime.fromisoformat(body['until']))}"]
            if body.get("until")
            else []
        )
        details += ["on" if body["on"] else "off"] if "on" in body else []
        if body.get("film_wet_um"):
            details.append(f"({self.say.film(body['film_wet_um'])} wet)")
        return details

    def facts(self, step: Step) -> list[tuple[str, str]]:
        """What was entered of a step, but for its part and job."""
        sheet: Sheet = step.sheet
        facts = [("product", f"{sheet.name} ({sheet.kind}, {CHEMISTRIES[sheet.chemistry].words})")]
        facts += [("ratio by the label", sheet.mix_ratio)] if sheet.mix_ratio else []
        facts += [("film by the label", self.say.film(sheet.film_um))] if sheet.film_um else []
        return facts + [
            (field.words, self.field(field, value))
            for field in FIELDS
            if field.name not in ("part", "job") and (value := step.value(field)) not in (None, "")
        ]


def _listed(value: Any) -> str:
    if isinstance(value, list | tuple):
        return "; ".join(str(item) for item in value)
    return in_words(str(value))


test_words.__test__ = False  # type: ignore[attr-defined]
