"""The judge on two years of open air and a building, with faults put in: caught and false flags.

The series are real but hourly; between the hours they are drawn to five minutes with the noise and
the digits of a cheap sensor, so that no real five-minute step is carried here. The faults are ours:
bursts of -2 C and 99 %, spikes and zeros of one to five readings. Beside it: what a range of -40 to
60 C and 0 to 100 % catches, and a plain bound of 6 K (20 %) from the reading before.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta

import numpy as np
from numpy.typing import NDArray

from curewatch.climate.psychrometrics import FloatArray
from curewatch.climate.reading import Quantity, Reading
from curewatch.quality.control import QualityControl
from curewatch.quality.state import ReadingContext
from tests.support.weather import DATA, building, year

START = datetime(2026, 1, 1, tzinfo=UTC)
PER_HOUR, EVERY, LONGEST = 12, 400, 5
Flags = NDArray[np.bool_]
WANTED_CAUGHT, WANTED_FALSE = 0.55, {"air_temperature": 1e-4, "relative_humidity": 1e-3}


def series() -> Iterator[tuple[str, Quantity, FloatArray]]:
    """Name, quantity and hourly values of each. [C or %]"""
    jfk, lga = year(1.0), year(1.0, DATA / "lga2013.csv.gz")
    for name, weather in (("JFK", jfk), ("LGA", lga)):
        yield name, "air_temperature", weather.garage_c
        yield name, "relative_humidity", weather.humidity_pct
    yield "building", "air_temperature", building().garage_c


def fine(hourly: FloatArray, digit: float, rng: np.random.Generator) -> FloatArray:
    """Every five minutes, as a cheap sensor gives them. digit [C or %]"""
    at = np.arange((hourly.size - 1) * PER_HOUR) / PER_HOUR
    true = np.interp(at, np.arange(hourly.size), hourly) + rng.normal(0, digit, at.size)
    values: FloatArray = np.round(true / digit) * digit
    return values


def spoiled(
    true: FloatArray, quantity: Quantity, rng: np.random.Generator
) -> tuple[FloatArray, Flags]:
    """The same with faults, and where they are."""
    values, bad = true.copy(), np.zeros(true.size, dtype=np.bool_)
    for at in range(EVERY, true.size - LONGEST, EVERY):
        part = slice(at, at + int(rng.integers(1, LONGEST + 1)))
        if quantity == "relative_humidity":
            values[part] = rng.choice([99.0, 0.0])
        else:
            values[part] = rng.choice([-2.0, 0.0, values[at] + 20, values[at] - 30])
        bad[part] = np.abs(values[part] - true[part]) > 1
    return values, bad


def flags(values: FloatArray, quantity: Quantity) -> Flags:
    """What the judge does not believe."""
    judge, found = QualityControl(), []
    for n, value in enumerate(values):
        at = START + timedelta(minutes=60 / PER_HOUR * n)
        reading = Reading("air", quantity, float(value), at, "sensor")
        found.append(judge.flag(reading, ReadingContext(float(value))) is not None)
    return np.array(found)


def plain(values: FloatArray, quantity: Quantity) -> Flags:
    """Further than 6 K (20 %) from the reading before."""
    far = 20.0 if quantity == "relative_humidity" else 6.0
    return np.abs(np.diff(values, prepend=values[0])) > far


def ranged(values: FloatArray, quantity: Quantity) -> Flags:
    """Outside what the sensor can give."""
    low, high = (0.0, 100.0) if quantity == "relative_humidity" else (-40.0, 60.0)
    return (values < low) | (values > high)


def main() -> None:
    """Print caught faults, false flags beside them and without any, and the baselines."""
    print("The judge: faults put in (readings), caught; false beside them; false without faults")
    for name, quantity, hourly in series():
        rng = np.random.default_rng(len(name))
        true = fine(hourly, 1.0 if quantity == "relative_humidity" else 0.1, rng)
        values, bad = spoiled(true, quantity, rng)
        found, clean = flags(values, quantity), float(flags(true, quantity).mean())
        caught, false = float(found[bad].mean()), float(found[~bad].mean())
        met = caught >= WANTED_CAUGHT and clean <= WANTED_FALSE[quantity]
        ways = {"6 K step": plain(values, quantity), "range": ranged(values, quantity)}
        peers = "  ".join(
            f"{who} {marks[bad].mean():.0%}, {marks[~bad].mean():.3%}"
            for who, marks in ways.items()
        )
        print(
            f"{name:8s} {quantity:18s} {int(bad.sum()):5d} of {bad.size}: {caught:.0%}; "
            f"{false:.3%}; {clean:.4%}  {peers}  {'met' if met else 'not met'}"
        )


if __name__ == "__main__":
    main()
