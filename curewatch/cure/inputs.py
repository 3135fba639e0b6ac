"""What a person tells the model of a step: how it was mixed, and what was seen on it."""

from __future__ import annotations

from datetime import datetime

from curewatch.frozen import frozen
from curewatch.vocabulary import Sample


@frozen
class Mix:
    """One mixing: mixed_at (aware); amount_g [g], hardener_pct [%], film_um [um] and product_c [C],
    the temperature the product was stored at; None where it was not told."""

    mixed_at: datetime
    amount_g: float | None = None
    hardener_pct: float | None = None
    film_um: float | None = None
    product_c: float | None = None


@frozen
class Sighting:
    """A look: after_min from mixing [min]; state: a key of STATES, or a test's answer as
    "reached:<milestone>"; sample: a thin smear, a blob in the cup, or the work itself; turned:
    between which two instants from mixing the state began [min], None where only that it had."""

    id: int
    after_min: float
    state: str
    sample: Sample = "smear"
    turned: tuple[float, float] | None = None

    @property
    def instants_min(self) -> tuple[float, ...]:
        """The instants it speaks of, the look itself last. [min]"""
        return (*(self.turned or ()), self.after_min)


LEAST_SPREAD_MIN, SPREAD_SHARE = 2.5, 0.5


def turned_between(after_min: float, ago_min: float) -> tuple[float, float]:
    """Between which two instants a state began that began so long ago.

    Parameters
    ----------
    after_min : float
        The look, from mixing [min].
    ago_min : float
        How long before the look, as a person says it [min].

    Returns
    -------
    tuple[float, float]
        Earliest and latest, from mixing [min].

    Notes
    -----
    Half as long ago to half as long again, at least 2.5 min either side: assumed.

    Examples
    --------
    >>> turned_between(60.0, 5.0), turned_between(60.0, 0.0), turned_between(60.0, 20.0)
    ((52.5, 57.5), (57.5, 60.0), (30.0, 50.0))
    """
    spread = max(LEAST_SPREAD_MIN, SPREAD_SHARE * ago_min)
    began = max(0.0, after_min - ago_min)
    return max(0.0, began - spread), min(after_min, began + spread)
