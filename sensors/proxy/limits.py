"""What a client meets at the gatekeeper: limits, and where its messages go."""

from __future__ import annotations

from dataclasses import dataclass

from curewatch.errors import ReadingError
from curewatch.frozen import frozen
from sensors.payloads.decode import PREFIX

FOREIGN = ReadingError(
    "a sensor from the home network may not write on this topic",
    fix=f"publish on {PREFIX}/<place>/<quantity>, or touch Listen on the Air page and say what"
    " it measures",
)
ODD = ReadingError(
    "the embedded broker cannot pass on a topic that begins with this letter",
    fix="begin it with one of a to z, or touch Listen on the Air page and say what it measures",
)


@dataclass(frozen=True, slots=True)
class Route:
    """Where a message goes: `stored`: to the writer; `passed`: to the broker; else why neither."""

    stored: bool
    passed: bool
    refusal: ReadingError | None = None


@frozen
class ConnectionLimits:
    """What one listener bears: times in [s], sizes in [bytes]."""

    clients: int = 200
    per_address: int = 20
    packet_bytes: int = 131_072
    connect_s: float = 10.0
    packet_s: float = 20.0
