"""What a person tells the model of a step: how it was mixed, and what was seen on it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from curewatch.vocabulary import Sample


@dataclass(frozen=True)
class Mix:
    """One mixing: mixed_at (aware); amount_g [g], hardener_pct [%], film_um [um] and product_c [C],
    the temperature the product was stored at; None where it was not told."""

    mixed_at: datetime
    amount_g: float | None = None
    hardener_pct: float | None = None
    film_um: float | None = None
    product_c: float | None = None


@dataclass(frozen=True)
class Sighting:
    """A look: after_min from mixing [min]; state: a key of STATES, or a test's answer as
    "reached:<milestone>"; sample: a thin smear, a blob in the cup, or the work itself."""

    id: int
    after_min: float
    state: str
    sample: Sample = "smear"
