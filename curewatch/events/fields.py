"""What may be recorded of a step: one table of fields.

The options of a command, the inputs of a form, JSON and its schema, CSV, the search index, the
history and the hand-over sheet are all made of it: a new field is one more row here.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from curewatch.events.json_schema import TIME, Schema, above, number, one_of, text
from curewatch.frozen import frozen
from curewatch.text import one_line
from curewatch.units import (  # fmt: skip
    parse_duration,
    parse_film,
    parse_mass,
    parse_percent,
    parse_temperature,
    parse_turned,
)
from curewatch.vocabulary import APPLIED


@dataclass(frozen=True, eq=False)
class Kind:
    """What sort of value a field holds.

    schema: of a value in an event; parse: reads what a person types; unit: which a bare number in
    a form is of; number: whether it is one, which can be taken back as null.
    """

    name: str
    schema: Schema
    parse: Callable[[str], Any] = str
    unit: str = ""
    number: bool = False


LINE = Kind("text", text(), one_line)
PROSE = Kind("text", text())
PLACE = Kind("place", text(), one_line)
MOMENT = Kind("time ago", TIME)
MASS = Kind("amount", above("g", 0, 1_000_000), parse_mass, "g", number=True)
PERCENT = Kind("percent", number("%", 0, 100), parse_percent, "%", number=True)
FILM = Kind("film", above("um", 0, 100_000), parse_film, "um", number=True)
TEMPERATURE = Kind("temperature", number("C", -100, 200), parse_temperature, number=True)
TURN = Kind("how long ago", number("min", 0, 100_000), parse_turned, "min", number=True)
DURATION = Kind("duration", number("min", 0, 100_000), parse_duration, "min", number=True)


@frozen
class Field:
    """One thing that may be recorded of a step.

    name: in events, JSON and CSV; words: on paper and in the history; help: of the option; label
    and example: of the form's input; option: without its dashes, '' where it is the name.
    choices: the only values. at_mix: may be recorded with the mix. summary: stands at the step
    itself in JSON and CSV, not in its record. searchable: its words find the step. of_can: is that
    of the can it came from. gap: what the hand-over sheet misses without it, '' for nothing;
    by_hand: a line is left for that on paper. default: while nothing is recorded.
    """

    name: str
    words: str
    kind: Kind
    help: str
    label: str
    example: str = ""
    option: str = ""
    choices: Mapping[str, str] = field(default_factory=dict)
    at_mix: bool = False
    summary: bool = False
    searchable: bool = False
    of_can: bool = False
    gap: str = ""
    by_hand: bool = False
    default: str = ""

    @property
    def option_name(self) -> str:
        """The option's name without its dashes."""
        return self.option or self.name.replace("_", "-")

    @property
    def input_name(self) -> str:
        """The name of the form's input."""
        return self.option_name.replace("-", "_")

    @property
    def in_minutes(self) -> bool:
        """Whether a form asks for a number of minutes."""
        return self.kind in (MOMENT, DURATION)

    @property
    def schema(self) -> Schema:
        """What a value of it may be in an event."""
        return one_of(*self.choices) if self.choices else self.kind.schema

    @property
    def empty(self) -> str | None:
        """Its value while nothing is recorded."""
        return None if self.kind.number or self.kind is MOMENT else self.default


FIELDS: tuple[Field, ...] = (
    Field(
        "part", "part", LINE, "What it goes on, like 'lower corner patch'.", "Part",
        at_mix=True, summary=True, searchable=True, gap="part",
    ),
    Field(
        "job", "job", LINE, "The job it belongs to.", "Job",
        at_mix=True, summary=True, searchable=True,
    ),
    Field(
        "who", "by", LINE, "Who does the work.", "Who did it",
        at_mix=True, searchable=True, gap="who did it", by_hand=True,
    ),
    Field(
        "place", "sensor at", PLACE, "Whose sensor it uses; 'new lamp' makes a new place.",
        "Place of its sensor", at_mix=True, summary=True, searchable=True, default="panel",
    ),
    Field(
        "batch", "batch", LINE, "Batch numbers, as on the can.", "Batch",
        at_mix=True, summary=True, searchable=True, of_can=True, gap="batch", by_hand=True,
    ),
    Field(
        "hardener_batch", "hardener batch", LINE, "Batch of the hardener, as on its can.",
        "Batch of the hardener", searchable=True, of_can=True, gap="hardener batch",
    ),
    Field(
        "expiry", "expiry", LINE, "Expiry, as printed, like '2027-03'.", "Expiry, as printed",
        "2027-03", searchable=True, of_can=True, gap="expiry", by_hand=True,
    ),
    Field(
        "amount_g", "amount", MASS, "How much, like '60 g'.", "Amount", "60 g", "amount",
        at_mix=True, summary=True, gap="amount",
    ),
    Field(
        "ratio", "ratio as mixed", LINE, "Ratio as it was mixed, like '100:2.1 by weight'.",
        "Ratio as mixed", "100:2.1 by weight", searchable=True,
    ),
    Field(
        "hardener_pct", "hardener", PERCENT,
        "Hardener, like '2 %', where the label has a range.", "Hardener", "2 %", "hardener",
        at_mix=True, summary=True,
    ),
    Field(
        "film_um", "film put on", FILM, "Film as put on, like '100 um' or '3 mm'.", "Film put on",
        "100 um", "film", at_mix=True, gap="film thickness", by_hand=True,
    ),
    Field(
        "product_c", "product was stored at", TEMPERATURE,
        "Temperature of the product as stored, like '8 C'.", "Product was stored at", "8 C",
        "product-temperature", at_mix=True,
    ),
    Field(
        "grit", "grit", LINE, "Grit the surface was sanded with, like 'P80'.",
        "Sanded with grit", "P80", searchable=True, gap="surface preparation", by_hand=True,
    ),
    Field(
        "cleaner", "cleaner", LINE, "What the surface was cleaned with.", "Cleaned with",
        searchable=True, gap="surface preparation", by_hand=True,
    ),
    Field(
        "cleaned_at", "cleaned", MOMENT, "How long ago it was cleaned, like '20 min'.",
        "Cleaned, minutes ago", option="cleaned", gap="surface preparation", by_hand=True,
    ),
    Field(
        "induction_min", "induction", DURATION, "From mixing to first use, like '15 min'.",
        "Stood before use, minutes", option="induction",
    ),
    Field(
        "film_wet_um", "film measured wet", FILM, "Film thickness measured wet, like '150 um'.",
        "Film measured wet", "120 um", "film-wet", gap="film thickness", by_hand=True,
    ),
    Field(
        "film_dry_um", "film measured dry", FILM, "Film thickness measured dry, like '60 um'.",
        "Film measured dry", "60 um", "film-dry", gap="film thickness", by_hand=True,
    ),
    Field(
        "deviations", "deviations", PROSE, "What was done differently from the label.",
        "Done otherwise than the label says", searchable=True,
    ),
    Field(
        "signed", "signed off by", LINE, "Who signs this step off.", "Signed off by",
        searchable=True, gap="sign-off",
    ),
    Field(
        "applied", "applied by", LINE, "How it is applied.", "Applied by",
        choices=APPLIED, at_mix=True,
    ),
)  # fmt: skip
TURNED = Field(
    "turned_min", "turned", TURN,
    "How long ago it turned: 'just now', '5 min ago', or 'some time ago' if you only know it has.",
    "It turned", "5 min ago", "turned",
)  # fmt: skip
"""Of a look at the dab: how long before it the state began."""
MIXED_AT = Field("mixed_at", "moment of mixing", MOMENT, "", "")
BY_NAME = {field.name: field for field in (*FIELDS, MIXED_AT)}
RECORD = tuple(field for field in FIELDS if not field.summary)


def from_event(body: Mapping[str, Any], name: str) -> Any:
    """The value that an event holds under the name of a field: an instant as a datetime."""
    value = body[name]
    return datetime.fromisoformat(value) if BY_NAME[name].kind is MOMENT else value
