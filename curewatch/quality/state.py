"""What is remembered of one sensor's quantity at one place, to judge its next reading."""

from __future__ import annotations

import math
from collections import deque
from dataclasses import dataclass, field
from typing import NamedTuple

from curewatch.climate.flag import Flag
from curewatch.climate.reading import Quantity
from curewatch.quality.single_sensor import (
    NEVER,
    ClockTest,
    PersistenceTest,
    SaturationTest,
    StepTest,
)

RECENT = 32


class ReadingContext(NamedTuple):
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
class SensorState:
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
    step_test: StepTest = field(default_factory=StepTest)
    persistence_test: PersistenceTest = field(default_factory=PersistenceTest)
    clock_test: ClockTest = field(default_factory=ClockTest)
    saturation_test: SaturationTest = field(default_factory=SaturationTest)
    recent: deque[tuple[float, float, Flag | None]] = field(
        default_factory=lambda: deque(maxlen=RECENT)
    )

    @property
    def humid(self) -> bool:
        """Whether it is a humidity, and no temperature."""
        return self.quantity == "relative_humidity"
