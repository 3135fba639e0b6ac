"""What is remembered of one sensor's quantity at one place, to judge its next reading."""

from __future__ import annotations

import math
from collections import deque
from dataclasses import dataclass, field
from typing import NamedTuple

from curewatch.climate.flag import Flag
from curewatch.climate.reading import Quantity
from curewatch.quality.single_sensor import NEVER, End, Lag, Level, Run

RECENT = 32


class Known(NamedTuple):
    """What is known of a reading besides itself.

    raw: what the sensor gave before any correction [C or %]; lag_s: how far its own time lies
    behind the arrival [s]; error: its stated error [C or %]; checked_s: when it was last held
    against a reference, since 1970 [s].
    """

    raw: float
    lag_s: float = 0.0
    error: float = 0.3
    checked_s: float = NEVER


@dataclass(slots=True, eq=False)
class State:
    """What is remembered of one sensor's quantity at one place. Values [C or %], times [s]."""

    number: int
    source: str
    place: str
    quantity: Quantity
    newest_s: float = NEVER
    value: float = math.nan
    error: float = 0.3
    checked_s: float = NEVER
    flagged: bool = False
    apart_s: float = math.inf
    level: Level = field(default_factory=Level)
    run: Run = field(default_factory=Run)
    lag: Lag = field(default_factory=Lag)
    end: End = field(default_factory=End)
    recent: deque[tuple[float, float, Flag | None]] = field(
        default_factory=lambda: deque(maxlen=RECENT)
    )

    @property
    def humid(self) -> bool:
        """Whether it is a humidity, and no temperature."""
        return self.quantity == "relative_humidity"
