"""The air as of now: the last usable value of each quantity at each place, with its age."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from datetime import datetime

from curewatch import air
from curewatch.conditions import AIR_PLACE
from curewatch.config import PlaceSettings
from curewatch.flag import Flag
from curewatch.heard import Lost
from curewatch.quantities import minutes
from curewatch.reading import QUANTITIES, UNITS, Reading
from curewatch.views import AirTile


def tiles(
    usable: Sequence[Reading],
    now: datetime,
    place: Callable[[str], PlaceSettings],
    lost: Sequence[Lost] = (),
) -> tuple[AirTile, ...]:
    """The last usable value of each quantity at each place, and each panel's dew-point spread.

    lost: what is silent or flagged; the reason stands with the tile.
    """
    newest: dict[tuple[str, str], Reading] = {}
    for each in usable:
        key = (each.place, each.quantity)
        if not each.flag and (key not in newest or each.at > newest[key].at):
            newest[key] = each
    flags = {(each.place, each.quantity): each.flag for each in lost}
    ages = {name: place(name).old_after_min for name, _ in newest}
    order = sorted(newest.values(), key=lambda r: (_rank(r.place), QUANTITIES.index(r.quantity)))
    found = [
        tile(each, now, place(each.place).old_after_min, flags.get((each.place, each.quantity)))
        for each in order
    ]
    panels = [each.place for each in order if each.quantity == "surface_temperature"]
    spreads = (_spread(newest, now, ages, name) for name in panels)
    return (*found, *(each for each in spreads if each is not None))


def _rank(name: str) -> tuple[int, str]:
    order = ("panel", "air", "outdoors")
    return (order.index(name) if name in order else 2, name)


def tile(
    reading: Reading, now: datetime, old_after_min: float, flag: Flag | None = None
) -> AirTile:
    """One reading with its age, and why what came later is not used. old_after_min [min]"""
    age = max(0.0, minutes(now - reading.at))
    unit = UNITS[reading.quantity]
    return AirTile(
        reading.place,
        reading.quantity,
        reading.value,
        unit,
        reading.at,
        age,
        age > old_after_min,
        flag,
    )


def _spread(
    newest: Mapping[tuple[str, str], Reading], now: datetime, ages_min: Mapping[str, float], at: str
) -> AirTile | None:
    """How far the surface at a place is above the dew point of the garage's air, or its own."""
    surface = newest[at, "surface_temperature"]
    for home in (AIR_PLACE, at):
        warm, wet = newest.get((home, "air_temperature")), newest.get((home, "relative_humidity"))
        if warm and wet:
            dew = float(air.dew_point_c(warm.value, max(1.0, wet.value)))
            oldest = min(surface, warm, wet, key=lambda each: each.at)
            age = max(0.0, minutes(now - oldest.at))
            old = any(
                minutes(now - each.at) > ages_min[each.place] for each in (surface, warm, wet)
            )
            return AirTile(at, "dew_point_spread", surface.value - dew, "K", oldest.at, age, old)
    return None
