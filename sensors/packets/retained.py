"""What the broker retains, bounded: how many messages, and how many bytes in all.

A broker keeps the last retained message of every topic until it is emptied. Here is known which
these are, from the messages that went through, so that one too many is not retained. Pure.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from curewatch.errors import ReadingError

MOST_MESSAGES, MOST_BYTES, BESIDE_BYTES = 500, 6_000_000, 100
TOO_MANY = ReadingError(
    f"the broker retains at most {MOST_MESSAGES} messages and {MOST_BYTES // 1_000_000} MB of them,"
    " so this one was passed on and not retained",
    fix="publish it without retain, or empty retained topics that nobody needs",
)


@dataclass
class Retained:
    """The topics with a retained message, and the size of each. [bytes]"""

    most_messages: int = MOST_MESSAGES
    most_bytes: int = MOST_BYTES
    _sizes: dict[str, int] = field(default_factory=dict)
    _bytes: int = 0

    def takes(self, topic: str, payload_bytes: int) -> bool:
        """Whether one more may be retained, which it then is; an empty one empties its topic.

        One that is not leaves what was retained on its topic as it is.
        """
        before = self._sizes.get(topic)
        if not payload_bytes:
            self._bytes -= self._sizes.pop(topic, 0)
            return True
        size = len(topic.encode()) + payload_bytes + BESIDE_BYTES
        after = self._bytes - (before or 0) + size
        if after > self.most_bytes or (before is None and len(self._sizes) >= self.most_messages):
            return False
        self._sizes[topic], self._bytes = size, after
        return True

    def clear(self) -> None:
        """The broker has forgotten all of it."""
        self._sizes.clear()
        self._bytes = 0


class RetainedByBoth:
    """What is retained of this machine and what of the home network, each within its own bound."""

    def __init__(self) -> None:
        self._own, self._lan, self._port = Retained(), Retained(), 0

    def takes(self, topic: str, payload_bytes: int, of_this_machine: bool) -> bool:
        """Whether a message of one of the two may be retained; an empty one empties its topic for
        both."""
        mine, other = (self._own, self._lan) if of_this_machine else (self._lan, self._own)
        if not payload_bytes:
            other.takes(topic, 0)
        return mine.takes(topic, payload_bytes)

    def meet(self, port: int) -> None:
        """A broker that started again, at another port, retains nothing."""
        if port != self._port:
            self._port = port
            self._own.clear()
            self._lan.clear()
