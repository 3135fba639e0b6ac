"""What a client meets at the gatekeeper: limits, and where its messages go."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Protocol

from curewatch.errors import ReadingError
from curewatch.store.turned_away import Stranger, Why
from sensors.packets.expiry import Expiry
from sensors.packets.version3 import Connect, Publish
from sensors.payloads.decode import PREFIX

if TYPE_CHECKING:
    from sensors.proxy.connection import Guest

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
class Way:
    """Where a message goes: `stored`: to the writer; `passed`: to the broker; else why neither."""

    stored: bool
    passed: bool
    refusal: ReadingError | None = None


@dataclass(frozen=True)
class Limits:
    """What one listener bears: times in [s], sizes in [bytes]."""

    clients: int = 200
    per_address: int = 20
    packet_bytes: int = 131_072
    connect_s: float = 10.0
    packet_s: float = 20.0


class House(Protocol):
    """What a guest needs of the gatekeeper."""

    limits: Limits
    overhear: Callable[[str, bytes], None]
    expiry: Expiry

    async def judge(self, guest: Guest, connect: Connect) -> Why | None: ...

    def turn_away(self, who: Stranger) -> None: ...

    def name(self, guest: Guest, connect: Connect) -> str: ...

    async def broker(self) -> tuple[asyncio.StreamReader, asyncio.StreamWriter]: ...

    def way(self, guest: Guest, topic: str) -> Way: ...

    def may_hear(self, guest: Guest, topic: str) -> bool: ...

    def refuse(self, topic: str, why: ReadingError) -> None: ...

    async def turn(self) -> None: ...

    def may_retain(self, guest: Guest, publish: Publish) -> bool: ...

    def offer(
        self,
        guest: Guest,
        publish: Publish,
        stored: Callable[[], None],
    ) -> bool: ...
