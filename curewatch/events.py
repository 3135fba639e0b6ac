"""What happened to a step, as it is stored: appended, never changed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any


@dataclass(frozen=True)
class Event:
    """What happened to a step: when it was (`at`) and when it was told."""

    id: int
    step: int
    kind: str
    at: datetime
    told: datetime
    body: Mapping[str, Any]
