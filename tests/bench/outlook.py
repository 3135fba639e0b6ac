"""The outlook on open series, beside "it stays" and "as yesterday at this hour".

Newark 2013 served for the pooled weights (`curewatch/climate/diurnal.py`) and is not carried. What
is printed here was in view while the band, the strength of the pooling and the reach of outdoor
readings were chosen: figures of the making, not checks kept back. Only the building is a real room:
the others are real air, taken as it is or through one or two lags; the sunny ones have drawn
sunshine.
"""

from __future__ import annotations

import math
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import timedelta
from functools import cache

import numpy as np
from numpy.typing import NDArray

from curewatch.climate.outlook import outlook
from curewatch.climate.psychrometrics import (
    NEAR_DEW_K,
    FloatArray,
    dew_point_c,
    saturation_pressure_magnus,
    vapour_pressure_hpa,
)
from curewatch.climate.series import lagged
from tests.support.weather import DATA, FILE, Year, building, hourly, year

HORIZONS_H = (1, 3, 6, 12, 24)
TARGETS_C = (0.25, 0.65, 1.10, 1.75, 2.40)
BETTER = {3: 0.25, 6: 0.25, 12: 0.25}
ORIGIN_STEP_H, HISTORY_H = 7, 336
WORSE = 1.05
DEW_WARNED, DEW_FALSE = 0.80, 0.50


@dataclass(frozen=True, eq=False)
class OutlookErrors:
    """Absolute errors [K] of the outlook, of the present held and of yesterday, and whether the
    band held; each of shape (origins, horizons)."""

    ours: FloatArray
    held: FloatArray
    yesterday: FloatArray
    inside: FloatArray


def errors_on(weather: Year, with_outdoors: bool, step_h: int = ORIGIN_STEP_H) -> OutlookErrors:
    """Errors over a series, from an origin every step_h [h]."""
    ahead, rows = np.array(HORIZONS_H), []
    for origin in range(HISTORY_H, weather.garage_c.size - 25, step_h):
        now, first = weather.start + timedelta(hours=origin), origin - HISTORY_H
        series = [("panel", "surface_temperature", weather.garage_c)]
        if with_outdoors:
            series.append(("outdoors", "air_temperature", weather.outdoors_c))
        readings = [
            reading
            for place, quantity, values in series
            for reading in hourly(values, first, origin, weather.start, place, quantity)  # type: ignore[arg-type]
        ]
        told = outlook(readings, now, assumed_c=20.0, hours=24.5)
        at = ahead * round(3600 / told.step_s)
        true = weather.garage_c[origin + ahead]
        inside = (told.cool_c[at] <= true) & (true <= told.warm_c[at])
        stays, before = weather.garage_c[origin], weather.garage_c[origin + ahead - 24]
        rows.append(
            (np.abs(told.likely_c[at] - true), np.abs(stays - true), np.abs(before - true), inside)
        )
    return OutlookErrors(*(np.array(each, dtype=np.float64) for each in zip(*rows, strict=True)))


@cache
def errors(with_outdoors: bool) -> OutlookErrors:
    """Errors over the year at JFK behind a lag of six hours."""
    return errors_on(year(), with_outdoors)


def _through(weather: Year, garage_c: FloatArray) -> Year:
    return Year(weather.start, weather.outdoors_c, garage_c, weather.humidity_pct)


def _lag(values: FloatArray, lag_h: float) -> FloatArray:
    return lagged(3600 * np.arange(values.size, dtype=np.float64), values, 60 * lag_h)


def _tenths(values: FloatArray) -> FloatArray:
    told: FloatArray = np.round(values, 1)
    return told


def _sunny(weather: Year, gain_k: float, seed: int) -> FloatArray:
    """Under glass: drawn clearness of each day and hour on top of the real air. gain_k [K]"""
    rng, hours = np.random.default_rng(seed), np.arange(weather.outdoors_c.size)
    clear = 1 / (1 + np.exp(-1.2 * rng.normal(0, 1, hours[-1] // 24 + 1)))[hours // 24]
    height = np.maximum(0.0, np.sin(((hours - 5) % 24 - 6) / 12 * np.pi))
    through: FloatArray = clear * height * rng.beta(4, 2, hours.size) / 0.67
    warmed: FloatArray = weather.outdoors_c + gain_k * through
    return _lag(warmed, 1.0)


def places() -> Iterator[tuple[str, Year]]:
    """Every series by its name."""
    jfk, lga = year(), year(file=DATA / "lga2013.csv.gz")
    yield "JFK, 6 h", jfk
    yield "JFK, air as it is", _through(jfk, jfk.outdoors_c)
    for lag_h in (3, 24, 100):
        yield f"LGA, {lag_h} h", _through(lga, _tenths(_lag(lga.outdoors_c, lag_h)))
    slow: FloatArray = 0.2 * lga.outdoors_c + 0.8 * _lag(lga.outdoors_c, 60)
    yield "LGA, context 2 and 60 h", _through(lga, _tenths(_lag(slow, 2)))
    yield "LGA, glass 15 K", _through(lga, _sunny(lga, 15, 3))
    yield "JFK, glass 25 K", _through(jfk, _sunny(jfk, 25, 4))
    yield "building (real)", building()


def table(with_outdoors: bool) -> None:
    """Print mean absolute errors beside persistence and the targets."""
    found = errors(with_outdoors)
    kind = "with an outdoor sensor" if with_outdoors else "panel only"
    print(f"\nOutlook, {kind}, {len(found.ours)} origins; mean absolute error in K")
    print("  h   outlook  persistence  better   in band   target")
    for i, (hours, target) in enumerate(zip(HORIZONS_H, TARGETS_C, strict=True)):
        mine, peer = float(found.ours[:, i].mean()), float(found.held[:, i].mean())
        share, better = float(found.inside[:, i].mean()), 1 - mine / peer
        met = mine <= target and better >= BETTER.get(hours, -1.0) and 0.85 <= share <= 0.95
        print(
            f"{hours:3d}  {mine:8.2f} {peer:12.2f} {better:7.0%} {share:9.0%} {target:8.2f}"
            f"  {'met' if met else 'not met'}"
        )


def series_table(with_outdoors: bool) -> None:
    """Print every series at 1/3/6/12/24 h; the worst ratio to the better baseline is bounded."""
    print(f"\nEvery series{', with outdoors' if with_outdoors else ''}: K at 1/3/6/12/24 h")
    for name, weather in places():
        step = 3 if weather.garage_c.size < 1000 else 29
        errors = errors_on(weather, with_outdoors, step)
        ours, held, before = (
            values.mean(axis=0) for values in (errors.ours, errors.held, errors.yesterday)
        )
        worst = float((ours / np.maximum(np.minimum(held, before), 1e-9)).max())
        share = errors.inside.mean(axis=0)
        print(
            f"{name:22s} {_row(ours)}  stays {_row(held)}  yesterday {_row(before)}  "
            f"band {share.min():.0%} to {share.max():.0%}  worst ratio {worst:.2f}"
            f"  {'met' if worst <= WORSE else 'not met'}"
        )


def _row(values: FloatArray) -> str:
    return "/".join(f"{value:.2f}" for value in values)


def _vapour(weather: Year) -> FloatArray:
    """Of the air outdoors. [hPa]"""
    return np.asarray(vapour_pressure_hpa(weather.outdoors_c, weather.humidity_pct))


def _massive_pct(weather: Year) -> FloatArray:
    """Humidity of a room whose walls hold it: that of three days of outdoor air. [%]"""
    slow = saturation_pressure_magnus(_lag(weather.outdoors_c, 72))
    return np.clip(100 * _lag(_vapour(weather), 72) / slow, 5.0, 100.0)


def damp_rooms() -> Iterator[tuple[str, FloatArray, FloatArray]]:
    """Rooms drawn around real air: name, temperature [C] and humidity [%]."""
    for name, file in (("JFK", FILE), ("LGA", DATA / "lga2013.csv.gz")):
        weather = year(file=file)
        for lag_h in (2, 6):
            room: FloatArray = _lag(weather.outdoors_c, lag_h)
            leaky = 100 * _lag(_vapour(weather), 1) / saturation_pressure_magnus(room)
            yield f"{name}, leaky, {lag_h} h", room, np.clip(leaky, 5.0, 100.0)
        massive_pct = _massive_pct(weather)
        yield f"{name}, massive, 24 h", _lag(weather.outdoors_c, 24), massive_pct
        room = _lag(weather.outdoors_c, 12)
        vapour = 0.75 * massive_pct / 100 * saturation_pressure_magnus(room)
        vapour = vapour + 0.25 * _lag(_vapour(weather), 1)
        both = 100 * vapour / saturation_pressure_magnus(room)
        yield f"{name}, both, 12 h", room, np.clip(both, 5.0, 100.0)


@dataclass(frozen=True, eq=False)
class DewSpells:
    """Whether the surface is near the dew point six hours ahead, and is already; the gap that the
    outlook, the dew point held and the humidity held foretell [K]; and for other slopes the change
    of temperature that is foretold and that comes [K]. Each of shape (origins,)."""

    true: NDArray[np.bool_]
    already: NDArray[np.bool_]
    gaps: dict[str, FloatArray]
    held_gap: FloatArray
    warmer: FloatArray
    truly_warmer: FloatArray


def dew_spells(room_c: FloatArray, pct: FloatArray, step_h: int = ORIGIN_STEP_H) -> DewSpells:
    """What is foretold of a room six hours ahead, from an origin every step_h [h]."""
    start, dew_c = year().start, np.asarray(dew_point_c(room_c, pct))
    rows = []
    for origin in range(HISTORY_H, room_c.size - 7, step_h):
        first, now = origin - HISTORY_H, start + timedelta(hours=origin)
        readings = hourly(room_c, first, origin, start, "panel", "surface_temperature")
        readings += hourly(pct, first, origin, start, "air", "relative_humidity")
        ahead = outlook(readings, now, assumed_c=20.0, hours=6.5)
        sample = round(6 * 3600 / ahead.step_s)
        likely = float(ahead.likely_c[sample])
        same_gap = likely - float(dew_point_c(likely, pct[origin]))
        rows.append((origin, ahead.dew_gap_k[sample], likely, same_gap))
    at, ours, likely_c, same = map(np.array, zip(*rows, strict=True))
    now_c, gap = room_c[at], room_c - dew_c
    held = likely_c - dew_c[at]
    gaps = {"outlook": ours, "dew point held": held, "humidity held": same}
    true = gap[at + 6] < NEAR_DEW_K
    warmer, truly = likely_c - now_c, room_c[at + 6] - now_c
    return DewSpells(true, gap[at] < NEAR_DEW_K, gaps, gap[at], warmer, truly)


def warned_and_false(warned: NDArray[np.bool_], true: NDArray[np.bool_]) -> tuple[float, float]:
    """Share of the true spells that were warned of, and of the warnings that were false. [-]"""
    hit = float(np.mean(warned[true])) if true.any() else math.nan
    return hit, float(np.mean(~true[warned])) if warned.any() else math.nan


def fewest_false(spells: DewSpells, warmer: FloatArray) -> float:
    """The fewest false warnings that any one slope and margin, known beforehand, leaves where it
    warns of the share of true spells that is wanted. [-]; warmer: by six hours ahead [K]"""
    least = math.nan
    for slope in np.linspace(-0.2, 1.4, 33):
        gap = spells.held_gap + (1 - slope) * warmer
        for limit in NEAR_DEW_K + np.linspace(-2.0, 3.0, 51):
            hit, false = warned_and_false(gap < limit, spells.true)
            if hit >= DEW_WARNED:
                least = float(np.nanmin((least, false)))
    return least


def dew_table() -> None:
    """Print how many true spells were warned of, and how many warnings were false."""
    print("\nSurface within 3 K of the dew point 6 h ahead: warned of / warnings that were false;")
    print(
        f"wanted {DEW_WARNED:.0%} / {DEW_FALSE:.0%}. Least: the fewest false ones by any one slope"
    )
    print("and margin chosen afterwards, with the temperature foretold and with the true one")
    for name, room_c, pct in damp_rooms():
        spells = dew_spells(room_c, pct)
        new = spells.true & ~spells.already
        line = f"{name:18s} {spells.true.sum():4d} true, {new.sum():4d} of them new"
        for way, gap in spells.gaps.items():
            hit, false = warned_and_false(gap < NEAR_DEW_K, spells.true)
            line += f"   {way} {hit:4.0%} / {false:4.0%}"
        fresh = warned_and_false(spells.gaps["outlook"] < NEAR_DEW_K, new)[0]
        line += f"   new {fresh:4.0%}   least {fewest_false(spells, spells.warmer):4.0%}"
        print(f"{line}, {fewest_false(spells, spells.truly_warmer):4.0%}", flush=True)


def main() -> None:
    """Print all tables; `dew` only the last."""
    dew_table()
    if "dew" in sys.argv[1:]:
        return
    table(False)
    table(True)
    series_table(False)
    series_table(True)


if __name__ == "__main__":
    main()
