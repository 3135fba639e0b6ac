"""The air as of now: the last usable value of each quantity at each place, with its age; and what
is said where nothing was measured.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import datetime, timedelta

import numpy as np

from curewatch.bench.track import assumed_c
from curewatch.bench.views import AirTile, StepView
from curewatch.climate import psychrometrics
from curewatch.climate.conditions import Conditions
from curewatch.climate.flag import Flag
from curewatch.climate.reading import QUANTITIES, UNITS, PlaceSettings, Reading
from curewatch.climate.sources import leading_source
from curewatch.garage.joint import NO_TIME
from curewatch.notice import Measure, Notice, notice
from curewatch.quality.availability import Outage
from curewatch.units import minutes


def tiles(
    usable: Sequence[Reading],
    now: datetime,
    place: Callable[[str], PlaceSettings],
    lost: Sequence[Outage],
    conditions: Callable[[str], Conditions],
) -> tuple[AirTile, ...]:
    """The last usable value of each quantity at each place, and each panel's dew-point spread.

    lost: what is silent or flagged; the reason stands with the tile. conditions: of a place now.
    """
    newest: dict[tuple[str, str], Reading] = {}
    for reading in usable:
        key = (reading.place, reading.quantity)
        if not reading.flag and (key not in newest or reading.at > newest[key].at):
            newest[key] = reading
    flags = {(outage.place, outage.quantity): outage.flag for outage in lost}
    order = sorted(newest.values(), key=lambda r: (_rank(r.place), QUANTITIES.index(r.quantity)))
    measured = [
        tile(
            reading,
            now,
            place(reading.place).old_after_min,
            flags.get((reading.place, reading.quantity)),
        )
        for reading in order
    ]
    panels = [reading.place for reading in order if reading.quantity == "surface_temperature"]
    spreads = (_spread(name, conditions(name), now, place) for name in panels)
    return (*measured, *(spread for spread in spreads if spread is not None))


def _rank(name: str) -> tuple[int, str]:
    order = ("panel", "air", "outdoors")
    return (order.index(name) if name in order else 2, name)


def tile(
    reading: Reading, now: datetime, old_after_min: float, flag: Flag | None = None
) -> AirTile:
    """One reading with its age, and why what came later is not used. old_after_min [min]"""
    age = minutes(now - reading.at)
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
    name: str, conditions: Conditions, now: datetime, place: Callable[[str], PlaceSettings]
) -> AirTile | None:
    """How far a surface is above the dew point as the model takes both; as old as its oldest."""
    by = (conditions.surface_by, conditions.air_by, conditions.humidity_by)
    leads = [
        led for shares in by if (led := leading_source(shares, -1, conditions.length_s)) is not None
    ]
    if len(leads) < len(by) or leads[1].source.quantity != "air_temperature":
        return None
    spread = psychrometrics.dew_point_spread_c(
        conditions.surface_c[-1:],
        conditions.air_c[-1:],
        np.maximum(conditions.humidity_pct[-1:], 1.0),
    )
    age = max(lead.age_min for lead in leads)
    old = any(lead.age_min > place(lead.source.place).old_after_min for lead in leads)
    at = now - timedelta(minutes=age)
    return AirTile(name, "dew_point_spread", float(spread[0]), "K", at, age, old)


def notes(readings: Sequence[Reading], views: Sequence[StepView]) -> tuple[Notice, ...]:
    """What is said beside the bench: which steps get no time, and that nothing was measured."""
    untimed = tuple(
        notice("untimed-part", part=view.part, why=NO_TIME["structural"])
        for view in views
        if view.joint == "structural"
    )
    if any(reading.quantity != "relative_humidity" for reading in readings):
        return untimed
    if not views:
        return (*untimed, notice("no-reading-yet"))
    assumed = Measure(assumed_c(views), "C")
    return (*untimed, notice("no-reading-assumed", assumed=assumed))
