"""A sheet, the air of the garage and what was seen, to early, likely and late times."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

Bound = Literal["early", "late"]


@dataclass(frozen=True)
class Factor:
    """One factor of the reason: how many times longer it makes the label's time. [-]"""

    name: str
    words: str
    times: float


@dataclass(frozen=True)
class Milestone:
    """When a milestone is reached, in minutes from mixing. [min]

    None where the model refuses or the state is not reached within the horizon (see warnings).
    `shown` says which bound a countdown runs to. `label_min` is the label's own time. [min]
    """

    name: str
    early_min: float | None
    likely_min: float | None
    late_min: float | None
    shown: Bound
    label_min: float
    warnings: tuple[str, ...] = ()


@dataclass(frozen=True)
class Forecast:
    """All milestones of one step, ordered as on the sheet, and why.

    factors multiply to ratio: likely time over label time of the reason's milestone. [-]
    age_min is the equivalent age by now at the label's reference. [min]
    stalled_from_min: when the age stops growing for cold, minutes from mixing. [min]
    """

    milestones: tuple[Milestone, ...]
    factors: tuple[Factor, ...]
    ratio: float
    reason: str
    warnings: tuple[str, ...] = ()
    age_min: float = 0.0
    stalled_now: bool = False
    stalled_from_min: float | None = None
    by_name: Mapping[str, Milestone] = field(default_factory=dict)
