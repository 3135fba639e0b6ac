"""The invented garage's weather: sums of waves, so that any instant can be asked for.

Outdoors is a mean with waves of a day, half a day and several days. A first-order lag of time
constant tau turns a wave of angular frequency w into the same wave, smaller by
1/sqrt(1 + (w tau)^2) and later by atan(w tau)/w; the garage's air lags outdoors, and the panel
lags a mix of the garage's air and the cold floor under it. Invented throughout.
"""

from __future__ import annotations

import hashlib
import math
from dataclasses import dataclass
from datetime import datetime

from curewatch.climate.psychrometrics import saturation_pressure_magnus
from curewatch.climate.reading import Quantity, Reading


@dataclass(frozen=True)
class Wave:
    """amplitude [K], period_h [h], peak_h: hours after the epoch at which it is highest [h]."""

    amplitude: float
    period_h: float
    peak_h: float

    def at(self, hours: float) -> float:
        """The wave's height [K] at `hours` after the epoch [h]."""
        return self.amplitude * math.cos(2 * math.pi * (hours - self.peak_h) / self.period_h)

    def lagged(self, tau_h: float) -> Wave:
        """This wave behind a first-order lag of time constant tau_h [h]."""
        turn = 2 * math.pi / self.period_h
        size = self.amplitude / math.hypot(1, turn * tau_h)
        return Wave(size, self.period_h, self.peak_h + math.atan(turn * tau_h) / turn)


@dataclass(frozen=True)
class WeatherSeries:
    """A mean [C] with waves about it."""

    mean: float
    waves: tuple[Wave, ...]

    def at(self, hours: float) -> float:
        """The temperature at `hours` after the epoch [h]. [C]"""
        return self.mean + sum(wave.at(hours) for wave in self.waves)

    def lagged(self, tau_h: float, warmer: float = 0.0, share: float = 1.0) -> WeatherSeries:
        """This series behind a lag of tau_h [h]; its waves times share [-], its mean plus
        warmer [K]."""
        waves = (wave.lagged(tau_h) for wave in self.waves)
        return WeatherSeries(
            self.mean + warmer,
            tuple(Wave(share * wave.amplitude, wave.period_h, wave.peak_h) for wave in waves),
        )


EPOCH = datetime.fromisoformat("2026-10-17T00:00:00+00:00")
OUTDOORS = WeatherSeries(
    9.0,
    (
        Wave(4.1, 24.0, 12.9),
        Wave(0.9, 12.0, 1.6),
        Wave(0.35, 7.3, 2.0),
        Wave(1.6, 67.0, 9.0),
        Wave(1.3, 139.0, -20.0),
        Wave(0.15, 1.7, 0.4),
    ),
)
OUTDOOR_DEW = WeatherSeries(
    5.9, (Wave(0.8, 24.0, 15.0), Wave(0.9, 53.0, 22.0), Wave(1.2, 121.0, 30.0), Wave(0.1, 2.3, 1.0))
)
GARAGE = OUTDOORS.lagged(4.2, warmer=2.9)
GARAGE_DEW = OUTDOOR_DEW.lagged(2.5, warmer=1.4)
PANEL = GARAGE.lagged(0.8, warmer=-0.9)


def hours_at(at: datetime) -> float:
    """An aware instant as hours after the epoch. [h]"""
    return (at - EPOCH).total_seconds() / 3600


def _noise(at: datetime, name: str, size: float) -> float:
    """A draw of about `size`, the same for the same instant and sensor."""
    digest = hashlib.blake2b(f"{at.timestamp():.3f} {name}".encode(), digest_size=8).digest()
    draws = [byte / 255 - 0.5 for byte in digest]
    return size * sum(draws) / math.sqrt(len(draws) / 12)


def _humidity(temperature_c: float, dew_c: float) -> float:
    value = saturation_pressure_magnus(dew_c) / saturation_pressure_magnus(temperature_c)
    return min(98.0, 100 * value)


def topic(place: str, quantity: Quantity) -> str:
    """Where a sensor publishes; also what curewatch calls the source of its readings."""
    return f"curewatch/{place}/{quantity}"


def _reading(
    at: datetime, place: str, quantity: Quantity, value: float, sensor: tuple[float, float]
) -> Reading:
    noise, digit = sensor
    seen = value + _noise(at, place + quantity, noise)
    return Reading(
        place, quantity, round(round(seen / digit) * digit, 4), at, topic(place, quantity)
    )


THERMOMETER = (0.04, 0.0625)
HYGROMETER = (0.3, 0.1)


def readings_at(at: datetime) -> list[Reading]:
    """What the garage's sensors report at an aware instant, each to its last digit."""
    hours = hours_at(at)
    outdoors, garage = OUTDOORS.at(hours), GARAGE.at(hours)
    damp = _humidity(garage, GARAGE_DEW.at(hours))
    damp_outdoors = _humidity(outdoors, OUTDOOR_DEW.at(hours))
    return [
        _reading(at, "panel", "surface_temperature", PANEL.at(hours), THERMOMETER),
        _reading(at, "air", "air_temperature", garage, THERMOMETER),
        _reading(at, "air", "relative_humidity", damp, HYGROMETER),
        _reading(at, "outdoors", "air_temperature", outdoors, THERMOMETER),
        _reading(at, "outdoors", "relative_humidity", damp_outdoors, HYGROMETER),
    ]
