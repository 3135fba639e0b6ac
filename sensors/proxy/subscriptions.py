"""Which of the filters that a client asks for are passed on, and the answer for all of them."""

from __future__ import annotations

from collections.abc import Callable

from sensors.packets import version3
from sensors.packets.version3 import Packet


class Subscriptions:
    """Follows the subscriptions of one client that the broker has not answered yet."""

    def __init__(self) -> None:
        self._partly = dict[int, list[bool]]()

    def ask(self, packet: Packet, may_hear: Callable[[int, int, str], bool]) -> tuple[bytes, bytes]:
        """What the broker is asked, else, where it is nothing, what the client is answered.

        may_hear: by the packet's number and each filter, with its place in the packet.
        """
        id, pairs = version3.parse_subscribe(packet)
        granted = [may_hear(id, at, topic) for at, (topic, _) in enumerate(pairs)]
        if all(granted):
            return packet.raw, b""
        if not any(granted):
            denied = bytes([version3.DENIED]) * len(pairs)
            return b"", version3.answer(version3.SUBACK, id, denied)
        self._partly[id] = granted
        kept = [pair for pair, yes in zip(pairs, granted, strict=True) if yes]
        return version3.make_subscribe(id, kept), b""

    def granted(self, packet: Packet) -> bytes:
        """The broker's answer, with a denial for each filter that it was not asked."""
        if packet.id not in self._partly:
            return packet.raw
        codes = iter(packet.body[2:])
        granted = self._partly.pop(packet.id)
        merged = bytes(next(codes, version3.DENIED) if yes else version3.DENIED for yes in granted)
        return version3.answer(version3.SUBACK, packet.id, merged)
